"""What a rider tells: a machine, and facts that fit a cause, in words."""

from __future__ import annotations

from collections.abc import Collection, Iterable

import numpy as np

from carbdiag.answers.phrases import capital, small
from carbdiag.belief.lattice import Floats
from carbdiag.case_schema import Machine
from carbdiag.knowledge import Knowledge
from carbdiag.quiz.bench import Believed, Bench, Fact, believe, case_of, possible, sketch
from carbdiag.quiz.dice import Dice
from carbdiag.records.causes import Cause
from carbdiag.scales import probability

#: A sign is told of a cause that shows it at least this often, and this many times as often as causes in general.
_SHOWS = 0.3
_LIFT = 1.3
#: A further fact must come at least this often when the cause is at work.
_COMES = 0.35
#: A sign without rider's words is told this much more seldom, for it must be asked.
_UNSPOKEN = 0.2
_MOST_FACTS = 6


def machine_for(b: Bench, cause: Cause, dice: Dice) -> Machine:
    """A machine on which the cause is possible, with the facts that a stem then says."""
    applies = cause.applies
    two = b.model.strokes == 2
    several = bool(applies.cylinders or applies.carburetors)
    # a diaphragm carburetor draws its fuel by itself
    usual_feeds = (None,) if "metering_lever" in b.family.circuits else ("gravity", "gravity", "vacuum_tap", "pump")
    feeds = applies.fuel_feed or usual_feeds
    oilings = applies.oiling or (("premix", "premix", "injection") if two else ("sump",))
    return Machine(
        family=b.family.id,
        strokes=b.model.strokes,
        cylinders=2 if several else 1,
        carburetors=2 if several else 1,
        cooling=dice.pick(applies.cooling or ("air", "liquid")),
        fuel_feed=dice.pick(feeds),
        oiling=dice.pick(oilings),
        use=dice.pick(applies.uses) if applies.uses else None,
    )


_FEED = {"gravity": "fuel by gravity", "vacuum_tap": "vacuum fuel tap", "pump": "fuel pump"}
_OILING = {"premix": "oil mixed into the fuel", "injection": "oil pump"}


def machine_words(k: Knowledge, machine: Machine) -> str:
    """A machine as a workshop notes it, article first, with every fact that the reasoning uses."""
    family = k.families[machine.family].name
    count = "single" if machine.cylinders == 1 else "twin"
    several = "" if machine.carburetors == 1 else "s"
    extras = [small(k.uses[machine.use].name)] if machine.use else []
    extras += [f"carburetor{several}: {small(family)}"]
    extras += [_FEED[machine.fuel_feed]] if machine.fuel_feed else []
    extras += [_OILING[machine.oiling]] if machine.oiling in _OILING else []
    stroke = "two-stroke" if machine.strokes == 2 else "four-stroke"
    article = "an" if machine.cooling == "air" else "a"
    return f"{article} {machine.cooling}-cooled {stroke} {count} ({'; '.join(extras)})"


def tell(
    b: Bench, machine: Machine, cause: str, dice: Dice, count: int, places: Collection[str] = ()
) -> tuple[Fact, ...]:
    """Signs that a rider with this cause would tell of: shown often, telling, and noticed unasked.

    places: only signs there; without any, anywhere.
    """
    k = b.k
    column = b.chance[:, b.cause_number(cause)]
    rows, weights = [], []
    for n in b.signs[(column[b.signs] >= _SHOWS) & (column[b.signs] / b.usual[b.signs] >= _LIFT)].tolist():
        fact = b.facts[n]
        if (places and fact.at not in places) or not possible(b, machine, fact) or _jars(k, fact.record, cause):
            continue
        if _judges(k, fact):
            continue
        rows.append(n)
        noticed = probability(k, k.findings[fact.record].noticed_unasked)
        spoken = 1.0 if fact.record in k.riders_words else _UNSPOKEN
        weights.append(float(column[n] * np.log(column[n] / b.usual[n])) * noticed * spoken)
    out: list[Fact] = []
    while rows and len(out) < count:
        n = dice.weighted(rows, weights)
        out.append(b.facts[n])
        keep = [i for i, r in enumerate(rows) if not goes_not_with(k, b.facts[r], b.facts[n])]
        rows, weights = [rows[i] for i in keep], [weights[i] for i in keep]
    return tuple(out)


