"""Whether changes and what they did are read: sentences put together by chance, fixed seed.

    python benchmarks/changes_told.py [--sentences 16] [--show 10] [--kept]

Each wording says what must come of it: trials as "setting way effect", where a jet is named by its sizes `a`, `b` and
`c` and the way follows from them; nothing for what was not done. Counted apart are the trials read as told, those lost,
and those read the wrong way: the other direction, another effect, or one that nobody told. The wordings of `MENDED`
were looked at while the reader was mended, those of `KEPT` after their first look and that of the rules made from
`MENDED`, those of `LATER`, written before `KEPT` was looked at, likewise after these. Those of `FRESH` were
written after all these rules and are only measured.
"""

from __future__ import annotations

import random
from typing import Final, NamedTuple

from carbdiag import Knowledge, read_text
from carbdiag.reading_schema import TrialRead

try:
    from benchmarks.by_chance import options
except ModuleNotFoundError:  # run as a script
    from by_chance import options


class Wording(NamedTuple):
    """A way to tell it, and the trials: "ab e" a jet from a to b; "needle rich e"; "do replace_plug cured"."""

    text: str
    trials: tuple[str, ...] = ()


MENDED: Final = (
    # chains of jets
    Wording("{p} was {a}. Put {b} in: {e} on top, put {c} in: {f}.", ("ab e", "bc f")),
    Wording("{upjetted} the {p} from {a} to {b} to {c}, all the same.", ("ab no_change", "bc no_change")),
    Wording("Went from {a} to {b} on the {p}, popping got {e}, then to {c} and it got {f}.", ("ab e", "bc f")),
    Wording("{p} {a} -> {b} {e}, -> {c} {f}.", ("ab e", "bc f")),
    Wording("{bumped} the {p} from {a} to {b} and it got {e}, {bumped} it again to {c} and it got {f}.",
            ("ab e", "bc f")),
    Wording("Went {a} to {b} on the {p}, {e}. Went back to the {a}.", ("ab e",)),
    Wording("It has the stock {a} {p}. Went {b}, {e}. Went {c}, {f}.", ("ab e", "bc f")),
    # one jet
    Wording("Went from {a} to {b} {p} and the bog is gone.", ("ab cured|better",)),
    Wording("Went from {a} to {b} {p} and it bogs less.", ("ab better",)),
    Wording("Went from {a} to {b} {p} and it still bogs.", ("ab no_change",)),
    Wording("It bogs. Went from {a} to {b} {p} but the bog stayed.", ("ab no_change",)),
    Wording("Went from {a} to {b} on the {p}, didn't do a thing.", ("ab no_change",)),
    Wording("Went from {a} to {b} on the {p}, now it won't even idle.", ("ab worse|overshot",)),
    Wording("Went from {a} to {b} on the {p}, helped a lot.", ("ab better",)),
    Wording("Went from {a} to {b} on the {p}, only made it worse.", ("ab worse",)),
    Wording("Went from {a} to {b} on the {p}, didn't help.", ("ab no_change",)),
    Wording("Went from {a} to {b} on the {p}, thought it was better but no.", ("ab no_change",)),
    Wording("Went from {a} to {b} on the {p}, it got better, not great.", ("ab better",)),
    Wording("Went from {a} to {b} on the {p}, it's nearly clean now.", ("ab better|cured",)),
    Wording("Went from {a} to {b} on the {p}, sort of better.", ("ab better",)),
    Wording("Went from {a} to {b} on the {p}, a hair better.", ("ab better",)),
    Wording("It was {a} on the {p}, {e} with the {b}.", ("ab e",)),
    Wording("Swapped {p} {a} for {b}, runs {e}.", ("ab e",)),
    Wording("Stock 45 pilot and 180 main, went 42 pilot and 178 main, bog is gone.",
            ("pilot lean cured|better", "main_jet lean cured|better")),
    Wording("Tried {b} {p} over the {a}, {e}.", ("ab e",)),
    # without numbers
    Wording("{Bigger} {p}, {e}.", ("p way e",)),
    Wording("Went {up} two sizes on the {p}, {e}.", ("p way e",)),
    Wording("{Up} two on the {p} and it's {e}.", ("p way e",)),
    # needle
    Wording("Put the clip {down} one, {e}.", ("needle way e",)),
    Wording("Put the needle in the {bottom} clip, {e}.", ("needle way e",)),
    Wording("With two washers under the needle it's {e}.", ("needle rich e",)),
    Wording("Shimmed the needle, {e}.", ("needle rich e",)),
    Wording("{raised} the needle one notch, {e}.", ("needle way e",)),
    Wording("Took the shim out from under the needle, {e}.", ("needle lean e",)),
    Wording("{raised} the needle one, {e}, {raised} it another, {f}.", ("needle way e", "needle way f")),
    # screw
    Wording("Fuel screw from 1.5 to 2.5 turns out, {e}.", ("mixture_screw rich e",)),
    Wording("Fuel screw was at 1.5 turns, going to 2.5 turns helped.", ("mixture_screw rich better",)),
    Wording("Air screw {out} half a turn, {e}.", ("mixture_screw airway e",)),
    Wording("Fuel screw at 1.5, tried 2.5, {e}.", ("mixture_screw rich e",)),
    # repairs
    Wording("It died. Lit and ran after a new lead.", ("do replace_plug_cap_or_lead cured|better",)),
    Wording("It misfires. New plug fixed it.", ("do replace_plug cured|better",)),
    Wording("It misfires. Plug swapped, {e}.", ("do replace_plug e",)),
    Wording("It bogs. Cleaned the carb, bog is gone.", ("do clean_carburetor cured",)),
    Wording("It bogs. Carb cleaned twice, {e}.", ("do clean_carburetor e",)),
    # not done
    Wording("Bought a bigger {p} already. It bogs at half throttle."),
    Wording("Have a {b} {p} on the way. It bogs at half throttle."),
    Wording("Should I go up on the {p}? It bogs at half throttle."),
    Wording("I was going to put in a {b} {p} but haven't. It bogs at half throttle."),
    Wording("{b} {p} arrives friday. It bogs at half throttle."),
    Wording("Didn't touch the {p}. It bogs at half throttle."),
    Wording("Would a bigger {p} make it better? It bogs at half throttle."),
    Wording("Needle is where it came, clip in the middle. It bogs at half throttle."),
)
KEPT: Final = (
    Wording("Started at {a} on the {p}. {b} {e}. {c} {f}.", ("ab e", "bc f")),
    Wording("Rejetted the {p} {a} to {b} then {c}, no change at all.", ("ab no_change", "bc no_change")),
    Wording("{a} to {b} {p}, the bog got {e}. Then {c} and now it's {f}.", ("ab e", "bc f")),
    Wording("{p} {a} it bogs, {b} = {e}, {c} = {f}.", ("ab e", "bc f")),
    Wording("Moved from {a} to {b} {p}, it was {e}, so I went to {c} and it was {f}.", ("ab e", "bc f")),
    Wording("Tried a {b} {p} instead of the {a}, {e}, so the {a} is back in.", ("ab e",)),
    Wording("It came with a {a} {p}. {b} in, {e}. Then {c} in, {f}.", ("ab e", "bc f")),
    Wording("Since I went from {a} to {b} {p} it doesn't bog.", ("ab cured|better",)),
    Wording("Went from {a} to {b} {p} and the bog is half what it was.", ("ab better",)),
    Wording("Went from {a} to {b} {p} and the bog hasn't changed.", ("ab no_change",)),
    Wording("It bogs. Went from {a} to {b} {p} and it bogs just as bad.", ("ab no_change",)),
    Wording("Went from {a} to {b} on the {p}, made zero difference.", ("ab no_change",)),
    Wording("Went from {a} to {b} on the {p}, now it runs like crap.", ("ab worse|overshot",)),
    Wording("Went from {a} to {b} on the {p}, helped some.", ("ab better",)),
    Wording("Went from {a} to {b} on the {p}, just made it worse.", ("ab worse",)),
    Wording("Went from {a} to {b} on the {p}, was no help.", ("ab no_change",)),
    Wording("Went from {a} to {b} on the {p}, seemed better at first but it's the same.", ("ab no_change|came_back",)),
    Wording("Went from {a} to {b} on the {p}, better but not perfect.", ("ab better",)),
    Wording("Went from {a} to {b} on the {p}, it's almost perfect now.", ("ab better|cured",)),
    Wording("Went from {a} to {b} on the {p}, kind of better.", ("ab better",)),
    Wording("Went from {a} to {b} on the {p}, a touch better.", ("ab better",)),
    Wording("It's {e} now with a {b} {p} instead of the {a}.", ("ab e",)),
    Wording("Took out the {a} {p} and put in a {b}, runs {e}.", ("ab e",)),
    Wording("From 45 pilot and 180 main to 48 and 185, bog is gone.",
            ("pilot rich cured|better", "main_jet rich cured|better")),
    Wording("A {b} {p} in place of the {a} made it {e}.", ("ab e",)),
    Wording("One size {bigger} {p} made it {e}.", ("p way e",)),
    Wording("{p} {up} one, {e}.", ("p way e",)),
    Wording("Two sizes {up} on the {p}: {e}.", ("p way e",)),
    Wording("Moved the clip {down} a groove, {e}.", ("needle way e",)),
    Wording("Clip on the {bottom} notch now, {e}.", ("needle way e",)),
    Wording("One washer under the needle clip, {e}.", ("needle rich e",)),
    Wording("Shim under the needle: {e}.", ("needle rich e",)),
    Wording("Needle {up} a notch, {e}.", ("needle way e",)),
    Wording("Pulled the washer back out from under the needle, {e}.", ("needle lean e",)),
    Wording("Clip {down} one, {e}. Clip {down} one more, {f}.", ("needle way e", "needle way f")),
    Wording("Fuel screw 1.5 -> 2.5, {e}.", ("mixture_screw rich e",)),
    Wording("Opening the fuel screw from 1.5 to 2.5 turns helped.", ("mixture_screw rich better",)),
    Wording("Turned the air screw {out} half a turn, {e}.", ("mixture_screw airway e",)),
    Wording("Fuel screw was 1.5, now 2.5 turns and {e}.", ("mixture_screw rich e",)),
    Wording("It died. A new coil and it fired and ran.", ("do replace_coil cured|better",)),
    Wording("It misfires. A new plug sorted it.", ("do replace_plug cured|better",)),
    Wording("It misfires. Tried another plug, {e}.", ("do replace_plug e",)),
    Wording("It bogs. Carb cleaned and the bog went away.", ("do clean_carburetor cured",)),
    Wording("It bogs. Cleaned the carb again, {e}.", ("do clean_carburetor e",)),
    Wording("Ordered a bigger {p}. It bogs at half throttle."),
    Wording("Got a {b} {p} sitting on the bench. It bogs at half throttle."),
    Wording("Guy at the shop wants me to go up on the {p}. It bogs at half throttle."),
    Wording("Can't find a {b} {p} anywhere. It bogs at half throttle."),
    Wording("Everyone says go bigger on the {p}. It bogs at half throttle."),
    Wording("Haven't changed the {p} yet. It bogs at half throttle."),
    Wording("Will a bigger {p} help? It bogs at half throttle."),
    Wording("Needle is stock, clip never moved. It bogs at half throttle."),
)
LATER: Final = (
    Wording("{p} {a} stock, {b} {e}, {c} {f}.", ("ab e", "bc f")),
    Wording("Had {a} in the {p}. Stuck {b} in, {e}. Stuck {c} in, {f}.", ("ab e", "bc f")),
    Wording("Replaced the {a} {p} with a {b}, {e}, so tried {c}, {f}.", ("ab e", "bc f")),
    Wording("{p} from {a} to {b} to {c} made no difference.", ("ab no_change", "bc no_change")),
    Wording("Changed the {p} from {a} to {b}, bog got less.", ("ab better",)),
    Wording("Changed the {p} from {a} to {b}, the bog is nearly gone.", ("ab better|cured",)),
    Wording("Changed the {p} from {a} to {b}, didn't notice anything.", ("ab no_change",)),
    Wording("Changed the {p} from {a} to {b}, that killed it, bogs everywhere now.", ("ab worse|overshot",)),
    Wording("Changed the {p} from {a} to {b}, problem solved.", ("ab cured|better",)),
    Wording("Changed the {p} from {a} to {b}, big improvement but still a slight bog.", ("ab better",)),
    Wording("Changed the {p} from {a} to {b}, if anything it's worse.", ("ab worse",)),
    Wording("Changed the {p} from {a} to {b}, not much different.", ("ab no_change",)),
    Wording("{e} after I swapped the {a} {p} for a {b}.", ("ab e",)),
    Wording("Running a {b} {p} now, was {a}. It's {e}.", ("ab e",)),
    Wording("I've gone {up} a size on the {p}, {e}.", ("p way e",)),
    Wording("With a {bigger} {p} it's {e}.", ("p way e",)),
    Wording("Dropped the clip to the {bottom} groove, {e}.", ("needle way e",)),
    Wording("Clip {down} a notch did nothing.", ("needle way no_change",)),
    Wording("Needle one notch {up}, {e}.", ("needle way e",)),
    Wording("{raised} the needle a notch: {e}. {raised} another: {f}.", ("needle way e", "needle way f")),
    Wording("Two shims under the needle = {e}.", ("needle rich e",)),
    Wording("Opened the fuel screw a turn, {e}.", ("mixture_screw rich e",)),
    Wording("Backed the fuel screw out from 1 to 2 turns, {e}.", ("mixture_screw rich e",)),
    Wording("Fuel screw 1 turn out it bogs, 2 turns out {e}.", ("mixture_screw rich e",)),
    Wording("It misfires. Put a plug in it, {e}.", ("do replace_plug e",)),
    Wording("It won't start. Stuck a new plug in and away it went.", ("do replace_plug cured|better",)),
    Wording("I need a bigger {p} I think. It bogs at half throttle."),
    Wording("Is {b} on the {p} too much? It bogs at half throttle."),
    Wording("The dealer only had a {b} {p}, haven't put it in. It bogs at half throttle."),
    Wording("Never touched the needle. It bogs at half throttle."),
)
FRESH: Final = (
    Wording("{p} was a {a}. The {b} is {e}, the {c} {f}.", ("ab e", "bc f")),
    Wording("Stepped the {p} from {a} to {b}: {e}. Then from {b} to {c}: {f}.", ("ab e", "bc f")),
    Wording("Went {a} to {b} to {c} on the {p}, no change.", ("ab no_change", "bc no_change")),
    Wording("Put in a {b} {p}, it had a {a}, {e}.", ("ab e",)),
    Wording("Dropping the {p} from {a} to {b} made it {e}.", ("ab e",)),
    Wording("Jetted from {a} to {b} on the {p} and the bog is half as bad.", ("ab better",)),
    Wording("Jetted from {a} to {b} on the {p}, bog is exactly the same.", ("ab no_change",)),
    Wording("Jetted from {a} to {b} on the {p} and now it's worse than before.", ("ab worse",)),
    Wording("Jetted from {a} to {b} on the {p} which fixed the bog.", ("ab cured|better",)),
    Wording("Jetted from {a} to {b} on the {p}, way better but not there yet.", ("ab better",)),
    Wording("One {bigger} on the {p}, {e}.", ("p way e",)),
    Wording("{Bigger} {p} didn't help.", ("p way no_change",)),
    Wording("Clip one {up}, {e}.", ("needle wayback e",)),
    Wording("{raised} the needle one clip and it got {e}.", ("needle way e",)),
    Wording("Stuck a washer under the needle, {e}.", ("needle rich e",)),
    Wording("Fuel screw half a turn {outward}, {e}.", ("mixture_screw way e",)),
    Wording("It misfires. Different plug, {e}.", ("do replace_plug e",)),
    Wording("Someone told me to go {up} on the {p}. It bogs at half throttle."),
    Wording("If I go {up} on the {p} will it run better? It bogs at half throttle."),
    Wording("Going to drop the needle next. It bogs at half throttle."),
)
PARTS: Final = {"main_jet": ("main", "main jet", "main"), "pilot": ("pilot", "pilot jet")}
SIZES: Final = {"main_jet": (80, 180), "pilot": (38, 60)}
EFFECTS: Final = {
    "better": ("better", "much better", "a bit better"), "worse": ("worse", "way worse", "much worse"),
    "no_change": ("no different", "the same", "just the same"),
}  # fmt: skip
NEXT: Final = {
    ("better", "better"): "even better", ("worse", "worse"): "even worse", ("no_change", "no_change"): "still the same",
}  # fmt: skip
#: Words that say which way, to the rich side and to the lean one.
WAYS: Final = {
    "upjetted": ("upjetted", "downjetted"), "bumped": ("bumped", "dropped"), "bigger": ("bigger", "smaller"),
    "Bigger": ("Bigger", "Smaller"), "up": ("up", "down"), "Up": ("Up", "Down"), "down": ("down", "up"),
    "bottom": ("bottom", "top"), "raised": ("raised", "lowered"), "out": ("in", "out"), "outward": ("out", "in"),
}  # fmt: skip


