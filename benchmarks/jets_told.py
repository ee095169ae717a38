"""Whether jets told by their numbers are read: which was in, which was tried, what it did; fixed seed.

    python benchmarks/jets_told.py [--sentences 20] [--show 10]

So many sentences of each wording, put together by chance. Each wording names the sizes `a` (in it) and `b` (tried),
and what must come of it: trials with their sizes and effect, the size that is in now, and the circumstance that a
change before the trouble is; of advice, a plan or a question nothing. The wordings of `MENDED` were looked at while the
reader was mended, those of `KEPT` only measured.
"""

from __future__ import annotations

import random
from typing import NamedTuple

from carbdiag import Knowledge, TextReading, read_text

try:
    from benchmarks.by_chance import options
except ModuleNotFoundError:  # run as a script
    from by_chance import options


class Wording(NamedTuple):
    """A way to tell it: the text, the trials as (from, to, effect), and the size that is in it now."""

    text: str
    trials: tuple[str, ...] = ()
    now: str = ""
    moved: str = ""


MENDED = (
    Wording("{p} is {a}. {b} was {e}.", ("a b e",)),
    Wording("{p} {a}, tried {b}, {e}.", ("a b e",)),
    Wording("{a} {p}. Tried a {b} and it was {e}.", ("a b e",)),
    Wording("It has a {a} {p}. A {b} was {e}.", ("a b e",)),
    Wording("{p} was {a}, now {b} and its {e}.", ("a b e",), "b"),
    Wording("Was {a} {p} stock, now {b}. It bogs at half throttle.", (), "b", "a b"),
    Wording("Stock {p} is {a}, mine has a {b} in it. It bogs at half throttle.", (), "b", "a b"),
    Wording("{p} is {b} which the shop said to fit, was {a}. It bogs at half throttle.", (), "b", "a b"),
    Wording("{p} {a}. It bogs at half throttle. {E} with a {b}.", ("a b e",)),
    Wording("{a} {p}, bogs at half throttle. No difference with {p} {b}.", ("a b no_change",)),
    Wording("It bogs at half with the {a} {p}. The {b} was {e}.", ("a b e",)),
    Wording("{b} {p} was {e} than the {a}.", ("a b e",)),
    Wording("Started with a {a} {p}, went to a {b}: {e}.", ("a b e",)),
    Wording("Put in a {b} instead of the {a} {p}, {e}.", ("a b e",)),
    Wording("Swapped the {a} {p} for a {b}. {E}.", ("a b e",)),
    Wording("{p}: {a}. It bogs at half throttle. {b}: {e}.", ("a b e",)),
    Wording("Has a {a} {p} in it, someone said go {b}. It bogs at half throttle."),
    Wording("{p} is {a}. Should I go to a {b}? It bogs at half throttle.", (), "a"),
    Wording("{p} is {a}, thinking of trying a {b}. It bogs at half throttle.", (), "a"),
    Wording("{p} is {a}. I have a {b} coming in the mail. It bogs at half throttle.", (), "a"),
    Wording("{a} {p}, doing 55 mph it bogs at half throttle, {b} km on it.", (), "a"),
    Wording("Running a {a} {p}. I tried the {b}, it got {e}.", ("a b e",)),
    Wording("Had a {a} {p} in there, with a {b} its {e}.", ("a b e",)),
    Wording("The {p} is a {a}. It bogs at half throttle. Stuck a {b} in, {e}.", ("a b e",)),
    Wording("{p} {a} bogs at half throttle, {p} {b} {e}.", ("a b e",)),
    Wording("With the {a} {p} it bogs at half throttle, with the {b} its {e}.", ("a b e",)),
    Wording("It came with a {a} {p}, I put a {b} in. It bogs at half throttle.", (), "b", "a b"),
    Wording("PO had a {b} {p} in it, stock is {a}. It bogs at half throttle.", (), "b", "a b"),
    Wording("{p} is {a}. My buddy runs a {b} in his. It bogs at half throttle.", (), "a"),
    Wording("{p} is {a}, the manual says {b} for high altitude. It bogs at half throttle.", (), "a"),
    Wording("Bought a {b} {p} to try but its still on the {a}. It bogs at half throttle.", (), "a"),
    Wording("{e} on the {b} than on the {a} {p}.", ("a b e",)),
    Wording("From {a} to {b} on the {p} and its {e}.", ("a b e",)),
)
KEPT = (
    Wording("{p}s tried: {a} bogs at half throttle, {b} {e}.", ("a b e",)),
    Wording("I've got a {a} {p} in it and on the {b} it was {e}.", ("a b e",)),
    Wording("Only have a {a} {p}. It bogs at half throttle. A mate lent me a {b}, {e}.", ("a b e",)),
    Wording("{E} since I went from the {a} {p} to the {b}.", ("a b e",)),
    Wording("Currently {b} {p}, before that {a}, and its {e}.", ("a b e",), "b"),
    Wording("Dropped from {a} to {b} {p} and it got {e}.", ("a b e",)),
    Wording("{p} at {a} bogs at half throttle. At {b} its {e}.", ("a b e",)),
    Wording("Its on a {a} {p}. Ordered a {b}. It bogs at half throttle.", (), "a"),
    Wording("What about a {b} {p}? Has {a} now. It bogs at half throttle."),
    Wording("{p} {a} stock. {b} made it {e}.", ("a b e",)),
    Wording("Swapped to a {b} {p} from {a}, {e}.", ("a b e",)),
    Wording("Did a plug chop on the {a} {p}, went {b}, {e}.", ("a b e",)),
    Wording("{p} {a} / {b}: {e} with the {b}. It bogs at half throttle.", ("a b e",)),
    Wording("{a} {p} it has. Everyone here runs a {b}. It bogs at half throttle."),
)
PARTS = {"main_jet": ("main", "main jet", "main"), "pilot": ("pilot", "pilot jet")}
SIZES = {"main_jet": (70, 180), "pilot": (35, 60)}
EFFECTS = {
    "better": ("better", "much better", "a bit better"), "worse": ("worse", "even worse", "much worse"),
    "no_change": ("no different", "just the same", "the same"),
}  # fmt: skip


