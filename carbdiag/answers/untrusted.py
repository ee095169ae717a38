"""What no text may do in any markup: steer a terminal, reorder letters, break a line, or turn into a link."""

from __future__ import annotations

import re
import unicodedata
from typing import Final

#: Letters, marks, numbers, signs and the plain space are printed; everything that steers a terminal is not.
_STEERS: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})

#: Stands, unseen, inside what a board or a chat would take for markup or an address. No text brings its own:
#: `printable` spells it out.
ZERO_WIDTH: Final = "\u200b"

# A scheme or a smiley, an address by name, a mail address or a mention, a domain.
_LINKS: Final = re.compile(r"(?<=[:;])(?=[^\s\d:;])|(?<=[wW]{3})(?=\.)|(?<=@)(?=\S)|(?<=\w)(?=\.[^\W\d_]{2})")


def printable(text: str) -> str:
    """The text on one line, with everything that could steer a terminal or reorder its letters spelled out.

    >>> printable("red\\x1b[31m and\\nback\\u202e")
    'red\\\\x1b[31m and back\\\\u202e'
    """
    one_line = re.sub(r"[\t\n\r\f\v ]+", " ", text)
    return "".join(_spelled_out(c) if unicodedata.category(c) in _STEERS else c for c in one_line)


def _spelled_out(character: str) -> str:
    if character.isascii():
        return f"\\x{ord(character):02x}"
    return character.encode("ascii", "backslashreplace").decode()


def unlinked(text: str, breaker: str = ZERO_WIDTH) -> str:
    """The text with every address in it broken, so that no reader of it makes a link.

    >>> unlinked("see http://a.example or b@c.example: 1.5 mm", " ")
    'see http: //a .example or b@ c .example: 1.5 mm'
    """
    return _LINKS.sub(breaker, text)