class Told(NamedTuple):
    """A sentence and the trials that it tells: setting or repair, way, size put in, effects that count as right."""

    text: str
    trials: tuple[tuple[str, str, float | None, tuple[str, ...]], ...]


def told(wording: Wording, chance: random.Random) -> Told:
    """A sentence of a wording."""
    part = chance.choice([*PARTS])
    step = chance.choice((-1, 1)) * chance.choice((2, 3, 5))
    a = chance.randrange(*SIZES[part])
    b, c = a + step, a + 2 * step
    rich = step > 0
    e, f = chance.choice([*EFFECTS]), chance.choice([*EFFECTS])
    said_e = chance.choice(EFFECTS[e])
    said_f = NEXT.get((e, f)) or chance.choice(EFFECTS[f])
    ways = {name: pair[0 if rich else 1] for name, pair in WAYS.items()}
    text = wording.text.format(a=a, b=b, c=c, e=said_e, f=said_f, p=chance.choice(PARTS[part]), **ways)
    text = text[0].upper() + text[1:] if chance.random() < 0.7 else text[0].lower() + text[1:]
    way, back = ("richer", "leaner") if rich else ("leaner", "richer")
    trials = []
    for trial in wording.trials:
        *which, effects = trial.split()
        right = tuple({"e": e, "f": f}.get(x, x) for x in effects.split("|"))
        if which[0] == "do":
            trials.append((which[1], "", None, right))
        elif len(which) == 1:
            trials.append((part, way, float(b if which[0] == "ab" else c), right))
        else:
            named = {"rich": "richer", "lean": "leaner", "wayback": back}
            trials.append((part if which[0] == "p" else which[0], named.get(which[1], way), None, right))
    return Told(text, tuple(trials))


