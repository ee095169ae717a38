"""The command `carbdiag`: answers go to standard output, messages to standard error; no color is ever used.

Exit status: 0 fine, 2 bad input (every problem on a line of its own), 1 a fault of carbdiag.

A command loads what it alone needs when it is asked for: a person waits for it.
"""

from __future__ import annotations

import argparse
import dataclasses
import errno
import gc
import importlib
import io
import json
import os
import re
import sys
import textwrap
import traceback
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any, NoReturn, TypeVar, cast

from pydantic import ValidationError

from carbdiag import __version__, quiz_options, tuning_options
from carbdiag.answers import FORMS, MARKUPS, bands_to_text, languages, printable, render
from carbdiag.answers.layout import WIDTH
from carbdiag.band_view import band_table
from carbdiag.case_schema import Case
from carbdiag.command_tools import Tools
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.errors import (
    CarbdiagError,
    CaseError,
    KnowledgeError,
    OutOfRangeError,
    ReadingMissingError,
)
from carbdiag.field_problems import field_problems, refused_yaml
from carbdiag.frozen import Frozen
from carbdiag.knowledge import Knowledge, default_folder, load_case, load_worked_cases, shipped_knowledge
from carbdiag.strict_yaml import YamlRefusedError, parse_yaml

FINE, OUR_FAULT, BAD_INPUT = 0, 1, 2
_STOPPED = 130
_MOST_BYTES = 64 * 1024
_MOST_STEPS = 20
_MOST_ASKS = 50
_STANDARD_INPUT = "-"
_LISTS = ("findings", "checks", "contexts", "actions", "causes", "circuits", "families", "uses")


_Request = TypeVar("_Request", bound=Frozen)


class BadInputError(CarbdiagError):
    """What was given cannot be used; one problem a line."""

    def __init__(self, problems: Iterable[object]) -> None:
        self.problems = tuple(str(p) for p in problems)
        super().__init__("\n".join(self.problems))


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
        _tell(str(error))
        status = BAD_INPUT
    except (BadInputError, CaseError) as error:
        for problem in error.problems:
            _tell(f"{problem}{_where_to_look(problem)}")
        status = BAD_INPUT
    except KnowledgeError as error:
        for mistake in error.mistakes:
            _tell(str(mistake))
        _tell(f"The knowledge in {default_folder()} cannot be used.")
        status = BAD_INPUT
    except OutOfRangeError as error:
        _tell(str(error))
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
            _tell(f"the answer cannot be written ({error.strerror})")
            return BAD_INPUT
        for line in traceback.format_exc().splitlines():
            _tell(line)
        _tell(f"carbdiag failed, and the fault is ours, not yours ({type(error).__name__}).")
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
    if chosen.run is not _serve:
        gc.disable()  # a command ends before there is garbage to speak of; looking for it takes a sixth of its time
    try:
        status = cast(Callable[[argparse.Namespace], int], chosen.run)(chosen)
    finally:
        if collects:
            gc.enable()
    sys.stdout.flush()
    return status


# ---------------------------------------------------------------------------------------------------------
# The commands


def _diagnose(chosen: argparse.Namespace) -> int:
    named = [n for n in (chosen.case, chosen.text) if n is not None]
    if not named or (_STANDARD_INPUT in named and sys.stdin.isatty()):
        chosen.parser.print_help(sys.stderr)
        return BAD_INPUT
    if named == [_STANDARD_INPUT, _STANDARD_INPUT]:
        raise BadInputError(["only one of the case and the text can come from standard input"])
    case = Case() if chosen.case is None else load_case(_read(chosen.case))
    if chosen.text is None:
        _answer_to(case, chosen)
        return FINE
    from carbdiag.posted_schema import PostedCase, ReadDiagnosis  # noqa: PLC0415
    from carbdiag.reading import diagnose_posted  # noqa: PLC0415

    stated = {name: getattr(case, name) for name in Case.model_fields}
    posted = PostedCase.trusted(**stated, text=_read(chosen.text), language=chosen.text_language or chosen.language)
    answer = diagnose_posted(posted, steps=chosen.steps)
    _answer(answer, chosen)
    if isinstance(answer, ReadDiagnosis) and answer.reading is not None and answer.reading.is_empty:
        _tell(f"Nothing was read in the post as {posted.language}. In another language? Say which: --text-language")
    return FINE


