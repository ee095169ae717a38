"""Reported cases, result by result: where the confirmed cause stood after each, and whether the walk would have asked.

    python benchmarks/reported_walks.py

The results of a report (checks, readings, trials) are taken away and given back one at a time, in its order. "Cracked
it" is the result that raised the chance of the confirmed group most. Nothing is fitted to the cases.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from carbdiag import Knowledge
from carbdiag.case_schema import Case, CheckResult, Epoch, Reading, Trial
from carbdiag.casework.assessing import assess
from carbdiag.walk_schema import WalkRequest, WalkStep
from carbdiag.walking import walk

try:
    from benchmarks.reported_cases import Reported, by_group, load_reported, rank_of
except ModuleNotFoundError:  # run as a script
    from reported_cases import Reported, by_group, load_reported, rank_of

FIRST = 3


@dataclass(frozen=True)
class Given:
    """One result of a report: where the confirmed cause stood after it, and whether the walk would have asked it."""

    text: str
    rank: int
    chance: float
    asked: bool


@dataclass(frozen=True)
class Replayed:
    """A report replayed: where it began, and every result."""

    reported: Reported
    rank: int
    chance: float
    given: tuple[Given, ...]

    @property
    def cracked(self) -> Given | None:
        """The result that raised the confirmed group most; None where none raised it."""
        before = self.chance
        best: tuple[float, Given] | None = None
        for g in self.given:
            if g.chance > before and (best is None or g.chance - before > best[0]):
                best = (g.chance - before, g)
            before = g.chance
        return best[1] if best else None


def replay(k: Knowledge, r: Reported) -> Replayed:
    """Give a report's results back one at a time."""
    nothing: dict[str, object] = dict.fromkeys(("findings", "checks", "readings", "trials", "epochs"), ())
    epochs: list[Epoch] = []
    # what was seen without a check is told from the beginning, epoch by epoch only where results lie between
    history = r.case.history()

    def so_far(last: Epoch) -> Case:
        return r.case.model_copy(update={**nothing, "epochs": (*epochs, last)})

    now = Epoch(findings=history[0].findings)
    rank, chance = rank_of(r, by_group(assess(k, so_far(now))))
    given: list[Given] = []
    for n, epoch in enumerate(history):
        if n:
            now = Epoch(findings=epoch.findings)
        for field, told in _results(epoch):
            steps = walk(WalkRequest(case=so_far(now), asks=50, steps=5), k).steps
            # what kind of machine it is could have been told at once; it is not counted against the report
            offered = [s for s in steps if s.kind != "machine"][:FIRST]
            now = now.model_copy(update={field: (*getattr(now, field), told)})
            after = assess(k, so_far(now))
            new_rank, new_chance = rank_of(r, by_group(after))
            given.append(
                Given(_words(told), new_rank, new_chance, any(_same(k, step, told) for step in offered))
            )
        epochs.append(now)
    return Replayed(r, rank, chance, tuple(given))


def _results(epoch: Epoch) -> Iterator[tuple[str, CheckResult | Reading | Trial]]:
    for field in ("checks", "readings", "trials"):
        for told in getattr(epoch, field):
            yield field, told


def _words(told: CheckResult | Reading | Trial) -> str:
    if isinstance(told, CheckResult):
        return f"{told.check}: {told.outcome}"
    if isinstance(told, Reading):
        return f"lambda at {told.at}: {told.lambda_:g}"
    return f"{told.do or told.change or told.tried}: {told.effect}"


def _same(k: Knowledge, step: WalkStep, told: CheckResult | Reading | Trial) -> bool:
    """Whether a step asks for what was told, at whatever opening."""
    if isinstance(told, CheckResult):
        return step.id == told.check
    if isinstance(told, Reading):
        return False
    if told.tried is not None:
        return step.id == k.temporary_trials[told.tried].check
    return step.id in (told.do, told.change)


def replay_all(k: Knowledge) -> list[Replayed]:
    """Every report of a covered family that gives at least one result."""
    ready, _ = load_reported()
    return [replay(k, r) for r in ready if any(True for e in r.case.history() for _ in _results(e))]


def table(replayed: list[Replayed]) -> Iterator[str]:
    """A row a report, in Markdown."""
    yield "| report | confirmed group | rank told | rank after each result | cracked it | among the first three |"
    yield "|---|---|---|---|---|---|"
    for r in replayed:
        ranks = " → ".join(str(g.rank) for g in r.given)
        cracked = r.cracked
        asked = "–" if cracked is None else "yes" if cracked.asked else "no"
        said = cracked.text if cracked else "none raised it"
        yield f"| {r.reported.case.id} | {r.reported.group} | {r.rank} | {ranks} | {said} | {asked} |"


def summary(replayed: list[Replayed]) -> str:
    """What the table comes to."""
    cracked = [r.cracked for r in replayed if r.cracked]
    better = sum(r.given[-1].rank < r.rank for r in replayed)
    worse = sum(r.given[-1].rank > r.rank for r in replayed)
    first = sum(r.given[-1].rank == 1 for r in replayed)
    return (
        f"{len(replayed)} reports give results. Told alone, the confirmed group stands first in"
        f" {sum(r.rank == 1 for r in replayed)} of them; after all results in {first}. The results brought it up in"
        f" {better} and down in {worse}. In {len(cracked)} a result raised its chance; the walk would have proposed the"
        f" one that raised it most among its first three steps in {sum(c.asked for c in cracked)}."
    )


def main() -> None:
    """Print the table."""
    replayed = replay_all(Knowledge.load())
    print("\n".join(table(replayed)))
    print(summary(replayed))


if __name__ == "__main__":
    main()
