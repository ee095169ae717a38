"""The turns of speech of one language that deny, or only seem to."""

from __future__ import annotations

from collections.abc import Callable

from carbdiag.reading.wordlist import Listed
from carbdiag.records.manner_words import DenialTurns

#: What is no turn of its own, but judged beside one.
_BESIDE = ("not_absent", "light_verbs")


class DenialBook:
    """The turns of a language by kind, and the words looked at beside them."""

    def __init__(self, turns: DenialTurns, learn: Callable[[str], str]) -> None:
        self.turns = Listed({kind: words for kind, words in turns if kind not in _BESIDE})
        self.not_absent = turns.not_absent
        self.light_verbs = frozenset(map(learn, turns.light_verbs)) - {""}