def _read_post(chosen: argparse.Namespace) -> int:
    if chosen.post == _STANDARD_INPUT and sys.stdin.isatty():
        chosen.parser.print_help(sys.stderr)
        return BAD_INPUT
    from carbdiag.answers.case_sheet import case_sheet  # noqa: PLC0415
    from carbdiag.answers.reading_text import reading_text  # noqa: PLC0415
    from carbdiag.case_file import case_text  # noqa: PLC0415
    from carbdiag.reading import case_of, read_text  # noqa: PLC0415

    reading = read_text(_read(chosen.post), language=chosen.language)
    if chosen.case:
        sys.stdout.write(case_text(case_of(reading), as_json=True) if chosen.json else case_sheet(reading))
    elif chosen.json:
        _json(reading.model_dump(mode="json"))
    else:
        sys.stdout.write(reading_text(reading, shipped_knowledge()))
    return FINE


def _walk(chosen: argparse.Namespace) -> int:
    from carbdiag import walk_command  # noqa: PLC0415
    from carbdiag.case_check import check_case  # noqa: PLC0415
    from carbdiag.case_file import case_text, heading_of, write_whole  # noqa: PLC0415
    from carbdiag.walk import walk  # noqa: PLC0415
    from carbdiag.walk_schema import WalkRequest  # noqa: PLC0415

    if chosen.json:
        case = _with_post(load_case(_read(chosen.case)), chosen)
        check_case(shipped_knowledge(), case)  # so that its fields are named as the file has them
        found = walk(WalkRequest(case=case, asks=chosen.asks))
        _json(found.model_dump(mode="json", by_alias=True))
        return FINE
    if chosen.case == _STANDARD_INPUT:
        raise BadInputError(["a walk writes its answers into the case file: name one (or give --json for one step)"])
    file = Path(chosen.case)
    if not file.parent.is_dir():
        raise BadInputError([f"{file}: cannot be written (there is no such folder)"])
    text = _read(chosen.case) if file.exists() else ""
    case = _with_post(load_case(text) if text.strip() else Case(), chosen)
    try:
        if chosen.text is not None:  # in the file before the first question, as every answer is
            write_whole(file, case_text(case, as_json=file.suffix == ".json", heading=heading_of(text)))
        walk_command.run(shipped_knowledge(), case, file, heading_of(text), chosen.asks)
    except OSError as error:
        raise BadInputError([f"{file}: cannot be written ({error.strerror or error})"]) from None
    return FINE


def _with_post(case: Case, chosen: argparse.Namespace) -> Case:
    """A case with what the post beside it states, if there is one."""
    if chosen.text is None:
        return case
    from carbdiag.reading import beside, read_text  # noqa: PLC0415

    return beside(read_text(_read(chosen.text), language=chosen.text_language), case)


def _demo(chosen: argparse.Namespace) -> int:
    text = _read(str(default_folder() / "cases" / "demo.yaml"))
    if chosen.case:
        sys.stdout.write(text)
        return FINE
    _answer_to(load_case(text), chosen)
    _tell("This case is invented. To start your own from it: carbdiag demo --case > mine.yaml")
    return FINE


def _bands(chosen: argparse.Namespace) -> int:
    table = band_table(chosen.family, chosen.strokes)
    if chosen.json:
        _json(table.model_dump(mode="json", by_alias=True))
    else:
        sys.stdout.write(bands_to_text(table))
    return FINE


def _lint(chosen: argparse.Namespace) -> int:
    if chosen.folder is not None and not chosen.folder.is_dir():
        raise BadInputError([f"{chosen.folder}: is not a folder"])
    if chosen.coverage:
        return _coverage(chosen)
    report = importlib.import_module("carbdiag.lint").lint(chosen.folder)
    if chosen.json:
        _json(
            {
                "mistakes": [dataclasses.asdict(m) for m in report.mistakes],
                "warnings": [dataclasses.asdict(w) for w in report.warnings],
                "not_translated": {language.code: language.missing for language in report.translated},
            }
        )
    else:
        for line in str(report).splitlines():
            print(printable(line))
    return BAD_INPUT if report.mistakes else FINE


def _coverage(chosen: argparse.Namespace) -> int:
    try:
        knowledge, worked = Knowledge.load(chosen.folder), load_worked_cases(chosen.folder)
    except KnowledgeError as error:
        raise BadInputError(error.mistakes) from None
    report = importlib.import_module("carbdiag.coverage").coverage(knowledge, worked)
    if chosen.json:
        _json(dataclasses.asdict(report))
    else:
        for line in str(report).splitlines():
            print(printable(line))
    return FINE


