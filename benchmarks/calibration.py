"""How far what is believed can be trusted, as told and after the walk's ten asks, and where the cause is unknown.

    python benchmarks/calibration.py [--quick] [--riders N] [--each N] [--jobs N]

Writes docs/calibration.md and docs/calibration.svg. Riders are those of `simulated_world.py`; no repair is played, so
thousands take minutes. Seeds are fixed; the numbers depend on the knowledge edition.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from carbdiag import Knowledge
from carbdiag.case_schema import Case
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Assessment, likeliest
from carbdiag.outlook import outlook
from carbdiag.plan import plan
from carbdiag.safety import cause_chances, safety_of

try:
    from benchmarks.goals import Goal, goals_section, tell, world_name
    from benchmarks.simulated_ways import ASKS, SEED, answered, knowledge, world
    from benchmarks.simulated_world import MACHINES, Rider, World
except ModuleNotFoundError:  # run as a script
    from goals import Goal, goals_section, tell, world_name
    from simulated_ways import ASKS, SEED, answered, knowledge, world
    from simulated_world import MACHINES, Rider, World

OFF = (1.0, 2.0)
CONFIDENT = 0.6
REDRAWN = 200
#: Calibration error after ten asks that was set as a goal in each world.
GOALS = {1.0: 0.03, 2.0: 0.05}


# ---------------------------------------------------------------------------------------------------------
# What is believed, and what is so


@dataclass(frozen=True)
class Guess:
    """What was believed at one moment: of the leading cause, and of what is wrong in truth."""

    top: float
    right: bool
    of_truth: float
    brier: float


def guess(a: Assessment, causes: set[str]) -> Guess:
    """Compare a belief with the truth; the leading cause is right when it is one of those at work."""
    chances = dict(cause_chances(a))
    top, p = next(iter(chances.items()))
    brier = sum((q - (c in causes)) ** 2 for c, q in chances.items())
    of_truth = max((chances.get(c, 0.0) for c in causes), default=_none_listed(a))
    return Guess(min(p, 1.0), top in causes, of_truth, brier)


def _none_listed(a: Assessment) -> float:
    """P(no listed cause is at work)."""
    of = [
        (b.weight, float(b.posterior.by_state(b.network)[b.network.cause < 0].sum()) + b.background) for b in a.beliefs
    ]
    return sum(weight * p for weight, p in of)


def interview(k: Knowledge, rider: Rider, case: Case, asks: int) -> Case:
    """Ask as the walk does, but do nothing yet."""
    for asked in range(asks):
        a = assess(k, case)
        moves = plan(a, outlook(likeliest(a)), safety_of(a), 20, asks - asked).moves
        ask = next((m for m in moves if m.kind not in ("repair", "trial")), None)
        if ask is None:
            break
        case = answered(k, case, ask, rider.answer(ask.kind, ask.id, ask.at))
    return case


@dataclass(frozen=True)
class Believed:
    """What was believed of one rider's machine, as told and after ten asks."""

    off: float
    told: Guess
    asked: Guess


def one_believed(off: float, n: int) -> Believed:
    """A rider whose fault is drawn from all that the model allows for, faults nobody wrote down included."""
    r = Rider(world(off, n % len(MACHINES)), (SEED, n, int(off), 7), anything=True)
    case, k = r.complaint(), knowledge()
    told = guess(assess(k, case), r.causes)
    return Believed(off, told, guess(assess(k, interview(k, r, case, ASKS)), r.causes))


@dataclass(frozen=True)
class Without:
    """A rider whose cause was taken out of the knowledge, of which every answer is wrong."""

    told: float  # chance of the leading cause
    asked: float  # the same after ten asks
    of_group: bool  # whether the leading cause after ten asks is of the true cause's group
    known: float  # with the cause in the knowledge: chance of the leading cause after ten asks; 0 where it is right


def one_removed(cause: str, n: int) -> list[Without]:
    """A rider whose cause was taken out of the knowledge; none where the machine cannot have it."""
    here = _only(world(1.0, n % len(MACHINES)), cause)
    if not here.odds.any():
        return []
    k, full = knowledge(cause), knowledge()
    r = Rider(here, (SEED, n, 99))
    case = r.complaint()
    told = guess(assess(k, case), set())
    top, p = _leader(assess(k, interview(k, r, case, ASKS)))
    known, q = _leader(assess(full, interview(full, r, case, ASKS)))
    same = full.causes[top].group == full.causes[cause].group
    return [Without(told.top, p, same, 0.0 if known == cause else q)]


def _leader(a: Assessment) -> tuple[str, float]:
    return next(iter(cause_chances(a)))


def _only(full: World, cause: str) -> World:
    """The same world, in which one cause alone is ever at work."""
    mine = np.array([s.cause == cause for s in full.model.states])
    return replace(full, odds=np.where(mine, full.odds, 0.0), alone=True)


def _work(job: tuple[str, float | str, int]) -> Believed | list[Without]:
    kind, what, n = job
    return one_removed(str(what), n) if kind == "removed" else one_believed(float(what), n)


# ---------------------------------------------------------------------------------------------------------
# Numbers


