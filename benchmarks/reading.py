"""How fast a post is read, that no input is slower than linear, and how much of labeled posts is read right.

    python benchmarks/reading.py            speed
    python benchmarks/reading.py --score    precision, recall and F1 by kind, on both halves of the labeled posts
    python benchmarks/reading.py --score --each development     what was missed and what was wrong, post by post

A post belongs to the development half when the SHA-256 of its id is even; the other half was not looked at while
phrases were written.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import statistics
import time
from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, cast

from carbdiag import Knowledge, TextReading, read_text
from carbdiag.knowledge import parse_yaml
from carbdiag.reading.phrasebook import phrasebook

ROOT = Path(__file__).parent.parent
LABELS = ROOT / "tests" / "reading" / "labels"
REPORTS = next(
    (f for p in ROOT.parents if (f := p / "shared" / "cases" / "reports.jsonl").exists()), ROOT.parent / "shared"
)
KINDS = ("findings", "contexts", "checks", "trials")
LONGEST = 48 * 1024

#: Texts that try to make the matcher go back, begin many phrases, or spread one over a whole post.
ADVERSE: Mapping[str, str] = {
    "one word": "dies ",
    "beginnings": "dies when i open ",
    "gaps": "dies when up on down ",
    "negators": "no not never without ",
    "cues": "maybe i think it seems to ",
    "trials": "cleaned the carb replaced the plug ",
    "effects": "cleaned the carb no change ",
    "places": "half throttle quarter throttle ",
    "one letter": "a",
    "brackets": "<a [quote] ",
    "new words": "",
    "numbers": "1 1/2 250 3000 ",
    "stops": "bogs. ",
    "one sentence": "bogs and surges but no difference left cylinder why ",
}


def half_of(post: str) -> str:
    """Which half a post belongs to."""
    return "held out" if int(hashlib.sha256(post.encode()).hexdigest(), 16) % 2 else "development"


def adverse(name: str, length: int) -> str:
    """An adverse text of a length."""
    if name == "new words":
        return " ".join(f"q{n:x}zx".replace("0", "g") for n in range(length))[:length]
    unit = ADVERSE[name]
    return (unit * (length // len(unit) + 1))[:length]


def speed() -> None:
    """Print the time of a longest post, and of adverse texts beside half of them."""
    k = Knowledge.load()
    begin = time.perf_counter()
    book = phrasebook(k, "en")
    print(f"compiling {book.matcher.sequences} sequences: {time.perf_counter() - begin:.2f} s, once in a process")
    post = " ".join(posts().values()) or (ROOT / "docs" / "examples" / "post.txt").read_text(encoding="utf-8")
    long = (post + " ") * (LONGEST // len(post) + 1)
    long = long.encode()[:LONGEST].decode(errors="ignore")
    print(f"{'a 48 kB post':16} {measured(k, long) * 1e3:7.1f} ms")
    for name in ADVERSE:
        whole, part = measured(k, adverse(name, LONGEST)), measured(k, adverse(name, LONGEST // 4))
        print(f"{name:16} {whole * 1e3:7.1f} ms, {whole / part:4.1f} times a quarter of it")


def measured(k: Knowledge, text: str) -> float:
    """Median seconds of processor time for reading a text."""
    times = []
    for _ in range(5):
        begin = time.process_time()
        read_text(text, k)
        times.append(time.process_time() - begin)
    return statistics.median(times)


# ---------------------------------------------------------------------------------------------------------
# Score


def posts() -> dict[str, str]:
    """The reported posts by id; none where the shared folder is absent."""
    if not REPORTS.is_file():
        return {}
    rows = (json.loads(line) for line in REPORTS.read_text(encoding="utf-8").splitlines())
    return {row["id"]: row["post_text"] for row in rows}


def labels() -> dict[str, dict[str, set[str]]]:
    """What each labeled post says, as one line of text a statement, by kind."""
    out = {}
    for file in sorted(LABELS.glob("*.yaml")):
        for post, said in cast(dict[str, Any], parse_yaml(file.read_text(encoding="utf-8"))).items():
            out[post] = {kind: set(said.get(kind, ())) for kind in (*KINDS, "either")}
    return out


def read_as(reading: TextReading) -> dict[str, set[str]]:
    """A reading in the form of the labels. A place is part of a finding where the label names one."""
    return {
        "findings": {
            f"{f.finding}{'' if f.status == 'present' else ' ' + f.status}" for f in reading.findings
        },
        "contexts": {f"{c.context}{'' if c.status == 'present' else ' ' + c.status}" for c in reading.contexts},
        "checks": {f"{c.check} {c.outcome}" for c in reading.checks},
        "trials": {f"{t.do or f'{t.change} {t.direction}'} {t.effect}" for t in reading.trials},
    }


def scores(k: Knowledge, chosen: Iterable[str]) -> dict[str, Counter[str]]:
    """Right, wrong and missed statements by kind. What a label file lists under `either` counts neither way."""
    told, text = labels(), posts()
    out: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    for post in chosen:
        read = read_as(read_text(text[post], k))
        for kind in KINDS:
            free = told[post]["either"]
            got, wanted = read[kind] - free, told[post][kind]
            out[kind].update(right=len(got & wanted), wrong=len(got - wanted), missed=len(wanted - got))
    return out


def f1(c: Counter[str]) -> tuple[float, float, float]:
    """Precision, recall and F1."""
    precision = c["right"] / max(c["right"] + c["wrong"], 1)
    recall = c["right"] / max(c["right"] + c["missed"], 1)
    return precision, recall, 2 * precision * recall / max(precision + recall, 1e-9)


def score(each: str | None) -> None:
    """Print the scores of both halves."""
    k, told, text = Knowledge.load(), labels(), posts()
    if not text:
        print(f"no posts: {REPORTS} is absent")
        return
    for half in ("development", "held out"):
        chosen = [post for post in told if half_of(post) == half]
        found = scores(k, chosen)
        total: Counter[str] = Counter()
        print(f"{half}: {len(chosen)} posts")
        for kind in KINDS:
            total.update(found[kind])
            _line(kind, found[kind])
        _line("all", total)
        for post in chosen if each == half else ():
            read = read_as(read_text(text[post], k))
            for kind in KINDS:
                got, wanted = read[kind] - told[post]["either"], told[post][kind]
                if got != wanted:
                    print(f"   {post} {kind}: wrong {sorted(got - wanted)}, missed {sorted(wanted - got)}")


def _line(name: str, c: Counter[str]) -> None:
    precision, recall, both = f1(c)
    print(
        f"  {name:9} precision {precision:.2f}  recall {recall:.2f}  F1 {both:.2f}"
        f"   ({c['right']} right, {c['wrong']} wrong, {c['missed']} missed)"
    )


def main() -> None:
    """Print the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--score", action="store_true", help="score the labeled posts instead of timing")
    parser.add_argument("--each", choices=("development", "held out"), help="list what was wrong in one half")
    options = parser.parse_args()
    if options.score:
        score(options.each)
    else:
        speed()


if __name__ == "__main__":
    main()
