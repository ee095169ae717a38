"""The commands `carbdiag air`, `resize`, `correct` and `sweep`."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from carbdiag import tuning, tuning_options, tuning_schema
from carbdiag.answers.sweep_plot import FORMATS, PlotsMissingError, draw_sweep
from carbdiag.answers.tuning_text import sweep_csv, tuning_text
from carbdiag.command_tools import (
    BAD_INPUT,
    FINE,
    STANDARD_INPUT,
    BadInputError,
    parsed,
    read_named,
    tell,
    valid,
    write_json,
)
from carbdiag.errors import CaseError

#: Command -> what it takes, and what answers it.
_COMMANDS: Final[dict[str, tuple[type[Any], Callable[[Any], Any]]]] = {
    "air": (tuning_schema.AirInput, tuning.air_state),
    "resize": (tuning_schema.ResizeRequest, tuning.resize),
    "correct": (tuning_schema.CorrectionRequest, tuning.correct),
    "sweep": (tuning_schema.SweepRequest, tuning.sweep),
}


def run(chosen: argparse.Namespace) -> int:
    """Read a request from options or a file, answer it, and print the answer; the status is the command's."""
    command: str = chosen.tunes
    model, answer = _COMMANDS[command]
    if command == "sweep":
        _check_sweep(chosen)
    try:
        data: object = tuning_options.request_of(chosen, command)
    except KeyError as error:
        raise BadInputError(
            [
                f"--{error.args[0]}: say how the jets are numbered: --jet-numbering bore (160 is a hole of 1.60 mm)"
                " or --jet-numbering flow (160 is 160 cc per minute); the maker's list says which"
            ]
        ) from None
    from_options = chosen.request is None
    if not from_options:
        if data:
            raise BadInputError(["give either a request file or options, not both"])
        if chosen.request == STANDARD_INPUT and sys.stdin.isatty():
            chosen.parser.print_help(sys.stderr)
            return BAD_INPUT
        data = parsed(read_named(chosen.request))
    elif not data:
        chosen.parser.print_help(sys.stderr)
        return BAD_INPUT
    try:
        found = answer(valid(data, model))
    except CaseError as error:
        if not from_options:
            raise
        raise CaseError(tuning_options.under_option_names(error.problems, command)) from None
    if isinstance(found, tuning_schema.SweepAnswer) and chosen.plot is not None:
        _plot(found, chosen.plot)
    if chosen.json:
        write_json(found.model_dump(mode="json", by_alias=True))
    elif isinstance(found, tuning_schema.SweepAnswer) and chosen.csv:
        sys.stdout.write(sweep_csv(found))
    else:
        sys.stdout.write(tuning_text(found))
    return FINE


def _check_sweep(chosen: argparse.Namespace) -> None:
    if chosen.csv and chosen.json:
        raise BadInputError(["give either --json or --csv, not both"])
    if chosen.plot is not None and chosen.plot.suffix.lower() not in FORMATS:
        raise BadInputError([f"--plot: the file must end in {' or '.join(FORMATS)}, got {str(chosen.plot)[:80]!r}"])


def _plot(found: tuning_schema.SweepAnswer, file: Path) -> None:
    try:
        draw_sweep(found, file)
    except PlotsMissingError as error:
        raise BadInputError([str(error)]) from None
    except OSError as error:
        raise BadInputError([f"{file}: cannot be written ({error.strerror or error})"]) from None
    tell(f"The plot is in {file}")