def mean(values: Sequence[float]) -> float:
    """Their mean, 0 of none."""
    return sum(values) / len(values) if values else 0.0


def error_of_mean(values: Sequence[float]) -> float:
    """Standard error of their mean."""
    m = mean(values)
    return math.sqrt(sum((v - m) ** 2 for v in values) / max(len(values) - 1, 1) / max(len(values), 1))


BINS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0001)


def reliability(guesses: Sequence[Guess]) -> list[tuple[float, float, int]]:
    """(said, was so, how many) by tenths of what was said of the leading cause."""
    out = []
    for low, high in pairwise(BINS):
        mine = [g for g in guesses if low <= g.top < high]
        if mine:
            out.append((mean([g.top for g in mine]), mean([float(g.right) for g in mine]), len(mine)))
    return out


def calibration_error(guesses: Sequence[Guess]) -> float:
    """Expected calibration error: mean distance of said and was so, weighed by how many."""
    return sum(n * abs(said - was) for said, was, n in reliability(guesses)) / max(len(guesses), 1)


def error_by_chance(guesses: Sequence[Guess]) -> float:
    """The calibration error that so many answers would show if every one were so as often as it says."""
    rng = np.random.default_rng(SEED)
    drawn = ([replace(g, right=bool(rng.random() < g.top)) for g in guesses] for _ in range(REDRAWN))
    return mean([calibration_error(d) for d in drawn])


# ---------------------------------------------------------------------------------------------------------
# The page


@dataclass(frozen=True)
class Measured:
    """Everything the page is made of."""

    edition: str
    removed: tuple[str, ...]
    believed: dict[float, list[Believed]]
    without: list[Without]


