"""How well stories of what was tried are read: the trials with their effects, and what was before a change and after.

    python benchmarks/trial_stories.py           totals of both halves
    python benchmarks/trial_stories.py --each    and what was missed and wrong in the half that rules are written from

The stories stand in `tests/reading/trial_stories.yaml`, those that only measure in `trial_stories_kept.yaml`.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, cast

from carbdiag import Knowledge, TextReading, read_text
from carbdiag.strict_yaml import parse_yaml

STORIES = Path(__file__).parent.parent / "tests" / "reading"
MEND, KEPT = "trial_stories", "trial_stories_kept"
#: Precision and recall that tests hold, a little below what was measured last.
LEAST = {
    MEND: {"trials": (0.88, 0.7), "order": (0.9, 0.5)},
    KEPT: {"trials": (0.83, 0.55), "order": (0.7, 0.2)},
}


def stories(name: str) -> list[dict[str, Any]]:
    """The stories of one half with their labels."""
    return cast(list[dict[str, Any]], parse_yaml((STORIES / f"{name}.yaml").read_text(encoding="utf-8")))


def trials_read(reading: TextReading) -> set[str]:
    """The trials of a reading in the form of the labels."""
    return {f"{t.do or f'{t.change} {t.direction}'} {t.effect}" for t in reading.trials}


def trials(story: dict[str, Any], reading: TextReading) -> tuple[Counter[str], list[str]]:
    """Right, wrong and missed trials, and the mistakes in words."""
    got, counted, mistakes = trials_read(reading), Counter[str](), []
    either = set(story.get("either", ()))
    for label in story["trials"]:
        deed, _, effects = label.rpartition(" ")
        right = {f"{deed} {e}" for e in effects.split("|")}
        counted["right" if right & got else "missed"] += 1
        if not right & got:
            mistakes.append(f"missed {label}")
        either |= right
    wrong = sorted(got - either)
    counted["wrong"] += len(wrong)
    return counted, [*mistakes, *(f"wrong {w}" for w in wrong)]


def order(story: dict[str, Any], reading: TextReading) -> tuple[Counter[str], list[str]]:
    """Signs put before and after a change: right, wrong, or missed (not read, or not put in order)."""
    now = reading.epochs - 1
    read = {
        (f"{f.finding} {f.status}".removesuffix(" present"), ("now" if f.epoch == now else "before") if now else "")
        for f in reading.findings
    }
    counted, mistakes = Counter[str](), []
    for when in ("before", "now"):
        for sign in story.get(when, ()):
            put = {w for s, w in read if s == sign and w}
            how = "right" if when in put else "wrong" if put else "missed"
            counted[how] += 1
            if how != "right":
                mistakes.append(f"{how} {when} {sign}")
    if not any(story.get(when) for when in ("before", "now")):
        apart = sorted(f"{s} {w}" for s, w in read if w)
        counted["wrong"] += bool(apart)
        mistakes += [f"apart {a}" for a in apart]
    return counted, mistakes


def measured(k: Knowledge, name: str) -> tuple[dict[str, Counter[str]], Iterator[str]]:
    """The counts of one half by what is counted, and its mistakes, story by story."""
    out: dict[str, Counter[str]] = {"trials": Counter(), "order": Counter()}
    lines = []
    for story in stories(name):
        reading = read_text(story["text"], k)
        told = []
        for kind, count in (("trials", trials), ("order", order)):
            counted, mistakes = count(story, reading)
            out[kind].update(counted)
            told += mistakes
        if told:
            lines.append(f"{story['text'][:110]}\n      " + "\n      ".join(told))
    return out, iter(lines)


def rates(c: Counter[str]) -> tuple[float, float]:
    """Precision and recall."""
    return (
        c["right"] / max(c["right"] + c["wrong"], 1),
        c["right"] / max(c["right"] + c["missed"], 1),
    )


def main() -> None:
    """Print what was measured."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--each", action="store_true", help=f"list the mistakes in {MEND}")
    each = parser.parse_args().each
    k = Knowledge.load()
    for name in (MEND, KEPT):
        counted, lines = measured(k, name)
        print(f"{name}: {len(stories(name))} stories")
        for kind, c in counted.items():
            precision, recall = rates(c)
            print(
                f"  {kind:7} precision {precision:.2f}  recall {recall:.2f}"
                f"   ({c['right']} right, {c['wrong']} wrong, {c['missed']} missed)"
            )
        for line in lines if each and name == MEND else ():
            print("   " + line)


if __name__ == "__main__":
    main()
