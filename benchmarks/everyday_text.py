"""What is read out of text that tells of no engine: every statement is a wrong one, and shows which phrase is loose.

    python benchmarks/everyday_text.py FOLDER [--most 60]

Each line of the *.txt files of the folder is taken as a post of its own: product reviews, messages, news, anything of
everyday language. Printed are the statements in 1000 words, and by record the words that set it off. A word that
riders use for that and others for something else ("it pops") comes first too, and rightly.
"""

from __future__ import annotations

import argparse
from collections import Counter, defaultdict
from pathlib import Path

from carbdiag import Knowledge, TextReading, read_text
from carbdiag.reading_schema import MOST_BYTES


def statements(read: TextReading) -> list[tuple[str, str]]:
    """What was read, by name, and the words it was read from."""
    named = (
        *((f"{f.finding} {f.status}", f.said) for f in read.findings),
        *((f"{c.context} {c.status}", c.said) for c in read.contexts),
        *((f"{c.check} {c.outcome}", c.said) for c in read.checks),
        *((f"{t.do or t.change} {t.effect}", t.said) for t in read.trials),
    )
    return [(name, " / ".join(s.words for s in said)) for name, said in named]


def main() -> None:
    """Read a folder and print what was found in it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--most", type=int, default=60, help="how many records are listed")
    options = parser.parse_args()
    k, words = Knowledge.load(), 0
    found: dict[str, Counter[str]] = defaultdict(Counter)
    for file in sorted(options.folder.glob("*.txt")):
        for line in file.read_text(encoding="utf-8", errors="replace").splitlines():
            words += len(line.split())
            for name, said in statements(read_text(line[: MOST_BYTES // 4], k)):
                found[name][said] += 1
    total = sum(c.total() for c in found.values())
    print(f"{total} statements in {words} words, {1000 * total / max(words, 1):.2f} in 1000")
    for name, said in sorted(found.items(), key=lambda item: (-item[1].total(), item[0]))[: options.most]:
        print(f"{said.total():5} {name}: " + "; ".join(f"{w} ({n})" for w, n in said.most_common(8)))


if __name__ == "__main__":
    main()
