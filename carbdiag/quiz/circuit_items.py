"""Items about the mixture at an opening: which circuit has the say there, and is it rich or lean."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from carbdiag.answers.phrases import capital, small
from carbdiag.case_schema import Machine
from carbdiag.casework.believed import Belief
from carbdiag.casework.levels import levels_at
from carbdiag.family_metering import in_control
from carbdiag.knowledge import Knowledge
from carbdiag.quiz.bench import Fact, believe, possible, step_worth
from carbdiag.quiz.draft import Draft, DraftOption, cited
from carbdiag.quiz.kinds import Work, percent
from carbdiag.quiz.stories import (
    at_words,
    cause_tags,
    machine_for,
    tell,
)
from carbdiag.quiz.told import Told
from carbdiag.records.bands import Place
from carbdiag.records.families import Family


def which_circuit(w: Work) -> Draft | None:
    """A complaint at one opening; the key is the circuit with the largest share of its fuel."""
    k, b = w.k, w.bench
    place = _place_with_a_leader(w)
    if place is None:
        return None
    ranked = in_control(b.model.tables, place)
    key, share = ranked[0]
    if len(ranked) > 1 and ranked[1][1] * w.kind.ratio > share:
        return None  # near the edge of two bands either could be named
    of_key = [
        c for c in b.model.cause_ids if (m := k.causes[c].mixture) is not None and m.circuit == key
    ]
    if not of_key:
        return None
    cause = k.causes[w.dice.pick(of_key)]
    machine = machine_for(b, cause, w.dice)
    facts = tell(b, machine, cause.id, w.dice, 1 + w.dice.below(2), (place,))
    if not facts:
        return None
    shares = dict(ranked)
    rivals = [c for c in b.family.circuits if c != key and _clearly_less(w, place, c, key, shares)]
    rivals.sort(key=lambda c: -shares.get(c, 0.0))
    options = w.with_rivals(
        _circuit_option(k, place, key, shares, 1.0), [_circuit_option(k, place, c, shares, 0.0) for c in rivals]
    )
    return Told(w, machine, facts).choice(
        options,
        about={f"share:{place}", f"leads:{key}", f"at {place}"},
        tags=frozenset({f"circuit:{key}"}),
        cautions=(),
        sources=cited(b.family.sources),
        place=at_words(k, place),
        list=", ".join(f"{small(k.circuits[c].name)} {percent(s)}" for c, s in ranked),
    )


def _place_with_a_leader(w: Work) -> str | None:
    """An opening, of those wanted, at which the circuit that leads is the one that published charts name."""
    k, b = w.k, w.bench
    tables = b.model.tables
    # starting is left out: there the choke counts beside the circuit, and either could be named
    bands = [p for p in k.places.values() if p.running and p.in_chart and in_control(tables, p.id)]
    leads = {p.id: in_control(tables, p.id)[0][0] for p in bands}
    leads = {p: c for p, c in leads.items() if _as_published(b.family, k.places[p], c)}
    fit = [p for p, c in leads.items() if not w.wanted or {f"circuit:{c}", f"band:{p}"} & w.wanted]
    return w.dice.pick(fit) if fit else None


def _clearly_less(w: Work, place: str, circuit: str, key: str, shares: Mapping[str, float]) -> bool:
    """Less fuel and a weaker step there: the screw that trims the pilot is no rival that could be called wrong."""
    k, ratio = w.k, w.kind.ratio
    worth, worth_of_key = (step_worth(w.bench, c, place) for c in (circuit, key))
    unfelt = worth < k.scales.trials.noticeable or circuit in shares
    # what is strongest only where the key is works as a part of it: the screw trims the pilot circuit
    part = set(k.circuits[circuit].strongest_at) <= set(k.circuits[key].strongest_at)
    less_fuel = shares.get(circuit, 0.0) * ratio <= shares[key]
    return less_fuel and worth * ratio <= worth_of_key and unfelt and not part


def _circuit_option(
    k: Knowledge, place: str, circuit: str, shares: Mapping[str, float], credit: float
) -> DraftOption:
    record, where = k.circuits[circuit], at_words(k, place)
    *before, last = (k.places[p].name for p in record.strongest_at)
    strongest = f"{', '.join(before)} and {last}" if before else last
    part = f"{percent(shares[circuit])} of the fuel {where}" if circuit in shares else f"next to nothing {where}"
    text = f"{record.what} It feeds {part}; it is strongest at {strongest}."
    return DraftOption(record.name, text, shares.get(circuit, 0.0), credit, cited(record.sources))


def _as_published(family: Family, place: Place, circuit: str) -> bool:
    """Whether a published chart of this family names the circuit at that opening: a key must stand up to it."""
    if place.kind != "band" or place.opening is None:
        return True
    middle = place.opening[1]
    return any(p.circuit == circuit and p.from_ <= middle <= p.to for p in family.published_bands)


def rich_or_lean(w: Work) -> Draft | None:
    """Statements about one opening; the key is what the mixture most likely does there."""
    k, b = w.k, w.bench
    picked = w.machine_with_a_cause()
    if picked is None:
        return None
    cause, machine = picked
    bands = [p.id for p in k.places.values() if p.kind == "band"]
    wanted_bands = [p for p in bands if f"band:{p}" in w.wanted]
    place = w.dice.pick(wanted_bands or bands)
    facts = tell(b, machine, cause.id, w.dice, 2, (place,))
    if not facts:
        return None
    told = Told(w, machine, (*facts, *_mixture_result(w, machine, cause.id, place)))
    belief = believe(b, told.case).belief
    chance = _chances(belief, place)
    second, first = sorted(chance.values())[-2:]
    if first < w.kind.ratio * second:
        return None
    key = max(chance, key=lambda c: chance[c])
    words = w.rules.mixture_words
    text = {"rich": words.rich, "lean": words.lean, "right": words.right}

    def option(c: str) -> DraftOption:
        feedback = f"Chance under this knowledge: {percent(chance[c])}. {_speaks(w, belief, place, c)}"
        return DraftOption(text[c], feedback, chance[c], 1.0 if c == key else 0.0)

    records = [k.findings[f.record] if f.kind == "finding" else k.checks[f.record] for f in told.facts]
    return told.choice(
        (option(key), *(option(c) for c in chance if c != key)),
        about={f"mixture:{place}", *told.topics},
        tags=frozenset({f"band:{place}"}) | cause_tags(k, cause.id),
        cautions=k.circuits[in_control(b.model.tables, place)[0][0]].cautions,
        sources=tuple(dict.fromkeys(s for r in records for s in cited(r.sources))),
        place=at_words(k, place),
        list=", ".join(f"{name} {percent(p)}" for name, p in chance.items()),
    )


def _chances(belief: Belief, place: str) -> dict[str, float]:
    """How likely it is rich, right and lean at a place."""
    very_rich, rich, right, lean, very_lean = levels = levels_at(belief, belief.model.place(place))[0].tolist()
    total = sum(levels)
    return {"rich": (very_rich + rich) / total, "right": right / total, "lean": (lean + very_lean) / total}


def _mixture_result(w: Work, machine: Machine, cause: str, place: str) -> tuple[Fact, ...]:
    """What a check that reads the mixture there would show, mostly; nothing where none can be done."""
    b = w.bench
    column = b.chance[:, b.cause_number(cause)]
    often = np.flatnonzero((b.check_of >= 0) & (column > np.maximum(0.4, b.usual))).tolist()
    found = [n for n in often if b.facts[n].at == place and possible(b, machine, b.facts[n])]
    return (b.facts[w.dice.pick(found)],) if found and w.dice.below(3) else ()


def _speaks(w: Work, belief: Belief, place: str, side: str) -> str:
    """The statement that says most for one side, from how likely it is when the mixture there is so."""
    network, index = belief.network, belief.model.place(place)
    x = network.x[index] * network.lattice.step
    within = w.k.scales.mixture.right_within
    is_side = {"rich": x < -within, "lean": x > within, "right": abs(x) <= within}[side]
    odds = network.odds
    if not (odds * is_side).any():
        return ""
    best, most = "", 0.0
    for o in belief.observations:
        inside = float((odds * is_side) @ o.likelihood / (odds * is_side).sum())
        outside = float((odds * ~is_side) @ o.likelihood / max((odds * ~is_side).sum(), 1e-12))
        ratio = inside / max(outside, 1e-9)
        if ratio > max(most, 1.1):
            best, most = o.statement.text, ratio
    return f"Speaks most for it: {capital(best)}." if best else "Nothing said speaks for it more than for the others."
