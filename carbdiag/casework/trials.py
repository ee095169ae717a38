"""Settings moved and repairs done, as evidence, and what they leave changed for what is told after them."""

from __future__ import annotations

import numpy as np

from carbdiag.belief.evidence import PlaceTerm, single_term
from carbdiag.belief.lattice import Floats, shifted
from carbdiag.belief.posterior import Column
from carbdiag.case_schema import Trial
from carbdiag.casework.columns import speaks_for
from carbdiag.casework.effects import effect_of_repair, effect_table, works_done
from carbdiag.casework.gathered import Gathered
from carbdiag.casework.observation import moved_words, sizes_told, statement
from carbdiag.casework.repaired import Repaired
from carbdiag.records.circuits import Circuit
from carbdiag.setting_shift import shift_by_trial
from carbdiag.states import State
from carbdiag.terms import Change, Direction, Effect
from carbdiag.trials import direction_of, felt_at, told_at


def read_setting(g: Gathered, trial: Trial) -> None:
    """Take down a setting moved and what it did; unless it was put back, the mixture has moved with it."""
    assert trial.change is not None
    model, network = g.model, g.network
    circuit = g.k.circuits[trial.change]
    shift = shift_by_trial(model, g.case.machine, trial)
    if shift is None:
        return
    moved = network.lattice.steps(shift)
    place = felt_at(circuit, trial, g.case)
    index = model.place(place)
    now = int(g.steps[index])
    table = shifted(effect_table(g.k, network, int(moved[index]))[trial.effect], now)
    term = PlaceTerm(1.0, table=table)
    g.at(index, term)
    single = single_term(network, index, term)
    way = direction_of(circuit, trial)
    brought = trial.effect is Effect.OVERSHOT or (trial.effect is Effect.WORSE and g.was_fine)
    if brought and not trial.put_back:
        # what the move left behind is that setting, too far
        single = single * g.column(speaks_for(_set_off(g, circuit, way), g.k.scales.trials.brought_by_work))
    first_moved = circuit.id not in g.moved  # the second new jet takes nothing more with it
    g.moved.add(circuit.id)
    if first_moved and trial.effect in g.k.scales.trials.repair.fixed and (gone := _dirt_gone(g, circuit, way)).any():
        single = single * g.column(_mended_too(g, gone, trial.effect))
    effect = trial.effect.value.replace("_", " ")
    told = told_at(circuit, trial, g.case)  # a place that is only taken is not shown as understood
    where = f", felt at {g.k.places[told].name}" if told else ""
    text = f"{circuit.name} {moved_words(circuit, trial)}{where}: {effect}"
    said = statement(
        "setting", text, ids=(circuit.id,), at=(told,) if told else (), direction=way,
        amount=trial.steps, sizes=sizes_told(trial), effect=trial.effect,
    )  # fmt: skip
    g.note(said, single)
    # what helped and wore off again is off as it was: what made it so has gone on, and eats up what the step gave
    if not trial.put_back and trial.effect is not Effect.CAME_BACK:
        g.steps = g.steps + moved


def read_repair(g: Gathered, trial: Trial) -> None:
    """Take down a repair and what it did, and with what chance each cause is repaired by now."""
    assert trial.do is not None
    network, tables = g.network, g.k.scales.trials.repair
    works = works_done(g.k, g.model.works[trial.do], trial.how)
    # where nobody told what it did it says nothing; it is repaired as surely as such work is
    fixed, partly, not_fixed = (t.get(trial.effect, 1.0) for t in (tables.fixed, tables.partly, tables.not_fixed))
    brought = trial.effect is Effect.WORSE and g.was_fine
    if brought:  # nothing was there to mend: a fault of the part worked on is what the work left behind
        works = np.where(works > 0, 1.0, 0.0)
        fixed = partly = not_fixed * g.k.scales.trials.brought_by_work
    single = g.column(effect_of_repair(works, fixed, partly, not_fixed))
    action = g.k.actions[trial.do]
    text = f"{action.name}: {trial.effect.value.replace('_', ' ')}"
    said_so = statement("repair", text, ids=(action.id,), effect=trial.effect)
    g.note(said_so, single)
    if brought:
        return

    def done(felt: float) -> Floats:
        return np.asarray(works * felt / np.maximum(works * felt + (1 - works) * not_fixed, 1e-12))

    before = g.repaired or Repaired.nothing(network.states)
    g.repaired = before.and_then(Repaired(done(fixed), done(partly)))


def _dirt_gone(g: Gathered, circuit: Circuit, way: Change | None) -> Floats:
    """How surely the move takes dirt in that circuit away, shape (S,): another jet goes in clean."""
    deed = circuit.leaner if way is Change.LEANER else circuit.richer
    works = g.model.works[deed.action]
    return np.array([w * _is_dirt(g, s, circuit) for w, s in zip(works.tolist(), g.model.states, strict=True)])


def _is_dirt(g: Gathered, state: State, circuit: Circuit) -> bool:
    if state.cause is None or state.circuit != circuit.id:
        return False
    mixture = g.k.causes[state.cause].mixture
    return mixture is not None and not mixture.is_setting


def _mended_too(g: Gathered, gone: Floats, effect: Effect) -> Column:
    """What a moved setting did, as a repair of what it mended beside: of all else it says nothing here."""
    tables = g.k.scales.trials.repair
    otherwise = tables.not_fixed[effect]
    return effect_of_repair(gone, tables.fixed[effect] / otherwise, tables.partly[effect] / otherwise, 1.0)


def _set_off(g: Gathered, circuit: Circuit, way: Change | None) -> Floats:
    """Which states are that circuit set off the way it was moved, shape (S,): 1 or 0."""
    off = {Change.RICHER: Direction.RICH, Change.LEANER: Direction.LEAN}
    wanted = (circuit.id, None if way is None else off[way])
    return np.array([float((s.circuit, s.direction) == wanted) for s in g.model.states])
