"""What a post was read as, as plain text: every statement with the words it came from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from carbdiag.answers.language import ENGLISH, answer_language
from carbdiag.answers.layout import INDENT, page, section, wrap
from carbdiag.knowledge import Knowledge
from carbdiag.reading_schema import CheckRead, FactRead, FindingRead, Said, TextReading, TrialRead
from carbdiag.terms import Certainty, Status

_UNITS = {"displacement_cc": " cc", "elevation_m": " m", "temperature_c": " °C"}


def reading_text(reading: TextReading, knowledge: Knowledge, language: str = ENGLISH) -> str:
    """Render a reading as plain text of at most 88 columns, with a final line end.

    Args:
        reading: what a post was read as.
        knowledge: whose records it names.
        language: of what is said about the post, which keeps its own words.
    """
    return page(_Page(reading, knowledge, language).lines())


def statements_text(reading: TextReading, knowledge: Knowledge, language: str = ENGLISH) -> tuple[str, ...]:
    """The lines of what was understood of a reading, each with the words it came from; none where nothing was."""
    return tuple(_Page(reading, knowledge, language).statements())


class _Page:
    """A reading in one language."""

    def __init__(self, reading: TextReading, k: Knowledge, language: str) -> None:
        self.reading, self.k = reading, k
        self.language = answer_language(language)
        self.say, self.sentence = self.language.say, self.language.sentence

    def lines(self) -> Iterator[str]:
        reading = self.reading
        said = list(self.statements())
        yield from wrap(self.say("read_first" if said else "read_nothing"), "")
        yield from section(self.say("read_understood"), said)
        aside = dict.fromkeys((a.said, self.say(f"aside_{a.why}")) for a in reading.set_aside)
        yield from section(
            self.say("read_aside"), (line for words, why in aside for line in _item(f"{_quoted([words])}: {why}"))
        )
        rest = (line for words in reading.not_understood for line in _item(_quoted([words])))
        yield from section(self.say("read_not_understood"), rest)
        yield from section(
            self.say("read_please"), (line for asked in reading.please_say for line in _item(self.sentence(asked)))
        )

    def statements(self) -> Iterator[str]:
        """Every statement with the words it came from."""
        reading = self.reading
        for fact in reading.facts:
            yield from _item(f"{self.say(f'fact_{fact.fact}')}: {self._value(fact)}", fact.said)
        for context in reading.contexts:
            name = self._name("contexts", context.context, self.k.contexts[context.context].name)
            yield from _item(self._with_status(name, context.status), context.said)
        for epoch in range(reading.epochs):
            if epoch:
                yield from wrap(self.say("after_that"), INDENT)
            elif reading.epochs > 1:
                yield from wrap(self.say("at_first"), INDENT)
            yield from self._of_epoch(epoch)

    def _of_epoch(self, epoch: int) -> Iterator[str]:
        """What was seen in one stretch of time, and what was then changed."""
        reading = self.reading
        for finding in reading.findings:
            if finding.epoch == epoch:
                yield from _item(self._finding(finding), finding.said)
        for check in reading.checks:
            if check.epoch == epoch:
                yield from _item(self._check(check), check.said)
        for gauge in reading.gauges:
            if gauge.epoch == epoch:
                yield from _item(f"lambda {gauge.value:.2f}{self._at([gauge.at])}", gauge.said)
        for trial in reading.trials:
            if trial.epoch == epoch:
                yield from _item(self._trial(trial), trial.said)

    def _finding(self, f: FindingRead) -> str:
        name = self._with_status(self._name("findings", f.finding, self.k.findings[f.finding].name), f.status)
        cylinders = f", {self.say(f'read_{f.cylinders}_cylinders')}" if f.cylinders else ""
        return f"{name}{self._at(f.at)}{cylinders}{self._unsure(f.certainty)}"

    def _check(self, c: CheckRead) -> str:
        name = self._name("checks", c.check, self.k.checks[c.check].name)
        words = c.outcome.replace("_", " ")
        outcome = self.language.text("checks", c.check, f"outcomes.{c.outcome}.name", words)
        return f"{name}{self._at([c.at] if c.at else [])} {outcome}{self._unsure(c.certainty)}"

    def _trial(self, t: TrialRead) -> str:
        if t.do:
            did = self._name("actions", t.do, self.k.actions[t.do].name)
        else:
            circuit = self._name("circuits", t.change or "", self.k.circuits[t.change or ""].name)
            did = f"{circuit} {self.say(str(t.direction))}" if t.direction else circuit
            if t.steps is not None:
                steps = self.say("one_step") if t.steps == 1 else self.say("steps", n=f"{t.steps:g}")
                did = f"{did} ({steps})"
        unsaid = f" {self.say('read_unsaid')}" if t.unsaid else ""
        back = f", {self.say('read_put_back')}" if t.put_back else ""
        return f"{did}: {self.say(f'effect_{t.effect}')}{self._at([t.at] if t.at else [])}{unsaid}{back}"

    def _with_status(self, name: str, status: Status) -> str:
        return name if status is Status.PRESENT else self.say(f"read_{status}", name=name)

    def _unsure(self, certainty: Certainty) -> str:
        return "" if certainty is Certainty.SURE else f", {self.say(f'certainty_{certainty}')}"

    def _at(self, places: Iterable[str]) -> str:
        named = ", ".join(self._name("bands", p, self.k.places[p].name) for p in places)
        return f" ({named})" if named else ""

    def _name(self, kind: str, identity: str, given: str) -> str:
        return self.language.text(kind, identity, "name", given)

    def _value(self, fact: FactRead) -> str:
        value = str(fact.value)
        if fact.fact == "family":
            return self._name("families", value, self.k.families[value].name)
        if fact.fact == "use":
            return self._name("uses", value, value.replace("_", " "))
        number = f"{fact.value:g}" if isinstance(fact.value, float | int) else self.sentence(value.replace("_", " "))
        return f"{number}{_UNITS.get(fact.fact, '')}"


def _item(text: str, said: Iterable[Said] = ()) -> Iterator[str]:
    words = _quoted(said)
    return wrap(f"{text} <- {words}" if words else text, f"{INDENT}- ", INDENT * 2)


def _quoted(said: Iterable[Said]) -> str:
    return " / ".join(f'"{s.words}"' for s in said)
