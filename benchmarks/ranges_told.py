"""Whether openings told as ranges and limits are read: "from barely open to half it bogs, past that it flies".

    python benchmarks/ranges_told.py [--sentences 20] [--show 10]

So many sentences of each wording, put together by chance, fixed seed. Each wording names where the trouble is and where
it runs right, as stretches of the throttle's travel; the openings inside must be read, those outside must not, and one
on the border (a "third", the "half" of "up to half") may. The wordings of `MENDED` were looked at while the reader was
mended, those of `KEPT`, with words of their own for the openings, only measured. A trouble denied where it was told,
put where it runs right, or an opening denied trouble outside of what runs right counts as wrong; the rest is lost.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import NamedTuple

from carbdiag import Knowledge, read_text
from carbdiag.terms import Status

try:
    from benchmarks.by_chance import options
except ModuleNotFoundError:  # run as a script
    from by_chance import options


class Wording(NamedTuple):
    """A way to tell it, and the stretches: "a-b" between two points, "0-a" up to, "a-1" from there, "" not told.

    A stretch with a `*` may hold its borders and need not; in one without, the openings named belong to it.
    """

    text: str
    trouble: str
    right: str = ""


MENDED = (
    Wording("from {a} to {b} it {t}", "a-b"),
    Wording("from {a} to {b} it {t}, past that it {g}", "a-b", "*b-1"),
    Wording("between {a} and {b} it {t}", "a-b"),
    Wording("between {a} and maybe {b} it {t}, otherwise it {g}", "a-b"),
    Wording("it {t} from {a} up to {b}", "a-b"),
    Wording("{t} till {b} and then it {g}", "*0-b", "*b-1"),
    Wording("{t} till about {b} and then it {g}", "*0-b", "*b-1"),
    Wording("it {t} until {b}, then it {g}", "*0-b", "*b-1"),
    Wording("pulls fine to {b} then {t}", "*b-1", "*0-b"),
    Wording("pulls fine to about {b} then it {t}", "*b-1", "*0-b"),
    Wording("runs good up to {b} after that it {t}", "*b-1", "*0-b"),
    Wording("{b} and up its crisp, under that it {t}", "*0-b", "b-1"),
    Wording("{b} and up it {t}", "b-1"),
    Wording("from {b} on it {t}", "b-1"),
    Wording("it {t} anywhere under {b}", "*0-b"),
    Wording("it {t} below {b} but above that it {g}", "*0-b", "*b-1"),
    Wording("over {b} it {t}", "*b-1"),
    Wording("once past {b} it {t}", "*b-1"),
    Wording("it {g} past {b}, before that it {t}", "*0-b", "*b-1"),
    Wording("clean from {b} up, {t} below", "*0-b", "b-1"),
    Wording("it {t} in the top half of the throttle", "*half-1"),
    Wording("the bottom half of the throttle it {t}, top half it {g}", "*0-half", "*half-1"),
    Wording("only in the last bit of throttle it {t}", "*three_quarter-1"),
    Wording("it {t} in the first third of the throttle", "*0-half"),
    Wording("barely open it {t}", "eighth-eighth"),
    Wording("with the throttle barely cracked it {t}, {b} and up it {g}", "eighth-eighth", "b-1"),
    Wording("hardly open and it {t}", "eighth-eighth"),
    Wording("it {t} up to 6 grand then it {g}", "revs"),
    Wording("up to 5000 rpm it {g}, above that it {t}", "revs"),
    Wording("it {t} between 3000 and 5000 rpm", "revs"),
)
KEPT = (
    Wording("{t} everywhere from {a} to {b}", "a-b"),
    Wording("starts to {v} at {a} and keeps at it till {b}", "a-b"),
    Wording("in between {a} and {b} it {t}, everywhere else it {g}", "a-b"),
    Wording("{a} through {b} it {t}", "a-b"),
    Wording("it {t} anywhere from {a} to around {b}, beyond that it {g}", "a-b", "*b-1"),
    Wording("it {t} all the way up to {b}, then cleans right up", "*0-b", "*b-1"),
    Wording("it {t} before {b} and it {g} after", "*0-b", "*b-1"),
    Wording("{t} at anything less than {b}", "*0-b"),
    Wording("anything over {b} it {t}", "*b-1"),
    Wording("anything more than {b} and it {t}, less than that it {g}", "*b-1", "*0-b"),
    Wording("it {g} until I get to {b} and then it {t}", "*b-1", "*0-b"),
    Wording("gets to {b} fine, from there on it {t}", "*b-1", "*0-b"),
    Wording("it {t} from {b} all the way to the stop", "b-1"),
    Wording("{b} or more it {t}", "b-1"),
    Wording("as soon as I go past {b} it {t}", "*b-1"),
    Wording("doesn't {v} till {b}", "*b-1"),
    Wording("it {t} in the last quarter of the twist", "*three_quarter-1"),
    Wording("upper half of the grip it {t}, lower half it {g}", "*half-1", "*0-half"),
    Wording("first half of the throttle it {t}, second half it {g}", "*0-half", "*half-1"),
    Wording("the middle third of the throttle it {t}", "*quarter-three_quarter"),
    Wording("just barely on the gas it {t}", "eighth-eighth"),
    Wording("throttle hardly cracked it {t}, by {b} it {g}", "eighth-eighth", "b-b"),
    Wording("it {t} past 7k", "revs"),
    Wording("{t} from 4 to 6 thousand rpm, past that it {g}", "revs"),
)

#: How far open a point is; a third is no opening of the chart, so both beside it may be meant.
OPEN = {"idle": 0.03, "eighth": 0.125, "quarter": 0.25, "third": 0.34, "half": 0.5, "three_quarter": 0.75, "full": 1.0}
POINTS = {
    "mended from": {
        "eighth": ("barely open", "just cracked", "barely cracked", "off idle", "just off idle", "1/8"),
        "quarter": ("a quarter", "1/4", "1/4 throttle"), "third": ("a third", "maybe a third", "1/3 throttle"),
        "half": ("half", "half throttle", "1/2", "about half"), "three_quarter": ("3/4", "3/4 throttle"),
        "full": ("full", "wide open", "wot"),
    },
    "only measured": {
        "eighth": ("just barely open", "hardly open", "cracked open", "an eighth", "right off idle"),
        "quarter": ("quarter throttle", "around a quarter"), "third": ("about a third", "1/3"),
        "half": ("halfway", "1/2 throttle", "the halfway point", "roughly half"),
        "three_quarter": ("three quarters", "about 3/4"), "full": ("full throttle", "pinned", "the stop"),
    },
}  # fmt: skip
#: A trouble as "it ...", as "to ...", and the signs that it may be read as.
TROUBLES = (
    ("bogs", "bog", ("bogs",)), ("bogs down", "bog down", ("bogs",)), ("blubbers", "blubber", ("blubbers",)),
    ("stutters", "stutter", ("misfires",)), ("sputters", "sputter", ("misfires",)), ("misses", "miss", ("misfires",)),
    ("hesitates", "hesitate", ("hesitates",)), ("surges", "surge", ("surges",)),
    ("feels flat", "go flat", ("flat_spot", "low_power", "lazy_response", "bogs", "good_low_flat_on_top")),
    ("8 strokes", "8 stroke", ("blubbers", "misfires", "skips_every_other_beat", "judged_rich")),
    ("falls on its face", "fall on its face", ("bogs", "low_power", "flat_spot", "hesitates")),
)  # fmt: skip
RIGHT = {
    "mended from": ("goes like hell", "is fine", "runs great", "comes alive", "pulls hard", "is crisp", "cleans out"),
    "only measured": ("rips", "is perfect", "screams", "pulls clean", "takes off", "runs sweet", "wakes up"),
}


class Told(NamedTuple):
    """A sentence, the signs its trouble may be read as, and where: openings that must be read, and those that may."""

    text: str
    signs: tuple[str, ...]
    trouble: tuple[frozenset[str], frozenset[str]] | None
    right: tuple[frozenset[str], frozenset[str]] | None


def _stretch(told: str, points: dict[str, str]) -> tuple[frozenset[str], frozenset[str]] | None:
    """The openings that belong to a stretch, and those that may; None of one in engine speeds."""
    if told == "revs":
        return None
    soft = told.startswith("*")
    ends = [points.get(p, p) for p in told.lstrip("*").split("-")]
    low = 0.1 if ends[0] == "0" else OPEN[ends[0]]
    high = 1.0 if ends[1] == "1" else OPEN[ends[1]]
    bands = {name: at for name, at in OPEN.items() if name != "third"}
    inside = {name for name, at in bands.items() if low <= at <= high}
    border = {p for p in ends if p in bands} if soft else set()
    if "third" in ends:
        border |= {"quarter", "half"} if soft else {"quarter", "half"} - inside
    may = inside | border | ({"idle"} if ends[0] == "0" else set())
    return frozenset(inside - border), frozenset(may)


def told(wording: Wording, half: str, chance: random.Random) -> Told:
    """A sentence of a wording."""
    where = [p for p in OPEN if p != "idle"]
    middle = wording.trouble in ("a-b",)
    if middle:
        a = chance.choice(where[:3])
        b = chance.choice([p for p in where if OPEN[p] > OPEN[a] + 0.1 and (p != "full" or not wording.right)])
    else:
        a, b = "eighth", chance.choice(["quarter", "third", "half", "three_quarter"])
    words = POINTS[half]
    t, v, signs = chance.choice(TROUBLES)
    text = wording.text.format(
        a=chance.choice(words[a]), b=chance.choice(words[b]), t=t, v=v, g=chance.choice(RIGHT[half])
    )
    text = text[0].upper() + text[1:] if chance.random() < 0.6 else text
    points = {"a": a, "b": b}
    return Told(
        text, signs, _stretch(wording.trouble, points), _stretch(wording.right, points) if wording.right else None
    )


def mistakes(k: Knowledge, sentence: Told) -> list[str]:
    """What was missed and what was read wrong; nothing where all was read as told."""
    return [*_of_trouble(k, sentence), *_of_right(k, sentence)]


def _openings(k: Knowledge, places: tuple[str, ...]) -> set[str]:
    return {p for p in places if k.places[p].opening is not None}


def _general(k: Knowledge, sign: str) -> bool:
    """Whether a sign is a trouble that may stand at most openings."""
    record = k.findings[sign]
    return not record.runs_right and len(_openings(k, record.at)) > 3


def _of_trouble(k: Knowledge, sentence: Told) -> Iterator[str]:
    read = read_text(sentence.text, k).findings
    shown = [f for f in read if f.status is Status.PRESENT and f.finding in sentence.signs]
    if not shown:
        denied = any(f.status is Status.DENIED and f.finding in sentence.signs for f in read)
        yield "wrong: trouble denied" if denied else "missed the trouble"
    others = [f for f in read if f.status is Status.PRESENT and _general(k, f.finding)]
    for f in [*shown, *(o for o in others if o not in shown)]:
        at = _openings(k, f.at)
        may = sentence.trouble[1] if sentence.trouble is not None else frozenset()
        if at - may:
            yield f"wrong: {f.finding} put at {sorted(at - may)}"
    if shown and sentence.trouble is not None:
        for f in shown:
            lost = (sentence.trouble[0] & {*k.findings[f.finding].at}) - {*f.at}
            if lost and k.findings[f.finding].at != f.at and _general(k, f.finding):
                yield f"missed {f.finding} at {sorted(lost)}"


def _of_right(k: Knowledge, sentence: Told) -> Iterator[str]:
    read = [f for f in read_text(sentence.text, k).findings if f.status is Status.DENIED and _general(k, f.finding)]
    denied = {p for f in read for p in _openings(k, f.at)}
    if sentence.trouble is not None and denied & sentence.trouble[0]:
        yield f"wrong: told to run right at {sorted(denied & sentence.trouble[0])}"
    if sentence.trouble is None and denied:
        yield f"wrong: revs read as {sorted(denied)}"
    if any(not f.at for f in read) and sentence.trouble is not None:
        yield "wrong: denied everywhere"
    if sentence.right is not None:
        if denied - sentence.right[1] - (sentence.trouble[0] if sentence.trouble else frozenset()):
            yield f"wrong: told to run right at {sorted(denied - sentence.right[1])}"
        known = {p for f in read for p in k.findings[f.finding].at}
        lost = (sentence.right[0] & known if known else sentence.right[0]) - denied
        if lost:
            yield f"missed that it runs right at {sorted(lost)}"


def main() -> None:
    """Print how many sentences were read as told, by half and wording."""
    asked = options(__doc__, 20)
    k = Knowledge.load()
    for half, wordings in (("mended from", MENDED), ("only measured", KEPT)):
        chance = random.Random(20261129)
        right = wrong = trouble = total = 0
        for wording in wordings:
            sentences = [told(wording, half, chance) for _ in range(asked.sentences)]
            found = [mistakes(k, s) for s in sentences]
            ok = sum(not f for f in found)
            bad = sum(any(m.startswith("wrong") for m in f) for f in found)
            right, wrong, total = right + ok, wrong + bad, total + len(found)
            trouble += sum(not any("right" not in m for m in f) for f in found)
            if half == "mended from" or asked.kept:
                print(f"  {ok:3} of {len(found)}, {bad:2} wrong  {wording.text}")
                failed = [(s, f) for s, f in zip(sentences, found, strict=True) if f]
                for s, f in failed[: asked.show]:
                    print(f"        {s.text}\n            {'; '.join(f)}")
        print(f"{half}: {right} of {total} as told, {trouble} as to the trouble, {wrong} with something wrong")


if __name__ == "__main__":
    main()
