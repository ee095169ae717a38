"""How long a quiz takes: `python benchmarks/quiz.py`. Goal: 50 items in a second, with the tables of knowledge built.

Processor time, for other programs may be running; best of several seeds is not taken, the worst is shown too.
"""

from __future__ import annotations

import statistics
import time

from carbdiag import Knowledge, make_quiz
from carbdiag.quiz.exports.formats import TRAINER
from carbdiag.quiz_schema import Blueprint

ITEMS = 50
SEEDS = range(1, 13)


def main() -> None:
    """Print the times."""
    start = time.process_time()
    k = Knowledge.load()
    loaded = time.process_time()
    make_quiz(Blueprint(items=ITEMS), 0, k)
    first = time.process_time()
    took = []
    for seed in SEEDS:
        before = time.process_time()
        quiz = make_quiz(Blueprint(items=ITEMS), seed, k)
        took.append(time.process_time() - before)
    print(f"load the knowledge          {loaded - start:.2f} s")
    print(f"first {ITEMS} items, tables built {first - loaded:.2f} s")
    print(f"{ITEMS} items                    median {statistics.median(took):.2f} s, worst {max(took):.2f} s")
    for name, export in TRAINER.items():
        before = time.process_time()
        export(quiz)
        print(f"export {name:<10}           {1000 * (time.process_time() - before):.0f} ms")


if __name__ == "__main__":
    main()