def _list(chosen: argparse.Namespace) -> int:
    records = _records(shipped_knowledge(), chosen.what)
    if chosen.word:
        word = chosen.word.casefold()
        records = [r for r in records if any(word in str(v).casefold() for v in r.values())]
        if not records:
            raise BadInputError([f"nothing among the {chosen.what} says {chosen.word!r}"])
    if chosen.json:
        _json(records)
        return FINE
    widest = max(len(str(r["id"])) for r in records)
    for record in records:
        print(f"{record['id']:<{widest}}  {printable(str(record['name']))}")
        for key, value in record.items():
            if key not in ("id", "name"):
                said = ", ".join(str(v) for v in value) if isinstance(value, list) else str(value)
                indent = " " * (widest + 4)
                print(
                    textwrap.fill(
                        printable(f"{key}: {said}"),
                        WIDTH,
                        initial_indent=indent,
                        subsequent_indent=indent + "  ",
                    )
                )
    return FINE


def _records(k: Knowledge, what: str) -> list[dict[str, Any]]:
    """What a person needs to write a case: id, name, and the words that go with it."""
    more: dict[str, Callable[[Any], dict[str, Any]]] = {
        "findings": lambda r: {"ask": r.ask, "at": list(r.at)},
        "contexts": lambda r: {"ask": r.ask},
        "checks": lambda r: {"outcome": list(r.outcomes)} | ({"at": [*r.at, *r.weak_at]} if r.at else {}),
        "causes": lambda r: {"group": r.group},
        "circuits": lambda r: {"step": r.step},
        "families": lambda r: {"strokes": list(r.strokes), "circuits": list(r.circuits)},
    }
    say = more.get(what, lambda _: {})
    return [{"id": r.id, "name": r.name, **say(r)} for r in getattr(k, what).values()]


def _serve(chosen: argparse.Namespace) -> int:
    try:
        uvicorn = importlib.import_module("uvicorn")
        importlib.import_module("fastapi")
    except ModuleNotFoundError as missing:
        raise BadInputError(
            [f"the service needs {missing.name}; install it with: pip install 'carbdiag[service]'"]
        ) from None
    app = importlib.import_module("carbdiag_api.app").create_app(shipped_knowledge())
    try:
        uvicorn.run(app, host=chosen.host, port=chosen.port)
    except SystemExit:  # it has said why it cannot listen there
        return BAD_INPUT
    return FINE


def _tune(chosen: argparse.Namespace) -> int:
    return int(importlib.import_module("carbdiag.tuning_command").run(chosen, _TOOLS))


def _quiz(chosen: argparse.Namespace) -> int:
    return int(importlib.import_module("carbdiag.quiz_command").run(chosen, _TOOLS))


# ---------------------------------------------------------------------------------------------------------
# What comes in


def _read(name: str) -> str:
    """The text of a case file, or of standard input."""
    where = "standard input" if name == _STANDARD_INPUT else name
    try:
        if name == _STANDARD_INPUT:
            raw = sys.stdin.buffer.read(_MOST_BYTES + 1)
        else:
            with Path(name).open("rb") as file:
                raw = file.read(_MOST_BYTES + 1)
    except FileNotFoundError:
        raise BadInputError([f"{where}: there is no such file"]) from None
    except IsADirectoryError:
        raise BadInputError([f"{where}: is a folder; give a case file"]) from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise BadInputError([f"{where}: cannot be read ({why})"]) from None
    if len(raw) > _MOST_BYTES:
        raise BadInputError([f"{where}: is larger than 64 KiB, the most that is read"])
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInputError([f"{where}: is not UTF-8 text (byte {error.start})"]) from None


def _yaml(text: str) -> object:
    try:
        return parse_yaml(text)
    except YamlRefusedError as error:
        raise CaseError([refused_yaml(error, "request")]) from None


def _valid(data: object, model: type[_Request]) -> _Request:
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise CaseError(field_problems(error.errors(include_url=False), model, "request")) from None


# ---------------------------------------------------------------------------------------------------------
# What goes out


def _answer_to(case: Case, chosen: argparse.Namespace) -> None:
    from carbdiag.diagnosis import diagnose  # noqa: PLC0415

    _answer(diagnose(case, steps=chosen.steps), chosen)


def _answer(answer: Diagnosis, chosen: argparse.Namespace) -> None:
    if chosen.json and chosen.markup:
        raise BadInputError(["give either --json or --as, not both"])
    if chosen.json:
        _json(answer.model_dump(mode="json", by_alias=True))
    else:
        sys.stdout.write(render(answer, chosen.markup or "text", chosen.form, chosen.language))


def _json(value: object) -> None:
    # Plain ASCII: no text inside can steer a terminal, and no encoding can break it.
    print(json.dumps(value, indent=2, ensure_ascii=True, default=str))


