"""Whether a trouble that is there is read as there, and one that is not as not; sentences by chance, fixed seed.

    python benchmarks/polarity.py [--sentences 24] [--show 10] [--kept]

So many sentences of each wording: a trouble, an opening, and often a remark before it. What counts as wrong is the
opposite: a trouble told plainly and read as denied, as past or as cured, or one that is denied and read as there. The
first wordings of each kind were looked at while the reader was mended, the second (`..._KEPT`) after their first look
and that of the rules made from the first, the third (`..._LATER`), written before that, likewise
after these; the fourth (`..._FRESH`), written after all these rules, are only measured.
"""

from __future__ import annotations

import random
from typing import Final, NamedTuple

from carbdiag import Knowledge, TextReading, read_text
from carbdiag.reading_schema import FindingRead
from carbdiag.terms import Effect, Status

try:
    from benchmarks.by_chance import options
except ModuleNotFoundError:  # run as a script
    from by_chance import options


class Sign(NamedTuple):
    """A trouble in the forms that a sentence needs."""

    finding: str
    does: str
    do: str
    doing: str
    did: str
    noun: str


SIGNS: Final = (
    Sign("bogs", "bogs", "bog", "bogging", "bogged", "bog"),
    Sign("hesitates", "hesitates", "hesitate", "hesitating", "hesitated", "hesitation"),
    Sign("hesitates", "stumbles", "stumble", "stumbling", "stumbled", "stumble"),
    Sign("misfires", "stutters", "stutter", "stuttering", "stuttered", "stutter"),
    Sign("misfires", "misses", "miss", "missing", "missed", "miss"),
    Sign("surges", "surges", "surge", "surging", "surged", "surge"),
    Sign("blubbers", "burbles", "burble", "burbling", "burbled", "burble"),
)
#: Signs that the same words may be read as; none of them is the opposite.
KIN: Final = {"bogs": {"flat_spot", "hesitates"}, "hesitates": {"bogs", "flat_spot"}}
OPENINGS: Final = {
    "eighth": ("off idle", "just off idle"), "quarter": ("at 1/4", "at quarter throttle"),
    "half": ("at half throttle", "at half"), "three_quarter": ("at 3/4", "at three quarter throttle"),
    "full": ("wide open", "at full throttle"),
}  # fmt: skip
BEFORE: Final = (
    "", "", "", "Needle shimmed one washer, stock pilot. ", "Stock jets, new plug. ", "Cleaned the carb. ",
    "Two-stroke with a pipe. ", "Went up two on the main. ",
)  # fmt: skip
THERE: Final = (
    "{p} it sort of {does}", "it {does} a bit {p}", "it only {does} {p}", "it barely gets going {p}, it {does}",
    "it no longer pulls {p}, it {does}", "it not only {does} {p}, it uses more gas too",
    "it does nothing but {do} {p}", "I can't get it to not {do} {p}", "it never used to but now it {does} {p}",
    "it doesn't always, but mostly it {does} {p}", "it's not like it doesn't {do} {p}", "ok it {does} {p}",
    "{p} its fine at first, then it {does}", "no idea why it {does} {p}", "no matter what I do it {does} {p}",
    "starts cold with no choke needed and it {does} {p}", "pulls fine to about there then {does}, {p}",
    "it {does} {p}, no doubt about it", "not a bad {noun} {p} but it's there", "still not right, {does} {p}",
    "it {does} {p} and there is nothing I can do about it", "the {noun} {p} won't go away",
    "can't get rid of the {noun} {p}", "it never stops {doing} {p}", "it {does} {p} without fail",
    "doesn't smoke, doesn't rattle, it just {does} {p}", "it {does} {p} but doesn't die",
    "it won't rev out, {does} {p}", "I don't ride it because it {does} {p}",
    "don't know if it matters but it {does} {p}", "it {does} {p}, no clue why",
    "not a day goes by that it doesn't {do} {p}", "can't open it without it {doing} {p}",
    "thought it was fixed but it {does} {p}", "was fine last week, now it {does} {p}",
    "plug is good, spark is good, it {does} {p}", "it idles fine and {does} {p}",
    "sometimes it doesn't, but usually it {does} {p}", "it seems to {do} {p}", "it wants to {do} {p}",
    "I get a slight {noun} {p}", "got a {noun} {p} that I can't fix", "mostly ok but {does} {p}",
    "it only {does} when I hold it {p}", "hot or cold makes no difference, it {does} {p}",
    "cold it {does} {p}, it doesn't do it hot", "it {does} {p}, not at idle", "it {does} {p} whether it's hot or not",
)  # fmt: skip
THERE_KEPT: Final = (
    "it kind of {does} {p}", "{p} it just {does}", "it {does} only {p}", "it hardly moves {p}, it {does}",
    "it no longer revs clean, it {does} {p}", "not only does it {do} {p} but it drinks gas",
    "all it does {p} is {do}", "can't get it to stop {doing} {p}", "never {did} before, now it {does} {p}",
    "not every time, but most times it {does} {p}", "it isn't like it never {does} {p}", "well ok, it {does} {p}",
    "runs good for a second then {does} {p}", "can't figure out why it {does} {p}", "whatever I do it {does} {p}",
    "no choke, no trouble starting, but it {does} {p}", "clean below that then it {does}, {p}",
    "without a doubt it {does} {p}", "it's not much of a {noun} {p}, but it's there",
    "not happy with it, it {does} {p}", "it {does} {p}, nothing I do helps", "the {noun} {p} hasn't gone away",
    "never got rid of the {noun} {p}", "it won't stop {doing} {p}", "it never fails to {do} {p}",
    "no leaks, no smoke, it {does} {p}", "it {does} {p}, never dies though", "won't pull clean, it {does} {p}",
    "I don't like how it {does} {p}", "not sure what it is, it {does} {p}", "it {does} {p} for no reason",
    "there isn't a ride where it doesn't {do} {p}", "can't ride it without it {doing} {p}",
    "I thought I had it sorted, nope, it {does} {p}", "it used to run great, now it {does} {p}",
    "carb is clean, float is right, it {does} {p}", "starts right up, idles great, {does} {p}",
    "it doesn't do it every day but it {does} {p}", "it tends to {do} {p}", "it will {do} {p}",
    "there's a little {noun} {p}", "{noun} {p} I can't tune out", "pretty good overall, {does} {p} though",
    "it {does} as long as I hold it {p}", "doesn't matter if it's hot or cold, it {does} {p}",
    "hot it {does} {p}, cold it doesn't", "it's not the idle, it {does} {p}", "choke or no choke it {does} {p}",
)  # fmt: skip
THERE_LATER: Final = (
    "kinda {does} {p} if that makes sense", "{p} all it wants to do is {do}", "it hasn't stopped {doing} {p}",
    "not that bad but it {does} {p}", "it {does} {p}, and no it's not the plug", "nobody can tell me why it {does} {p}",
    "I wouldn't mind if it didn't {do} {p}", "it {does} {p} like it's not getting gas",
    "never had trouble before this year, now it {does} {p}", "it doesn't just {do} {p}, it falls on its face",
    "it isn't a huge {noun} {p} but you feel it", "with or without the airbox lid it {does} {p}",
    "runs fine otherwise but {does} {p}", "it's good until I get on it, then {does} {p}",
    "the only thing wrong is it {does} {p}", "I can live with it but it {does} {p}",
    "nine times out of ten it {does} {p}",
    "it {does} {p} no matter the weather", "no air leaks that I can find, {does} {p}", "it just won't stop {doing} {p}",
    "I never noticed it before but it {does} {p}", "it didn't cure it, {does} {p}", "I could not stop it {doing} {p}",
    "a slight {noun} {p}, nothing major", "I'm not imagining it, it {does} {p}", "it won't not {do} {p}",
)  # fmt: skip
THERE_FRESH: Final = (
    "I still can't stop it {doing} {p}", "it {does} {p}, not always but often", "hardly a ride without it {doing} {p}",
    "nothing I try stops it {doing} {p}", "it'll {do} {p} every time", "it's fine, it just {does} {p}",
    "I wouldn't say it's bad but it {does} {p}", "it doesn't want to do anything but {do} {p}",
    "no smoke and no noise, only it {does} {p}", "kind of a {noun} {p}", "never dies, just {does} {p}",
    "don't ask me why but it {does} {p}", "it isn't only cold that it {does} {p}", "good spark, no leaks, {does} {p}",
    "it still will {do} {p} now and then", "can't say I like how it {does} {p}",
)  # fmt: skip
NOT_THERE: Final = (
    "no {noun} {p} anymore", "it never {does} {p}", "it used to {do} {p}, gone since the pilot went in",
    "it doesn't {do} {p}", "it no longer {does} {p}", "it runs {p} without any {noun}", "not a hint of a {noun} {p}",
    "it stopped {doing} {p}", "the {noun} {p} is gone", "the {noun} {p} has disappeared",
    "it doesn't {do} or cough {p}", "I can't get it to {do} {p}", "it wouldn't {do} {p} if I tried",
    "{p} it pulls clean, no {noun}", "{noun} {p}: no", "it's not that it {does} {p}",
    "last year it {did} {p}, a new carb fixed that", "a bigger pilot cured the {noun} {p}",
    "no signs of {doing} {p}", "haven't had it {do} {p} since", "it used to {do} {p} but not now",
    "if it {did} {p} I'd say lean, but it doesn't", "it should {do} {p} if it was lean, but no",
    "it isn't {doing} {p}", "I don't get a {noun} {p}", "I wouldn't call it a {noun} {p}, it's fine there",
)  # fmt: skip
NOT_THERE_KEPT: Final = (
    "no more {noun} {p}", "it has never {did} {p}", "it {did} {p} until the new pilot went in, gone now",
    "it does not {do} {p} at all", "it isn't {doing} {p} any more", "it pulls {p} without {doing}", "zero {noun} {p}",
    "it quit {doing} {p}", "the {noun} {p} went away", "{p} the {noun} is no more",
    "it neither {does} nor coughs {p}", "can't make it {do} {p} no matter what", "it won't {do} {p} even if I whack it",
    "{p} it's clean as can be, doesn't {do}", "{noun} {p}? none", "it isn't like it {does} {p}",
    "it had a {noun} {p} last year, that was a bad carb and is fixed", "a bigger pilot took care of the {noun} {p}",
    "there is no {doing} {p} whatsoever", "it hasn't {did} {p} since", "it {did} {p} before, not any longer",
    "you'd expect it to {do} {p}, it doesn't", "others say theirs {do} {p}, mine doesn't",
    "not {doing} {p}", "never get a {noun} {p}", "it is not a {noun} {p}, it's smooth there",
)  # fmt: skip
NOT_THERE_LATER: Final = (
    "hasn't got a {noun} {p}", "it never did {do} {p}", "the old carb would {do} {p}, this one doesn't",
    "it doesn't seem to {do} {p}", "no {noun} to speak of {p}", "{p} I get no {noun} whatsoever",
    "there was a {noun} {p} but the new needle cured it", "I tried to make it {do} {p} and it won't",
    "it quit {doing} {p} after the carb clean", "no {noun}, no miss, no nothing {p}", "it has lost its {noun} {p}",
    "don't notice any {doing} {p}", "it's done {doing} {p}", "nope, doesn't {do} {p}", "it isn't a {noun} {p}",
    "it pulls clean {p}, never {does}",
)  # fmt: skip
NOT_THERE_FRESH: Final = (
    "I no longer get the {noun} {p}", "it won't {do} {p} any more", "didn't {do} once {p}", "there's no {noun} {p} now",
    "since the new carb it hasn't {did} {p}", "not one {noun} {p}", "never a {noun} {p}",
    "it doesn't {do} {p}, it's crisp",
    "the {noun} {p} never came back", "we cured its {noun} {p}", "no {noun} or anything {p}",
    "it ran {p} with zero {doing}",
)  # fmt: skip


