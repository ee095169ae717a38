"""Items about putting it right: which part and which way, in which order, and to which size."""

from __future__ import annotations

from itertools import pairwise

from carbdiag.answers.phrases import capital, small
from carbdiag.applies import fit_weight
from carbdiag.case_schema import FittedParts, Jet, Machine
from carbdiag.casework.believed import Belief
from carbdiag.casework.levels import mixture_levels
from carbdiag.correction import correct, tuning_rank
from carbdiag.errors import CaseError
from carbdiag.family_metering import in_control
from carbdiag.knowledge import Knowledge
from carbdiag.lean_risk import LeanRisk
from carbdiag.quiz.bench import Believed, step_worth
from carbdiag.quiz.cause_items import told_case
from carbdiag.quiz.draft import Draft, DraftOption, cited, fill
from carbdiag.quiz.kinds import Work, percent
from carbdiag.quiz.stories import cause_tags, closed, machine_for, machine_words
from carbdiag.quiz.told import Told
from carbdiag.quiz_schema import NumberKey
from carbdiag.records.causes import Cause
from carbdiag.terms import Change, Direction
from carbdiag.tuning import resize
from carbdiag.tuning_schema import AirInput, PartMove, ResizeRequest

Way = tuple[str, Direction]  # a circuit and which way it is off


def correct_it(w: Work) -> Draft | None:
    """A complaint about a setting; the key is the change most likely to cure it."""
    k, b = w.k, w.bench
    story = told_case(w, w.kind.ratio, _is_setting)
    if story is None:
        return None
    cause, told, found = story
    way = _way(k.causes[cause], found.belief)
    if way is None:
        return None
    done = correct(k, k.causes[cause], b.model.family, b.model.tables, way[1], _lean_risk(k, found.belief))
    if done.held_back is not None:
        return None  # the right part, but not yet: nothing that could seize an engine is ever the key
    support = _support_of_ways(k, found)
    rivals = [
        r for r in _other_ways(told, way)
        if support.get(r, 0.0) * w.kind.ratio <= support[way] and not _trims_it_too(told, way, r)
    ]  # fmt: skip
    options = w.with_rivals(
        _way_option(k, way, support[way], 1.0), [_way_option(k, r, support.get(r, 0.0), 0.0) for r in rivals]
    )
    return told.choice(
        options,
        about={f"correct:{way[0]} {way[1]}", *told.topics},
        tags=cause_tags(k, cause),
        cautions=tuple(c.id for c in done.cautions),
        sources=cited(k.causes[cause].sources),
        cause=small(k.causes[cause].name),
        list=f"{closed(capital(done.size or done.name))} Then: {done.verify} To go back: {done.put_back}",
    )


def _lean_risk(k: Knowledge, belief: Belief) -> LeanRisk:
    levels = mixture_levels(belief)
    lean = (levels[:, 3:].sum(axis=1) / levels.sum(axis=1)).tolist()
    bands = [p.id for p in k.places.values() if p.kind == "band"]
    return LeanRisk(dict(zip(bands, lean, strict=True)), (belief,))


def _support_of_ways(k: Knowledge, found: Believed) -> dict[Way, float]:
    """How likely each circuit is to be off, each way."""
    support: dict[Way, float] = {}
    for c, p in zip(found.belief.model.cause_ids, found.by_cause.tolist(), strict=True):
        off = _way(k.causes[c], found.belief)
        if off is not None:
            support[off] = support.get(off, 0.0) + p
    return support


def _other_ways(told: Told, way: Way) -> list[Way]:
    """The same setting the other way, and every other setting either way; those in control there first."""
    b = told.work.bench
    tables = b.model.tables
    place = next((f.at for f in told.facts if f.at and in_control(tables, f.at)), None)
    neighbors = [c for c, _ in in_control(tables, place)] if place else []
    movable = [c for c in dict.fromkeys((*neighbors, *b.family.circuits)) if c in tables.steps]
    opposite = Direction.RICH if way[1] is Direction.LEAN else Direction.LEAN
    return [(way[0], opposite), *((c, d) for c in movable if c != way[0] for d in (way[1], opposite))]


