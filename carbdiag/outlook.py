"""What every candidate would show, and how much that would tell, for the hypotheses that lead."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from carbdiag.belief.information import Grouped, Shares, p_log_p
from carbdiag.belief.lattice import Floats, Ints
from carbdiag.belief.network import Network
from carbdiag.belief.posterior import leading
from carbdiag.candidates import Candidates, candidates
from carbdiag.casework.believed import Belief
from carbdiag.casework.several_settings import SeveralSettings
from carbdiag.casework.still_at_work import not_cured, shows_again
from carbdiag.model import Model

#: How many leading hypotheses the ranking looks at one by one; of the rest, every cause by itself.
_HYPOTHESES = 160


@dataclass(frozen=True, eq=False)
class Alone:
    """What every candidate would show of single states, for one kind of machine."""

    rows: Shares  # (S, rows) P(outcome | state) for every outcome of the checks, then P(yes | state) for the rest
    certain: Shares  # (S, T) sum of p log2 p over the outcomes of each candidate
    certain_unspoken: Shares  # (S, R) the same of each sign that the rider might have told unasked, and did not


def alone(model: Model) -> Alone:
    """The single states, or what was worked out of them before."""
    key = ("alone", model.family.id, model.strokes)
    found = model.knowledge.memo.get(key)
    if not isinstance(found, Alone):
        c, states = candidates(model), np.arange(len(model.states))
        rows = _rows(model.network, c, states, np.zeros_like(states))
        left_out = unspoken(rows[:, -len(c.noticed) :], c.noticed)
        found = Alone(
            rows,
            c.by_candidate(p_log_p(rows), p_log_p(1 - rows[:, c.of_checks :])),
            p_log_p(left_out) + p_log_p(1 - left_out),
        )
        model.knowledge.memo[key] = found
    return found


def unspoken(shown: Shares, noticed: Shares) -> Shares:
    """P(yes) to signs that the rider was in a position to see and did not tell: who sees much tells it unasked."""
    return shown * (1 - noticed) / (1 - shown * noticed)


def _rows(network: Network, c: Candidates, first: Ints, second: Ints, steps: Ints | int = 0) -> Shares:
    """P(outcome | hypothesis) for every outcome of the checks, then P(yes | hypothesis) for the rest, (K, rows).

    A hypothesis is its first and second state; `steps` (P,) is how far settings have moved the mixture since.
    """
    spoken = c.speaks.take(first, axis=0)
    spoken += c.speaks.take(second, axis=0)
    by_cause = c.values.take(first, axis=0)
    by_cause += c.values.take(second, axis=0)
    by_cause /= np.maximum(spoken, 1)
    by_cause += (spoken == 0) * c.otherwise
    shifts = network.x.T
    x = shifts.take(first, axis=0) + shifts.take(second, axis=0) + (network.lattice.center + steps)
    x = network.lattice.clip(x)
    of_tables, of_signs = c.read_from
    by_mixture = c.tables.take(x.take(c.table_place, axis=1) + of_tables)
    told = c.context_yes.take(first, axis=0) * c.context_yes.take(second, axis=0)
    told /= c.context_yes[0]
    np.minimum(told, c.most_told, out=told)
    silent = c.links.take(first, axis=0)
    silent *= c.links.take(second, axis=0)
    silent *= c.always_silent
    silent[:, c.mixed] *= c.silent.take(x.take(network.signs.place[c.mixed], axis=1) + of_signs)
    silent *= 2 * c.error - 1
    silent += 1 - c.error
    return np.concatenate([by_cause, by_mixture, told, silent], axis=1)


@dataclass(frozen=True, eq=False)
class Outlook:
    """What every candidate would show, for the leading hypotheses merged by the causes they name (M of them)."""

    model: Model
    candidates: Candidates
    members: Ints  # (K,) hypotheses looked at, group by group
    groups: Grouped
    first: Ints  # (M,) states of a member of each merged hypothesis
    second: Ints  # (M,)
    rows: Shares  # (M, rows) as `Alone` has them
    gain: Shares  # (T,) bits about the cause
    several: SeveralSettings | None = None  # the last merged hypothesis, where it is that several settings are off

    def given(self, t: int) -> Shares:
        """P(outcome | merged hypothesis) of one candidate, shape (outcomes, M)."""
        start, of_checks = self.candidates.start, self.candidates.of_checks
        if t >= len(start):
            p = self.rows[:, of_checks + t - len(start)]
            return np.stack([p, 1 - p])
        end = int(start[t + 1]) if t + 1 < len(start) else of_checks
        return np.ascontiguousarray(self.rows[:, int(start[t]) : end].T)

    def outcomes(self, t: int) -> int:
        """How many outcomes a candidate has."""
        start = self.candidates.start
        if t >= len(start):
            return 2
        return int(start[t + 1] if t + 1 < len(start) else self.candidates.of_checks) - int(start[t])

    def most_raised(self, given: Shares, marginal: float) -> str | None:
        """The cause whose probability an outcome raises most; None where that is nothing wrong."""
        at, cause = self._named
        rise = np.bincount(cause, (self.groups.weights * (given / max(marginal, 1e-12) - 1)).take(at))
        return (None, *self.model.cause_ids)[int(np.argmax(rise))]

    def decides(self, t: int, *, group: bool, certain: float, apart: float) -> float:
        """Chance that an outcome decides: another cause (or group of causes) leads then, or the one that leads is sure.

        It is sure from `certain` on, and where that outcome speaks for it `apart` times.
        """
        at, cause = self._named
        of = self._groups_named if group else cause
        weights = np.vstack([np.ones(len(self.groups.weights)), self.given(t)]) * self.groups.weights
        comes = weights.sum(axis=1)
        each = np.stack([np.bincount(of, w.take(at), int(of.max()) + 1) for w in weights])
        chances = each / np.maximum(comes, 1e-12)[:, None]
        chances[:, 0] = 0.0  # that nothing is wrong
        first = int(chances[0].argmax())
        now, then = chances[0, first], chances[1:, first]
        sure = (then >= certain) & (then * (1 - now) >= apart * now * (1 - then))
        return float(comes[1:] @ (sure | (chances[1:].argmax(axis=1) != first)))

    def leading(self, group: bool) -> tuple[str, ...]:
        """The likeliest cause, or the causes of the likeliest group."""
        causes, groups = self.chances
        if not group:
            return (max(causes, key=lambda c: causes[c]),)
        best, of = max(groups, key=lambda g: groups[g]), self.model.knowledge.causes
        return tuple(c for c in causes if of[c].group == best)

    @cached_property
    def chances(self) -> tuple[dict[str, float], dict[str, float]]:
        """How likely each cause is at work, and each group of causes, as far as hypotheses name them."""
        at, cause = self._named
        weights = self.groups.weights
        each = np.bincount(cause, weights.take(at), self.model.network.causes + 1)[1:]
        of_group = np.bincount(self._groups_named, weights.take(at), len(self.model.group_ids) + 1)[1:]
        return (
            dict(zip(self.model.cause_ids, each.tolist(), strict=True)),
            dict(zip(self.model.group_ids, of_group.tolist(), strict=True)),
        )

    @cached_property
    def _groups_named(self) -> Ints:
        """The group of every cause that a hypothesis names, from 1 on; two causes of one group make it once."""
        at, cause = self._named
        group = self._group_of[cause]
        first = len(self.groups.weights)
        group[first:][group[first:] == group[at[first:]]] = 0
        return group

    @cached_property
    def _group_of(self) -> Ints:
        """The group of every cause by its number, both from 1 on."""
        groups = {g: n + 1 for n, g in enumerate(self.model.group_ids)}
        return np.array([0, *(groups[self.model.knowledge.causes[c].group] for c in self.model.cause_ids)])

    @cached_property
    def _named(self) -> tuple[Ints, Ints]:
        """Merged hypotheses and what they name, one by one: 0 for nothing, 1 for the first cause; pairs twice."""
        cause, pairs = self.model.network.cause, np.flatnonzero(self.second)
        at = np.append(np.arange(len(self.first)), pairs)
        return at, np.append(cause[self.first], cause[self.second[pairs]]) + 1


def outlook(belief: Belief) -> Outlook | None:
    """Look ahead over every candidate; None when nothing is believed but faults nobody wrote down.

    Whoever asks on is not cured: what was repaired is out, and what settings have moved is read as it is now.
    """
    model, network = belief.model, belief.network
    c = candidates(model)
    told = belief
    if belief.repaired.alone.any():
        belief = replace(belief, posterior=not_cured(belief))
    some = leading(network, belief.posterior, _HYPOTHESES)
    first, second = network.members(some)
    weights = belief.posterior.weights[some]
    # a fault nobody wrote down has no check of its own, so nothing can be learned about it by choosing checks
    kept = ((network.cause[first] >= 0) | (first == 0)) & (weights > 1e-30)
    if not kept.any():
        return None
    single, pair = kept & (second == 0), np.flatnonzero(kept & (second > 0))
    by_state = _left_out(belief, first[kept], second[kept], weights[kept])
    by_state += np.bincount(first[single], weights[single], network.states)
    # the single states lie cause by cause; the pairs are sorted to
    states = np.flatnonzero(by_state)
    one, other = network.cause[first[pair]], network.cause[second[pair]]
    of_pair = np.minimum(one, other) * network.causes + np.maximum(one, other)
    order = np.argsort(of_pair, kind="stable")
    pair = pair[order]
    first, second = np.append(states, first[pair]), np.append(np.zeros_like(states), second[pair])
    weights = np.append(by_state[states], weights[pair])
    keys = np.append(network.cause[states], network.causes + of_pair[order])
    groups = Grouped.of((weights / weights.sum()).astype(np.float32), keys)
    members = np.append(states, some[pair])
    fresh = second > 0  # what is not known of the machine
    if network.x is not model.network.x:
        fresh |= (network.x != model.network.x).any(axis=0)[first]
    known = alone(model)
    table = known.rows.take(first, axis=0)
    if belief.again or belief.steps.any():
        fresh[:] = True
    table[fresh] = _rows(network, c, first[fresh], second[fresh], belief.steps)
    signs, silent = table.shape[1] - len(c.noticed), belief.unspoken
    table[:, signs + silent] = unspoken(table[:, signs + silent], c.noticed[silent])
    for finding, place in belief.again:
        table[:, c.yes_of(finding, place)] = shows_again(told, finding, place).take(members)
    rows = groups.averaged(table)
    as_known = (groups.count == 1) & ~fresh[groups.start]
    alone_states = first[groups.start[as_known]]
    of_known = groups.weights[as_known] @ known.certain.take(alone_states, axis=0)
    of_silent = len(c.kind) - len(c.noticed) + silent
    of_known[of_silent] = groups.weights[as_known] @ known.certain_unspoken[np.ix_(alone_states, silent)]
    others, of_others = rows[~as_known], groups.weights[~as_known]
    comes = groups.weights @ rows
    inner = of_others @ p_log_p(others) - p_log_p(comes)
    inner_no = of_others @ p_log_p(1 - others[:, c.of_checks :]) - p_log_p(1 - comes[c.of_checks :])
    gain = np.maximum(of_known + c.by_candidate(inner, inner_no), 0)
    return Outlook(model, c, members, groups, first[groups.start], second[groups.start], rows, gain)


def _left_out(belief: Belief, first: Ints, second: Ints, weights: Floats) -> Floats:
    """What the hypotheses looked at leave out of each cause, at its likeliest severity, as single states (S,).

    A pair counts as half of each cause.
    """
    network = belief.network
    single = network.blocks(belief.posterior.weights)[0]
    left = (belief.posterior.by_state(network) + single) / 2
    halved = np.where(second > 0, weights / 2, weights)
    left -= np.bincount(first, halved, len(left)) + np.bincount(second, np.where(second > 0, halved, 0.0), len(left))
    of_listed = left[network.pairing]
    cause = network.cause[network.pairing]
    order = np.argsort(of_listed, kind="stable")
    state = np.zeros(network.causes, dtype=np.intp)
    state[cause[order]] = network.listed[order]  # the last one written is the heaviest
    rest = np.bincount(cause, np.maximum(of_listed, 0.0), network.causes)
    out = np.zeros(network.states)
    out[state] = np.where(rest > 1e-9, rest, 0.0)
    return out