def measure(riders: int, removed: int, each: int, jobs: int) -> Measured:
    """Ask all riders, and those whose cause was taken out of the knowledge."""
    k = knowledge()
    by_prior = sorted(k.causes.values(), key=lambda c: (-k.scales.prior[c.prior], c.id))
    taken = tuple(c.id for c in by_prior[:: max(len(by_prior) // removed, 1)][:removed])
    work: list[tuple[str, float | str, int]] = [("believed", off, n) for n in range(riders) for off in OFF]
    work += [("removed", cause, n) for cause in taken for n in range(each)]
    if jobs == 1:
        found = [_work(job) for job in work]
    else:
        with ProcessPoolExecutor(jobs) as pool:
            found = list(pool.map(_work, work, chunksize=8))
    believed: dict[float, list[Believed]] = {off: [] for off in OFF}
    without: list[Without] = []
    for result in found:
        if isinstance(result, Believed):
            believed[result.off].append(result)
        else:
            without += result
    return Measured(k.edition, taken, believed, without)


def share(flags: Sequence[bool]) -> str:
    """A share with its standard error."""
    p = mean([float(f) for f in flags])
    return f"{p:.1%} ± {math.sqrt(p * (1 - p) / max(len(flags), 1)):.1%}"


def goals(m: Measured) -> Iterator[Goal]:
    """Every goal that was set: what, what was measured, and whether it is met."""
    for off, limit in GOALS.items():
        asked = [b.asked for b in m.believed[off]]
        e = calibration_error(asked)
        measured = f"{e:.3f} (by chance {error_by_chance(asked):.3f})"
        yield Goal(f"calibration error after ten asks, {world_name(off)}: at most {limit:g}", measured, e <= limit)
    wrong = [w.asked > CONFIDENT for w in m.without]
    what = "confident (over 60 %) wrong answers on causes taken out, after ten asks: at most 8 %"
    yield Goal(what, share(wrong), mean([float(w) for w in wrong]) <= 0.08)


def _accuracy_table(m: Measured) -> Iterator[str]:
    yield (
        "| likelihoods off by up to | when | leading cause right | said | calibration error | by chance | Brier"
        " | log loss |"
    )
    yield "|---|---|---|---|---|---|---|---|"
    for off, riders in m.believed.items():
        for when, guesses in (("as told", [b.told for b in riders]), ("after ten asks", [b.asked for b in riders])):
            right, said = mean([float(g.right) for g in guesses]), mean([g.top for g in guesses])
            loss = mean([-math.log(max(g.of_truth, 1e-4)) for g in guesses])
            yield (
                f"| {world_name(off)} | {when} | {right:.1%} | {said:.1%} | {calibration_error(guesses):.3f} |"
                f" {error_by_chance(guesses):.3f} | {mean([g.brier for g in guesses]):.3f} | {loss:.2f} |"
            )


def _reliability_table(m: Measured) -> Iterator[str]:
    yield "| likelihoods off by up to | when | said | was so | riders |"
    yield "|---|---|---|---|---|"
    for off, riders in m.believed.items():
        for when, guesses in (("as told", [b.told for b in riders]), ("after ten asks", [b.asked for b in riders])):
            for said, was, n in reliability(guesses):
                yield f"| {world_name(off)} | {when} | {said:.0%} | {was:.0%} | {n} |"


def page(m: Measured) -> str:
    """The page, in Markdown."""
    known, of_group = (
        [w.known > CONFIDENT for w in m.without],
        [w.asked > CONFIDENT and not w.of_group for w in m.without],
    )
    lines = [
        "# How far can the percentages be trusted? A simulation",
        "",
        f"Made by `python benchmarks/calibration.py` (fixed seeds), knowledge edition {m.edition}:"
        f" {len(m.believed[1.0])} riders in each of two worlds. Do not edit: run it again when the knowledge changes.",
        "",
        "**What this can and cannot show.** Faults, complaints and answers are drawn from this knowledge itself"
        " (`matched`), or from a world in which the odds of every sign, outcome and circumstance, cause by cause, are"
        " off by a random factor of up to 2. That finds out whether the reckoning is right, and what it does where"
        " the numbers are rough; it does not show that the knowledge is right. Real reports:"
        " [measured.md](measured.md).",
        "",
        *goals_section(goals(m)),
        "## How riders are simulated",
        "",
        "- A fault is drawn from all that the model allows for: one cause, two at once, faults nobody wrote down (every"
        " answer is wrong then), nothing at all.",
        "- A rider tells as many signs as riders in the reports of `tests/cases` do (one to five), of those that strike"
        " him, and a circumstance that holds with the scales' `circumstance_told`. Then the walk asks ten times.",
        "- The leading cause counts as right when it is one of those at work.",
        "- *Said* is the percentage that was given to the leading cause. *Calibration error* is the mean distance"
        " between said and was so, over tenths of what was said; *by chance* is what as many answers would show if each"
        " were so just as often as it says.",
        "- *Brier* (squared error) is the sum over all causes; *log loss* is that of the likeliest cause at work, or of"
        " *no listed cause* where there is none. In both, lower is better.",
        "",
        "## Accuracy and calibration",
        "",
        *_accuracy_table(m),
        "",
        "![What was said of the leading cause, and how often it was so](calibration.svg)",
        "",
        "## What was said, and how often it was so",
        "",
        *_reliability_table(m),
        "",
        "## Causes taken out of the knowledge",
        "",
        f"{len(m.removed)} causes, spread over the order of their priors, were taken out one at a time, and riders"
        f" with that cause alone asked ({len(m.without)} riders): {', '.join(m.removed)}. Every answer is wrong then."
        f" Said with more than 60 %: {share([w.told > CONFIDENT for w in m.without])} as told,"
        f" {share([w.asked > CONFIDENT for w in m.without])} after ten asks; the group was wrong too in"
        f" {share(of_group)} of all. Beside that, the same riders with nothing taken out of the knowledge:"
        f" {share(known)} still get a wrong cause with more than 60 %, because the true one is rare and looks like a"
        " common one.",
    ]
    return "\n".join(lines) + "\n"


def draw(measured: Measured, file: Path) -> None:
    """What was said of the leading cause against how often it was so; shapes and words tell the worlds apart."""
    import matplotlib as mpl  # noqa: PLC0415 - an extra of its own

    mpl.use("svg")
    mpl.rcParams.update({"svg.hashsalt": "carbdiag", "svg.fonttype": "none", "font.size": 10})
    from matplotlib import pyplot as plt  # noqa: PLC0415

    figure, axes = plt.subplots(figsize=(6.4, 5.2))
    axes.plot([0, 1], [0, 1], color="0.6", linewidth=1, zorder=1)
    axes.text(0.13, 0.075, "said = was so", rotation=38, color="0.4")
    for (off, outcomes), marker, style in zip(measured.believed.items(), "os", ("-", "--"), strict=True):
        rows = reliability([o.asked for o in outcomes])
        label = world_name(off) if off == 1 else f"likelihoods off by up to {world_name(off)}"
        axes.plot([r[0] for r in rows], [r[1] for r in rows], style, marker=marker, color="black", markersize=7,
                  markerfacecolor="white", label=label)  # fmt: skip
        for said, was, n in rows:
            if off == 1:
                axes.annotate(f"{n}", (said, was), textcoords="offset points", xytext=(8, -11), fontsize=8)
    axes.set(xlim=(0, 1), ylim=(0, 1), xlabel="said of the leading cause after ten asks", ylabel="how often it was so")
    axes.set_title("Calibration of the leading cause (numbers: riders, matched world)", fontsize=10)
    axes.legend(loc="upper left", frameon=False)
    figure.tight_layout()
    figure.savefig(file, format="svg", metadata={"Date": None, "Creator": "carbdiag"})
    plt.close(figure)


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure and write the page."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="a few riders only, to see that it runs")
    parser.add_argument("--riders", type=int, default=2000, help="riders in each world (2000)")
    parser.add_argument("--each", type=int, default=24, help="riders of each cause taken out (24)")
    parser.add_argument("--jobs", type=int, default=1, help="processes (1)")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent.parent / "docs", help="folder of the page")
    options = parser.parse_args(arguments)
    counts = (2, 1, 1, 1) if options.quick else (options.riders, 20, options.each, options.jobs)
    measured = measure(*counts)
    options.out.mkdir(parents=True, exist_ok=True)
    (options.out / "calibration.md").write_text(page(measured), encoding="utf-8")
    draw(measured, options.out / "calibration.svg")
    tell(goals(measured))


if __name__ == "__main__":
    main()
