"""The commands `carbdiag diagnose` and `carbdiag demo`."""

from __future__ import annotations

import argparse
import sys

from carbdiag.answers.rendering import render
from carbdiag.case_schema import Case
from carbdiag.command_tools import BAD_INPUT, FINE, STANDARD_INPUT, BadInputError, read_named, tell, write_json
from carbdiag.diagnosis import diagnose
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.knowledge import default_folder, load_case


def run(chosen: argparse.Namespace) -> int:
    """Diagnose a case, a post or both, and print the answer; the status is the command's."""
    named = [n for n in (chosen.case, chosen.text) if n is not None]
    if not named or (STANDARD_INPUT in named and sys.stdin.isatty()):
        chosen.parser.print_help(sys.stderr)
        return BAD_INPUT
    if named == [STANDARD_INPUT, STANDARD_INPUT]:
        raise BadInputError(["only one of the case and the text can come from standard input"])
    case = Case() if chosen.case is None else load_case(read_named(chosen.case))
    if chosen.text is None:
        _answer_to(case, chosen)
        return FINE
    from carbdiag.posted_schema import PostedCase, ReadDiagnosis  # noqa: PLC0415
    from carbdiag.reading import diagnose_posted  # noqa: PLC0415

    stated = {name: getattr(case, name) for name in Case.model_fields}
    language = chosen.text_language or chosen.language
    posted = PostedCase.trusted(**stated, text=read_named(chosen.text), language=language)
    answer = diagnose_posted(posted, steps=chosen.steps)
    _answer(answer, chosen)
    if isinstance(answer, ReadDiagnosis) and answer.reading is not None and answer.reading.is_empty:
        tell(f"Nothing was read in the post as {posted.language}. In another language? Say which: --text-language")
    return FINE


def demo(chosen: argparse.Namespace) -> int:
    """Diagnose the invented case, or print it; the status is the command's."""
    text = read_named(str(default_folder() / "cases" / "demo.yaml"))
    if chosen.case:
        sys.stdout.write(text)
        return FINE
    _answer_to(load_case(text), chosen)
    tell("This case is invented. To start your own from it: carbdiag demo --case > mine.yaml")
    return FINE


def _answer_to(case: Case, chosen: argparse.Namespace) -> None:
    _answer(diagnose(case, steps=chosen.steps), chosen)


def _answer(answer: Diagnosis, chosen: argparse.Namespace) -> None:
    if chosen.json and chosen.markup:
        raise BadInputError(["give either --json or --as, not both"])
    if chosen.json:
        write_json(answer.model_dump(mode="json", by_alias=True))
    else:
        sys.stdout.write(render(answer, chosen.markup or "text", chosen.form, chosen.language))
