"""The command `carbdiag`: answers go to standard output, messages to standard error; no color is ever used.

Exit status: 0 fine, 2 bad input (every problem on a line of its own), 1 a fault of carbdiag.

A command loads what it alone needs when it is asked for: a person waits for it.
"""

from __future__ import annotations

import argparse
import errno
import gc
import io
import os
import re
import sys
import traceback
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path
from typing import NoReturn, cast

from carbdiag import __version__, quiz_options, tuning_options
from carbdiag.answers.forms import FORMS, MARKUPS
from carbdiag.answers.language import languages
from carbdiag.command_tools import BAD_INPUT, FINE, OUR_FAULT, BadInputError, tell
from carbdiag.errors import (
    CaseError,
    KnowledgeError,
    OutOfRangeError,
    ReadingMissingError,
)
from carbdiag.knowledge import default_folder

_STOPPED = 130
_MOST_STEPS = 20
_MOST_ASKS = 50
_LISTS = ("findings", "checks", "contexts", "actions", "causes", "circuits", "families", "uses")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit status."""
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        status = _run(sys.argv[1:] if arguments is None else arguments)
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else FINE
    except ReadingMissingError as error:
        tell(str(error))
        status = BAD_INPUT
    except (BadInputError, CaseError) as error:
        for problem in error.problems:
            tell(f"{problem}{_where_to_look(problem)}")
        status = BAD_INPUT
    except KnowledgeError as error:
        for mistake in error.mistakes:
            tell(str(mistake))
        tell(f"The knowledge in {default_folder()} cannot be used.")
        status = BAD_INPUT
    except OutOfRangeError as error:
        tell(str(error))
        status = BAD_INPUT
    except BrokenPipeError:
        # Whoever read us has seen enough; nothing is left to flush at exit either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        status = FINE
    except KeyboardInterrupt:
        status = _STOPPED
    except Exception as error:
        if isinstance(error, OSError) and error.errno == errno.ENOSPC:
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            tell(f"the answer cannot be written ({error.strerror})")
            return BAD_INPUT
        for line in traceback.format_exc().splitlines():
            tell(line)
        tell(f"carbdiag failed, and the fault is ours, not yours ({type(error).__name__}).")
        status = OUR_FAULT
    if arguments is None:
        gc.freeze()  # the process ends here: searching all it holds for garbage once more takes a fifth of its time
    return status


def _run(arguments: Sequence[str]) -> int:
    parser = _parser()
    if not arguments:
        parser.print_help(sys.stderr)
        return BAD_INPUT
    chosen = parser.parse_args(arguments)
    collects = gc.isenabled()
    if chosen.ends:
        gc.disable()  # a command ends before there is garbage to speak of; looking for it takes a sixth of its time
    try:
        status = cast(_Run, chosen.run)(chosen)
    finally:
        if collects:
            gc.enable()
    sys.stdout.flush()
    return status


def _where_to_look(problem: object) -> str:
    """The command that lists all the ids of a kind, where a problem can show only some."""
    unknown = re.match(r"unknown (finding|check|context|action|circuit)\b", getattr(problem, "message", ""))
    return f" See: carbdiag list {unknown[1]}s" if unknown and not getattr(problem, "nearest", "") else ""


_Run = Callable[[argparse.Namespace], int]


def _in(module: str, name: str = "run") -> _Run:
    """A command that is loaded from its module when it is asked for."""
    return lambda chosen: int(getattr(import_module(f"carbdiag.{module}"), name)(chosen))


# ---------------------------------------------------------------------------------------------------------
# The command line


class _Parser(argparse.ArgumentParser):
    """A parser whose help begins with examples."""

    examples: str = ""

    def format_help(self) -> str:
        return (
            f"Examples:\n{self.examples}\n{super().format_help()}" if self.examples else super().format_help()
        )

    def error(self, message: str) -> NoReturn:
        tell(f"{message}. See: {self.prog} --help")
        raise SystemExit(BAD_INPUT)


_EXAMPLES = """\
  carbdiag demo                       see an answer to an invented case
  carbdiag demo --case > mine.yaml    take that case as a start, and edit it
  carbdiag list findings bog          find the ids that a case needs
  carbdiag diagnose mine.yaml         likely causes, what to check first, what to change
  carbdiag walk mine.yaml             go step by step to the cure
  carbdiag bands round_slide          what each throttle opening tells you
