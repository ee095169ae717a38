"""How well the walk does on faults and reports drawn from the model, and from models that are off.

    python benchmarks/simulation.py [--quick] [--riders N] [--jobs N]

Writes docs/simulation.md. Seeds are fixed; the numbers depend on the knowledge edition. What is believed on the
way, and how far that can be trusted: `calibration.py`.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

try:
    from benchmarks.calibration import error_of_mean, mean
    from benchmarks.goals import Goal, goals_section, tell, world_name
    from benchmarks.reported_walks import replay_all, summary, table
    from benchmarks.simulated_ways import ORDERS, WAYS, Ended, curable_rider, knowledge, play
except ModuleNotFoundError:  # run as a script
    from calibration import error_of_mean, mean
    from goals import Goal, goals_section, tell, world_name
    from reported_walks import replay_all, summary, table
    from simulated_ways import ORDERS, WAYS, Ended, curable_rider, knowledge, play

OFF = (1.0, 2.0, 4.0)


@dataclass(frozen=True)
class Outcome:
    """All that is measured on one rider."""

    off: float
    passed_over: int  # riders before this one whom no repair of their own could cure
    ended: dict[str, Ended]


def one_rider(job: tuple[float, int]) -> Outcome:
    """Play one rider against every way of going about it."""
    off, n = job
    here, seed, passed_over = curable_rider(off, n)
    return Outcome(off, passed_over, play(here, seed, tuple(WAYS)))


# ---------------------------------------------------------------------------------------------------------
# The page


@dataclass(frozen=True)
class Study:
    """Everything the page is made of."""

    edition: str
    riders: int
    outcomes: dict[float, list[Outcome]]


def run(riders: int, jobs: int) -> Study:
    """Play all riders."""
    work = [(off, n) for n in range(riders) for off in OFF]
    if jobs == 1:
        found = [one_rider(job) for job in work]
    else:
        with ProcessPoolExecutor(jobs) as pool:
            found = list(pool.map(one_rider, work, chunksize=4))
    return Study(knowledge().edition, riders, {off: [o for o in found if o.off == off] for off in OFF})


def _ratio(study: Study, off: float, name: str, beside: str) -> tuple[float, float]:
    """Mean minutes of one way over those of another on the same riders, and its standard error (delta method)."""
    a = [o.ended[name].minutes for o in study.outcomes[off]]
    b = [o.ended[beside].minutes for o in study.outcomes[off]]
    r = mean(a) / max(mean(b), 1e-9)
    return r, error_of_mean([x - r * y for x, y in zip(a, b, strict=True)]) / max(mean(b), 1e-9)


def _mean_minutes(study: Study, off: float, name: str) -> float:
    return mean([o.ended[name].minutes for o in study.outcomes[off]])


def _cured(study: Study, off: float, name: str) -> float:
    return mean([float(o.ended[name].cured) for o in study.outcomes[off]])


def _minutes_table(study: Study, off: float) -> Iterator[str]:
    yield (
        "| way of going about it | cured | minutes, mean ± error | median | 9 of 10 within | asked | done |"
        " stopping when told: minutes (cured at home) |"
    )
    yield "|---|---|---|---|---|---|---|---|"
    for name in WAYS:
        ends = [o.ended[name] for o in study.outcomes[off]]
        minutes = sorted(e.minutes for e in ends)
        yield (
            f"| {name} | {mean([float(e.cured) for e in ends]):.0%} | {mean(minutes):.0f} ±"
            f" {error_of_mean(minutes):.0f} | {minutes[len(minutes) // 2]:.0f} |"
            f" {minutes[min(int(0.9 * len(minutes)), len(minutes) - 1)]:.0f} |"
            f" {mean([float(e.asked) for e in ends]):.1f} | {mean([float(e.done) for e in ends]):.1f} |"
            f" {_stopping(ends)} |"
        )


def _stopping(ends: Sequence[Ended]) -> str:
    """Minutes where every rider goes to a workshop as soon as it is the cheaper way, and how many do not have to."""
    if not any(e.spent for e in ends):
        return "–"
    workshop = knowledge().scales.decision.workshop_minutes
    minutes = [e.minutes if e.given_up_after is None else e.given_up_after + workshop for e in ends]
    at_home = mean([float(e.cured and e.given_up_after is None) for e in ends])
    return f"{mean(minutes):.0f} ± {error_of_mean(minutes):.0f} ({at_home:.0%})"


WALK, FREE, INTERVIEW = "this walk, ten asks", "this walk, any number of asks", "fixed interview of ten, then repairs"
ORACLE = "knowing the cause"
FIXED = (*(f"checklist: {name}" for name in ORDERS), "prior order")


def goals(study: Study) -> Iterator[Goal]:
    """Every goal that was set: what, what was measured, and whether it is met."""
    at_hand = [off for off in OFF if off <= 2]
    for off in at_hand:
        r, e = _ratio(study, off, WALK, INTERVIEW)
        limit = 0.8 if off == 1 else 1.0
        bound, _ = _ratio(study, off, ORACLE, INTERVIEW)
        what = (
            f"ten asks: minutes of a fixed interview of ten, {world_name(off)} (knowing the cause {bound:.2f}): at most"
            f" {limit:g} of them"
        )
        yield Goal(what, f"{r:.2f} ± {e:.2f}", r <= limit)
    for off in at_hand:
        best = min((n for n in FIXED if n != "prior order"), key=lambda n: _mean_minutes(study, off, n))
        r, e = _ratio(study, off, WALK, best)
        what = f"ten asks: minutes of the better checklist, {world_name(off)}: at most 0.5"
        yield Goal(what, f"{r:.2f} ± {e:.2f}", r <= 0.5)
        c, d = _cured(study, off, WALK), max(_cured(study, off, n) for n in (INTERVIEW, best))
        yield Goal(f"… at an equal or better cure rate, {world_name(off)}", f"{c:.0%} beside {d:.0%}", c >= d)
    best = min(FIXED, key=lambda n: _mean_minutes(study, 1.0, n))
    r, e = _ratio(study, 1.0, FREE, best)
    bound, _ = _ratio(study, 1.0, ORACLE, best)
    what = f"any number of asks: minutes of the best fixed order ({best}; knowing the cause {bound:.2f}): at most 0.2"
    yield Goal(what, f"{r:.2f} ± {e:.2f}", r <= 0.2)


def page(study: Study, replayed: str) -> str:
    """The page, in Markdown."""
    lines = [
        "# Does the walk help? A simulation study",
        "",
        f"Made by `python benchmarks/simulation.py` (fixed seeds), knowledge edition {study.edition}:"
        f" {study.riders} riders in each of three worlds, two kinds of machine (a four-stroke round slide, a two-stroke"
        " flat slide). Do not edit: run it again when the knowledge changes.",
        "",
        "**What this can and cannot show.** Faults, complaints, answers and the luck of repairs are drawn from this"
        " knowledge itself (`matched`), or from worlds in which the odds of every sign, outcome, circumstance and"
        " repair, cause by cause, are off by a random factor of up to 2 or 4. Ratios between ways of going about it"
        " mean something; minutes and percentages are not a promise for real machines. Real reports are further down"
        " and in [measured.md](measured.md); whether the chances that the walk goes by are right:"
        " [calibration.md](calibration.md).",
        "",
        *(_SMALL if study.riders < 100 else ()),
        *goals_section(goals(study)),
        "## How riders are simulated",
        "",
        "- A rider tells one to five signs, as many as riders in the reports of `tests/cases` do, and of the"
        " circumstances that hold those that are told unasked (the scales' `circumstance_told`).",
        "- Each way then meets the same machine and hears the same answers, of the machine as it is by then: a sign"
        " goes on until its cause is gone. A repair that is done wrong for one is done wrong for all.",
        "- Minutes are those in the records, with two for every step.",
        "- Riders whose every repair would be done wrong are passed over"
        f" ({mean([float(o.passed_over > 0) for o in study.outcomes[1.0]]):.0%} of the places in the matched world had"
        " one): not even knowing the cause cures them.",
        "- A setting moved on trial cures where it takes its own fault away, or where only metering is off and it takes"
        " that away, at every steady opening, but for the scales' `effect_noise`.",
        "- What is still not cured when all is done goes to a workshop (the scales' `workshop_minutes`). The walk says"
        " so when a workshop becomes the cheaper way; the last column of the tables is for riders who then go there,"
        " all others work on through what is left.",
        "",
        "In the tables, *asked* is how many questions and checks a rider answered, *done* how many repairs and trials,"
        " both on average; nine riders of ten took no longer than *9 of 10 within*; ± is one standard error.",
        "",
        *_EXPLAINED,
    ]
    for off in OFF:
        lines += [f"## Steps and minutes to the cure: {world_name(off)}", "", *_minutes_table(study, off), ""]
    lines += [
        replayed,
    ]
    return "\n".join(lines).rstrip() + "\n"


_SMALL = (
    "**A small run.** With fewer than 100 riders the ± is itself rough: run the command on a quiet machine before"
    " quoting a number.",
    "",
)

_EXPLAINED = (
    "## The ways compared",
    "",
    "- **this walk**: what `carbdiag walk` does: questions and checks first, as long as they are expected to"
    " shorten the search for the repair that is needed by several times their minutes; then checks, trials and"
    " repairs by expected cost (after Heckerman, Breese, Rommelse 1995). After a repair that made it better it may ask"
    " whether a sign is still so, which counts as an ask. At most ten asks, or any number.",
    "- **one-step expected cost**: the same without asking first: whatever costs least, a question or a repair.",
    "- **expected-cost greedy**: no questions; repairs by success per minute, believed anew after each failure.",
    "- **fixed interview**: the ten questions that tell most per minute before anything is known, then repairs as"
    " above.",
    "- **checklists**: two published orders of a systematic check-up, stage by stage: the stage's checks, what they"
    " point to, and at the end everything not done yet. Fuel, ignition, compression:"
    " <https://manualshive.com/ru/manual/generac-power-systems/ohvi-gsh-190/2209000?page=9>; ignition, carburetion,"
    " compression: <https://laundry.manualsonline.com/manuals/mfg/briggs_stratton/ce8069.html?p=28>. Which checks and"
    " repairs belong to a stage is ours. They lean settings without asking whether that is safe, which this walk never"
    " does.",
    "- **prior order**: every repair by its prior chance per minute, whatever is observed.",
    "- **knowing the cause**: the repairs of what is wrong in truth, the surest per minute first: a bound that no way"
    " of asking reaches.",
    "",
)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study and write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a few riders only, to see that it runs")
    parser.add_argument("--riders", type=int, default=100, help="riders in each world (100)")
    parser.add_argument("--jobs", type=int, default=2, help="processes (2)")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent.parent / "docs", help="folder of the page")
    options = parser.parse_args(arguments)
    study = run(1, 1) if options.quick else run(options.riders, options.jobs)
    replayed = replay_all(knowledge())
    text = "\n".join(["## Reported cases, result by result", "", *_REPLAY, *table(replayed), "", summary(replayed)])
    options.out.mkdir(parents=True, exist_ok=True)
    (options.out / "simulation.md").write_text(page(study, text), encoding="utf-8")
    tell(goals(study))


_REPLAY = (
    "`python benchmarks/reported_walks.py`: the reports of `tests/cases` that give results (of families covered so"
    " far), told without them first and then given back one at a time. *Cracked it*: the result that raised the"
    " confirmed group's chance most; the last column says whether the walk, asked just before, had it among its first"
    " three steps (what kind of machine it is not counted).",
    "",
)


if __name__ == "__main__":
    main()