class Told(NamedTuple):
    """A sentence and what must be read of it."""

    text: str
    part: str
    trials: frozenset[tuple[float, float, str]]
    now: float | None
    moved: tuple[float, float] | None


def told(wording: Wording, chance: random.Random) -> Told:
    """A sentence of a wording."""
    part = chance.choice([*PARTS])
    low, high = SIZES[part]
    a = chance.randrange(low, high)
    b = a + chance.choice((-1, 1)) * chance.choice((2, 3, 5, 8))
    effect = chance.choice([*EFFECTS])
    if "than" in wording.text:
        effect = chance.choice(("better", "worse"))
    e = chance.choice(EFFECTS[effect])
    size = {"a": float(a), "b": float(b)}
    text = wording.text.format(a=a, b=b, e=e, E=e.capitalize(), p=chance.choice(PARTS[part]))
    text = text[0].upper() + text[1:] if chance.random() < 0.7 else text
    trials = frozenset((size[f], size[t], effect if w == "e" else w) for f, t, w in (x.split() for x in wording.trials))
    now = size[wording.now] if wording.now else None
    moved = (size["a"], size["b"]) if wording.moved else None
    return Told(text, part, trials, now, moved)


def mistakes(k: Knowledge, sentence: Told) -> list[str]:
    """What was missed and what was read wrong; nothing where all was read as told."""
    reading = read_text(sentence.text, k)
    read = {(t.from_size, t.to_size, str(t.effect)) for t in reading.trials if t.change == sentence.part}
    other = [f"wrong {t.do or t.change} {t.effect}" for t in reading.trials if t.change != sentence.part]
    out = [f"missed {t}" for t in sentence.trials - read] + [f"wrong {t}" for t in read - sentence.trials] + other
    jet = _size_now(reading, sentence.part)
    if sentence.now is not None and jet != sentence.now:
        out.append(f"{'wrong' if jet is not None else 'missed'} size in it: {jet}, not {sentence.now}")
    made = {"main_jet": "main", "pilot": "pilot"}[sentence.part]
    contexts = {c.context for c in reading.contexts}
    checks = [f"{c.check} {c.outcome}" for c in reading.checks]
    if sentence.moved is not None:
        larger = sentence.moved[1] > sentence.moved[0]
        right = f"{made}_made_{'larger' if larger else 'smaller'}"
        beside_the_book = f"read_jet_numbers {'larger' if larger else 'smaller'}"
        if beside_the_book in checks and "tock" in sentence.text:
            checks.remove(beside_the_book)
        elif right not in contexts:
            out.append(f"missed {right}")
        if f"{made}_made_{'smaller' if larger else 'larger'}" in contexts:
            out.append("wrong way")
    elif not sentence.trials and contexts:
        out.append(f"wrong {sorted(contexts)}")
    return [*out, *(f"wrong {check}" for check in checks)]


def _size_now(reading: TextReading, part: str) -> float | None:
    fact = {"main_jet": "main_jet", "pilot": "pilot_jet"}[part]
    return next((float(f.value) for f in reading.facts if f.fact == fact), None)


def main() -> None:
    """Print how many sentences were read as told, by half and wording."""
    asked = options(__doc__, 20)
    k = Knowledge.load()
    for name, wordings in (("mended from", MENDED), ("only measured", KEPT)):
        chance = random.Random(20261128)
        right = wrong = total = 0
        shown: list[str] = []
        for wording in wordings:
            sentences = [told(wording, chance) for _ in range(asked.sentences)]
            found = [mistakes(k, s) for s in sentences]
            ok = sum(not f for f in found)
            right, total = right + ok, total + len(found)
            wrong += sum(any(m.startswith("wrong") for m in f) for f in found)
            if name == "mended from" or asked.kept:
                print(f"  {ok:3} of {len(found)}  {wording.text}")
                shown += [f"{s.text}\n      {'; '.join(f)}" for s, f in zip(sentences, found, strict=True) if f][:2]
        print(f"{name}: {right} of {total} as told, {wrong} with something wrong")
        print("\n".join(f"    {line}" for line in shown[: asked.show]))


if __name__ == "__main__":
    main()