def goes_not_with(k: Knowledge, one: Fact, other: Fact) -> bool:
    """Whether two facts tell the same thing twice, or cannot both be so of one engine."""
    if _jars(k, one.record, other.record):
        return True
    if one.kind != other.kind:
        return False
    if one.kind == "check":
        return one.record == other.record
    a, b = k.findings[one.record], k.findings[other.record]
    moot = a.id in b.moot_beside or b.id in a.moot_beside
    return moot or a.id == b.id or (a.cluster is not None and a.cluster == b.cluster)


def _jars(k: Knowledge, one: str, other: str) -> bool:
    groups = k.quiz.not_together if k.quiz else ()
    return one != other and any(one in group and other in group for group in groups)


def sharpen(
    b: Bench, machine: Machine, facts: tuple[Fact, ...], cause: str, dice: Dice, ratio: float, least: float
) -> tuple[tuple[Fact, ...], Believed]:
    """Add facts until the cause leads its nearest rival by the ratio with at least this chance, or nothing more can be
    said.

    What to add is sketched first; whether it is enough, belief decides.
    """
    mine = b.cause_number(cause)
    while (rival := _rival(sketch(b, machine, facts), mine, ratio, least)) is not None:
        more = _telling_apart(b, machine, facts, cause, rival, dice)
        if more is None:
            break
        facts = (*facts, more)
    believed = believe(b, case_of(machine, facts))
    while (rival := _rival(believed.by_cause, mine, ratio, least)) is not None:
        more = _telling_apart(b, machine, facts, cause, rival, dice)
        if more is None:
            break
        facts = (*facts, more)
        believed = believe(b, case_of(machine, facts))
    return facts, believed


def _rival(by_cause: Floats, mine: int, ratio: float, least: float) -> int | None:
    """The strongest other cause; None where mine leads it by the ratio, with at least that chance."""
    others = by_cause.copy()
    others[mine] = 0.0
    rival = int(others.argmax())
    return None if by_cause[mine] >= max(ratio * others[rival], least) else rival


def _telling_apart(
    b: Bench, machine: Machine, facts: tuple[Fact, ...], cause: str, rival: int, dice: Dice
) -> Fact | None:
    if len(facts) >= _MOST_FACTS:
        return None
    assert b.k.quiz is not None
    too_telling = b.k.quiz.too_telling
    with_mine, with_rival = b.chance[:, b.cause_number(cause)], b.chance[:, rival]
    gain = np.where(with_mine >= _COMES, np.log(with_mine / with_rival), 0.0)
    found: list[tuple[Fact, float]] = []
    for n in np.argsort(-gain, kind="stable")[:40]:
        fact = b.facts[int(n)]
        if gain[n] < 0.4 or len(found) == 5:
            break
        if (fact.value == "denied" and not _deniable(b.k, fact)) or _jars(b.k, fact.record, cause):
            continue
        if _judges(b.k, fact) or (fact.value != "present" and not makes_sense(b.k, fact, facts)):
            continue
        new = not any(goes_not_with(b.k, fact, f) for f in facts)
        if new and with_mine[n] <= too_telling * b.usual[n] and possible(b, machine, fact):
            found.append((fact, float(gain[n])))
    return dice.weighted([f for f, _ in found], [g for _, g in found]) if found else None


def _judges(k: Knowledge, fact: Fact) -> bool:
    """Whether somebody judges the mixture there: in a stem that would be the answer, and no sign to read."""
    return fact.kind == "finding" and k.findings[fact.record].opinion


def _deniable(k: Knowledge, fact: Fact) -> bool:
    """Whether its absence can be said plainly: not "nowhere", where the sign has several places."""
    return fact.at is not None and (k.places[fact.at].in_chart or len(k.findings[fact.record].at) == 1)


