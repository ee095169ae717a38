"""The command `carbdiag read`."""

from __future__ import annotations

import argparse
import sys

from carbdiag.answers.case_sheet import case_sheet
from carbdiag.answers.reading_text import reading_text
from carbdiag.case_file import case_text
from carbdiag.command_tools import BAD_INPUT, FINE, STANDARD_INPUT, read_named, write_json
from carbdiag.knowledge import shipped_knowledge
from carbdiag.reading import case_of, read_text


def run(chosen: argparse.Namespace) -> int:
    """Read a post and print what it states; the status is the command's."""
    if chosen.post == STANDARD_INPUT and sys.stdin.isatty():
        chosen.parser.print_help(sys.stderr)
        return BAD_INPUT
    reading = read_text(read_named(chosen.post), language=chosen.text_language or chosen.language)
    if chosen.case:
        sys.stdout.write(case_text(case_of(reading), as_json=True) if chosen.json else case_sheet(reading))
    elif chosen.json:
        write_json(reading.model_dump(mode="json"))
    else:
        sys.stdout.write(reading_text(reading, shipped_knowledge(), chosen.language))
    return FINE
