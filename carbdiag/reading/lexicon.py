"""Words to symbols: every word that some phrase uses is one character, so that matching is plain text search."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable
from typing import Final

from carbdiag.records.language import Language

#: Finds the nearest of the language's long trade words, or nothing.
Nearest = Callable[[str], "str | None"]

UNKNOWN: Final = "\x02"
SENTENCE: Final = "\x01"
_FIRST: Final = 0x100
_SHORTEST_STEM: Final = 3
_SHORTEST_SLIP: Final = 6
#: So many different unknown words of one text are compared with the trade words; the rest stay unknown.
MOST_COMPARED: Final = 200


def folded(word: str) -> str:
    """A word in small letters, with one kind of apostrophe and without accents, which posters leave out at will.

    >>> folded("Ralentí"), folded("won’t")
    ('ralenti', "won't")
    """
    word = word.lower()
    if word.isascii():
        return word.replace("`", "'")
    for mark in "’´`":
        word = word.replace(mark, "'")
    return "".join(c for c in unicodedata.normalize("NFKD", word) if not unicodedata.combining(c))


class Lexicon:
    """The words of a language as symbols. Filled while phrases are compiled, only read afterwards."""

    def __init__(self, language: Language) -> None:
        self.language = language
        self._endings = sorted(language.endings, key=lambda pair: -len(pair[0]))
        self._any_ending = tuple(ending for ending, _ in self._endings)
        self._filler_endings = tuple(e.strip("~") for e in language.fillers if e.startswith("~"))
        self._base = {form: base for base, forms in language.forms.items() for form in (base, *forms)}
        self._same: dict[str, str] = {}
        for base, words in language.same.items():
            key = self._base.get(base) or self._stem(base)
            self._same.update({self._base.get(w) or self._stem(w): key for w in words})
        self._fillers = frozenset(language.fillers)
        self._symbols: dict[str, str] = {}
        self._not_slips = frozenset(language.not_slips)
        #: Values with a symbol of their own, so that a phrase can say "1/4 throttle".
        self.literals = {v: self._new(f"number {v:g}") for v in sorted(set(language.numbers.values()))}
        self.any_number = self._new("number")
        self.vague = {self._new(self.key(word)): float(value) for word, value in language.vague_numbers.items()}
        self.about = frozenset(self._new(self.key(word)) for word in language.about_numbers)
        self.unit_of = {w: u for u in language.units for w in u.written}
        self.slots = {u.slot: self._new(f"unit {u.slot}") for u in language.units}

    def _new(self, key: str) -> str:
        return self._symbols.setdefault(key, chr(_FIRST + len(self._symbols)))

    def slots_for(self, name: str) -> tuple[str, ...]:
        """The symbols of a slot: those of its own units, and of the units that count for it too."""
        units = self.language.units
        return tuple(dict.fromkeys(self.slots[u.slot] for u in units if name in (u.slot, u.also)))

    def key(self, word: str) -> str:
        """The form under which a word (small letters) is known: its base, or what is left without its ending."""
        # "the idle's rough" is told of the idle, "the pinging's gone" of the pinging
        bare = word.removesuffix("'s")
        found = self._base.get(word) or self._base.get(bare) or self._stem(bare)
        return self._same.get(found, found)

    def _stem(self, word: str) -> str:
        for ending, put in self._endings if word.endswith(self._any_ending) else ():
            if not word.endswith(ending):
                continue
            rest = word[: -len(ending)]
            if len(rest) < _SHORTEST_STEM or rest[-1] == ending[0] or not any(c in "aeiouy" for c in rest):
                continue
            word = rest + put
            break
        if len(word) > _SHORTEST_STEM and word[-1] == word[-2]:
            return word[:-1]
        return word[:-1] if len(word) > _SHORTEST_STEM and word[-1] == "e" else word

    def is_filler(self, word: str) -> bool:
        """Whether a word carries nothing, and is left out."""
        return word in self._fillers

    def learn(self, word: str) -> str:
        """The symbol of a word of a phrase, or nothing for a filler; for compiling only."""
        return "" if self.is_filler(word) else self._new(self.key(word))

    @property
    def learned(self) -> tuple[str, ...]:
        """All that has a symbol, in the order of the symbols."""
        return tuple(self._symbols)

    def learn_again(self, keys: Iterable[str]) -> None:
        """Give everything the symbol it had in another lexicon of the language, told what that one has `learned`."""
        for key in keys:
            self._new(key)

    def name_of(self, symbol: str) -> str:
        """The form under which the word of a symbol is known."""
        return next((key for key, known in self._symbols.items() if known == symbol), "?")

    def symbol(self, word: str, nearest: Nearest | None) -> str:
        """The symbol of a word of a text, nothing for a filler, UNKNOWN for what no phrase uses."""
        if word in self._fillers:
            return ""
        found = self._symbols.get(self.key(word))
        if found is None and nearest is not None and len(word) >= _SHORTEST_SLIP and word not in self._not_slips:
            meant = nearest(word)
            found = self._symbols.get(self.key(meant)) if meant else None
        if found is None:
            return "" if self._filler_endings and word.endswith(self._filler_endings) else UNKNOWN
        return found