def _trims_it_too(told: Told, way: Way, off: Way) -> bool:
    """Whether that change, too, goes the right way where it hurts: it cannot be called wrong, then."""
    w = told.work
    places = [f.at for f in told.facts if f.at and w.k.places[f.at].in_chart]
    mine, other = (max((step_worth(w.bench, c, p) for p in places), default=0.0) for c in (way[0], off[0]))
    return off[1] is way[1] and (other * w.kind.ratio > mine or other >= w.k.scales.trials.noticeable)


def _way_option(k: Knowledge, off: Way, support: float, credit: float) -> DraftOption:
    circuit = k.circuits[off[0]]
    change = Change.RICHER if off[1] is Direction.LEAN else Change.LEANER
    setting = circuit.richer if change is Change.RICHER else circuit.leaner
    text = f"{setting.do} Chance that this is what is off: {percent(support)}."
    name = f"{circuit.name}: {circuit.step} {change.value}"
    return DraftOption(name, text, support, credit, cited(circuit.sources))


def _is_setting(cause: Cause) -> bool:
    return cause.mixture is not None and cause.mixture.circuit is not None and cause.mixture.is_setting


def _way(cause: Cause, belief: Belief) -> Way | None:
    """The circuit whose setting is off, and which way; None where nothing is to be set."""
    effect = cause.mixture
    direction = belief.model.directions.get(cause.id)
    if effect is None or effect.circuit is None or not _is_setting(cause) or direction is None:
        return None
    return effect.circuit, direction


def order_steps(w: Work) -> Draft | None:
    """Four faults of one machine; the key is the tuning order."""
    k, b = w.k, w.bench
    by_rank: dict[int, list[str]] = {}
    for c in b.model.cause_ids:
        cause = k.causes[c]
        # a stem names neither several carburetors nor what the machine is used for
        of_any = not (cause.applies.cylinders or cause.applies.carburetors or cause.applies.uses)
        if of_any and cause.air is None and c not in w.rules.no_fault:
            by_rank.setdefault(tuning_rank(k, cause), []).append(c)
    ranks = sorted(by_rank)
    if len(ranks) < w.rules.options:
        return None
    chosen = sorted(w.dice.shuffled(ranks)[: w.rules.options])
    picked = [w.dice.pick(by_rank[r]) for r in chosen]
    machine = machine_for(b, k.causes[picked[0]], w.dice)
    if any(fit_weight(k.causes[c].applies, machine, 0.0, b.family.circuits) == 0 for c in picked):
        return None  # one of them cannot be on this machine
    stages = {s.rank: s for s in k.tuning_order.values()}
    gaps = [b2 - a for a, b2 in pairwise(chosen)]
    options = tuple(
        DraftOption(
            k.causes[c].name, f"{stages[r].name}: {stages[r].why}", 1.0, 0.0, cited(stages[r].sources)
        )
        for r, c in zip(chosen, picked, strict=True)
    )
    listed = " ".join(f"{n}. {k.causes[c].name} ({small(stages[r].name)}): {stages[r].why}"
                      for n, (r, c) in enumerate(zip(chosen, picked, strict=True), 1))
    return Draft(
        kind=w.kind,
        form="order",
        stem=w.stem(machine=machine_words(k, machine)),
        ask=fill(w.ask()),
        explanation=fill(w.kind.explains, list=listed),
        about=frozenset(f"put right:{c}" for c in picked),
        tags=w.machine_tags | frozenset[str]().union(*(cause_tags(k, c) for c in picked)),
        options=options,
        cautions=tuple(dict.fromkeys(x for c in picked for x in k.causes[c].cautions)),
        near=1 / (sum(gaps) / len(gaps)),
    )


_HEIGHTS_M = tuple(range(0, 3001, 100))
_TEMPERATURES_C = tuple(range(-10, 36, 5))
_MAIN_JETS = {"bore": tuple(range(100, 201, 2)), "flow": tuple(range(200, 481, 10))}
_NUMBERED = {"bore": "numbered by bore in 1/100 mm", "flow": "numbered by flow in cc/min"}


