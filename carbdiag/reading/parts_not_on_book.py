"""The words beside a part that say that it is not on the machine, compiled."""

from __future__ import annotations

import re
from typing import Final

from carbdiag.reading.wordlist import any_of, one_of
from carbdiag.records.deed_words import PartsNotOn


class PartsNotOnBook:
    """What stands behind a part that lies ready, and before one that is only wished for, or is another's."""

    def __init__(self, words: PartsNotOn) -> None:
        self.between: Final = frozenset(words.between)
        self.not_on, self.wished, self.out_again = map(any_of, (words.not_on, words.wished, words.out_again))
        self.later, self.taken = any_of(words.later), any_of(words.taken)
        self.planned, self.before_doing = (
            re.compile(rf"(?<![\w'])(?:{one_of(listed)})(?:\s+(?:{one_of(words.between)})){{0,4}}\s+$")
            for listed in (words.planned, words.before_doing)
        )
        self.had = re.compile(rf"(?<![\w'])(?:{one_of(words.had)})(?:\s+(?:{one_of(words.between)})){{0,3}}\s+$")
        self.until_then = any_of(words.until_then)
        self.wanted = any_of(words.wanted)
        self.fitted_after = any_of(words.fitted_after)
        self.owners, self.owns = frozenset(words.owners), frozenset(words.owns)