class Told(NamedTuple):
    """A sentence and the trouble that it tells of."""

    text: str
    sign: Sign
    there: bool


def told(wording: str, there: bool, chance: random.Random, k: Knowledge) -> Told:
    """A sentence of a wording."""
    sign = chance.choice(SIGNS)
    place = chance.choice([p for p in OPENINGS if p in k.findings[sign.finding].at])
    said = wording.format(p=chance.choice(OPENINGS[place]), **sign._asdict())
    said = said[0].upper() + said[1:] if chance.random() < 0.6 else said
    return Told(chance.choice(BEFORE) + said + chance.choice((".", "")), sign, there)


def mistake(k: Knowledge, sentence: Told) -> str:
    """What is wrong with a reading: "wrong ..." is the opposite of what was told; nothing where all is right."""
    reading = read_text(sentence.text, k)
    named = {sentence.sign.finding, *KIN.get(sentence.sign.finding, ())}
    read = {status: [f for f in reading.findings if f.finding in named and f.status is status] for status in Status}
    return _of_one_there(reading, read, named) if sentence.there else _of_one_gone(reading, read)


def _of_one_there(reading: TextReading, read: dict[Status, list[FindingRead]], named: set[str]) -> str:
    if read[Status.DENIED] and not read[Status.PRESENT]:
        return "wrong: denied"
    if any(t.effect is Effect.CURED for t in reading.trials):
        return "wrong: cured"
    if read[Status.PRESENT]:
        return "wrong: denied as well" if _overlap(read[Status.PRESENT], read[Status.DENIED]) else ""
    aside = [a.why for a in reading.set_aside if a.record in named]
    return f"wrong: {aside[0]}" if aside and aside[0] in ("past", "denied") else "lost"


