"""Lists of words and turns as they are written, looked for in a stretch of text."""

from __future__ import annotations

import re
from collections.abc import Iterable


def any_of(words: Iterable[str]) -> re.Pattern[str] | None:
    """A pattern of whole words; none of no words."""
    listed = "|".join(sorted(map(re.escape, words), key=len, reverse=True))
    return re.compile(rf"(?<![\w'])(?:{listed})(?![\w'])", re.IGNORECASE) if listed else None
