"""From a pasted post to the group that should lead, on posts that no phrase was written from.

    python benchmarks/posts.py [--each [--spoil]] [--labels]

`invented.yaml` holds posts of our own with the group a mechanic would look at first; `found_later.yaml`,
`development_2.yaml`, `held_out_2.yaml` and `held_out_3.yaml` real reports, in our words, with what cured them (a post
whose cure nobody told is left out here). All were written after the phrases; phrases have since been written from all
but `held_out_3`.
With `--labels` the statements are those a person labeled, so that the difference is what reading loses.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any, cast

from reading import BLIND, KINDS, NEWCOMERS, labels
from reported_cases import by_group

from carbdiag import Knowledge, case_of, read_text
from carbdiag.case_schema import Case, CheckResult, ContextReport, FindingReport, Trial
from carbdiag.casework.assessing import assess
from carbdiag.strict_yaml import parse_yaml

SETS = ("invented", "found_later", "development_2", "held_out_2", "held_out_3", *NEWCOMERS)
LABELED = ("development_2", "held_out_2", "held_out_3", *NEWCOMERS)
POSTS = Path(__file__).parent.parent / "tests" / "reading" / "posts"


def posts(name: str) -> list[dict[str, Any]]:
    """The posts of one file that have a group to be found."""
    found = cast(list[dict[str, Any]], parse_yaml((POSTS / f"{name}.yaml").read_text(encoding="utf-8")))
    return [p for p in found if p["group"]]


def labeled(k: Knowledge, post: dict[str, Any], said: dict[str, set[str]]) -> Case:
    """A post as a person labeled it; the machine, and where a sign was seen, as the reader has them."""
    read = case_of(read_text(post["text"], k))
    at = {f.finding: f.at for f in read.findings}
    told = {kind: [label.split() for label in sorted(said[kind])] for kind in KINDS}
    return Case(
        machine=read.machine,
        findings=[
            FindingReport(finding=f, at=at.get(f, ()), status=status[0] if status else "present")
            for f, *status in told["findings"]
        ],
        contexts=[
            ContextReport(context=c, status=status[0] if status else "present")
            for c, *status in told["contexts"]
        ],
        checks=[CheckResult(check=check, outcome=outcome) for check, outcome in told["checks"]],
        trials=[
            Trial(do=words[0], effect=words[1])
            if len(words) == 2
            else Trial(change=words[0], direction=words[1], effect=words[2])
            for words in told["trials"]
        ],
    )


def rank(k: Knowledge, post: dict[str, Any], case: Case) -> int:
    """At which place the best of the post's groups comes out."""
    odds = {g: p for g, p in by_group(assess(k, case)).items() if ":" not in g}
    wanted = post["group"] if isinstance(post["group"], list) else [post["group"]]
    order = sorted(odds, key=lambda g: (-odds[g], g))
    return min(order.index(g) + 1 for g in wanted)


def main() -> None:
    """Print how often the group comes first and among the first three."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", action="store_true", help="print the place of every post")
    parser.add_argument("--spoil", action="store_true", help=f"let --each print the places in {BLIND} too")
    parser.add_argument("--labels", action="store_true", help="take the labels of a person, not the reading")
    options = parser.parse_args()
    k = Knowledge.load()
    for name in LABELED if options.labels else SETS:
        told = labels(name) if options.labels else {}
        ranks = {
            p["id"]: rank(k, p, labeled(k, p, told[p["id"]]) if told else case_of(read_text(p["text"], k)))
            for p in posts(name)
        }
        first, three = (sum(r <= n for r in ranks.values()) for n in (1, 3))
        print(f"{name:13} {len(ranks)} posts: first {first}, among the first three {three}")
        if options.each and (name != BLIND or options.spoil):
            print("   " + "  ".join(f"{i}: {r}" for i, r in ranks.items()))


if __name__ == "__main__":
    main()
