"""How fast a post is read, that no input is slower than linear, and how much of labeled posts is read right.

    python benchmarks/reading.py            speed
    python benchmarks/reading.py --score    precision, recall and F1 by kind, on every set of labeled posts
    python benchmarks/reading.py --score --each development_2   what was missed and what was wrong, post by post

A post belongs to a development set when the SHA-256 of its id is even; the others were not looked at while phrases
were written. `development` and `held_out` are the reported cases, by now read by many; the texts of the others stand
in `tests/reading/posts`. `held_out_2` was opened once `held_out_3` was made: nobody who writes phrases has read that.
The posts of the `HALVED` sets are invented and hold both halves: phrases are mended from one, the other only measures.
"""

from __future__ import annotations

import argparse
import gc
import hashlib
import json
import statistics
import time
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any, cast

from carbdiag import Knowledge, TextReading, read_text
from carbdiag.reading.phrasebook import phrasebook
from carbdiag.strict_yaml import parse_yaml

ROOT = Path(__file__).parent.parent
LABELS = ROOT / "tests" / "reading" / "labels"
TEXTS = ROOT / "tests" / "reading" / "posts"
REPORTS = next(
    (f for p in ROOT.parents if (f := p / "shared" / "cases" / "reports.jsonl").exists()), ROOT.parent / "shared"
)
SETS = ("development", "held_out", "development_2", "held_out_2", "held_out_3")
#: Set that stays a fair measure only as long as nobody sees which of its posts are read wrong, and why they are.
BLIND = "held_out_3"
WHY_BLIND = (
    f"{BLIND} measures how posts are read that no phrase was written from; once somebody has seen its mistakes it "
    "measures nothing. Use development_2, or add --spoil if the set is given up for good"
)
#: Set that a second person labeled too before seeing the labels of the first, and what came of comparing them.
LABELED_TWICE = "held_out_2"
SECOND, AGREED = f"{LABELED_TWICE}_second", f"{LABELED_TWICE}_agreed"
KINDS = ("findings", "contexts", "checks", "trials")
#: Complaints of newcomers and of tuners: fair in each round at first look, and mended from afterwards.
NEWCOMERS = (
    "newcomer_1",
    "newcomer_2",
    "tuner_1",
    "tuner_2",
    "messy_road",
    "messy_road_2",
    "messy_dirt",
    "messy_dirt_2",
    "messy_garden",
    "messy_garden_2",
    "messy_road_3",
)
#: Sets that hold both halves, and the kinds of statement that are labeled in them.
HALVED: Mapping[str, tuple[str, ...]] = {
    "checks_invented": ("checks", "trials", "facts"),
    "signs_invented": ("findings", "contexts"),
}
#: Facts that are kept as what they are and lead to nothing.
IDLE_FACTS = ("engine_speed", "load")
LONGEST = 48 * 1024
SHORT = 700

#: Texts that try to make the matcher go back, begin many phrases, or spread one over a whole post.
ADVERSE: Mapping[str, str] = {
    "one word": "dies ",
    "beginnings": "dies when i open ",
    "gaps": "dies when up on down ",
    "pieces": "hard to start when cold hard start up hard ",
    "negators": "no not never without ",
    "cues": "maybe i think it seems to ",
    "trials": "cleaned the carb replaced the plug ",
    "effects": "cleaned the carb no change ",
    "places": "half throttle quarter throttle ",
    "one letter": "a",
    "brackets": "<a [quote] ",
    "jets one by one": "jet 120 pinged, jet 125 was fine, the 130 blubbered. ",
    "further turned": "air screw is at 2, gets better the more I turn it out. ",
    "new words": "",
    "numbers": "1 1/2 250 3000 ",
    "stops": "bogs. ",
    "one sentence": "bogs and surges but no difference left cylinder why ",
    "results": "spark is good ",
    "results joined": "compression good and spark is good and ",
    "conditions": "if choke helps it is lean ",
    "swaps": "swapped the coils left to right still left ",
    "sizes": "main from 158 to 150 best at 150 ",
    "plans": "gonna go from 158 to 150 main ",
    "screws": "turned the mixture screw out ",
    "gauges": "afr 13.2 at idle ",
    "weather": "fine in summer now its 3 degrees ",
    "degrees": "28 degrees C 6 degrees ",
    "airs": "it is 5C now jetted at 30C ",
    "seasons": "jetted in winter now summer ",
    "homes": "back home ",
    "heights left": "came back from 9000 ft now it pings ",
    "denied": "no surging at half ",
    "labels": "plug: white, ",
    "arrows": "new plug -> runs, ",
    "sizes beside the book's": "main 178 (stock 172), ",
    "heard": "it bogs and dies and smokes black and ",
}
#: What an adverse text begins with, once.
HEADS: Mapping[str, str] = {"heard": "somebody told me "}