"""


_TUNING: tuple[tuple[str, str, str], ...] = (
    (
        "air",
        "turn weather or height into the density and oxygen that carburetors feel",
        "  carbdiag air --elevation-m 1500 --temperature-c 28\n"
        "  carbdiag air --qnh-hpa 1021 --elevation-m 600 --temperature-c 12 --humidity-percent 80\n"
        "  carbdiag air --station-hpa 941 --temperature-c 12 --dew-point-c 7\n",
    ),
    (
        "resize",
        "say which jets, clip and screw to start with when the machine moves to other air",
        "  carbdiag resize --family round_slide --strokes 2 --main-jet 160 --pilot-jet 45 --jet-numbering bore \\\n"
        "    --clip-groove 3 --set-elevation-m 300 --set-temperature-c 25 --elevation-m 2400 --temperature-c 5\n"
        "  carbdiag resize move.yaml --json\n",
    ),
    (
        "correct",
        "say which part to change, which way and to which size, for a mixture that is off at one opening",
        "  carbdiag correct --family round_slide --strokes 2 --main-jet 160 --jet-numbering bore --at full"
        " --mixture lean\n"
        "  carbdiag correct --family round_slide --clip-groove 3 --at half --mixture rich \\\n"
        "    --p-lean-three-quarter 0.02 --p-lean-full 0.03\n"
        "  cat wanted.yaml | carbdiag correct -\n",
    ),
    (
        "sweep",
        "show the mixture from closed to full throttle, before and after a change, and which circuit feeds it",
        "  carbdiag sweep --family round_slide --strokes 2 --main-jet 160 --jet-numbering bore --after-main-jet 155\n"
        "  carbdiag sweep plan.yaml --csv > plan.csv\n"
        "  carbdiag sweep plan.yaml --plot plan.svg\n",
    ),
)


def _asks(text: str) -> int:
    if not text.isascii() or not text.isdecimal() or len(text) > 2 or int(text) > _MOST_ASKS:
        raise argparse.ArgumentTypeError(f"must be a whole number from 0 to {_MOST_ASKS}, got {text[:40]!r}")
    return int(text)


def _parser() -> _Parser:
    parser = _Parser(
        prog="carbdiag",
        description="From what a carbureted engine does at each throttle opening to likely causes,"
        " the next best check, and a sized correction.",
        epilog="Exit status: 0 fine, 2 bad input, 1 a fault of carbdiag. CARBDIAG_KNOWLEDGE in the environment names a"
        " folder of knowledge to use in place of the shipped one.",
        allow_abbrev=False,
    )
    parser.examples = _EXAMPLES
    parser.add_argument("--version", action="version", version=f"carbdiag {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    def command(name: str, run: _Run, what: str, examples: str) -> _Parser:
        sub = commands.add_parser(
            name, help=what, description=what[:1].upper() + what[1:] + ".", allow_abbrev=False
        )
        sub.examples = examples
        ends = name != "serve"
        sub.set_defaults(run=run, parser=sub, ends=ends)
        if ends:
            sub.add_argument("--json", action="store_true", help="print JSON instead of text")
        return sub

    _add_diagnosing(command)
    _add_looking(command)
    _add_sizing(command)
    quiz_options.add_options(command("quiz", _in("quiz_command"), quiz_options.WHAT, quiz_options.EXAMPLES))
    _add_keeping(command)
    return parser


_Command = Callable[[str, _Run, str, str], _Parser]


def _add_diagnosing(command: _Command) -> None:
    ask = command(
        "diagnose",
        _in("diagnose_command"),
        "say the likely causes of a case, what to check first, and what to change",
        "  carbdiag diagnose mine.yaml\n  carbdiag diagnose mine.yaml --json --steps 8\n"
        "  carbdiag diagnose mine.yaml --as bbcode\n  carbdiag diagnose mine.yaml --as markdown --form short"
        " --language es\n"
        "  carbdiag diagnose --text post.txt\n"
        "  cat mine.yaml | carbdiag diagnose -\n",
    )
    ask.add_argument("case", metavar="CASE", nargs="?", help="a case file, YAML or JSON; - reads standard input")
    ask.add_argument("--text", metavar="POST", help="a post to read beside the case or instead of one")
    ask.add_argument("--text-language", metavar="CODE", help="language of the post (that of the answer)")
    _add_answer(ask)

    on = command(
        "walk",
        _in("walk_command"),
        "go step by step to the cure: asks, and writes every answer into the case file",
        "  carbdiag walk mine.yaml\n  carbdiag walk mine.yaml --text post.txt\n"
        "  carbdiag walk mine.yaml --asks 5 --language es\n  carbdiag walk mine.yaml --json\n",
    )
    on.add_argument("case", metavar="CASE", help="a case file, YAML or JSON; it is begun if it does not exist")
    on.add_argument("--text", metavar="POST", help="a post to begin with, or to add to the case")
    on.add_argument("--text-language", metavar="CODE", help="language of the post (that of the questions)")
    on.add_argument("--language", choices=languages(), default="en", help="language of the questions (en)")
    on.add_argument(
        "--asks", type=_asks, default=10, metavar="N", help="how many questions you will answer in all (10)"
    )

    read = command(
        "read",
        _in("read_command"),
        "say what a post states: findings, circumstances, checks, trials and facts, with the words they came from",
        "  carbdiag read post.txt\n  carbdiag read post.txt --case > mine.yaml\n  cat post.txt | carbdiag read -\n",
    )
    read.add_argument("post", metavar="POST", help="a text file, at most 48 kB; - reads standard input")
    read.add_argument("--text-language", metavar="CODE", help="language of the post (that of the answer)")
    read.add_argument("--language", choices=languages(), default="en", help="language of the answer (en)")
    read.add_argument("--case", action="store_true", help="print it as a case file, to put right and go on with")


def _add_looking(command: _Command) -> None:
    bands = command(
        "bands",
        _in("look_up_command", "bands"),
        "show, for each throttle opening, the circuit in control, its signs and its correction",
        "  carbdiag bands round_slide\n  carbdiag bands flat_slide --strokes 4\n",
    )
    bands.add_argument("family", metavar="FAMILY", help="kind of carburetor; see: carbdiag list families")
    bands.add_argument("--strokes", type=int, choices=(2, 4), help="two-stroke or four-stroke")

    show = command(
        "list",
        _in("look_up_command", "ids"),
        "list the ids a case is written with, with names, places and outcomes",
        "  carbdiag list findings\n  carbdiag list checks fuel\n  carbdiag list families --json\n",
    )
    show.add_argument("what", metavar="WHAT", choices=_LISTS, help=", ".join(_LISTS))
    show.add_argument("word", metavar="WORD", nargs="?", help="only records that say this word")


def _add_sizing(command: _Command) -> None:
    for name, what, examples in _TUNING:
        tune = command(name, _in("tuning_command"), what, examples)
        tune.set_defaults(tunes=name)
        tune.add_argument(
            "request", metavar="REQUEST", nargs="?", help="a request file, YAML or JSON, instead of options; - reads"
            " standard input",
        )  # fmt: skip
        tuning_options.add_options(tune, name)
        if name == "sweep":
            tune.add_argument("--csv", action="store_true", help="print the rows as CSV instead of text")
            tune.add_argument(
                "--plot", type=Path, metavar="FILE", help="also draw a picture, FILE.svg or FILE.png (needs matplotlib)"
            )


def _add_keeping(command: _Command) -> None:
    demo = command(
        "demo",
        _in("diagnose_command", "demo"),
        "diagnose an invented case",
        "  carbdiag demo\n  carbdiag demo --case > mine.yaml\n",
    )
    demo.add_argument("--case", action="store_true", help="print the case itself, as a start for your own")
    _add_answer(demo)

    lint = command(
        "lint",
        _in("lint_command"),
        "check a folder of knowledge for mistakes",
        "  carbdiag lint\n  carbdiag lint knowledge\n  carbdiag lint --coverage\n",
    )
    lint.add_argument("--coverage", action="store_true", help="say instead what it covers, and every hole")
    lint.add_argument(
        "folder", metavar="FOLDER", nargs="?", type=Path, help="without it, the shipped knowledge"
    )

    serve = command(
        "serve",
        _in("serve_command"),
        "answer over HTTP",
        "  carbdiag serve\n  carbdiag serve --port 8080\n",
    )
    serve.add_argument(
        "--host", default="127.0.0.1", help="address to listen on (default: this machine only)"
    )
    serve.add_argument("--port", type=_port, default=8000, help="port to listen on (default: 8000)")


def _add_answer(parser: _Parser) -> None:
    parser.add_argument(
        "--as", dest="markup", choices=MARKUPS, help="markup to print the answer in (text)"
    )
    parser.add_argument(
        "--form", choices=FORMS, default="full", help="full, or short for a chat message of at most 900 characters"
    )
    parser.add_argument("--language", choices=languages(), default="en", help="language of the answer (en)")
    parser.add_argument(
        "--steps", type=_steps, default=5, metavar="N", help="how many next steps to show, 0 to 20 (5)"
    )


def _whole(text: str, low: int, high: int) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) <= 6 and low <= int(text) <= high):
        raise argparse.ArgumentTypeError(f"must be a whole number from {low} to {high}, got {text[:40]!r}")
    return int(text)


def _steps(text: str) -> int:
    return _whole(text, 0, _MOST_STEPS)


def _port(text: str) -> int:
    return _whole(text, 1, 65535)


if __name__ == "__main__":
    sys.exit(main())
