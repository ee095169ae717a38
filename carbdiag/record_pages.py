"""The pages of the manual that print the records: one per cause, check, circuit and family, and an index.

A page stands alone on paper: what to look for, what to do, what to beware of, and where it comes from.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby

from carbdiag.answers.phrases import capital, small
from carbdiag.family_metering import family_tables, in_control
from carbdiag.knowledge import Knowledge
from carbdiag.model import compile_model
from carbdiag.records.applies import Applies
from carbdiag.records.cases import WorkedCase
from carbdiag.records.causes import Cause, Shift
from carbdiag.records.checks import Check
from carbdiag.records.circuits import Circuit
from carbdiag.records.families import Family
from carbdiag.records.sources import Citation
from carbdiag.terms import ContextWord, ProbabilityWord, ShiftWord

#: An action is spelled out where it cures at least this often; the others are named.
_SPELLED_OUT = (ProbabilityWord.ALMOST_ALWAYS, ProbabilityWord.USUALLY, ProbabilityWord.OFTEN)
_LEAST_SHARE = 0.005


def record_pages(k: Knowledge, worked: Iterable[WorkedCase]) -> dict[str, str]:
    """Path below docs/reference -> text, for every page."""
    cases = tuple(worked)
    return {
        **{f"causes/{c.id}.md": _page(_cause(k, c, cases)) for c in k.causes.values()},
        **{f"checks/{c.id}.md": _page(_check(k, c)) for c in k.checks.values()},
        **{f"circuits/{c.id}.md": _page(_circuit(k, c)) for c in k.circuits.values()},
        **{f"families/{f.id}.md": _page(_family(k, f)) for f in k.families.values()},
        "README.md": _page(_index(k)),
    }


def _page(lines: Iterable[str]) -> str:
    return "\n".join(lines).rstrip("\n") + "\n"


# ---------------------------------------------------------------------------------------------------------
# Causes


def _cause(k: Knowledge, cause: Cause, worked: tuple[WorkedCase, ...]) -> Iterator[str]:
    yield f"# {cause.name}"
    yield ""
    yield cause.summary
    yield ""
    yield f"- Group: {k.groups[cause.group].name}. Id: `{cause.id}`."
    yield f"- How common, before anything is known: {_words(cause.prior)}.{only_on(k, cause.applies)}"
    yield from (f"- {line}" for line in _mixture(k, cause))
    yield ""
    yield from _section("Signs", _signs(k, cause))
    yield from _section("Checks that speak (each page has its cautions)", _answers(k, cause))
    yield from _section("What happened before", _circumstances(k, cause))
    rivals = (
        f"- {_to(k.causes[r.cause].name, f'{r.cause}.md')}: told apart by {small(_told_by(k, r.told_apart_by))}."
        for r in cause.mistaken_for
    )
    yield from _section("Easily mistaken for", rivals)
    spelled_out = (k.actions[f.do] for f in cause.fixed_by if f.works in _SPELLED_OUT)
    yield from _cautions(k, (*cause.cautions, *(c for action in spelled_out for c in action.cautions)))
    yield from _section("Putting it right", _cure(k, cause))
    told = (f"- {_case(k, c)}" for c in worked if c.of == cause.id)
    yield from _section("Worked cases (invented)", told)
    yield from _sources(k, cause.sources)


def _mixture(k: Knowledge, cause: Cause) -> Iterator[str]:
    effect = cause.mixture
    if effect is None:
        yield "Moves the mixture: not at all."
        return
    if effect.circuit is not None:
        amounts = ", ".join(f"{amount} {_words(often)}" for amount, often in effect.amounts.items())
        name = k.circuits[effect.circuit].name
        yield f"Moves the mixture through: {_to(small(name), f'../circuits/{effect.circuit}.md')} ({amounts})."
        return
    assert effect.shift is not None
    for stroke, by_place in (("", effect.shift.any), *_by_stroke(effect.shift)):
        if by_place:
            at = ", ".join(f"{k.places[p].name} {_words(word)}" for p, word in by_place.items())
            yield f"Moves the mixture{stroke}, past the metering: {at}."


def _by_stroke(shift: Shift) -> tuple[tuple[str, Mapping[str, ShiftWord] | None], ...]:
    return (" of a two-stroke", shift.two_stroke), (" of a four-stroke", shift.four_stroke)


def _signs(k: Knowledge, cause: Cause) -> Iterator[str]:
    """Signs by how often they show; what the mixture explains besides is said once."""
    by_word: dict[ProbabilityWord, dict[str, list[str]]] = {word: {} for word in ProbabilityWord}
    for line in cause.shows:
        places = line.at or k.findings[line.finding].at
        limits = [f"{s}-stroke" for s in line.strokes]
        at = [k.places[p].name for p in places if k.places[p].in_chart]
        by_word[line.often].setdefault(line.finding, []).extend([*at, *limits])
    for word, findings in by_word.items():
        if findings:
            named = (f"{small(k.findings[f].name)}{_bracket(at)}" for f, at in findings.items())
            yield f"- *{capital(_words(word))}*: {'; '.join(named)}."
    if cause.mixture is not None:
        yield "- And whatever a mixture moved that way shows at those openings (see the [band tables](../../bands/))."


def _answers(k: Knowledge, cause: Cause) -> Iterator[str]:
    for line in cause.checks:
        check = k.checks[line.check]
        gives = f"*{_words(line.often)}* gives *{_words(line.outcome)}*"
        yield f"- {_to(check.name, f'../checks/{check.id}.md')} {gives}. {_stopped(check.outcomes[line.outcome].means)}"


def _circumstances(k: Knowledge, cause: Cause) -> Iterator[str]:
    by_word: dict[ContextWord, list[str]] = {word: [] for word in ContextWord}
    for context in k.contexts.values():
        word = cause.contexts.get(context.id) or context.groups.get(cause.group)
        if word is not None:
            by_word[word].append(small(context.name))
    for word, names in by_word.items():
        if names:
            yield f"- *{capital(_words(word))}*: {'; '.join(names)}."


def _told_by(k: Knowledge, identity: str) -> str:
    if identity in k.checks:
        return _to(k.checks[identity].name, f"../checks/{identity}.md")
    return k.findings[identity].name


def _cure(k: Knowledge, cause: Cause) -> Iterator[str]:
    if cause.workshop is not None:
        yield f"Needs a workshop: {cause.workshop}"
        yield ""
    others = []
    for fix in cause.fixed_by:
        action = k.actions[fix.do]
        if fix.works not in _SPELLED_OUT:
            others.append(f"{small(action.name)} ({_words(fix.works)})")
            continue
        tools = f"; tools: {', '.join(action.tools)}" if action.tools else ""
        yield f"**{action.name}** cures it *{_words(fix.works)}*. About {action.minutes:g} minutes{tools}."
        yield ""
        yield from (f"{n}. {step}" for n, step in enumerate(action.steps, 1))
        yield ""
        yield f"To put it back: {action.put_back}"
        yield ""
    if others:
        yield f"Sometimes tried as well: {'; '.join(others)}."
        yield ""
    yield f"How you know it worked: {cause.verify}"


def _case(k: Knowledge, case: WorkedCase) -> str:
    if case.twin_of is None:
        return f"{_stopped(case.title)} (`{case.id}`)"
    led = k.causes[case.leads]
    turned = small(_stopped(case.turned_by or ""))
    return f"{_stopped(case.title)} Here it is {_to(small(led.name), f'{led.id}.md')}: {turned} (`{case.id}`)"


# ---------------------------------------------------------------------------------------------------------
# Checks


def _check(k: Knowledge, check: Check) -> Iterator[str]:
    yield f"# {check.name}"
    yield ""
    yield check.do
    yield ""
    tools = f" Tools: {', '.join(_words(t) for t in check.tools)}." if check.tools else ""
    machines = only_on(k, check.applies) + only_on(k, check.asked_of, "Proposed only on")
    yield f"- About {check.minutes:g} minutes.{tools}{machines} Id: `{check.id}`."
    if check.at:
        weak = f"; says little at {_places(k, check.weak_at)}" if check.weak_at else ""
        yield f"- At: {_places(k, check.at)}{weak}."
    for hold in (k.holds[h] for h in check.held_back_while):
        yield f"- Not while this is possible: {small(hold.name)}. {hold.why}"
    yield ""
    yield "## What it shows"
    yield ""
    for outcome, meaning in check.outcomes.items():
        yield f"- **{capital(_words(outcome))}**: {_stopped(meaning.means)}{_speaks(k, check, outcome)}"
        if meaning.mixture:
            levels = ", ".join(f"{_words(level)} {_words(often)}" for level, often in meaning.mixture.items())
            yield f"  By the mixture there: {levels}."
    yield ""
    yield from _cautions(k, check.cautions)
    yield from _sources(k, check.sources)


def _speaks(k: Knowledge, check: Check, outcome: str) -> str:
    """The causes that give this outcome more often than not."""
    causes = [
        _to(small(c.name), f"../causes/{c.id}.md")
        for c in k.causes.values()
        for line in c.checks
        if (line.check, line.outcome) == (check.id, outcome)
        and line.often in _SPELLED_OUT
        and line.often != check.outcomes[outcome].otherwise
    ]
    return f" Most of all with: {', '.join(causes)}." if causes else ""


# ---------------------------------------------------------------------------------------------------------
# Circuits and families


def _circuit(k: Knowledge, circuit: Circuit) -> Iterator[str]:
    yield f"# {circuit.name}"
    yield ""
    yield circuit.what
    yield ""
    yield f"- Strongest at: {_places(k, circuit.strongest_at)}. Id: `{circuit.id}`."
    yield f"- One step: {circuit.step}."
    yield f"- Richer: {circuit.richer.do}"
    yield f"- Leaner: {circuit.leaner.do}"
    yield f"- How you know it worked: {circuit.verify}"
    yield f"- To put it back: {circuit.put_back}"
    yield ""
    families = [f for f in k.families.values() if circuit.id in f.circuits]
    yield from _section(
        "Where it works",
        (
            line
            for family in families
            for line in (
                f"**{family.name}** ([its page](../families/{family.id}.md))",
                "",
                *_tables(k, family, circuit.id),
                "",
            )
        ),
    )
    causes = (
        f"- {_to(c.name, f'../causes/{c.id}.md')}"
        for c in k.causes.values()
        if c.mixture is not None and c.mixture.circuit == circuit.id
    )
    yield from _section("What can be wrong with it", causes)
    yield from _cautions(k, circuit.cautions)
    yield from _sources(k, circuit.sources)


def _tables(k: Knowledge, family: Family, circuit: str) -> Iterator[str]:
    tables = family_tables(k, family)
    shares, steps = tables.shares.get(circuit, {}), tables.steps.get(circuit, {})
    bands = [p for p in k.places.values() if shares.get(p.id, 0.0) >= _LEAST_SHARE or abs(steps.get(p.id, 0.0)) >= 0.05]
    if not bands:
        yield "Acts in other ways than by a share of the fuel."
        return
    yield f"| | {' | '.join(p.name for p in bands)} |"
    yield f"|---|{'---|' * len(bands)}"
    if any(shares.get(p.id) for p in bands):
        yield f"| share of the fuel | {' | '.join(_percent(shares.get(p.id)) for p in bands)} |"
        reach = tables.reach.get(circuit, {})
        if any(reach.get(p.id, 1.0) < 1 for p in bands):
            commanded = (_percent(shares.get(p.id, 0.0) * reach.get(p.id, 1.0)) for p in bands)
            yield f"| of it, what its setting commands | {' | '.join(commanded)} |"
    if any(steps.get(p.id) for p in bands):
        worth = (f"{abs(steps[p.id]):.1f} %" if steps.get(p.id) else "–" for p in bands)
        yield f"| one step is worth | {' | '.join(worth)} |"


def _percent(share: float | None) -> str:
    return f"{share:.0%}" if share else "–"


def _family(k: Knowledge, family: Family) -> Iterator[str]:
    yield f"# {family.name}"
    yield ""
    yield family.what
    yield ""
    strokes = " and ".join(f"{s}-strokes" for s in family.strokes)
    yield f"- On {strokes}. Id: `{family.id}`. What to do for each sign: [band table](../../bands/{family.id}.md)."
    screw = family.mixture_screw
    kinds = {2: screw.two_stroke, 4: screw.four_stroke}
    said = "; ".join(f"{s}-stroke: {_words(kinds[s])}" for s in family.strokes)
    low, high = screw.usable_turns
    yield f"- Mixture screw: {said}. Its useful range is {low:g} to {high:g} turns out."
    yield "  A fuel screw is richer turned out, an air screw is richer turned in."
    yield ""
    yield "## Circuits"
    yield ""
    yield from (f"- {_to(k.circuits[c].name, f'../circuits/{c}.md')}: {k.circuits[c].what}" for c in family.circuits)
    yield ""
    yield "## In control at each opening"
    yield ""
    yield "Only what a circuit's setting commands counts: the straight part of a needle feeds small openings too, but"
    yield "moving its clip does next to nothing there. What acts on top of the others, such as a slide cutaway, is"
    yield "counted beside them. So a row need not add up to 100 %."
    yield ""
    yield "| Opening | Circuits by the part of the fuel that their setting commands |"
    yield "|---|---|"
    tables = family_tables(k, family)
    for place in k.places.values():
        ranked = in_control(tables, place.id)
        if place.opening and ranked:
            named = (f"{small(k.circuits[c].name)} {share:.0%}" for c, share in ranked if share >= _LEAST_SHARE)
            yield f"| {capital(place.name)} ({place.opening[0]:.0%} to {place.opening[2]:.0%}) | {', '.join(named)} |"
    yield ""
    everywhere = set.intersection(*(_possible(k, other) for other in k.families.values()))
    here = _possible(k, family) - everywhere
    own = (f"- {_to(c.name, f'../causes/{c.id}.md')}" for c in k.causes.values() if c.id in here)
    yield from _section("Causes that not every family has", own)
    said_by = [
        Citation(source=b.source, supports=f"{b.circuit} {b.from_:.0%} to {b.to:.0%}")
        for b in family.published_bands
    ]
    yield from _sources(k, (*family.sources, *(family.geometry.sources if family.geometry else ()), *said_by))


def _possible(k: Knowledge, family: Family) -> set[str]:
    """Causes that can occur on a family."""
    return {c for strokes in family.strokes for c in compile_model(k, family.id, strokes).cause_ids}


# ---------------------------------------------------------------------------------------------------------
# The index


def _index(k: Knowledge) -> Iterator[str]:
    yield "# Reference"
    yield ""
    yield (
        f"Every record of the knowledge (edition {k.edition}) as a page to read or print: what it looks like, how to "
        "check it, how to put it right, what to beware of, and where it comes from. Ids are what a "
        "[case](../glossary.md) uses. How complete and how well sourced it is: [coverage](../coverage.md)."
    )
    yield ""
    yield (
        "Before any of it: the machine's own manual comes first, then local law, emissions included. Gasoline vapor "
        "ignites, exhaust gas kills indoors, and the throttle must snap shut by itself before the engine is started."
    )
    yield ""
    yield "- [Carburetor families](#carburetor-families)"
    yield "- [Circuits](#circuits)"
    yield "- [Causes](#causes), by group"
    yield "- [Checks and questions](#checks-and-questions)"
    yield ""
    yield "## Carburetor families"
    yield ""
    yield from (f"- {_to(f.name, f'families/{f.id}.md')}: {f.what}" for f in k.families.values())
    yield ""
    yield "## Circuits"
    yield ""
    yield from (f"- {_to(c.name, f'circuits/{c.id}.md')}" for c in k.circuits.values())
    yield ""
    yield "## Causes"
    yield ""
    for group in k.groups.values():
        causes = [c for c in k.causes.values() if c.group == group.id]
        if causes:
            named = ", ".join(_to(small(c.name), f"causes/{c.id}.md") for c in causes)
            yield f"- **{group.name}**: {named}"
    yield ""
    yield "## Checks and questions"
    yield ""
    by_kind = sorted(k.checks.values(), key=lambda c: c.kind)
    for kind, checks in groupby(by_kind, key=lambda c: c.kind):
        yield f"- **{capital(kind)}s**: {', '.join(_to(small(c.name), f'checks/{c.id}.md') for c in checks)}"


# ---------------------------------------------------------------------------------------------------------
# Parts of a page


def either(names: Iterable[str]) -> str:
    """Names of which one holds, as a sentence lists them; a comma inside a name becomes brackets.

    >>> either(["butterfly, fixed venturi", "flat slide", "round slide"])
    'butterfly (fixed venturi), flat slide or round slide'
    """
    *before, last = (re.sub(r", (.+)", r" (\1)", name) for name in names)
    return f"{', '.join(before)} or {last}" if before else last


def only_on(k: Knowledge, applies: Applies, lead: str = "Only on") -> str:
    """On which machines, as a sentence with a space before it, when not on all."""
    words = [
        *(["several cylinders"] if applies.cylinders else []),
        *(["several carburetors"] if applies.carburetors else []),
        *([" or ".join(f"{s}-stroke" for s in applies.strokes)] if applies.strokes else []),
        *([either(small(k.families[f].name) for f in applies.families)] if applies.families else []),
        *([" or ".join(applies.cooling) + " cooling"] if applies.cooling else []),
        *([either(_words(f) for f in applies.fuel_feed) + " feed"] if applies.fuel_feed else []),
        *([" or ".join(applies.oiling) + " oiling"] if applies.oiling else []),
        *([either(small(k.uses[u].name) for u in applies.uses)] if applies.uses else []),
        *(["not " + either(small(k.uses[u].name) for u in applies.not_uses)] if applies.not_uses else []),
        *(
            f"not {small(k.uses[use].name)} with {' or '.join(small(k.circuits[c].name) for c in circuits)}"
            for use, circuits in applies.not_with.items()
        ),
    ]
    return f" {lead}: {'; '.join(words)}." if words else ""


def _section(title: str, lines: Iterable[str]) -> Iterator[str]:
    body = list(lines)
    if body:
        yield f"## {title}"
        yield ""
        yield from body
        if body[-1]:
            yield ""


def _cautions(k: Knowledge, ids: Iterable[str]) -> Iterator[str]:
    yield from _section("Beware", (f"- **{k.cautions[c].name}.** {k.cautions[c].text}" for c in dict.fromkeys(ids)))


def _sources(k: Knowledge, citations: Iterable[Citation]) -> Iterator[str]:
    by_source: dict[str, list[str]] = {}
    for citation in citations:
        by_source.setdefault(citation.source, []).append(citation.supports)
    lines = []
    for identity, supports in by_source.items():
        source = k.sources[identity]
        title = f"[{source.title}](<{source.url}>)" if source.url else source.title
        lines.append(f"- {title}: {'; '.join(dict.fromkeys(_words(s).replace('.', ': ') for s in supports))}.")
    yield from _section("Sources", lines)


def _places(k: Knowledge, ids: Iterable[str]) -> str:
    return ", ".join(k.places[p].name for p in ids)


def _to(name: str, address: str) -> str:
    return f"[{name.replace('[', '(').replace(']', ')')}]({address})"


def _bracket(at: Iterable[str]) -> str:
    names = ", ".join(dict.fromkeys(at))
    return f" ({names})" if names else ""


def _words(word: str) -> str:
    return word.replace("_", " ")


def _stopped(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else text + "."