def size_it(w: Work) -> Draft | None:
    """A machine moved to other air; the key is the main jet, with the range that published rules span."""
    k, b = w.k, w.bench
    if b.family.geometry is None:
        return None
    numbering = w.dice.pick(("bore", "bore", "flow"))
    jet = w.dice.pick(_MAIN_JETS[numbering])
    heights = w.dice.shuffled(_HEIGHTS_M)[:2]
    temperatures = [w.dice.pick(_TEMPERATURES_C), w.dice.pick(_TEMPERATURES_C)]
    machine = Machine(
        family=b.family.id,
        strokes=b.model.strokes,
        parts=FittedParts(main_jet=Jet(number=jet, numbering=numbering)),
    )
    air = [AirInput(elevation_m=h, temperature_c=t) for h, t in zip(heights, temperatures, strict=True)]
    try:
        answer = resize(ResizeRequest(machine=machine, set=air[0], now=air[1]), k)
    except CaseError:
        return None  # a carburetor without such jets
    move = next((m for m in answer.moves if m.present == jet and m.start_with not in (None, jet)), None)
    key = None if move is None else _jet_key(move, jet, numbering)
    if move is None or key is None:
        return None
    circuit = next(c for c in k.circuits.values() if c.name == move.name)
    apart = abs(key.value - jet)
    slots = {
        "jet": f"{jet:g}",
        "numbering": _NUMBERED[numbering],
        "from_m": f"{heights[0]:g}",
        "from_c": f"{temperatures[0]:g}",
        "to_m": f"{heights[1]:g}",
        "to_c": f"{temperatures[1]:g}",
    }
    listed = (
        f"{answer.summary} {capital(move.amount)}. Accepted: {key.low:g} to {key.high:g}, the rich end of the"
        f" range, for lean costs more than rich; half the points from {key.half_from:g} to"
        f" {key.half_to:g}; nothing leaner. {answer.honesty}"
    )
    return Draft(
        kind=w.kind,
        form="number",
        stem=w.stem(_plain_machine(w), (), **slots),
        ask=fill(w.ask()),
        explanation=fill(w.kind.explains, list=listed),
        about=frozenset(
            {f"move:{heights[0] // 500} {heights[1] // 500} {move.direction is Change.RICHER}", f"jet:{numbering}"}
        ),
        tags=w.machine_tags | {f"circuit:{circuit.id}"},
        number=key,
        cautions=tuple(c.id for c in move.cautions),
        sources=tuple(dict.fromkeys((*cited(circuit.sources), *cited(b.family.sources)))),
        near=min(1.0, _one_size(numbering, min(jet, key.value)) / apart),
    )


def _jet_key(move: PartMove, jet: float, numbering: str) -> NumberKey | None:
    """The numbers that are right, and half right; None where leaving the jet alone would be right as well."""
    first, least, most = move.start_with, move.least, move.most
    if first is None or least is None or most is None:
        return None
    step = _one_size(numbering, min(jet, first))
    leanest, richest = min(first, least, most), max(first, least, most)
    if abs(first - jet) < step or leanest <= jet <= richest:
        return None
    return NumberKey(
        value=first,
        # the first jet is the one at the rich end, or its neighbor: who begins further in the range may be lean
        low=max(first - step, leanest),
        high=first,
        half_from=leanest,
        half_to=first + 2 * step if move.direction is Change.RICHER else max(jet - step, first),
        unit="main jet number",
    )


def _one_size(numbering: str, jet: float) -> float:
    """About one size of a series at this jet: one to four percent of the number."""
    if numbering == "flow":
        return 5.0 if jet < 250 else 10.0
    return 2.0 if jet < 150 else 3.0


def _plain_machine(w: Work) -> str:
    strokes = "two-stroke" if w.bench.model.strokes == 2 else "four-stroke"
    return f"a {strokes} (carburetor: {small(w.bench.family.name)})"
