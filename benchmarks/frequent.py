"""How many ways of saying the most frequent labels are read, and how many near misses are read wrongly.

    python benchmarks/frequent.py                 by label, every round
    python benchmarks/frequent.py --each 1        the sentences of a round that were read wrong
    python benchmarks/frequent.py --each 1 bogs   ... of one label

The sentences of a round were written and committed before they were run; the phrases were mended from them
afterwards. So the first look at a round, and not its last, says how a rider's next sentence will fare.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple, cast

from carbdiag import Knowledge, TextReading, read_text
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import Effect, Status

FOLDER = Path(__file__).parent.parent / "tests" / "reading" / "frequent"
ROUNDS = tuple(sorted(int(file.stem.removeprefix("round_")) for file in FOLDER.glob("round_*.yaml")))


class Told(NamedTuple):
    """A sentence and whether it states a label."""

    label: str
    text: str
    states: bool


def sentences(number: int) -> Iterator[Told]:
    """The sentences of a round, in its order."""
    file = FOLDER / f"round_{number}.yaml"
    table = cast(Mapping[str, Mapping[str, list[str]]], parse_yaml(file.read_text(encoding="utf-8")))
    for label, told in table.items():
        yield from (Told(label, text, True) for text in told["say"])
        yield from (Told(label, text, False) for text in told["not"])


def stated(reading: TextReading) -> set[str]:
    """The labels that a reading states: signs and circumstances that show, checks with outcome, trials with effect.

    A sign that something cured afterwards shows no longer.
    """
    cured = max((t.epoch for t in reading.trials if t.effect is Effect.CURED), default=-1)
    return {
        *(f.finding for f in reading.findings if f.status is Status.PRESENT and f.epoch > cured),
        *(c.context for c in reading.contexts if c.status is Status.PRESENT),
        *(f"{c.check} {c.outcome}" for c in reading.checks),
        *(f"{t.do} {t.effect}" for t in reading.trials if t.do),
    }


def kin(k: Knowledge, label: str) -> set[str]:
    """A label, and what says it more exactly or in other words."""
    if label in k.contexts:
        return {label, *(s for s in k.contexts[label].settled_by if label not in k.contexts[s].settled_by)}
    if label not in k.findings:
        return {label}
    cluster = k.findings[label].cluster
    special = (f.id for f in k.findings.values() if label in f.narrows or (cluster and f.cluster == cluster))
    return {label, *special}


def mistakes(k: Knowledge, number: int) -> list[Told]:
    """The sentences of a round that state a label unread, or do not state one that is read."""
    return [told for told in sentences(number) if _read(k, told) is not told.states]


def _read(k: Knowledge, told: Told) -> bool:
    """Whether a sentence is read as its label. One that states it may be read as something more exact."""
    found = stated(read_text(told.text, k))
    return not found.isdisjoint(kin(k, told.label)) if told.states else told.label in found


class Share(NamedTuple):
    """How many of a round's sentences are read as they should be."""

    recall: float
    """Share of the sentences stating a label that are read as it."""
    false_alarms: float
    """Share of the near misses that are read as it."""


def share(number: int, wrong: list[Told], label: str = "") -> Share:
    """What the mistakes leave of a round, or of one label in it."""
    asked = [told for told in sentences(number) if label in ("", told.label)]
    count = {states: sum(told.states is states for told in asked) for states in (True, False)}
    missed = {states: sum(told.states is states and label in ("", told.label) for told in wrong) for states in count}
    return Share(1 - missed[True] / max(count[True], 1), missed[False] / max(count[False], 1))


def main() -> None:
    """Print the shares, or the mistakes of one round."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--each", type=int, choices=ROUNDS, help="list what was read wrong in one round")
    parser.add_argument("label", nargs="*", help="only this label (more words: an outcome or effect)")
    options = parser.parse_args()
    k, only = Knowledge.load(), " ".join(options.label)
    if options.each:
        for label, text, states in mistakes(k, options.each):
            if only in ("", label):
                print(f"{label}: {'missed' if states else 'WRONG '} {text!r}")
        return
    wrong = {number: mistakes(k, number) for number in ROUNDS}
    labels = dict.fromkeys(told.label for number in ROUNDS for told in sentences(number))
    for label in (*labels, ""):
        rounds = (share(number, wrong[number], label) for number in ROUNDS)
        print(f"{label or 'all':38}" + "   ".join(f"{s.recall:4.0%} {s.false_alarms:4.0%}" for s in rounds))


if __name__ == "__main__":
    main()
