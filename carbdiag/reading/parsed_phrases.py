"""The phrases of the shipped languages as parsed when the package was built, so that a fresh process need not parse.

As with `carbdiag.prepared`: what was written counts only where all that it was made of is still the same (SHA-256 of
the phrases, the language, and the code that parses them); else the phrases are parsed as always.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from carbdiag.reading.lexicon import Lexicon
from carbdiag.reading.matcher import Lengths
from carbdiag.reading.notation import Piece, Segments
from carbdiag.records.language import Language

#: What parses a phrase; `phrasebook` says what goes with it.
_CODE = ("lexicon", "matcher", "notation", "parsed_phrases", "phrasebook")


class Parsed(NamedTuple):
    """A phrase in every order it allows, with what else its words say (as in `matcher.Phrase`)."""

    orders: tuple[Segments, ...]
    acts: bool
    flows: bool


class Kept(NamedTuple):
    """The phrases of a language as parsed, and the lengths that the matcher looks them up by."""

    phrases: list[Parsed]
    lengths: Lengths


def digest_of(language: Language, phrases: Iterable[tuple[str, str, Sequence[str]]]) -> str:
    """Of all that phrases are parsed from: where each stands, its words, and what it means."""
    lines = ("\0".join((where, phrase, *meaning)) for where, phrase, meaning in phrases)
    digest = hashlib.sha256("\n".join((language.model_dump_json(), *lines)).encode())
    for name in _CODE:
        digest.update(Path(__file__).with_name(f"{name}.py").read_bytes())
    return digest.hexdigest()


def file_of(folder: Path, language: str) -> Path:
    """Where the phrases of a language are kept."""
    return folder / f"prepared_phrases_{language}.json"


def kept(folder: Path, digest: str, lexicon: Lexicon) -> Kept | None:
    """The phrases as they were parsed, their words learned; None where they are not kept, or no longer true."""
    try:
        written_for, _, data = file_of(folder, lexicon.language.id).read_bytes().partition(b"\n")
        if written_for != digest.encode():
            return None
        words, joined, rows, endings = json.loads(data)
        pieces: list[Piece] = [tuple(piece.split(" ")) for piece in joined]
        found = [
            Parsed(
                tuple([tuple([tuple([pieces[n] for n in segment]) for segment in order]) for order in orders]),
                bool(acts),
                bool(flows),
            )
            for orders, acts, flows in rows
        ]
        lengths: Lengths = {}
        for several, found_so in endings:
            lengths.update(dict.fromkeys(found_so.split(" "), tuple(several)))
        lexicon.learn_again(words)
    except (OSError, ValueError, TypeError, LookupError, AttributeError, RecursionError):
        return None
    return Kept(found, lengths)


def keep(folder: Path, digest: str, lexicon: Lexicon, ready: Kept) -> Path:
    """Write the phrases of a language for `kept`."""
    pieces: dict[Piece, int] = {}
    rows = [
        (
            [[[pieces.setdefault(piece, len(pieces)) for piece in segment] for segment in order] for order in orders],
            int(acts),
            int(flows),
        )
        for orders, acts, flows in ready.phrases
    ]
    endings: dict[tuple[int, ...], list[str]] = {}
    for ending, lengths in ready.lengths.items():
        endings.setdefault(lengths, []).append(ending)
    by_lengths = [(lengths, " ".join(found)) for lengths, found in endings.items()]
    data = (lexicon.learned, [" ".join(piece) for piece in pieces], rows, by_lengths)
    written = file_of(folder, lexicon.language.id)
    partly = written.with_suffix(".part")
    partly.write_bytes(f"{digest}\n{json.dumps(data, ensure_ascii=False, separators=(',', ':'))}".encode())
    partly.replace(written)
    return written
