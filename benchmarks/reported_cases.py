"""How often the confirmed cause of a reported case comes out on top, beside three baselines.

    python benchmarks/reported_cases.py [--each] [--probable] [--from-text | --from-notes]

A case counts by its group; `other` by its own causes. Cases of families that the knowledge does not cover yet are
left out and counted. Nothing here is fitted to the cases.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, cast

import numpy as np

from carbdiag import case_of, diagnose, read_text
from carbdiag.case_schema import Case
from carbdiag.casework import believed
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Assessment
from carbdiag.casework.machine_kinds import machine_kinds, with_family_id
from carbdiag.family_metering import family_tables
from carbdiag.knowledge import Knowledge, family_id
from carbdiag.model import compile_model, machine_fit
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import LEVELS, Status

CASES = Path(__file__).parent.parent / "tests" / "cases"
Ranking = Mapping[str, float]  # group (or cause, for `other`) -> probability


@dataclass(frozen=True)
class Reported:
    """A reported case with what it turned out to be."""

    case: Case
    group: str
    causes: tuple[str, ...]
    confirmed: bool


def load_reported(folder: Path = CASES) -> tuple[list[Reported], list[str]]:
    """The cases the knowledge covers, and the ids of those that wait for their family."""
    k = Knowledge.load()
    ready, waiting = [], []
    for file in sorted(folder.glob("*.yaml")):
        data = cast(dict[str, Any], parse_yaml(file.read_text(encoding="utf-8")))
        expected = data.pop("expected")
        data.pop("family_in_report", None)
        if family_id(k, data.get("machine", {}).get("family", "unknown")) not in (*k.families, "unknown"):
            waiting.append(file.stem)
            continue
        ready.append(
            Reported(
                with_family_id(k, Case.model_validate(data)),
                expected["group"],
                tuple(expected.get("causes", ())),
                expected["confidence"] == "confirmed",
            )
        )
    return ready, waiting


def by_group(a: Assessment) -> Ranking:
    """P(at least one cause of the group), and the causes of `other` one by one under their own names."""
    out: dict[str, float] = {}
    for b in a.beliefs:
        by_state = b.posterior.by_state(b.network)
        for name, p in zip(b.model.group_ids, believed.by_group(b, by_state).tolist(), strict=True):
            out[name] = out.get(name, 0.0) + b.weight * p
        for state, p in zip(b.model.states, by_state, strict=True):
            if state.cause:
                key = "cause:" + state.cause
                out[key] = out.get(key, 0.0) + b.weight * float(p)
    return out


def rank_of(r: Reported, ranking: Ranking) -> tuple[int, float]:
    """Rank (from 1) and probability of what the case turned out to be."""
    if r.group != "other":
        mine = ranking.get(r.group, 0.0)
        others = [p for g, p in ranking.items() if ":" not in g and g not in (r.group, "other")]
    else:
        mine = max((ranking.get("cause:" + c, 0.0) for c in r.causes), default=0.0)
        others = [p for g, p in ranking.items() if ":" not in g and g != "other"]
    return 1 + sum(p > mine for p in others), mine


def prior_order(k: Knowledge, case: Case) -> Ranking:
    """Baseline: groups by their prior odds on this machine, whatever is observed."""
    out: dict[str, float] = {}
    for family, strokes, weight in machine_kinds(k, case.machine):
        m = compile_model(k, family, strokes)
        odds = m.network.odds * machine_fit(m, case.machine)
        for state, o in zip(m.states, odds, strict=True):
            if state.cause:
                for key in (k.causes[state.cause].group, "cause:" + state.cause):
                    out[key] = out.get(key, 0.0) + weight * float(o)
    return _normalized(out)


def chart_lookup(k: Knowledge, case: Case) -> Ranking:
    """Baseline: the paper chart. Bands told -> circuits in control; signs told -> rich or lean; no mimics."""
    by_circuit = {
        "pilot": "pilot_circuit", "low_needle": "pilot_circuit", "needle": "needle",
        "main_jet": "main", "high_needle": "main", "cutaway": "cutaway",
    }
    scores: dict[str, float] = dict.fromkeys(k.groups, 1e-3)
    family = k.families.get(case.machine.family, next(iter(k.families.values())))
    shares = family_tables(k, family).shares
    for epoch in case.history():
        for report in epoch.findings:
            table = k.findings[report.finding].mixture
            if report.status is not Status.PRESENT or table is None:
                continue
            level = [k.scales.probability[table[name]] for name in LEVELS]
            rich, lean = level[0] + level[1], level[3] + level[4]
            places = [p for p in report.at if p in shares.get("pilot", shares.get("low_needle", {}))] or ["quarter"]
            for place in places:
                for circuit, stem in by_circuit.items():
                    share = shares.get(circuit, {}).get(place, 0.0)
                    if stem == "cutaway":
                        scores[stem] += share * (rich + lean) / 2
                    else:
                        scores[stem + "_rich"] += share * rich / (rich + lean)
                        scores[stem + "_lean"] += share * lean / (rich + lean)
    return _normalized(scores)


def naive_bayes(k: Knowledge, case: Case) -> Ranking:
    """Baseline: one fault, every statement independent, no residual shared, silence ignored."""
    out: dict[str, float] = {}
    a = assess(k, case)
    for b in a.beliefs:
        log = np.log(np.maximum(b.evidence.odds, 1e-12))
        for o in b.observations:
            if o.statement.kind != "context":
                log = log + np.log(np.maximum(o.likelihood, 1e-6))
        w = np.exp(log - log.max())
        w *= b.weight / w.sum()
        for state, p in zip(b.model.states, w, strict=True):
            if state.cause:
                for key in (k.causes[state.cause].group, "cause:" + state.cause):
                    out[key] = out.get(key, 0.0) + float(p)
    return out


def _normalized(scores: dict[str, float]) -> Ranking:
    total = sum(v for g, v in scores.items() if ":" not in g)
    return {g: v / total for g, v in scores.items()}


def interval(hits: int, n: int) -> tuple[float, float]:
    """Wilson interval at 90 % for a share."""
    z = 1.6449
    if n == 0:
        return 0.0, 1.0
    p = hits / n
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return middle - half, middle + half


METHODS: dict[str, Callable[[Knowledge, Case], Ranking]] = {
    "carbdiag": lambda k, c: by_group(assess(k, c)),
    "prior order": prior_order,
    "chart lookup": chart_lookup,
    "naive Bayes": naive_bayes,
}


def from_text(k: Knowledge, reported: list[Reported], *, notes: bool = False) -> list[Reported]:
    """The cases as read from their posts, or from those and the notes beside them; those without are left out."""
    from reading import posts  # noqa: PLC0415  the neighbor script, where this one is run as a script

    text = posts(notes=notes)
    return [replace(r, case=case_of(read_text(text[r.case.id], k))) for r in reported if r.case.id in text]


def main() -> None:
    """Print the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", action="store_true", help="print the rank of every case")
    parser.add_argument("--probable", action="store_true", help="count probable outcomes too")
    parser.add_argument("--from-text", action="store_true", help="read each case from its post, as it was written")
    parser.add_argument("--from-notes", action="store_true", help="read each from its post and the notes beside it")
    options = parser.parse_args()
    read = options.from_text or options.from_notes
    if read and options.each:
        parser.error("--each shows single outcomes; phrases must not be written with those in sight")
    k = Knowledge.load()
    ready, waiting = load_reported()
    if read:
        ready = from_text(k, ready, notes=options.from_notes)
        if not ready:
            parser.error("the texts of the reports are not in the repository; the cases made of them are (tests/cases)")
    counted = [r for r in ready if r.confirmed or options.probable]
    print(f"{len(ready)} cases of covered or unknown families, {len(counted)} counted, {len(waiting)} waiting")
    for name, method in METHODS.items():
        found = [(r, *rank_of(r, method(k, r.case))) for r in counted]
        line = f"{name:13}"
        for top in (1, 3, 5):
            hits = sum(rank <= top for _, rank, _ in found)
            low, high = interval(hits, len(found))
            line += f"  top-{top} {hits / len(found):.2f} [{low:.2f}-{high:.2f}]"
        loss = sum(-math.log(max(p, 1e-3)) for _, _, p in found) / len(found)
        print(line + f"  log loss {loss:.2f}")
        if options.each and name == "carbdiag":
            for r, rank, p in found:
                print(f"   {r.case.id:4} {r.group:26} rank {rank:2}  p {p:.2f}  {r.case.title[:60]}")
        if name == "carbdiag":
            _calibration(k, counted)
    firsts = [steps[0].id for r in ready if (steps := diagnose(r.case, k, 1).next_steps)]
    print(f"first steps proposed over all {len(ready)} cases: {len(set(firsts))} different ones")


def _calibration(k: Knowledge, counted: list[Reported]) -> None:
    cells: dict[int, list[tuple[float, bool]]] = {}
    for r in counted:
        ranking = by_group(assess(k, r.case))
        for group, p in ranking.items():
            if ":" not in group:
                cells.setdefault(min(int(p * 5), 4), []).append((p, group == r.group))
    print("   calibration by group: " + "; ".join(
        f"said {np.mean([p for p, _ in v]):.2f} was {np.mean([hit for _, hit in v]):.2f} (n={len(v)})"
        for _, v in sorted(cells.items())
    ))


if __name__ == "__main__":
    main()
