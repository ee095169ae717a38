"""How long a quiz takes: `python benchmarks/quiz.py`. Goal: 50 items in a second, the tables of knowledge built too.

Processor time, for other programs may be running; the median of several seeds and the worst.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

from child_time import of_children

from carbdiag import Knowledge, make_quiz
from carbdiag.knowledge import default_folder
from carbdiag.prepared import prepare
from carbdiag.quiz.exports.formats import TRAINER
from carbdiag.quiz_schema import Blueprint

ITEMS = 50
SEEDS = range(1, 13)


def command() -> float:
    """Processor time of the command in a fresh process."""
    before = of_children()
    order = [sys.executable, "-m", "carbdiag.cli", "quiz", "--items", str(ITEMS)]
    subprocess.run(order, check=True, capture_output=True)
    return of_children() - before


def main() -> None:
    """Print the times."""
    prepare(default_folder())  # as the build of a wheel does
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
    print(f"first {ITEMS} items, tables built {first - loaded:.2f} s (goal 1)")
    print(f"{ITEMS} items                    median {statistics.median(took):.2f} s, worst {max(took):.2f} s (goal 1)")
    print(f"carbdiag quiz, fresh process {min(command() for _ in range(3)):.2f} s, imports and loading included")
    for name, export in TRAINER.items():
        before = time.process_time()
        export(quiz)
        print(f"export {name:<10}           {1000 * (time.process_time() - before):.0f} ms")


if __name__ == "__main__":
    main()
