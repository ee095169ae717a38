"""The turns of speech of one language that deny, or only seem to."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import chain, product

from carbdiag.reading.wordlist import Listed
from carbdiag.records.manner_words import DenialTurns

#: What is no turn of its own, but judged beside one.
_BESIDE = ("not_absent", "tells_new", "not_ended", "light_verbs", "joins", "subjects", "of_life")


def _each(turn: str) -> Iterator[str]:
    """Every turn that one with choices stands for."""
    return (" ".join(words) for words in product(*(choice.split("|") for choice in turn.split())))


class DenialBook:
    """The turns of a language by kind, and the words looked at beside them."""

    def __init__(self, turns: DenialTurns, learn: Callable[[str], str]) -> None:
        self.turns = Listed({kind: [*chain(*map(_each, words))] for kind, words in turns if kind not in _BESIDE})
        self.not_absent, self.not_ended, self.of_life = turns.not_absent, turns.not_ended, turns.of_life
        self.tells_new = turns.tells_new
        joins = [*map(re.escape, turns.joins), *(rf"{re.escape(word)} \w+" for word in turns.subjects)]
        #: A few more words of what was looked for, and the mark or small words before what came of it.
        self.to_result = re.compile(
            rf"(?: [\w'/]+){{0,4}}[ ,;:.\u2013\u2014?-]*(?:\b(?:{'|'.join(joins)}) )*$" if joins else "(?!)"
        )
        self.light_verbs = frozenset(map(learn, turns.light_verbs)) - {""}
