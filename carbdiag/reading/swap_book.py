"""The words of parts that change places between cylinders, compiled."""

from __future__ import annotations

import re

from carbdiag.reading.wordlist import Listed, any_of, one_of
from carbdiag.records.deed_words import SwappedOver


class SwapBook:
    """Verbs, parts by their check, and what came of it."""

    def __init__(self, words: SwappedOver) -> None:
        self.verbs = Listed({"": words.verbs})
        self.parts = any_of(part for parts in words.parts.values() for part in parts)
        self.checks = {part: check for check, parts in words.parts.items() for part in parts}
        self.behind, self.not_known, self.which = map(any_of, (words.behind, words.not_known, words.which))
        numbered = rf"(?:(?:{one_of(words.numbered)}) ?){{0,2}}[1-6]"
        #: "plugs 1 and 2", "plugs from no. 3 to no. 4"
        self.two_numbered = re.compile(rf"{numbered} ?(?:{one_of(words.numbers_joined_by)}) ?{numbered}\b")
        self.outcomes = tuple((outcome, any_of(said)) for outcome, said in words.outcomes.items())
