"""What every export gives: a file, and what the format could not hold."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from carbdiag.quiz_schema import ItemKey, ItemView, OptionKey, Quiz, SourceText


@dataclass(frozen=True)
class Export:
    """A file to write, and in words what is not in it."""

    name: str
    media_type: str
    content: bytes
    left_out: tuple[str, ...] = ()


def pairs(quiz: Quiz, forms: Collection[str]) -> Iterator[tuple[ItemView, ItemKey]]:
    """The items of the forms that a format can hold, each with its key."""
    for view, key in zip(quiz.items, quiz.keys, strict=True):
        if view.answer_form in forms:
            yield view, key


_FORM_WORDS = {
    "choice": "multiple choice",
    "order": "put into order",
    "number": "a number with a range",
    "scenario": "a case in several turns",
}


def left_out(quiz: Quiz, forms: Collection[str], format_name: str) -> tuple[str, ...]:
    """What a format cannot hold, said for each form of answer, with the items."""
    gone = [v for v in quiz.items if v.answer_form not in forms]
    counts = Counter(v.answer_form for v in gone)
    return tuple(
        f"{format_name} cannot hold {_FORM_WORDS[form]}: left out"
        f" {', '.join(v.id for v in gone if v.answer_form == form)}."
        for form in counts
    )


def loses_partial_credit(quiz: Quiz, forms: Collection[str], format_name: str) -> tuple[str, ...]:
    """A sentence where partial credit is lost in the forms given."""
    some = [v.id for v, k in pairs(quiz, forms) if v.answer_form == "order" or any(0 < o.credit < 1 for o in k.options)
            or k.number is not None]  # fmt: skip
    if not some:
        return ()
    return (f"{format_name} knows right and wrong only: partial credit is lost in {', '.join(some)}.",)


#: Sources told where everything stands in one place.
_MOST_SOURCES = 3


@dataclass(frozen=True)
class FootNotes:
    """Cautions and sources of a whole quiz, numbered, so that a printed key says each once."""

    cautions: tuple[str, ...]
    sources: tuple[str, ...]

    @classmethod
    def of(cls, cautions: Iterable[str], sources: Iterable[str] = ()) -> FootNotes:
        """Number texts in the order in which they first come."""
        return cls(tuple(dict.fromkeys(cautions)), tuple(dict.fromkeys(sources)))

    @classmethod
    def of_keys(cls, keys: Sequence[ItemKey]) -> FootNotes:
        """Those of all keys."""
        return cls.of((c.text for x in keys for c in x.cautions), (source_line(s) for x in keys for s in x.sources))

    def refer(self, cautions: Iterable[str], sources: Iterable[str] = ()) -> str:
        """Where to look: `Cautions C1, C3. Sources S2 to S5.`"""
        told = _listed("C", (self.cautions.index(c) + 1 for c in cautions))
        cited = _listed("S", (self.sources.index(s) + 1 for s in sources))
        parts = [f"Cautions {told}."] if told else []
        return " ".join([*parts, f"Sources {cited}."] if cited else parts)

    def refer_to(self, key: ItemKey) -> str:
        """Where to look for one item, besides what stands behind its options."""
        named = {s for o in key.options for s in o.sources}
        return self.refer((c.text for c in key.cautions), (source_line(s) for s in key.sources if s.id not in named))

    def behind(self, key: ItemKey, option: OptionKey) -> str:
        """The sources of one option, as ` [S2, S5 to S7]`; nothing where it has none."""
        sources = [source_line(s) for s in key.sources if s.id in option.sources]
        cited = _listed("S", (self.sources.index(s) + 1 for s in sources))
        return f" [{cited}]" if cited else ""


def _listed(letter: str, numbers: Iterable[int]) -> str:
    """Numbered notes in order, three and more in a row as `S2 to S5`."""
    runs: list[list[int]] = []
    for n in sorted(numbers):
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    return ", ".join(
        f"{letter}{run[0]} to {letter}{run[-1]}" if len(run) > 2 else ", ".join(f"{letter}{n}" for n in run)
        for run in runs
    )


def source_line(source: SourceText) -> str:
    """A source with its address."""
    return f"{source.title} <{source.url}>" if source.url else source.title


def one_line(text: str) -> str:
    """Text on one line, without control characters."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def why(key: ItemKey) -> tuple[str, ...]:
    """The explanation, its cautions in short, and a few sources, for formats with one place for all.

    What stands behind every option, address by address, would bury the explanation: the printed key has it.
    """
    cautions = f"Cautions: {' '.join(c.short or c.text for c in key.cautions)}" if key.cautions else ""
    return tuple(x for x in (key.explanation, cautions, _read_more(key)) if x)


def _read_more(key: ItemKey) -> str:
    """The first sources of the right answer, or else of the item, and how many there are besides."""
    right = {s for o in key.options if o.credit == 1 for s in o.sources}
    first = sorted(key.sources, key=lambda s: (s.url is None, s.id not in right))[:_MOST_SOURCES]
    if not first:
        return ""
    besides = len(key.sources) - len(first)
    more = f"; and {besides} more in the printed key" if besides else ""
    return f"Sources: {'; '.join(source_line(s) for s in first)}{more}."
