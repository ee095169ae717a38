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
from carbdiag.lean_risk import LeanRisk
from carbdiag.quiz.bench import case_of, step_worth
from carbdiag.quiz.cause_items import told_case
from carbdiag.quiz.draft import Draft, DraftOption, cited, fill
from carbdiag.quiz.kinds import Work, percent
from carbdiag.quiz.stories import cause_tags, closed, fact_tags, machine_for, machine_words
from carbdiag.quiz_schema import NumberKey
from carbdiag.records.causes import Cause
from carbdiag.terms import Change, Direction
from carbdiag.tuning import resize
from carbdiag.tuning_schema import AirInput, ResizeRequest

Way = tuple[str, Direction]  # a circuit and which way it is off


def correct_it(w: Work) -> Draft | None:
    """A complaint about a setting; the key is the change most likely to cure it."""
    k, b = w.k, w.bench
    story = told_case(w, w.kind.ratio, _is_setting)
    if story is None:
        return None
    cause, machine, facts, found = story
    belief = found.belief
    way = _way(k.causes[cause], belief)
    if way is None:
        return None
    support: dict[Way, float] = {}
    for c, p in zip(b.model.cause_ids, found.by_cause.tolist(), strict=True):
        off = _way(k.causes[c], belief)
        if off is not None:
            support[off] = support.get(off, 0.0) + p
    levels = mixture_levels(belief)
    lean = (levels[:, 3:].sum(axis=1) / levels.sum(axis=1)).tolist()
    bands = [p.id for p in k.places.values() if p.kind == "band"]
    risk = LeanRisk(dict(zip(bands, lean, strict=True)), (belief,))
    done = correct(k, k.causes[cause], b.model.family, b.model.tables, way[1], risk)
    if done.held_back is not None:
        return None  # the right part, but not yet: nothing that could seize an engine is ever the key
    place = next((f.at for f in facts if f.at and in_control(b.model.tables, f.at)), None)
    neighbors = [c for c, _ in in_control(b.model.tables, place)] if place else []
    movable = [c for c in dict.fromkeys((*neighbors, *b.family.circuits)) if c in b.model.tables.steps]
    opposite = Direction.RICH if way[1] is Direction.LEAN else Direction.LEAN
    rivals = [(way[0], opposite), *((c, d) for c in movable if c != way[0] for d in (way[1], opposite))]
    places = [f.at for f in facts if f.at and k.places[f.at].in_chart]

    def trims_it_too(off: Way) -> bool:
        """Whether that change, too, goes the right way where it hurts: it cannot be called wrong, then."""
        mine, other = (max((step_worth(b, c, p) for p in places), default=0.0) for c in (way[0], off[0]))
        return off[1] is way[1] and (other * w.kind.ratio > mine or other >= k.scales.trials.noticeable)

    rivals = [r for r in rivals if support.get(r, 0.0) * w.kind.ratio <= support[way] and not trims_it_too(r)]

    def option(off: Way, credit: float) -> DraftOption:
        circuit = k.circuits[off[0]]
        change = Change.RICHER if off[1] is Direction.LEAN else Change.LEANER
        setting = circuit.richer if change is Change.RICHER else circuit.leaner
        p = support.get(off, 0.0)
        text = f"{setting.do} Chance that this is what is off: {percent(p)}."
        return DraftOption(f"{circuit.name}: {circuit.step} {change.value}", text, p, credit, cited(circuit.sources))

    options = w.with_rivals(option(way, 1.0), [option(r, 0.0) for r in rivals])
    if len(options) < 3:
        return None
    listed = f"{closed(capital(done.size or done.name))} Then: {done.verify} To go back: {done.put_back}"
    return Draft(
        kind=w.kind,
        form="choice",
        stem=w.stem(machine_words(k, machine), facts),
        ask=fill(w.ask()),
        explanation=fill(w.kind.explains, cause=small(k.causes[cause].name), list=listed),
        about=frozenset({f"correct:{way[0]} {way[1]}", *(f"{f.record} at {f.at}" for f in facts)}),
        tags=w.machine_tags | fact_tags(facts) | cause_tags(k, cause),
        options=options,
        cautions=tuple(c.id for c in done.cautions),
        sources=cited(k.causes[cause].sources),
        case=case_of(machine, facts),
        usual=tuple(float(b.usual[b.row_of[f]]) for f in facts),
    )


def _is_setting(cause: Cause) -> bool:
    return cause.mixture is not None and cause.mixture.circuit is not None and cause.mixture.is_setting


def _way(cause: Cause, belief: Belief) -> Way | None:
    """The circuit whose setting is off, and which way; None where nothing is to be set."""
    effect = cause.mixture
    direction = belief.model.directions.get(cause.id)
    if effect is None or effect.circuit is None or not _is_setting(cause) or direction is None:
        return None
    return effect.circuit, direction


# ---------------------------------------------------------------------------------------------------------


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


# ---------------------------------------------------------------------------------------------------------

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
    if move is None or move.start_with is None or move.least is None or move.most is None:
        return None
    step = _one_size(numbering, min(jet, move.start_with))
    numbers = (move.start_with, move.least, move.most)
    if abs(move.start_with - jet) < step or min(numbers) <= jet <= max(numbers):
        return None  # leaving the jet alone would be right as well
    to_richer = move.direction is Change.RICHER
    number = NumberKey(
        value=move.start_with,
        # the first jet is the one at the rich end, or its neighbor: who begins further in the range may be lean
        low=max(move.start_with - step, min(numbers)),
        high=move.start_with,
        half_from=min(numbers),
        half_to=move.start_with + 2 * step if to_richer else max(jet - step, move.start_with),
        unit="main jet number",
    )
    circuit = next(c for c in k.circuits.values() if c.name == move.name)
    listed = (
        f"{answer.summary} {capital(move.amount)}. Accepted: {number.low:g} to {number.high:g}, the rich end of the"
        f" range, for lean costs more than rich; half the points from {number.half_from:g} to"
        f" {number.half_to:g}; nothing leaner. {answer.honesty}"
    )
    return Draft(
        kind=w.kind,
        form="number",
        stem=w.stem(machine=_plain_machine(w),
            jet=f"{jet:g}",
            numbering=_NUMBERED[numbering],
            from_m=f"{heights[0]:g}",
            from_c=f"{temperatures[0]:g}",
            to_m=f"{heights[1]:g}",
            to_c=f"{temperatures[1]:g}",
        ),
        ask=fill(w.ask()),
        explanation=fill(w.kind.explains, list=listed),
        about=frozenset({f"move:{heights[0] // 500} {heights[1] // 500} {to_richer}", f"jet:{numbering}"}),
        tags=w.machine_tags | {f"circuit:{circuit.id}"},
        number=number,
        cautions=tuple(c.id for c in move.cautions),
        sources=tuple(dict.fromkeys((*cited(circuit.sources), *cited(b.family.sources)))),
        near=min(1.0, abs(move.start_with - jet) and step / abs(move.start_with - jet)),
    )


def _one_size(numbering: str, jet: float) -> float:
    """About one size of a series at this jet: one to four percent of the number."""
    if numbering == "flow":
        return 5.0 if jet < 250 else 10.0
    return 2.0 if jet < 150 else 3.0


def _plain_machine(w: Work) -> str:
    strokes = "two-stroke" if w.bench.model.strokes == 2 else "four-stroke"
    return f"a {strokes} (carburetor: {small(w.bench.family.name)})"
