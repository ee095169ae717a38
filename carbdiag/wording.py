"""Which words no knowledge file may use: other than US spelling, and makers' names."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from carbdiag.errors import Mistake

_SPELLING: Final = {
    "carburettor": "carburetor",
    "carburettors": "carburetors",
    "carburetter": "carburetor",
    "carburettion": "carburetion",
    "colour": "color",
    "colours": "colors",
    "coloured": "colored",
    "discoloured": "discolored",
    "vapour": "vapor",
    "vapours": "vapors",
    "tyre": "tire",
    "tyres": "tires",
    "behaviour": "behavior",
    "odour": "odor",
    "neighbour": "neighbor",
    "neighbouring": "neighboring",
    "labour": "labor",
    "favour": "favor",
    "centre": "center",
    "litre": "liter",
    "litres": "liters",
    "metre": "meter",
    "metres": "meters",
    "millimetre": "millimeter",
    "fibre": "fiber",
    "grey": "gray",
    "aluminium": "aluminum",
    "sulphur": "sulfur",
    "mould": "mold",
    "plough": "plow",
    "kerb": "curb",
}

#: Names of makers, as digests so that this file names none. `word_digest` gives the digest of a new one.
_MAKERS: Final = frozenset(
    """
    00152fc92c 04a72ed83d 08f933ab9c 090987789f 09652a6d29 0c786b62da 0e8d4b4601 1807dc39b2 197d4f92d8
    23282e2a2a 25317df7e2 25ad60ad96 260ee2b5c3 291dc0d720 2bdbfc1721 2bf3259ad1 2c90d9437c 2ea231ae06
    2ff6de4b0d 32a0de9bb6 35d3360294 37fb3b96c4 3a8cb1f573 3ee0f2ea25 4211dcecef 4380a3edd6 4380f1f1d1
    45ec0678f7 467e57c892 487e90fe35 4b9698b837 4d7aa8ca3b 5cef1995bc 5d50d6d06d 61eb14d5a4 6233864213
    62b823e0d1 637eb3f249 6eab8bed3f 70381b3f43 70af470951 71d68af47a 736883a1df 75d42a1d19 75fb966585
    7c32c19f94 7d039bd8a1 7dcd843b81 823c3a2332 82a6d29bce 84490cec38 8699458e28 86dd71a193 86e18fad72
    89bb41e851 8e9e4ac990 8eb5f2e718 90fe4448c1 933c3ac71f 94a4bcaa85 95a08e219e 963c65fca1 9bfa80db2d
    9d9a1f41b9 9dccff780a a17b36c3e8 a2e65314cb a4b98b67fa a5ac942390 a5eded40e4 a619b4803f aa596e66fb
    aa8d729988 abdc26f95c b083372dd7 b0d0ca7763 b4a3c43e30 bc2753d77c bcdc362380 be212eaf1c c023bd5a09
    c7625f2678 ca16bccb0f cbd5a0152e cdc551726c cdc90fa16b ce059a6e08 ceef2cec3d d0099b1841 d2c5d4c60a
    d7f265d6b8 deecc3e651 df8dc722a8 e0966454f0 e0b8788383 f00da66d71 f17573b074 f35d1f152d f66388419a
    f86a800e69 f9f84d2a00 fbe0875afa fc1c49a653 fd46d68826 ff688be28b fff1e76c59
""".split()  # noqa: SIM905 - a column of digests reads better than a list
)


def word_digest(word: str) -> str:
    """The digest under which a maker's name is kept."""
    return hashlib.blake2b(word.lower().encode(), digest_size=5).hexdigest()


def check_words(file: str, text: str) -> Iterator[Mistake]:
    """Find other than US spelling and makers' names, comments included; addresses may hold anything."""
    for number, line in enumerate(text.split("\n"), 1):
        text_of_line = re.sub(r"https?://[^\s\"']+", "", line).lower()
        found = list(re.finditer(r"[a-z]+(?:[0-9]+)?", text_of_line))
        words = [word[0] for word in found]
        # two words count as one name only where a writer would join them, not as choices of a phrase
        joined = {a[0] + b[0] for a, b in pairwise(found) if text_of_line[a.end() : b.start()] in (" ", "-", "_")}
        for word in dict.fromkeys(words):
            if word in _SPELLING:
                yield Mistake(file, "text", "US spelling", word, _SPELLING[word], number)
        for word in sorted({*words, *joined}):
            if word_digest(word) in _MAKERS:
                yield Mistake(file, "text", "no maker's name in what we write", word, line=number)
