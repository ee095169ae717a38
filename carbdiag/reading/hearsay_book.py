"""The words of one language that tell what somebody else thinks or says is wrong."""

from __future__ import annotations

import re

from carbdiag.reading.wordlist import Listed, any_turn, one_of
from carbdiag.records.manner_words import HearsayWords


class HearsayBook:
    """The verbs of hearsay, who speaks, and where what he says ends."""

    def __init__(self, words: HearsayWords) -> None:
        self.verbs = Listed({"thinks": words.thinks, "many": words.many_think, "says": words.says})
        self.ends = any_turn(words.ends)
        self.marks = re.compile(rf"[.;:!?\n(]|--|,(?= *(?:{one_of(words.clause_starts)}) )")
        self.many = frozenset(words.many)
        self.nobody = frozenset((*words.oneself, *words.no_speaker))
        self.knows, self.whose, self.known_by = map(frozenset, (words.knows, words.whose, words.known_by))
        self.between, self.links = frozenset(words.between), frozenset(words.links)
        self.tells, self.names = frozenset(words.tells), frozenset(words.names)
