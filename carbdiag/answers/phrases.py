"""The short phrases of an answer in its language: names, odds, minutes, places, and what a case said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property

from carbdiag.answers.document import Caution
from carbdiag.answers.language import AnswerLanguage
from carbdiag.casework.observation import answered
from carbdiag.diagnosis_schema import BandMixture, CauseBelief, Diagnosis, NextStep, OutcomeMeaning, Statement
from carbdiag.records.safety import CautionText
from carbdiag.terms import UNKNOWN_FAMILY, Certainty, Direction, Level, Status
from carbdiag.trials import stretches

#: Between names that hold commas and semicolons themselves.
BETWEEN = " / "
#: Between things to do one after the other.
ARROW = " → "

#: From these chances on the mixture of a band is called probably off, perhaps off, or probably right.
_PROBABLY, _PERHAPS, _RIGHT = 0.70, 0.45, 0.60


class Phrases:
    """Phrases about one diagnosis in one language."""

    def __init__(self, d: Diagnosis, language: AnswerLanguage) -> None:
        self.d, self.language = d, language
        self._causes = {c.id: c.name for c in d.causes}

    def say(self, template: str, **values: object) -> str:
        """A template filled in."""
        return self.language.say(template, **values)

    # -- numbers

    def percent(self, p: float) -> str:
        """A probability as a whole percentage, never 0 or 100 unless it is."""
        if 0 < p < 0.005:
            return self.say("percent_under", n=1)
        return self.say("percent_over", n=99) if 0.995 <= p < 1 else self.say("percent", n=f"{100 * p:.0f}")

    def minutes(self, minutes: float) -> str:
        """A time that a check takes."""
        if minutes < 1:
            return self.say("under_a_minute")
        return self.say("one_minute") if round(minutes) == 1 else self.say("minutes", n=f"{minutes:.0f}")

    def odds(self, cause: CauseBelief) -> str:
        """How likely a cause is, in words and as a number."""
        return f"{self.language.sentence(cause.words)}, {self.percent(cause.probability)}"

    # -- names

    def cause(self, cause: CauseBelief) -> str:
        """The name of a cause."""
        return self.language.text("causes", cause.id, "name", cause.name)

    def cause_id(self, identity: str) -> str:
        """The name of a cause known by its id only."""
        return self.language.text("causes", identity, "name", self._causes.get(identity) or as_words(identity))

    def kind(self, family: str) -> str:
        """A kind of carburetor as one asks somebody about it who must look for it."""
        plain = f"kind_{family}"
        if plain in self.language.words:
            return self.say(plain)
        return small(self.language.text("families", family, "name", as_words(family)))

    def circuit(self, identity: str) -> str:
        """The name of a circuit inside a sentence, without what its record explains in brackets."""
        return small(self.language.text("circuits", identity, "name", as_words(identity)).partition(" (")[0])

    def group(self, identity: str) -> str:
        """The name of a group of causes inside a sentence."""
        names = {g.group: g.name for g in self.d.groups}
        return small(self.language.text("groups", identity, "name", names.get(identity, as_words(identity))))

    def place(self, identity: str) -> str:
        """The name of a throttle opening or situation."""
        return self.language.text("bands", identity, "name", self._places().get(identity) or as_words(identity))

    def _places(self) -> dict[str, str]:
        return {b.place: b.name for b in self.d.mixture}

    def places(self, identities: Iterable[str]) -> str:
        """Places one of which is meant."""
        return self._either(self.place(i) for i in identities)

    def _either(self, names: Iterable[str]) -> str:
        return f" {self.say('or')} ".join(names)

    # -- cautions

    def caution(self, caution: CautionText) -> Caution:
        """A caution in full."""
        return Caution(caution.id, self.language.text("cautions", caution.id, "text", caution.text))

    def in_short(self, cautions: Iterable[CautionText]) -> tuple[Caution, ...]:
        """Cautions in one short sentence each, each once."""
        return tuple(
            Caution(c.id, self.language.text("cautions", c.id, "short", c.short or c.text))
            for c in {c.id: c for c in cautions}.values()
        )

    # -- steps

    def step_name(self, step: NextStep) -> str:
        """What a step is: a check by its name, a question as it is asked."""
        if step.kind in ("check", "question"):
            name = self.language.find("checks", step.id, "name")
            return step.name if name is None else self._at(name, step.at)
        kind = "findings" if step.kind == "finding" else "contexts"
        ask = self.language.find(kind, step.id, "ask")
        if ask is None:
            return step.do
        # a question that is not the same at every opening ends with the one it is asked of
        return ask if step.do.endswith("?") else self._at(ask, step.at)

    def _at(self, name: str, place: str | None) -> str:
        return f"{name} ({self.place(place)})" if place else name

    def step_do(self, step: NextStep) -> str:
        """How a check is done; empty where the name asks it already."""
        if step.kind in ("finding", "context"):
            return ""
        return self.language.text("checks", step.id, "do", step.do)

    def outcome(self, step: NextStep, outcome: OutcomeMeaning) -> str:
        """The name of an outcome."""
        if step.kind in ("finding", "context"):
            return self.say("yes" if outcome.outcome == "yes" else "no")
        words = outcome.outcome.replace("_", " ")
        return self.language.text("checks", step.id, f"outcomes.{outcome.outcome}.name", words)

    def means(self, step: NextStep, outcome: OutcomeMeaning) -> str:
        """What an outcome would mean."""
        if step.kind in ("check", "question"):
            return self.language.text("checks", step.id, f"outcomes.{outcome.outcome}.means", outcome.means)
        name = self._raised(outcome)
        return outcome.means if name is None else self.say("speaks_for", cause=name)

    def _raised(self, outcome: OutcomeMeaning) -> str | None:
        if outcome.raises is None:
            return self.say("nothing_wrong_short")
        name = self.language.find("causes", outcome.raises, "name") or self._causes.get(outcome.raises)
        return small(name) if name else None

    def why(self, step: NextStep) -> str:
        """What a step tells apart."""
        named = {o.raises: self._raised(o) for o in step.outcomes}
        likely = max(step.outcomes, key=lambda o: o.probability).raises if step.outcomes else None
        other = next((name for cause, name in named.items() if cause != likely and name), None)
        first = named.get(likely)
        return self.say("tells_apart", one=other, other=first) if other and first else self.language.sentence(step.why)

    # -- what the mixture does

    def verdict(self, band: BandMixture) -> str | None:
        """What the mixture does at a band, or None where it cannot be told yet."""
        p = band.levels
        lean, rich = p[Level.LEAN] + p[Level.VERY_LEAN], p[Level.RICH] + p[Level.VERY_RICH]
        way, chance = (Direction.LEAN, lean) if lean >= rich else (Direction.RICH, rich)
        if chance >= _PERHAPS - 0.005:
            word = "probably" if chance >= _PROBABLY - 0.005 else "perhaps"
            return self.say(f"{word}_{way}", percent=self.percent(chance))
        right = p[Level.RIGHT]
        return self.say("probably_right", percent=self.percent(right)) if right >= _RIGHT - 0.005 else None

    # -- what was said

    def machine(self) -> str:
        """The machine as understood."""
        m = self.d.machine
        unknown = self.say("family_unknown") if m.family == UNKNOWN_FAMILY else None
        family = unknown or self.language.find("families", m.family, "name")
        if family is None:
            return self.d.understood[0]
        strokes = self.say({2: "two_stroke", 4: "four_stroke", None: "strokes_unknown"}[m.strokes])
        parts = [capital(family), strokes]
        if m.cylinders:
            parts.append(self.say("one_cylinder") if m.cylinders == 1 else self.say("cylinders", n=m.cylinders))
        use = [small(self.language.text("uses", m.use, "name", as_words(m.use)))] if m.use else []
        return "; ".join([", ".join(parts), *use])

    def air(self) -> str | None:
        """The change of air as understood."""
        if self.d.air is None:
            return None
        was, now = (
            self.say("air_at", m=f"{a.elevation_m:.0f}", c=f"{a.temperature_c:.0f}")
            if a.temperature_c is not None
            else self.say("air_at_height", m=f"{a.elevation_m:.0f}")
            for a in (self.d.air.set, self.d.air.now)
        )
        return self.say("air_change", was=was, now=now)

    def statement(self, number: int | None, given: str) -> str:
        """A statement by its number; where a name is not translated, as given."""
        if number is None or number >= len(self.d.told):
            return given
        return self.told(self.d.told[number])

    @cached_property
    def _stretches(self) -> dict[int, str]:
        return {n: self.say(mark) for n, mark in stretches(self.d.told).items()}

    def when(self, number: int) -> str:
        """What stands before a statement that begins another stretch of time: "At first:", "After that:"."""
        return self._stretches.get(number, "")

    def told(self, s: Statement) -> str:
        """A statement of the case."""
        if s.kind == "reading":
            return self.say("lambda_told", value=f"{s.amount or 0:.2f}", place=self.places(s.at))
        if s.kind == "reach":
            return self.say("one_of_several" if s.outcome == "one" else "all_alike")
        kind = {"context": "contexts", "finding": "findings", "check": "checks", "setting": "circuits"}.get(s.kind)
        names = [self.language.find(kind or "actions", i, "name") for i in s.ids]
        if not all(names) or not names:
            return s.text
        if s.status is Status.DENIED:  # "Not so: hard to start or cranks but will not start": none of them
            return self._told_of(s, self._either(small(n) for n in names if n))
        return self._told_of(s, BETWEEN.join(n for n in names if n))

    def _told_of(self, s: Statement, name: str) -> str:
        effect = self.language.sentence(s.effect.value.replace("_", " ")) if s.effect else ""
        if s.kind == "repair":
            return f"{name}: {effect}"
        if s.kind == "setting":
            steps = self.say("one_step") if s.amount == 1 else self.say("steps", n=f"{s.amount or 0:g}")
            if s.sizes:
                steps = self.say("sizes_told", first=f"{s.sizes[0]:g}", last=f"{s.sizes[1]:g}")
            way = self.say(str(s.direction))
            if not s.at:
                return self.say("setting_told_somewhere", name=name, steps=steps, way=way, effect=effect)
            return self.say("setting_told", name=name, steps=steps, way=way, place=self.places(s.at), effect=effect)
        if s.kind == "check":
            words = (s.outcome or "").replace("_", " ")
            outcome = self.language.text("checks", s.ids[0], f"outcomes.{s.outcome}.name", words)
            return answered(self._where(name, s.at), outcome)
        head = name if s.status is not Status.DENIED else self.say("not_so", name=small(name))
        unsure = "" if s.certainty is Certainty.SURE else f", {self.say(f'certainty_{s.certainty}')}"
        return f"{self._where(head, s.at)}{unsure}"

    def _where(self, name: str, places: Sequence[str]) -> str:
        return f"{name} ({self.places(places)})" if places else name


def as_words(identity: str | None) -> str:
    """An id as words, where nothing better is at hand."""
    return (identity or "").replace("_", " ")


def small(name: str) -> str:
    """A name inside a sentence: its first letter small, unless it is an abbreviation."""
    return name if name[1:2].isupper() else name[:1].lower() + name[1:]


def capital(text: str) -> str:
    """A text with a capital first letter."""
    return text[:1].upper() + text[1:]