def makes_sense(k: Knowledge, fact: Fact, facts: Iterable[Fact]) -> bool:
    """Whether what a sign or check presumes was told: nobody clamps a hose to see if a popping stops that is not."""
    record = k.findings[fact.record] if fact.kind == "finding" else k.checks[fact.record]
    told = {tag for f in facts if f.kind == "finding" and f.value == "present" for tag in k.findings[f.record].tells}
    return record.presumes is None or record.presumes in told


# ---------------------------------------------------------------------------------------------------------
# Words


def at_words(k: Knowledge, place: str | None) -> str:
    """Where, as a rider says it; nothing where it is tied to no opening."""
    if place is None or k.quiz is None:
        return ""
    known = k.quiz.place_words.get(place)
    return known or (f"({k.places[place].name})" if k.places[place].in_chart else "")


def fact_words(k: Knowledge, fact: Fact) -> str:
    """One fact as a rider or a work sheet says it, without a full stop."""
    where = at_words(k, fact.at)
    if fact.kind == "check":
        return result_words(k, fact)
    words = k.riders_words.get(fact.record)
    assert words is not None, "what has no words of its own is asked: see asked_words"
    text = words.told if fact.value == "present" else words.denied
    return tidy(text.format(place=where))


def check_words(k: Knowledge, check: str, at: str | None) -> str:
    """A check and where it is done; nothing of where, if it is done in one place alone."""
    record = k.checks[check]
    return f"{record.name} ({k.places[at].name})" if at and len(record.at) > 1 else record.name


def result_words(k: Knowledge, fact: Fact) -> str:
    """What a check gave, as a work sheet says it."""
    name = check_words(k, fact.record, fact.at)
    result = fact.value.replace("_", " ")
    return f"{name} {capital(result)}" if name.endswith("?") else f"{name}: {result}"


def complaint_words(k: Knowledge, facts: Iterable[Fact]) -> str:
    """What the rider says: signs first, then what is not so."""
    spoken = [f for f in facts if f.kind == "finding" and f.record in k.riders_words]
    told = [fact_words(k, f) for f in spoken if f.value == "present"]
    denied = [fact_words(k, f) for f in spoken if f.value == "denied"]
    parts = [_joined(told)] if told else []
    if denied:
        parts.append(("But " if told else "") + _joined(denied))
    return ". ".join(capital(p) for p in parts) or "It does not run right"


def asked_words(k: Knowledge, facts: Iterable[Fact]) -> str:
    """Findings that nobody wrote rider's words for, as questions and answers; nothing if there are none."""
    asked = []
    for f in facts:
        if f.kind == "finding" and f.record not in k.riders_words:
            where = at_words(k, f.at)
            where = f"{capital(where)}: " if where else ""
            asked.append(f"{where}“{k.findings[f.record].ask}” {'Yes' if f.value == 'present' else 'No'}")
    return f" Asked further: {'. '.join(asked)}." if asked else ""


def checked_words(k: Knowledge, facts: Iterable[Fact]) -> str:
    """What was checked and what it gave, as a sentence; nothing if nothing was."""
    found = [fact_words(k, f) for f in facts if f.kind == "check"]
    return f" Checked already: {'; '.join(found)}." if found else ""


def _joined(parts: list[str]) -> str:
    if len(parts) == 1:
        return parts[0]
    between = "; " if any("," in p for p in parts) else ", "  # clauses of their own run into each other after commas
    return f"{between.join(parts[:-1])}{between}and {parts[-1]}"


def closed(text: str) -> str:
    """With a full stop, unless it ends a sentence already."""
    return text if text.endswith((".", "!", "?")) else f"{text}."


def tidy(text: str) -> str:
    """Without the gaps that an empty slot leaves."""
    return " ".join(text.split()).replace(" ,", ",").replace(" ;", ";").replace(" .", ".")


def cause_tags(k: Knowledge, cause: str) -> frozenset[str]:
    """Tags of a cause: its group, and its circuit."""
    record = k.causes[cause]
    tags = {f"group:{record.group}"}
    if record.mixture is not None and record.mixture.circuit is not None:
        tags.add(f"circuit:{record.mixture.circuit}")
    return frozenset(tags)


def fact_tags(facts: Iterable[Fact]) -> frozenset[str]:
    """Tags of the places that facts speak of."""
    return frozenset(f"band:{f.at}" for f in facts if f.at)