def mistakes(k: Knowledge, sentence: Told) -> list[str]:
    """Trials lost and read the wrong way; nothing where all was read as told."""
    left = list(read_text(sentence.text, k).trials)
    out = []
    for setting, way, size, effects in sentence.trials:
        mine = [t for t in left if (t.do or t.change) == setting and size in (None, t.to_size)]
        mine = mine or [t for t in left if (t.do or t.change) == setting and t.to_size is None]
        right = [t for t in mine if _way(t) == way and str(t.effect) in effects]
        if right:
            left.remove(right[0])
        elif mine:
            left.remove(mine[0])
            kind = "lost" if mine[0].unsaid else "wrong"
            out.append(f"{kind}: {_in_words(mine[0])}, not {setting} {way} {size or ''} {'|'.join(effects)}")
        else:
            out.append(f"lost: {setting} {way} {size or ''} {'|'.join(effects)}")
    return [*out, *(f"wrong: {_in_words(t)}" for t in left if not t.unsaid)]


def _way(trial: TrialRead) -> str:
    return str(trial.direction or "")


def _in_words(trial: TrialRead) -> str:
    return f"{trial.do or trial.change} {_way(trial)} {trial.to_size or ''} {trial.effect}"


def main() -> None:
    """Print how many trials were read as told, lost, and read the wrong way, by half and wording."""
    asked = options(__doc__, 16)
    k = Knowledge.load()
    for name, wordings in (("mended from", MENDED), ("mended from later", KEPT), ("last", LATER), ("measured", FRESH)):
        chance = random.Random(20261129)
        right = lost = wrong = total = 0
        for wording in wordings:
            sentences = [told(wording, chance) for _ in range(asked.sentences)]
            found = [mistakes(k, s) for s in sentences]
            ok = sum(not f for f in found)
            right, total = right + ok, total + len(found)
            wrong += sum(any(m.startswith("wrong") for m in f) for f in found)
            lost += sum(bool(f) and all(m.startswith("lost") for m in f) for f in found)
            if asked.show and ok < len(found) and (wordings is not FRESH or asked.kept):
                print(f"  {ok:3} of {len(found)}  {wording.text}")
                for s, f in [(s, f) for s, f in zip(sentences, found, strict=True) if f][: asked.show]:
                    print(f"        {s.text}\n            {'; '.join(f)}")
        print(f"{name}: {right} of {total} sentences as told, {lost} with a trial lost, {wrong} the wrong way")


if __name__ == "__main__":
    main()
