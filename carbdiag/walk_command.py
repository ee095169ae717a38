"""The command `carbdiag walk`."""

from __future__ import annotations

import argparse
from pathlib import Path

from carbdiag.case_check import check_case
from carbdiag.case_file import case_text, heading_of, write_whole
from carbdiag.case_schema import Case
from carbdiag.casework.machine_kinds import with_family_id
from carbdiag.command_tools import FINE, STANDARD_INPUT, BadInputError, read_named, write_json
from carbdiag.knowledge import load_case, shipped_knowledge
from carbdiag.walk_schema import WalkRequest
from carbdiag.walk_session import sit
from carbdiag.walking import walk


def run(chosen: argparse.Namespace) -> int:
    """Walk through a case in the terminal, or print one step as JSON; the status is the command's."""
    if chosen.json:
        case = with_family_id(shipped_knowledge(), _with_post(load_case(read_named(chosen.case)), chosen))
        check_case(shipped_knowledge(), case)  # so that its fields are named as the file has them
        found = walk(WalkRequest(case=case, asks=chosen.asks))
        write_json(found.model_dump(mode="json", by_alias=True))
        return FINE
    if chosen.case == STANDARD_INPUT:
        raise BadInputError(["a walk writes its answers into the case file: name one (or give --json for one step)"])
    file = Path(chosen.case)
    if not file.parent.is_dir():
        raise BadInputError([f"{file}: cannot be written (there is no such folder)"])
    text = read_named(chosen.case) if file.exists() else ""
    case = _with_post(load_case(text) if text.strip() else Case(), chosen)
    try:
        if chosen.text is not None:  # in the file before the first question, as every answer is
            write_whole(file, case_text(case, as_json=file.suffix == ".json", heading=heading_of(text)))
        sit(shipped_knowledge(), case, file, heading_of(text), chosen.asks, chosen.language)
    except OSError as error:
        raise BadInputError([f"{file}: cannot be written ({error.strerror or error})"]) from None
    return FINE


def _with_post(case: Case, chosen: argparse.Namespace) -> Case:
    """A case with what the post beside it states, if there is one."""
    if chosen.text is None:
        return case
    from carbdiag.reading import beside, read_text  # noqa: PLC0415

    return beside(read_text(read_named(chosen.text), language=chosen.text_language or chosen.language), case)
