"""What a post was read as, as plain text: every statement with the words it came from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from carbdiag.answers.layout import INDENT, page, section, wrap
from carbdiag.knowledge import Knowledge
from carbdiag.reading_schema import CheckRead, FindingRead, Said, TextReading, TrialRead
from carbdiag.terms import Certainty, Status

_STATUS = {Status.PRESENT: "", Status.DENIED: "no: ", Status.UNKNOWN: "not known: "}
_CERTAINTY = {Certainty.SURE: "", Certainty.PROBABLY: ", probably", Certainty.MAYBE: ", maybe"}
_CYLINDERS = {None: "", "one": ", one cylinder", "all": ", all cylinders"}
_EFFECTS = {
    "cured": "cured it",
    "came_back": "cured it for a while",
    "better": "made it better",
    "no_change": "changed nothing",
    "worse": "made it worse",
    "overshot": "cured it, and brought the opposite fault",
}
_UNSAID = " (not said; taken so, as the trouble goes on)"
_PUT_BACK = ", and was put back"
_WHY = {
    "past": "was so before, not now",
    "question": "a question",
    "supposed": "a guess, a plan, or somebody else's opinion",
    "quoted": "quoted from somebody else",
    "denied": "said not to be so",
    "contradicted": "said to be so and not so",
    "not_on_this_machine": "not possible on this machine",
    "other_machine": "about another machine",
    "no_effect": "done, but what it changed is not said",
}
_UNITS = {"displacement_cc": " cc", "elevation_m": " m", "temperature_c": " °C"}


def reading_text(reading: TextReading, knowledge: Knowledge) -> str:
    """Render a reading as plain text of at most 88 columns, with a final line end."""
    return page(_reading(reading, knowledge))


def _reading(reading: TextReading, k: Knowledge) -> Iterator[str]:
    said = list(_statements(reading, k))
    if not said:
        yield from wrap("I could not read anything in this that I can use.", "")
    else:
        yield from wrap("Read from the post. Please correct what is wrong.", "")
    yield from section("What I understood", said)
    aside = dict.fromkeys((a.said, _WHY[a.why]) for a in reading.set_aside)
    yield from section(
        "What I left aside", (line for words, why in aside for line in _item(f"{_quoted([words])}: {why}"))
    )
    yield from section("What I did not understand", _not_understood(reading.not_understood))
    yield from section("Please say", (line for asked in reading.please_say for line in _item(asked)))


def _not_understood(rest: Iterable[Said]) -> Iterator[str]:
    return (line for words in rest for line in _item(_quoted([words])))


def _statements(reading: TextReading, k: Knowledge) -> Iterator[str]:
    for fact in reading.facts:
        value = k.families[str(fact.value)].name if fact.fact == "family" else _number(fact.value)
        name = fact.fact.removesuffix("_cc").removesuffix("_m").removesuffix("_c").replace("_", " ")
        yield from _item(f"{name}: {value}{_UNITS.get(fact.fact, '')}", fact.said)
    for context in reading.contexts:
        yield from _item(f"{_STATUS[context.status]}{k.contexts[context.context].name}", context.said)
    for epoch in range(reading.epochs):
        if epoch:
            yield from wrap("After that:", INDENT)
        elif reading.epochs > 1:
            yield from wrap("At first:", INDENT)
        yield from _of_epoch(reading, epoch, k)


def _of_epoch(reading: TextReading, epoch: int, k: Knowledge) -> Iterator[str]:
    """What was seen in one stretch of time, and what was then changed."""
    for finding in reading.findings:
        if finding.epoch == epoch:
            yield from _item(_finding(finding, k), finding.said)
    for check in reading.checks:
        if check.epoch == epoch:
            yield from _item(_check(check, k), check.said)
    for gauge in reading.gauges:
        if gauge.epoch == epoch:
            yield from _item(f"lambda {gauge.value:.2f} ({k.places[gauge.at].name})", gauge.said)
    for trial in reading.trials:
        if trial.epoch == epoch:
            yield from _item(_trial(trial, k), trial.said)


def _finding(f: FindingRead, k: Knowledge) -> str:
    at = f" ({', '.join(k.places[p].name for p in f.at)})" if f.at else ""
    return f"{_STATUS[f.status]}{k.findings[f.finding].name}{at}{_CYLINDERS[f.cylinders]}{_CERTAINTY[f.certainty]}"


def _check(c: CheckRead, k: Knowledge) -> str:
    at = f" ({k.places[c.at].name})" if c.at else ""
    return f"{k.checks[c.check].name}{at} {c.outcome.replace('_', ' ')}{_CERTAINTY[c.certainty]}"


def _trial(t: TrialRead, k: Knowledge) -> str:
    did = k.actions[t.do].name if t.do else f"{k.circuits[t.change or ''].name} {t.direction}"
    at = f" ({k.places[t.at].name})" if t.at else ""
    return f"{did}: {_EFFECTS[t.effect]}{at}{_UNSAID if t.unsaid else ''}{_PUT_BACK if t.put_back else ''}"


def _number(value: float | str) -> str:
    return f"{value:g}" if isinstance(value, float | int) else str(value).replace("_", " ")


def _item(text: str, said: Iterable[Said] = ()) -> Iterator[str]:
    words = _quoted(said)
    return wrap(f"{text} <- {words}" if words else text, f"{INDENT}- ", INDENT * 2)


def _quoted(said: Iterable[Said]) -> str:
    return " / ".join(f'"{s.words}"' for s in said)
