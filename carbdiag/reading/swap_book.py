"""The words of parts that change places between cylinders, compiled."""

from __future__ import annotations

from carbdiag.reading.wordlist import Listed, any_of
from carbdiag.records.deed_words import SwappedOver


class SwapBook:
    """Verbs, parts by their check, and what came of it."""

    def __init__(self, words: SwappedOver) -> None:
        self.verbs = Listed({"": words.verbs})
        self.parts = any_of(part for parts in words.parts.values() for part in parts)
        self.checks = {part: check for check, parts in words.parts.items() for part in parts}
        self.behind, self.not_known, self.which = map(any_of, (words.behind, words.not_known, words.which))
        self.outcomes = tuple((outcome, any_of(said)) for outcome, said in words.outcomes.items())
