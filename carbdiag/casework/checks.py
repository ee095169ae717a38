"""What checks gave and gauges measured, as evidence."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from carbdiag.belief.evidence import PlaceTerm, single_term
from carbdiag.belief.lattice import Floats, shifted
from carbdiag.case_schema import CheckResult, FindingReport, Reading
from carbdiag.casework.columns import anywhere, check_outcome
from carbdiag.casework.gathered import Gathered
from carbdiag.casework.observation import answered, statement
from carbdiag.records.checks import Check
from carbdiag.terms import Certainty, Status


def read_check(g: Gathered, result: CheckResult, signs: Sequence[FindingReport]) -> None:
    """Take down what a check gave; with no place said, it was done where trouble was told."""
    model, network = g.model, g.network
    record = g.k.checks[result.check]
    held = {c.context for c in g.case.contexts if c.status is Status.PRESENT}
    expected = not held.isdisjoint(record.outcomes[result.outcome].expected_beside)
    error = g.k.scales.certainty[Certainty.MAYBE if expected else result.certainty]
    others = len(record.outcomes) - 1
    outcome = model.outcomes[result.check, result.outcome]
    meaning = result.outcome.replace("_", " ")
    if outcome.table is None:
        if record.told_by_air and g.case.air is not None:
            single = np.ones(network.states)  # the air stated says it already, and by how much
        else:
            single = g.column(check_outcome(outcome, error, others))
        said = statement("check", answered(record.name, meaning), ids=(record.id,), outcome=result.outcome)
        g.note(said, single)
        return
    places = [result.at] if result.at else _trouble_spots(record, signs)
    tables = {p: _check_table(g, record, outcome.table, p, error, others) for p in places}
    if len(places) == 1:
        index = model.place(places[0])
        term = PlaceTerm(1.0, table=tables[places[0]])
        g.at(index, term)
        single = single_term(network, index, term)
    else:
        single = g.column(anywhere({model.place(p): table for p, table in tables.items()}))
    named = places if len(places) < 3 else []
    where = " or ".join(g.k.places[p].name for p in named) or "the trouble spot"
    text = f"{record.name} at {where}: {meaning}"
    said = statement("check", text, ids=(record.id,), at=tuple(named), outcome=result.outcome)
    g.note(said, single)


def read_gauge(g: Gathered, reading: Reading) -> None:
    """Take down a measured lambda."""
    network, scale = g.network, g.k.scales.mixture
    place = g.k.places[reading.at]
    assert place.lambda_wanted is not None
    sigma = getattr(scale.lambda_sigma, reading.protocol)
    x = math.log(reading.lambda_ / place.lambda_wanted)
    index = g.model.place(reading.at)
    fit = np.exp(-0.5 * ((network.lattice.points() - x) / sigma) ** 2)
    table = (1 - scale.lambda_misread) * fit + scale.lambda_misread * 0.2
    term = PlaceTerm(1.0, table=shifted(table, int(g.steps[index])))
    g.at(index, term)
    single = single_term(network, index, term)
    text = f"Measured lambda {reading.lambda_:.2f} at {place.name}"
    said = statement("reading", text, at=(place.id,), amount=reading.lambda_)
    g.note(said, single)


def _check_table(g: Gathered, record: Check, table: Floats, place: str, error: float, others: int) -> Floats:
    """The table of an outcome over x at a place, as sure as it was told, for the mixture when trouble began."""
    if place in record.weak_at:
        power = g.k.scales.mixture.weak_power
        all_outcomes = [g.model.outcomes[record.id, o].table for o in record.outcomes]
        table = table**power / np.sum([t**power for t in all_outcomes if t is not None], axis=0)
    table = (1 - error) * table + error * (1 - table) / others
    return shifted(table, int(g.steps[g.model.place(place)]))


def _trouble_spots(record: Check, signs: Sequence[FindingReport]) -> list[str]:
    told = {p for f in signs if f.status is Status.PRESENT for p in f.at}
    return [p for p in record.at if p in told] or list(record.at)
