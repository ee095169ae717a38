"""The options of `carbdiag quiz`, apart from the command itself, so that other commands do not load quizzes."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Final

WHAT: Final = "make a quiz from the knowledge, with key, grading and exports"
EXAMPLES: Final = """\
  carbdiag quiz --items 20 --strokes 2 --difficulty medium --share 40:needle,main_jet --at-least 3:safety
  carbdiag quiz --items 20 --seed 7 --key             the answer key of the quiz with seed 7
  carbdiag quiz --items 20 --seed 7 --as qti --out quiz.zip
  carbdiag quiz --items 5 --seed 7 --take             answer it here, one by one
  carbdiag quiz --items 20 --seed 7 --grade sheets.csv
  carbdiag quiz --items 20 --seed 7 --analyze sheets.csv
"""
FORMATS: Final = ("text", "markdown", "html", "json", "qti", "gift", "aiken", "cards")


def add_options(parser: argparse.ArgumentParser) -> None:
    """The options of `carbdiag quiz`."""
    wish = parser.add_argument_group("what the quiz must hold")
    wish.add_argument("--blueprint", metavar="FILE", help="a blueprint file, YAML or JSON, instead of options")
    wish.add_argument("--items", metavar="N", help="how many items, 1 to 200 (10)")
    wish.add_argument("--family", action="append", metavar="F", help="kind of carburetor; may be given again")
    wish.add_argument("--strokes", choices=("2", "4"), help="two-stroke or four-stroke machines only")
    wish.add_argument("--difficulty", choices=("easy", "medium", "hard"), help="all items of this difficulty")
    wish.add_argument("--kind", action="append", metavar="K", help="only this kind of item; may be given again")
    wish.add_argument(
        "--share", action="append", metavar="PERCENT:TAGS", help="so many percent about these: 40:needle,main_jet"
    )
    wish.add_argument("--at-least", action="append", metavar="N:TAGS", help="at least so many about these: 3:safety")
    parser.add_argument("--seed", default="1", metavar="S", help="same seed, same quiz (1)")
    out = parser.add_argument_group("what to do with it")
    out.add_argument("--key", action="store_true", help="the trainer's answer key instead of the questions")
    out.add_argument("--as", dest="form", choices=FORMATS, default="text", help="format (text)")
    out.add_argument("--out", metavar="FILE", type=Path, help="write to a file instead of standard output")
    out.add_argument("--take", action="store_true", help="take the quiz here, each answer explained at once")
    out.add_argument("--grade", metavar="SHEETS", help="grade answer sheets: JSON, YAML or CSV; - is standard input")
    out.add_argument("--analyze", metavar="SHEETS", help="statistics of the items over a class's sheets")