def half_of(post: str) -> str:
    """Which half a post belongs to."""
    return "held_out" if int(hashlib.sha256(post.encode()).hexdigest(), 16) % 2 else "development"


#: From here on numbers have as many digits for a while.
_LONG = 0x1000


def adverse(name: str, length: int) -> str:
    """An adverse text of a length."""
    if name == "new words":
        # all as long as each other, so that every part of the text has as many words
        return " ".join(f"q{n:x}zx".replace("0", "g") for n in range(_LONG, _LONG + length))[:length]
    unit = ADVERSE[name]
    return (HEADS.get(name, "") + unit * (length // len(unit) + 1))[:length]


def speed() -> None:
    """Print the time of a short post and of longest ones, and of adverse texts beside a quarter of them."""
    k = Knowledge.load()
    begin = time.process_time()
    book = phrasebook(k, "en")
    print(f"compiling {book.matcher.sequences} sequences: {time.process_time() - begin:.2f} s, once in a process")
    gc.collect()
    gc.freeze()  # as the service does once it has loaded: phrases are not searched for garbage again and again
    post = " ".join(posts().values()) or (ROOT / "docs" / "examples" / "post.txt").read_text(encoding="utf-8")
    others = " ".join(posts_of(NEWCOMERS[0]).values())
    short = (others[start : start + SHORT] for start in range(0, 20 * SHORT, SHORT))
    print(f"{f'{SHORT} characters':16} {statistics.median(measured(k, said) for said in short) * 1e3:7.1f} ms")
    for name, said in (("a 48 kB post", post), ("of other posts", others)):
        long = (said + " ") * (LONGEST // len(said) + 1)
        long = long.encode()[:LONGEST].decode(errors="ignore")
        print(f"{name:16} {measured(k, long) * 1e3:7.1f} ms (goal 30), {grows(k, long)}")
    for name in ADVERSE:
        text = adverse(name, LONGEST)
        print(f"{name:16} {measured(k, text) * 1e3:7.1f} ms, {grows(k, text)}")


def grows(k: Knowledge, text: str) -> str:
    """How many times the quarter of a text the whole takes; what grows with the text alone takes four times."""
    return f"{measured(k, text) / measured(k, text[: len(text) // 4]):4.1f} times a quarter of it (goal 4)"


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


def posts(*, notes: bool = False) -> dict[str, str]:
    """The reported posts by id; none where the shared folder is absent.

    Args:
        notes: with what was noted beside each, a line a thing: circumstances, signs, what is not so, "test -> result".
    """
    if not REPORTS.is_file():
        return {}
    rows = (json.loads(line) for line in REPORTS.read_text(encoding="utf-8").splitlines())
    kinds = ("context", "symptoms", "negatives", "tests_done") if notes else ()
    return {row["id"]: "\n- ".join([row["post_text"], *(line for kind in kinds for line in row[kind])]) for row in rows}


def texts() -> dict[str, str]:
    """The reported posts, and the posts of the later sets, by id."""
    later = (posts_of(name) for name in (*SETS[2:], *NEWCOMERS, *HALVED))
    return posts() | {post: text for file in later for post, text in file.items()}


def posts_of(name: str) -> dict[str, str]:
    """The posts of a later set by id."""
    return {post["id"]: post["text"] for post in cast(list[dict[str, Any]], _read(TEXTS / f"{name}.yaml"))}


def _read(file: Path) -> object:
    return parse_yaml(file.read_text(encoding="utf-8"))


def labels(name: str) -> dict[str, dict[str, set[str]]]:
    """What each post of a set says, as one line of text a statement, by kind."""
    return {
        post: {kind: set(said.get(kind, ())) for kind in (*KINDS, "facts", "either")}
        for post, said in cast(dict[str, Any], _read(LABELS / f"{name}.yaml")).items()
    }


def read_as(reading: TextReading) -> dict[str, set[str]]:
    """A reading in the form of the labels. A place is part of a finding where the label names one."""
    return {
        "findings": {
            f"{f.finding}{'' if f.status == 'present' else ' ' + f.status}" for f in reading.findings
        },
        "contexts": {f"{c.context}{'' if c.status == 'present' else ' ' + c.status}" for c in reading.contexts},
        "checks": {f"{c.check} {c.outcome}" for c in reading.checks},
        "trials": {f"{t.do or f'{t.change} {t.direction}'} {t.effect}" for t in reading.trials},
        "facts": {f"{f.fact} {_value(f.value)}" for f in reading.facts if f.fact not in IDLE_FACTS},
    }


def _value(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.4g}"


def scores(k: Knowledge, name: str, half: str | None = None) -> dict[str, Counter[str]]:
    """Right, wrong and missed statements by kind. What a label file lists under `either` counts neither way."""
    text = texts()
    out: dict[str, Counter[str]] = {kind: Counter() for kind in HALVED.get(name, KINDS)}
    for post, told in labels(name).items():
        if half is not None and half_of(post) != half:
            continue
        read = read_as(read_text(text[post], k))
        read["contexts"] = _as_exact(k, read["contexts"], told)
        for kind, counted in out.items():
            _count(counted, read[kind], told, kind)
    return out


def _as_exact(k: Knowledge, read: set[str], told: Mapping[str, set[str]]) -> set[str]:
    """Circumstances read, each that says a labeled one more exactly as that: a larger main jet as jets changed."""
    wanted = told["contexts"] | told["either"]
    settled = ((s, c) for c in wanted & k.contexts.keys() for s in k.contexts[c].settled_by)
    general = {s: c for s, c in settled if c not in k.contexts[s].settled_by}  # no "up" for "down"
    return {c if c in wanted else general.get(c, c) for c in read}


def _count(counted: Counter[str], said: set[str], told: Mapping[str, set[str]], kind: str) -> None:
    got, wanted = said - told["either"], told[kind]
    counted.update(right=len(got & wanted), wrong=len(got - wanted), missed=len(wanted - got))


def person_beside_person() -> dict[str, Counter[str]]:
    """The labels of the second person as if they were a reading: how well two careful readers agree."""
    second = labels(SECOND)
    out: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    for post, told in labels(LABELED_TWICE).items():
        for kind, counted in out.items():
            _count(counted, second[post][kind], told, kind)
    return out


def f1(c: Counter[str]) -> tuple[float, float, float]:
    """Precision, recall and F1."""
    precision = c["right"] / max(c["right"] + c["wrong"], 1)
    recall = c["right"] / max(c["right"] + c["missed"], 1)
    return precision, recall, 2 * precision * recall / max(precision + recall, 1e-9)


def score(each: str | None) -> None:
    """Print the scores of every set, and the mistakes in one."""
    k, text = Knowledge.load(), texts()
    for name in (*SETS, *NEWCOMERS):
        told = labels(name)
        if not text.keys() >= told.keys():
            print(f"{name}: no posts, {REPORTS} is absent")
            continue
        print(f"{name}: {len(told)} posts")
        _table(scores(k, name))
        if each == name:
            _mistakes(k, name, told)
        if name == LABELED_TWICE:
            print(f"{AGREED}: the same posts, beside what two people agreed on")
            _table(scores(k, AGREED))
            print(f"{SECOND}: what the second of them labeled, beside the first, scored as the reader is")
            _table(person_beside_person())
    for name in HALVED:
        for half in ("development", "held_out"):
            told = {post: said for post, said in labels(name).items() if half_of(post) == half}
            print(f"{name}, {half}: {len(told)} posts")
            _table(scores(k, name, half))
            if each == name and half == "development":
                _mistakes(k, name, told)


def _mistakes(k: Knowledge, name: str, told: Mapping[str, dict[str, set[str]]]) -> None:
    text = texts()
    for post, said in told.items():
        read = read_as(read_text(text[post], k))
        read["contexts"] = _as_exact(k, read["contexts"], said)
        for kind in HALVED.get(name, KINDS):
            got, wanted = read[kind] - said["either"], said[kind]
            if got != wanted:
                print(f"   {post} {kind}: wrong {sorted(got - wanted)}, missed {sorted(wanted - got)}")


def _table(found: Mapping[str, Counter[str]]) -> None:
    total: Counter[str] = Counter()
    for kind, counted in found.items():
        total.update(counted)
        _line(kind, counted)
    _line("all", total)


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
    parser.add_argument("--each", choices=(*SETS, *NEWCOMERS, *HALVED), help="list what was wrong in one set")
    parser.add_argument("--spoil", action="store_true", help=f"allow --each {BLIND}")
    options = parser.parse_args()
    if options.each == BLIND and not options.spoil:
        parser.error(WHY_BLIND)
    if options.score:
        score(options.each)
    else:
        speed()


if __name__ == "__main__":
    main()