def _tell(line: str) -> None:
    print(printable(line), file=sys.stderr)


def _where_to_look(problem: object) -> str:
    """The command that lists all the ids of a kind, where a problem can show only some."""
    unknown = re.match(r"unknown (finding|check|context|action|circuit)\b", getattr(problem, "message", ""))
    return f" See: carbdiag list {unknown[1]}s" if unknown and not getattr(problem, "nearest", "") else ""


_TOOLS = Tools(
    read=_read, parse=_yaml, valid=_valid, write_json=_json, tell=_tell, refuse=lambda text: BadInputError([text])
)


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
        _tell(f"{message}. See: {self.prog} --help")
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

    def command(name: str, run: Callable[[argparse.Namespace], int], what: str, examples: str) -> _Parser:
        sub = commands.add_parser(
            name, help=what, description=what[:1].upper() + what[1:] + ".", allow_abbrev=False
        )
        sub.examples = examples
        sub.set_defaults(run=run, parser=sub)
        if run is not _serve:
            sub.add_argument("--json", action="store_true", help="print JSON instead of text")
        return sub

    _add_diagnosing(command)
    _add_looking(command)
    _add_sizing(command)
    quiz_options.add_options(command("quiz", _quiz, quiz_options.WHAT, quiz_options.EXAMPLES))
    _add_keeping(command)
    return parser


_Command = Callable[[str, Callable[[argparse.Namespace], int], str, str], _Parser]


def _add_diagnosing(command: _Command) -> None:
    ask = command(
        "diagnose",
        _diagnose,
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
        _walk,
        "go step by step to the cure: asks, and writes every answer into the case file",
        "  carbdiag walk mine.yaml\n  carbdiag walk mine.yaml --text post.txt\n"
        "  carbdiag walk mine.yaml --asks 5\n  carbdiag walk mine.yaml --json\n",
    )
    on.add_argument("case", metavar="CASE", help="a case file, YAML or JSON; it is begun if it does not exist")
    on.add_argument("--text", metavar="POST", help="a post to begin with, or to add to the case")
    on.add_argument("--text-language", default="en", metavar="CODE", help="language of the post (en)")
    on.add_argument(
        "--asks", type=_asks, default=10, metavar="N", help="how many questions you will answer in all (10)"
    )

    read = command(
        "read",
        _read_post,
        "say what a post states: findings, circumstances, checks, trials and facts, with the words they came from",
        "  carbdiag read post.txt\n  carbdiag read post.txt --case > mine.yaml\n  cat post.txt | carbdiag read -\n",
    )
    read.add_argument("post", metavar="POST", help="a text file, at most 48 kB; - reads standard input")
    read.add_argument("--language", default="en", metavar="CODE", help="language of the post (en)")
    read.add_argument("--case", action="store_true", help="print it as a case file, to put right and go on with")


def _add_looking(command: _Command) -> None:
    bands = command(
        "bands",
        _bands,
        "show, for each throttle opening, the circuit in control, its signs and its correction",
        "  carbdiag bands round_slide\n  carbdiag bands flat_slide --strokes 4\n",
    )
    bands.add_argument("family", metavar="FAMILY", help="kind of carburetor; see: carbdiag list families")
    bands.add_argument("--strokes", type=int, choices=(2, 4), help="two-stroke or four-stroke")

    show = command(
        "list",
        _list,
        "list the ids a case is written with, with names, places and outcomes",
        "  carbdiag list findings\n  carbdiag list checks fuel\n  carbdiag list families --json\n",
    )
    show.add_argument("what", metavar="WHAT", choices=_LISTS, help=", ".join(_LISTS))
    show.add_argument("word", metavar="WORD", nargs="?", help="only records that say this word")


def _add_sizing(command: _Command) -> None:
    for name, what, examples in _TUNING:
        tune = command(name, _tune, what, examples)
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
        _demo,
        "diagnose an invented case",
        "  carbdiag demo\n  carbdiag demo --case > mine.yaml\n",
    )
    demo.add_argument("--case", action="store_true", help="print the case itself, as a start for your own")
    _add_answer(demo)

    lint = command(
        "lint",
        _lint,
        "check a folder of knowledge for mistakes",
        "  carbdiag lint\n  carbdiag lint knowledge\n  carbdiag lint --coverage\n",
    )
    lint.add_argument("--coverage", action="store_true", help="say instead what it covers, and every hole")
    lint.add_argument(
        "folder", metavar="FOLDER", nargs="?", type=Path, help="without it, the shipped knowledge"
    )

    serve = command(
        "serve",
        _serve,
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
