"""The command `carbdiag lint`."""

from __future__ import annotations

import argparse
import dataclasses

from carbdiag.answers.untrusted import printable
from carbdiag.command_tools import BAD_INPUT, FINE, BadInputError, write_json
from carbdiag.coverage import coverage
from carbdiag.errors import KnowledgeError
from carbdiag.knowledge import Knowledge, load_worked_cases
from carbdiag.lint import lint


def run(chosen: argparse.Namespace) -> int:
    """Check a folder of knowledge, or say what it covers; the status is the command's."""
    if chosen.folder is not None and not chosen.folder.is_dir():
        raise BadInputError([f"{chosen.folder}: is not a folder"])
    if chosen.coverage:
        return _coverage(chosen)
    report = lint(chosen.folder)
    if chosen.json:
        write_json(
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
    report = coverage(knowledge, worked)
    if chosen.json:
        write_json(dataclasses.asdict(report))
    else:
        for line in str(report).splitlines():
            print(printable(line))
    return FINE
