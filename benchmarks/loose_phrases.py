"""Which phrases would be set off most often by words that mean nothing together: the loose ones.

    python benchmarks/loose_phrases.py [--most 300] [--kind finding] [--texts FOLDER]

Words are drawn one by one, as often as they stand in texts of the trade (our own tables and posts, the pages and the
records of this project, and the *.txt of a folder of ordinary rider talk, if one is given). A phrase's chance is that
of all the sequences it stands for, a gap being as many tries as it lets words stand between. Listed are the hits to be
expected in 100,000 words that count, and the shortest words, of those the likeliest, that set the phrase off. What
riders say plainly ("it bogs") comes first too, and rightly: the list says where to look, not what is wrong.
"""

from __future__ import annotations

import argparse
import json
import math
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from reading import REPORTS, ROOT

from carbdiag import Knowledge
from carbdiag.errors import KnowledgeError
from carbdiag.reading.lexicon import SENTENCE, Lexicon
from carbdiag.reading.matcher import MOST_BETWEEN, MOST_BETWEEN_SIGNS, Meaning
from carbdiag.reading.notation import Notation
from carbdiag.reading.phrasebook import Phrasebook, phrasebook
from carbdiag.reading.record_phrases import phrases_of
from carbdiag.strict_yaml import parse_yaml

PER = 100_000
#: How many words a word that was never seen is taken to stand among.
UNSEEN = 0.5
TABLES = ("wordings", "deeds", "nothing_said", "nothing_done", "stories", "posts/invented", "posts/found_later")
POSTS = ("posts/development_2",)
KINDS = ("finding", "context", "check", "do", "change")


class Loose(NamedTuple):
    """A phrase, the hits to be expected of it, and the likeliest of the shortest words that set it off."""

    hits: float
    meaning: Meaning
    phrase: str
    shortest: str


def texts(folder: Path | None) -> Iterator[str]:
    """Everything that may be read to count words: never the held-out posts."""
    for name in (*TABLES, *POSTS):
        yield from _strings(parse_yaml((ROOT / "tests" / "reading" / f"{name}.yaml").read_text(encoding="utf-8")))
    for page in (ROOT / "docs").glob("*.md"):
        yield page.read_text(encoding="utf-8")
    for kind in ("findings", "checks", "actions", "causes", "circuits"):
        for file in (ROOT / "knowledge" / kind).glob("*.yaml"):
            yield from (s for s in _prose(parse_yaml(file.read_text(encoding="utf-8"))))
    if REPORTS.exists():
        yield from (json.loads(line)["post_text"] for line in REPORTS.read_text(encoding="utf-8").splitlines())
    if folder is not None:
        yield from (file.read_text(encoding="utf-8") for file in sorted(folder.glob("*.txt")))


def _strings(found: Any) -> Iterator[str]:
    if isinstance(found, str):
        yield found
    elif isinstance(found, dict):
        yield from (s for key, value in found.items() if key != "source" for s in _strings(value))
    elif isinstance(found, list):
        yield from (s for value in found for s in _strings(value))


def _prose(found: Any) -> Iterator[str]:
    """The sentences of records, not their phrases."""
    if isinstance(found, list):
        yield from (s for record in found for s in _prose(record))
    elif isinstance(found, dict):
        yield from (found[key] for key in ("ask", "do", "why", "about", "name") if isinstance(found.get(key), str))


class Chance:
    """How often symbols stand in texts."""

    def __init__(self, book: Phrasebook, folder: Path | None) -> None:
        self.count: Counter[str] = Counter()
        self.words: dict[str, Counter[str]] = {}
        for text in texts(folder):
            read = book.reader.read(text)
            for symbol, start, end in zip(read.symbols, read.starts, read.ends, strict=True):
                if symbol != SENTENCE:
                    self.count[symbol] += 1
                    self.words.setdefault(symbol, Counter())[text[start:end].lower()] += 1
        self.all = self.count.total()

    def of(self, sequence: str) -> float:
        """The chance that a sequence begins at a place."""
        return math.prod((self.count[s] or UNSEEN) / self.all for s in sequence)

    def said(self, sequence: str, lexicon: Lexicon) -> str:
        """A sequence in the words that stand for it most often."""
        return " ".join(
            self.words[s].most_common(1)[0][0] if s in self.words else lexicon.name_of(s) for s in sequence
        )


def loose(knowledge: Knowledge, language: str, folder: Path | None) -> list[Loose]:
    """Every phrase of a language, the loosest first."""
    book = phrasebook(knowledge, language)
    chance, notation = Chance(book, folder), Notation(book.lexicon)
    found = []
    for _, phrase, meaning in phrases_of(knowledge, knowledge.reading[language]):
        if meaning.kind not in KINDS:
            continue
        tries = 1 + (MOST_BETWEEN_SIGNS if meaning.kind == "finding" else MOST_BETWEEN)
        hits, best = 0.0, ("", (99, 0.0))
        for segments in notation.expand(phrase):
            parts = [sum(map(chance.of, sequences)) for sequences in segments]
            hits += PER * parts[0] * math.prod(-math.expm1(-tries * part) for part in parts[1:])
            likeliest = [min(sequences, key=lambda s: (len(s), -chance.of(s))) for sequences in segments]
            key = (sum(map(len, likeliest)), -math.prod(map(chance.of, likeliest)))
            best = min(best, (" .. ".join(chance.said(s, book.lexicon) for s in likeliest), key), key=lambda b: b[1])
        found.append(Loose(hits, meaning, phrase, best[0]))
    return sorted(found, reverse=True)


def main() -> None:
    """Print the loosest phrases."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--most", type=int, default=300, help="so many of the loosest")
    parser.add_argument("--kind", choices=KINDS, help="of one kind alone")
    parser.add_argument("--texts", type=Path, help="a folder of further ordinary texts, as *.txt")
    args = parser.parse_args()
    try:
        found = loose(Knowledge.load(), "en", args.texts)
    except KnowledgeError as error:
        raise SystemExit(str(error)) from error
    chosen = [f for f in found if args.kind in (None, f.meaning.kind)]
    print(f"{len(chosen)} phrases, {sum(f.hits for f in chosen):.0f} chance hits in {PER} words that count")
    for f in chosen[: args.most]:
        record = f"{f.meaning.record} {f.meaning.more}".strip()
        print(f"{f.hits:8.2f}  {f.meaning.kind:8} {record:40} {f.phrase:60.60}  <- {f.shortest}")


if __name__ == "__main__":
    main()