def _overlap(there: list[FindingRead], gone: list[FindingRead]) -> bool:
    """Whether a sign is told as there and as gone at one opening, in one stretch of time."""
    return any(
        g.finding == t.finding and g.epoch == t.epoch and (not {*g.at, *t.at} or {*g.at} & {*t.at})
        for t in there for g in gone
    )  # fmt: skip


def _of_one_gone(reading: TextReading, read: dict[Status, list[FindingRead]]) -> str:
    cured = max((t.epoch for t in reading.trials if t.effect is Effect.CURED), default=-1)
    now = [f for f in read[Status.PRESENT] if f.epoch == reading.epochs - 1 and f.epoch > cured]
    if now:
        return "wrong: there"
    return "" if read[Status.DENIED] or cured >= 0 or read[Status.PRESENT] or reading.set_aside else "lost"


KINDS: Final = (
    ("there, mended from", THERE, True), ("there, mended from later", THERE_KEPT, True),
    ("there, mended from last", THERE_LATER, True), ("there, only measured", THERE_FRESH, True),
    ("not there, mended from", NOT_THERE, False), ("not there, mended from later", NOT_THERE_KEPT, False),
    ("not there, mended from last", NOT_THERE_LATER, False), ("not there, only measured", NOT_THERE_FRESH, False),
)  # fmt: skip


def main() -> None:
    """Print how many sentences were read as told, by kind and wording."""
    asked = options(__doc__, 24)
    k = Knowledge.load()
    for name, wordings, there in KINDS:
        chance = random.Random(20261129)
        found: list[tuple[str, str]] = []
        for wording in wordings:
            sentences = [told(wording, there, chance, k) for _ in range(asked.sentences)]
            results = [(mistake(k, s), s.text) for s in sentences]
            found += results
            bad = [r for r in results if r[0]]
            if bad and asked.show and ("mended" in name or asked.kept):
                print(f"  {len(results) - len(bad):3} of {len(results)}  {wording}")
                for what, text in bad[:2]:
                    print(f"        {what}: {text}")
        wrong = sum(what.startswith("wrong") for what, _ in found)
        lost = sum(what == "lost" for what, _ in found)
        print(f"{name}: {len(found) - wrong - lost} of {len(found)} as told, {lost} lost, {wrong} the wrong way")


if __name__ == "__main__":
    main()
