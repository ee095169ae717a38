"""How often each group was to blame in labeled posts, over those that state a thing, and how often it was said.

    python benchmarks/said_and_so.py [--text] [--lines 60]

A model whose words are right says of each group, over the posts that state a thing, about as many cases as it is to
blame for. Where the two lie far apart (`z`: by how many standard errors) a prior, a circumstance or a sign's word is
wrong, and this names it; what to change is for a mechanic to say. Where a post names several groups its one case is
shared among them as belief shares it. The reported cases and the sealed posts are not counted, so that they still
judge what is mended from here.
"""

from __future__ import annotations

import argparse
import math
from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from posts import LABELED, SETS, labeled, posts
from reading import BLIND, labels
from reported_cases import by_group

from carbdiag import Knowledge, case_of, read_text
from carbdiag.case_schema import Case
from carbdiag.casework.assessing import assess
from carbdiag.terms import Status

#: Statements told by fewer posts than this say nothing.
FEWEST = 4
#: Kept off zero where a group is hardly ever said.
LEAST_VARIANCE = 0.3


class Tally(NamedTuple):
    """A group over the posts that state one thing."""

    stated: str
    group: str
    posts: int
    so: float
    said: float
    variance: float

    @property
    def z(self) -> float:
        """By how many standard errors the group was to blame more often than said."""
        return (self.so - self.said) / math.sqrt(self.variance + LEAST_VARIANCE)


def statements(case: Case) -> Iterator[str]:
    """Everything a case states, a word or two each; a sign said not to be there begins with "no"."""
    yield "any post"
    for context in case.contexts:
        if context.status in (Status.PRESENT, Status.DENIED):
            yield f"{'' if context.status is Status.PRESENT else 'no '}{context.context}"
    for epoch in case.history():
        for finding in epoch.findings:
            if finding.status in (Status.PRESENT, Status.DENIED):
                yield f"{'' if finding.status is Status.PRESENT else 'no '}{finding.finding}"
        yield from (f"{check.check} {check.outcome}" for check in epoch.checks)
        yield from (f"{t.do or f'{t.change} {t.direction}'} {t.effect}" for t in epoch.trials)


def cases(k: Knowledge, read: bool) -> Iterator[tuple[Case, list[str]]]:
    """The posts of known outcome as cases, as read or as labeled by a person, with the groups to blame."""
    for name in SETS if read else LABELED:
        if name == BLIND:
            continue
        told = {} if read else labels(name)
        for post in posts(name):
            case = case_of(read_text(post["text"], k)) if read else labeled(k, post, told[post["id"]])
            yield case, post["group"] if isinstance(post["group"], list) else [post["group"]]


def tallies(k: Knowledge, read: bool) -> list[Tally]:
    """All of them, the furthest apart first."""
    sums: dict[tuple[str, str], list[float]] = defaultdict(lambda: [0.0, 0.0, 0.0])
    told: dict[str, int] = defaultdict(int)
    for case, blamed in cases(k, read):
        odds = {g: p for g, p in by_group(assess(k, case)).items() if ":" not in g}
        total, of_blamed = sum(odds.values()), sum(odds[g] for g in blamed)
        for stated in sorted(set(statements(case))):
            told[stated] += 1
            for group, p in odds.items():
                said, tally = p / total, sums[stated, group]
                tally[0] += p / of_blamed if group in blamed else 0.0
                tally[1] += said
                tally[2] += said * (1 - said)
    found = [Tally(s, g, told[s], *of) for (s, g), of in sums.items() if told[s] >= FEWEST]
    return sorted(found, key=lambda t: (-abs(t.z), t.stated, t.group))


def main() -> None:
    """Print the tallies that lie furthest apart."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--text", action="store_true", help="the posts as read, not as a person labeled them")
    parser.add_argument("--lines", type=int, default=60, help="how many to print")
    options = parser.parse_args()
    for t in tallies(Knowledge.load(), options.text)[: options.lines]:
        print(f"z {t.z:+.1f}  {t.stated:40} {t.group:26} in {t.posts:3} posts: was so {t.so:5.1f}, said {t.said:5.1f}")


if __name__ == "__main__":
    main()
