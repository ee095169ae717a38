"""Whether parts fitted, removed or changed are read, and another season or height; sentences by chance, fixed seed.

    python benchmarks/fitted_told.py [--sentences 20] [--show 10]

So many sentences of each wording. Parts fitted or taken off must make their circumstance, those only bought,
planned, advised, asked for, somebody else's or put back must make none; another air must be told the right way round,
by a circumstance or by its numbers. All wordings have been mended from, each part after its first look. A circumstance
that was not told counts as wrong, as do a trial of what was not done and the other way round; what was told and not
read is lost.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import NamedTuple

from carbdiag import Knowledge, TextReading, read_text
from carbdiag.terms import Status

try:
    from benchmarks.by_chance import options
except ModuleNotFoundError:  # run as a script
    from by_chance import options

TROUBLE = ("It bogs at half throttle.", "Bogs at half throttle now.", "It bogs at 1/2 throttle, any ideas?")

FILTER, EXHAUST = frozenset({"filter_changed"}), frozenset({"exhaust_changed"})
#: A jet told with the way it went is told better than by its change alone.
JETS = frozenset({"rejetted", "main_made_larger"})
CARB, ENGINE = frozenset({"carb_replaced"}), frozenset({"engine_rebuilt"})
FOAM = frozenset({"filter_changed", "filter_serviced"})
STAGE = FILTER | EXHAUST | JETS
#: Where only the intake was opened up: a reed block is no set-up of its own.
REEDS = frozenset({"worked_on_just_before"})

#: A part as a noun with its article, and one of these circumstances must be read of it once it is fitted.
Part = tuple[str, frozenset[str]]
#: A deed as done, as an aim ("thinking of doing it" has the third), and the circumstances likewise.
Deed = tuple[str, str, str, frozenset[str]]

PARTS: dict[str, tuple[Part, ...]] = {
    "mended from": (
        ("individual filters", FILTER), ("a cone filter", FILTER), ("pod filters", FILTER), ("some pods", FILTER),
        ("a new airbox foam", FOAM), ("an open foam filter", FILTER), ("a freer air filter", FILTER),
        ("a full system", EXHAUST), ("a slip on", EXHAUST), ("an aftermarket pipe", EXHAUST), ("a uni pipe", EXHAUST),
        ("an expansion chamber", EXHAUST), ("a new exhaust", EXHAUST), ("a different muffler", EXHAUST),
        ("a 70cc kit", ENGINE), ("a big bore kit", ENGINE), ("a bigger carb", CARB), ("a 28mm carb", CARB),
        ("a stage 1 kit", STAGE), ("a jet kit", JETS), ("a new reed block", REEDS),
    ),
    "mended from then": (
        ("a clamp on filter", FILTER), ("a set of pods", FILTER), ("a high flow filter", FILTER),
        ("a dual stage foam filter", FILTER), ("a bigger air filter", FILTER), ("a mushroom filter", FILTER),
        ("velocity stacks", FILTER), ("a 2 into 1", EXHAUST), ("a tuned pipe", EXHAUST), ("a louder silencer", EXHAUST),
        ("an aftermarket exhaust", EXHAUST), ("a header", EXHAUST), ("a sport exhaust", EXHAUST),
        ("a drag pipe", EXHAUST),
        ("an 80cc kit", ENGINE), ("a big bore cylinder", ENGINE), ("a new carb", CARB), ("a 24mm flatslide", CARB),
        ("a stage 2 kit", STAGE), ("a jetting kit", JETS), ("carbon reeds", REEDS),
    ),
}  # fmt: skip
DEEDS: dict[str, tuple[Deed, ...]] = {
    "mended from": (
        ("ditched the airbox", "ditch the airbox", "ditching the airbox", FILTER),
        ("took the snorkel out", "take the snorkel out", "taking the snorkel out", FILTER),
        ("pulled the snorkel", "pull the snorkel", "pulling the snorkel", FILTER),
        ("cut the airbox open", "cut the airbox open", "cutting the airbox open", FILTER),
        ("drilled holes in the airbox", "drill holes in the airbox", "drilling holes in the airbox", FILTER),
        ("took the airbox lid off", "take the airbox lid off", "taking the airbox lid off", FILTER),
        ("opened up the muffler", "open up the muffler", "opening up the muffler", EXHAUST),
        ("took the baffle out", "take the baffle out", "taking the baffle out", EXHAUST),
        ("gutted the muffler", "gut the muffler", "gutting the muffler", EXHAUST),
        ("drilled the muffler", "drill the muffler", "drilling the muffler", EXHAUST),
        ("removed the spark arrestor", "remove the spark arrestor", "removing the spark arrestor", EXHAUST),
        ("rejetted it", "rejet it", "rejetting it", JETS),
        ("went up a size on the main", "go up a size on the main", "going up a size on the main", JETS),
    ),
    "mended from then": (
        ("tossed the airbox", "toss the airbox", "tossing the airbox", FILTER),
        ("yanked the snorkel", "yank the snorkel", "yanking the snorkel", FILTER),
        ("opened up the airbox", "open up the airbox", "opening up the airbox", FILTER),
        ("hacked a hole in the airbox", "hack a hole in the airbox", "hacking a hole in the airbox", FILTER),
        ("removed the airbox door", "remove the airbox door", "removing the airbox door", FILTER),
        ("pulled the baffle", "pull the baffle", "pulling the baffle", EXHAUST),
        ("hollowed out the muffler", "hollow out the muffler", "hollowing out the muffler", EXHAUST),
        ("chopped the muffler off", "chop the muffler off", "chopping the muffler off", EXHAUST),
        ("took out the spark arrestor", "take out the spark arrestor", "taking out the spark arrestor", EXHAUST),
        ("knocked the cat out", "knock the cat out", "knocking the cat out", EXHAUST),
        ("changed the jets", "change the jets", "changing the jets", JETS),
        ("put bigger jets in", "put bigger jets in", "putting bigger jets in", JETS),
    ),
}  # fmt: skip
#: With {p} a part, {d} {v} {n} a deed as done, as an aim, as a noun; {t} the trouble.
DONE = {
    "mended from": (
        "Fitted {p}. {t}", "Put {p} on. {t}", "It has {p}. {t}", "I've got {p} on it. {t}", "Just installed {p}. {t}",
        "Since I put {p} on it bogs at half throttle.", "Running {p}. {t}", "Mods: {p}. {t}", "Now with {p}. {t}",
        "It came with {p} from the last owner. {t}", "Threw {p} on it last week. {t}", "Swapped to {p}. {t}",
        "{d}. {t}", "I {d} last week. {t}", "{d} and now it bogs at half throttle.", "Previous owner {d}. {t}",
        "Before this I {d}. {t}", "Fitted {p} and {d}. {t}", "Bought {p} and fitted it. {t}",
        "Bike is stock apart from {p}. {t}",
    ),
    "mended from then": (
        "Stuck {p} on. {t}", "Has {p} on it. {t}", "Bolted {p} on over the weekend. {t}", "Its got {p}. {t}",
        "Ever since {p} went on it bogs at half throttle.", "Went to {p}. {t}", "All stock except {p}. {t}",
        "Got it with {p} already on. {t}", "After fitting {p} it bogs at half throttle.",
        "With {p} it bogs at half throttle.",
        "{d} yesterday. {t}", "A mate {d} for me. {t}", "The shop {d}. {t}", "Ran fine till I {d}. {t}",
        "After {n} it bogs at half throttle.", "Someone before me {d}. {t}", "We {d} and put {p} on. {t}",
    ),
}  # fmt: skip
NOT_DONE = {
    "mended from": (
        "Bought {p} but haven't fitted it yet. {t}", "Thinking about {p}. {t}", "Should I fit {p}? {t}",
        "A mate says to fit {p}. {t}", "My buddy has {p} on his. {t}", "{p} is on order. {t}", "Would {p} help? {t}",
        "I have {p} sitting on the shelf. {t}", "Its all stock, no {p}. {t}", "I want to get {p} one day. {t}",
        "Should I {v}? {t}", "Thinking of {n}. {t}", "Someone told me to {v}. {t}", "I have not {d}. {t}",
        "Going to {v} next. {t}", "Do I need to rejet if I {v}? {t}", "Had {p} on, back to all stock now. {t}",
        "Airbox and exhaust are stock. {t}", "Stock filter, stock pipe. {t}", "Can anyone recommend {p}? {t}",
    ),
    "mended from then": (
        "Planning to put {p} on this winter. {t}", "Got {p} coming in the mail. {t}", "Looking at getting {p}. {t}",
        "Everyone says I need {p}. {t}", "Never had {p} on it. {t}", "Is it worth getting {p}? {t}",
        "My brothers one has {p} and runs great. {t}", "Do these need rejetting with {p}? {t}",
        "Before I put {p} on I want it sorted. {t}", "I was told not to {v}. {t}", "Might {v} later. {t}",
        "Is {n} a good idea? {t}", "If I {v} will it run lean? {t}", "The forum says {n} fixes it. {t}",
        "Everything is bone stock, filter and pipe included. {t}", "Still has the factory exhaust and airbox. {t}",
    ),
}  # fmt: skip
#: An air that changed, which way; "" where it did not.
AIRS = {
    "mended from": (
        ("It's cold as hell out now. {t}", "colder"), ("First frost last night. {t}", "colder"),
        ("85 at home and 60 here. {t}", "colder"), ("It was 85 when I jetted it and its 40 now. {t}", "colder"),
        ("Temps dropped to 30 this week. {t}", "colder"), ("Ran great all summer, now its winter. {t}", "colder"),
        ("Weather turned cold. {t}", "colder"), ("Jetted it in july, its november now. {t}", "colder"),
        ("It was fine until it got cold out. {t}", "colder"),
        ("Its 20 degrees colder than when I set it up. {t}", "colder"),
        ("Jetted in winter, its 95 out now. {t}", "hotter"), ("Hot as hell out now. {t}", "hotter"),
        ("Summer is here. {t}", "hotter"), ("It was 40 when I jetted it and its 90 now. {t}", "hotter"),
        ("Heat wave here this week. {t}", "hotter"), ("Normally ride at 6000 ft, now down at sea level. {t}", "down"),
        ("Normally ride at 6000, down at sea level now. {t}", "down"),
        ("Took it down to the coast from 5000 ft. {t}", "down"),
        ("I'm down at sea level now, it was jetted in the mountains. {t}", "down"),
        ("Moved from denver to florida. {t}", "down"), ("I usually ride at 500 ft, this weekend at 8000. {t}", "up"),
        ("Took it up to the mountains. {t}", "up"), ("Up at 9000 ft this week, home is 1000. {t}", "up"),
        ("Moved from sea level to 5000 ft. {t}", "up"), ("Runs fine at home but up here at 7000 ft its bad. {t}", "up"),
        ("Cold engine. {t}", ""), ("It starts fine cold or hot. {t}", ""), ("I do 60 on the highway. {t}", ""),
        ("Same summer or winter. {t}", ""), ("It's an 85 model. {t}", ""), ("Redline is 6000. {t}", ""),
        ("I live at sea level. {t}", ""), ("It never gets cold here. {t}", ""),
        ("Temperature here hasn't changed. {t}", ""),
        ("It bogs when its cold, once warm its fine.", ""),
    ),
    "mended from then": (
        ("Freezing my nuts off out here lately. {t}", "colder"), ("Had our first hard freeze. {t}", "colder"),
        ("Used to be 90 out, today its 50. {t}", "colder"), ("Summer jetting and its 25 degrees out. {t}", "colder"),
        ("Cold weather just hit. {t}", "colder"), ("It's snowing here now and the jets are for summer. {t}", "colder"),
        ("Was warm when I tuned it, bitter cold now. {t}", "colder"),
        ("Went from 90 degrees to 45 in a week. {t}", "colder"),
        ("Tuned it in january, now its july. {t}", "hotter"), ("Its gotten really hot out. {t}", "hotter"),
        ("Its 100 degrees here now, set it up in spring at 60. {t}", "hotter"),
        ("Spring is here and its warm out. {t}", "hotter"),
        ("I live at 7000 ft and brought it down to 1000. {t}", "down"),
        ("Trailered it from colorado to the beach. {t}", "down"),
        ("Jetted for 8000 ft but we're at sea level this week. {t}", "down"),
        ("Came off the mountain to sea level. {t}", "down"),
        ("Jetted for the coast, riding at 9000 ft. {t}", "up"), ("Brought it up to the cabin at 8500 ft. {t}", "up"),
        ("Normally at 800 ft, today at 6500. {t}", "up"),
        ("I live by the sea, now on holiday in the mountains. {t}", "up"),
        ("Sits in a cold garage. {t}", ""), ("Kicks over first time from cold. {t}", ""), ("Tops out at 85. {t}", ""),
        ("Doesn't matter if its 40 or 90 out. {t}", ""), ("Weather makes no difference. {t}", ""),
        ("I ride at 3000 ft. {t}", ""),
        ("Shifts at 6000 every time. {t}", ""), ("Its worse cold than warm. {t}", ""),
    ),
}  # fmt: skip
#: Unread at first, mended from since.
FRESH = "mended from later"
PARTS[FRESH] = (
    ("a high flow air filter", FILTER), ("a washable filter", FILTER), ("clamp on filters", FILTER),
    ("a foam pod", FILTER), ("a velocity stack", FILTER), ("an oiled cotton filter", FILTER),
    ("a race pipe", EXHAUST), ("a shorty muffler", EXHAUST), ("a two into one exhaust", EXHAUST),
    ("a straight pipe", EXHAUST), ("a louder silencer", EXHAUST), ("a set of headers", EXHAUST),
    ("a high compression piston", ENGINE), ("an 80cc cylinder kit", ENGINE), ("a complete top end kit", ENGINE),
    ("a clone carb", CARB), ("a 24mm carb off ebay", CARB), ("a stage 2 kit", STAGE), ("bigger jets", JETS),
    ("fresh reeds", REEDS),
)  # fmt: skip
DEEDS[FRESH] = (
    ("took the lid off the airbox", "take the lid off the airbox", "taking the lid off the airbox", FILTER),
    ("opened the airbox up", "open the airbox up", "opening the airbox up", FILTER),
    ("binned the stock airbox", "bin the stock airbox", "binning the stock airbox", FILTER),
    ("cut the snorkel off", "cut the snorkel off", "cutting the snorkel off", FILTER),
    ("swapped the air filter for a freer one", "swap the air filter for a freer one",
     "swapping the air filter for a freer one", FILTER),
    ("knocked the baffles out", "knock the baffles out", "knocking the baffles out", EXHAUST),
    ("cut the muffler down", "cut the muffler down", "cutting the muffler down", EXHAUST),
    ("pulled the spark screen out of the pipe", "pull the spark screen out of the pipe",
     "pulling the spark screen out of the pipe", EXHAUST),
    ("rejetted the carb", "rejet the carb", "rejetting the carb", JETS),
    ("went two sizes up on the main", "go two sizes up on the main", "going two sizes up on the main", JETS),
    ("bored it out to 72cc", "bore it out to 72cc", "boring it out to 72cc", ENGINE),
)  # fmt: skip
DONE[FRESH] = (
    "Slapped {p} on it. {t}", "Added {p} over the weekend. {t}", "Stuck {p} on yesterday. {t}",
    "Its wearing {p} these days. {t}", "She has {p} now. {t}", "Bolted {p} on. {t}", "With {p} fitted it runs ok. {t}",
    "Ever since {p} went on it bogs at half throttle.", "Changed to {p} a month ago. {t}", "{p} fitted. {t}",
    "Got {p} for it and put it on. {t}", "Have {p} and stock everything else. {t}", "Dealer fitted {p}. {t}",
    "Last weekend we {d}. {t}", "{d}, rest is stock. {t}", "Finally {d}. {t}",
    "The guy before me {d}. {t}", "{d} then put {p} on. {t}",
)  # fmt: skip
NOT_DONE[FRESH] = (
    "Was going to fit {p} but havent. {t}", "Is {p} worth it? {t}", "Next on the list is {p}. {t}",
    "Waiting on {p} to come in the mail. {t}", "Forum says I need {p}. {t}", "Got {p} in the garage still boxed. {t}",
    "Never had {p} on it. {t}", "My brothers has {p}, mine is stock. {t}", "Saving up for {p}. {t}",
    "Tried {p} for a day and put the stock one back. {t}", "Planning to {v} this winter. {t}",
    "Would it help to {v}? {t}", "Didn't {v}. {t}", "Shop wants to {v}. {t}", "Is {n} worth the trouble? {t}",
    "Before I {v} I want this sorted. {t}", "Everything is stock. {t}", "No mods at all. {t}",
)  # fmt: skip
AIRS[FRESH] = (
    ("Jetted in august, its december now. {t}", "colder"), ("Set it up at 75, this morning it was 28. {t}", "colder"),
    ("It got really cold this week. {t}", "colder"), ("Winter came early. {t}", "colder"),
    ("Was 90 when I tuned it, 45 today. {t}", "colder"), ("Jetted for +10, it's -25 now. {t}", "colder"),
    ("Worked in the fall, dead of winter now. {t}", "colder"), ("Way colder out than when I jetted it. {t}", "colder"),
    ("Carb was set in january, now its june. {t}", "hotter"), ("Jetted at 30 degrees, its 80 now. {t}", "hotter"),
    ("It's super hot out lately. {t}", "hotter"), ("Spring is here and its 70 out. {t}", "hotter"),
    ("Set at -15, today its +4. {t}", "hotter"), ("Was great in the winter, now with the heat its bad. {t}", "hotter"),
    ("Live at 1200 ft, camping at 9500 this week. {t}", "up"), ("Hauled it to 10000 ft. {t}", "up"),
    ("Jetted for 2000, riding at 7500. {t}", "up"), ("Drove up to the high country with it. {t}", "up"),
    ("Moved up to 6500 ft last month. {t}", "up"), ("Home is 800 ft, here its 6000. {t}", "up"),
    ("Moved down to 300 ft from 6000. {t}", "down"), ("Was jetted for 7000 ft, I ride at 400 ft. {t}", "down"),
    ("Bought it in the mountains, I live at the beach. {t}", "down"),
    ("Came down from 8000 ft to the lake at 1500. {t}", "down"),
    ("Its a summer bike. {t}", ""), ("Bogs at 5000 to 6000 rpm. {t}", ""), ("Did 40 miles on it. {t}", ""),
    ("Bought it in june. {t}", ""), ("Its 70 out today. {t}", ""), ("Top speed was 80, now 60. {t}", ""),
    ("Starts cold on two kicks. {t}", ""), ("Weather is the same as before. {t}", ""),
    ("Plug gap was 30, set it to 40. {t}", ""), ("I ride at 3000 ft, always have. {t}", ""),
)  # fmt: skip
#: Committed before they were run, mended from since; at first look fitted 135 of 200, not fitted 149, other air 58 of
#: 102, same air 37 of 37.
UNREAD = "mended from last"
PARTS[UNREAD] = (
    ("a foam cone filter", FILTER), ("an open element filter", FILTER), ("twin pods", FILTER),
    ("a filter sock", FILTER), ("a gauze filter", FILTER), ("a ram air filter", FILTER),
    ("a high level pipe", EXHAUST), ("a stainless exhaust", EXHAUST), ("a 2-1 system", EXHAUST),
    ("an open can", EXHAUST),
    ("a fatty pipe and silencer", EXHAUST), ("a stubby muffler", EXHAUST), ("a 90cc kit", ENGINE),
    ("a big bore barrel", ENGINE), ("a 26mm carb", CARB), ("a chinese carb", CARB), ("a jet kit", JETS),
)  # fmt: skip
DEEDS[UNREAD] = (
    ("cut the lid of the airbox", "cut the lid of the airbox", "cutting the lid of the airbox", FILTER),
    ("chucked the airbox", "chuck the airbox", "chucking the airbox", FILTER),
    ("swapped the filter for a cone", "swap the filter for a cone", "swapping the filter for a cone", FILTER),
    ("whipped the baffle out", "whip the baffle out", "whipping the baffle out", EXHAUST),
    ("derestricted the exhaust", "derestrict the exhaust", "derestricting the exhaust", EXHAUST),
    ("bumped the main up two", "bump the main up two", "bumping the main up two", JETS),
)  # fmt: skip
DONE[UNREAD] = (
    "Whacked {p} on it last month. {t}", "Its on {p} now. {t}", "Came to me with {p}. {t}", "{p} is the only mod. {t}",
    "Put {p} on for the noise. {t}", "My dad {d}. {t}", "{d} a while back. {t}", "Done so far: {p}. {t}",
    "Everything is stock but {p}. {t}", "It bogs at half throttle since {p} was fitted.",
)  # fmt: skip
NOT_DONE[UNREAD] = (
    "Tempted by {p}. {t}", "Does anyone run {p} on these? {t}", "Got told {p} would make it lean. {t}",
    "He wants me to {v}. {t}", "I can get {p} cheap. {t}", "Dont have {p} or anything. {t}",
    "Might get {p} for xmas. {t}", "Thought about {n} but no. {t}", "Sold {p} with the last bike. {t}",
    "Completely standard machine. {t}",
)  # fmt: skip
AIRS[UNREAD] = (
    ("Built and jetted it over the summer, got snow on the ground now. {t}", "colder"),
    ("Was 80s all last month, 40s now. {t}", "colder"), ("Nights are down to freezing. {t}", "colder"),
    ("Did the jetting when it was hot, its bloody freezing now. {t}", "colder"),
    ("Temp went from 75 to 30. {t}", "colder"), ("Minus 15 here this morning, was jetted at plus 10. {t}", "colder"),
    ("Set up in the winter, we are having a heat wave. {t}", "hotter"),
    ("Perfect in march, now its july and 34 degrees. {t}", "hotter"), ("In this heat its a pig. {t}", "hotter"),
    ("Its 40C here today, I tuned it at 20C. {t}", "hotter"),
    ("Took the quad up to 2500 m, we live at 400. {t}", "up"), ("Im at 7000 now, bike was jetted at 1000. {t}", "up"),
    ("Bought it off a guy at sea level, I am in denver. {t}", "up"), ("Riding the high passes this week. {t}", "up"),
    ("Jetted by a shop at 200 m, we ride at 1800 m. {t}", "up"),
    ("Came from a mile high, now at the coast. {t}", "down"), ("Lived at 6500 ft, moved to 900 ft. {t}", "down"),
    ("Bike was set up for 2200 m and is now at 300 m. {t}", "down"),
    ("Brought it down from 9000 ft to 3000. {t}", "down"),
    ("Bogs hot or cold. {t}", ""), ("It was 20 years in a barn. {t}", ""), ("Summer tyres, winter tyres. {t}", ""),
    ("Temp gauge sits at 80. {t}", ""), ("Its all flat here, 50 m above the sea. {t}", ""),
    ("Pulls to 7000 then nothing. {t}", ""), ("I ride all year, hot or cold. {t}", ""),
)  # fmt: skip
SET_UP = STAGE | CARB | ENGINE | {
    "main_made_smaller", "pilot_made_larger", "pilot_made_smaller", "needle_raised", "needle_lowered",
}  # fmt: skip
AIR = {"colder_weather": "colder", "hotter_weather": "hotter", "moved_up": "up", "moved_down": "down"}
ASKED = {"higher_or_hotter": {"up", "hotter"}, "lower_or_colder": {"down", "colder"}}


class Told(NamedTuple):
    """A sentence, the circumstances of which one of each must be read, those that may, and which way the air went."""

    text: str
    must: tuple[frozenset[str], ...]
    done: bool
    air: str | None = None


def of_parts(wording: str, half: str, done: bool, chance: random.Random) -> Told:
    """A sentence of a part or a deed."""
    part, of_part = chance.choice(PARTS[half])
    did, does, doing, of_deed = chance.choice(DEEDS[half])
    text = wording.format(p=part, d=did, v=does, n=doing, t=chance.choice(TROUBLE))
    must = tuple(of for slot, of in (("{p}", of_part), ("{d}", of_deed), ("{n}", of_deed)) if slot in wording and done)
    return Told(_written(text, chance), must, done)


def _written(text: str, chance: random.Random) -> str:
    return text[0].upper() + text[1:] if chance.random() < 0.7 else text[0].lower() + text[1:]


def mistakes(k: Knowledge, told: Told) -> Iterator[str]:
    """What was missed and what was read wrong; nothing where all was read as told."""
    reading = read_text(told.text, k)
    there = {c.context for c in reading.contexts if c.status is Status.PRESENT}
    denied = {c.context for c in reading.contexts if c.status is Status.DENIED}
    bogs = [f for f in reading.findings if f.finding == "bogs"]
    if any(f.status is Status.DENIED for f in bogs):
        yield "wrong: trouble denied"
    elif not bogs:
        yield "missed the trouble"
    may = {context for of in told.must for context in of}
    for of in told.must:
        if of == REEDS:
            continue
        if not of & there:
            yield f"wrong: denied {sorted(of)}" if of & denied else f"missed {sorted(of)}"
    changed = may & JETS and {c for c in SET_UP if c not in STAGE | CARB | ENGINE}
    if extra := (there & SET_UP) - may - (changed or set()):
        yield f"wrong: {sorted(extra)}"
    if not told.done and told.air is None and reading.trials:
        yield f"wrong: {[str(t.do or t.change) for t in reading.trials]}"
    ways = set(air_ways(reading))
    if ways - {told.air}:
        yield f"wrong: air {sorted(ways - {told.air})}"
    elif told.air and not ways:
        yield f"missed {told.air}"


def air_ways(reading: TextReading) -> Iterator[str]:
    """Every way that the air is read to have gone."""
    yield from (AIR[c.context] for c in reading.contexts if c.context in AIR and c.status is Status.PRESENT)
    if reading.air is not None:
        before, now = reading.air.set, reading.air.now
        if before.elevation_m != now.elevation_m:
            yield "up" if now.elevation_m > before.elevation_m else "down"
        if before.temperature_c is not None and now.temperature_c is not None:
            yield "hotter" if now.temperature_c > before.temperature_c else "colder"


def sentences(half: str, each: int) -> Iterator[tuple[str, str, list[Told]]]:
    """Of every wording its kind, itself and its sentences."""
    chance = random.Random(20261129)
    for kind, wordings in (("fitted", DONE[half]), ("not fitted", NOT_DONE[half])):
        for wording in wordings:
            yield kind, wording, [of_parts(wording, half, kind == "fitted", chance) for _ in range(each)]
    for wording, way in AIRS[half]:
        texts = {_written(wording.format(t=chance.choice(TROUBLE)), chance) for _ in range(each)}
        yield "other air" if way else "same air", wording, [Told(text, (), False, way) for text in sorted(texts)]


def main() -> None:
    """Print how many sentences were read as told, by half, kind and wording."""
    asked = options(__doc__, 20, "of each wording; of an air, as many as differ")
    k = Knowledge.load()
    for half in PARTS:
        counts: dict[str, list[int]] = {}
        for kind, wording, told in sentences(half, asked.sentences):
            found = [[*mistakes(k, one)] for one in told]
            ok = sum(not f for f in found)
            bad = sum(any(m.startswith("wrong") for m in f) for f in found)
            count = counts.setdefault(kind, [0, 0, 0])
            for n, more in enumerate((ok, len(found), bad)):
                count[n] += more
            if half == UNREAD or asked.kept:
                print(f"  {ok:3} of {len(found)}, {bad:2} wrong  {wording}")
                failed = [(s, f) for s, f in zip(told, found, strict=True) if f]
                for s, f in failed[: asked.show]:
                    print(f"        {s.text}\n            {'; '.join(f)}")
        for kind, (ok, total, bad) in counts.items():
            print(f"{half}, {kind}: {ok} of {total} as told, {bad} with something wrong")


if __name__ == "__main__":
    main()
