"""Answer sheets of a class from a file: JSON or YAML, or CSV with one line a student."""

from __future__ import annotations

import csv
import io

from carbdiag.errors import CaseError, Problem
from carbdiag.quiz_schema import AnswerSheet


def sheets_of(data: object) -> tuple[AnswerSheet, ...]:
    """Sheets from what a JSON or YAML file holds: one sheet, or a list of them.

    Raises:
        pydantic.ValidationError: a sheet has the wrong shape.
    """
    many = data if isinstance(data, list) else [data]
    return tuple(AnswerSheet.model_validate(one) for one in many)


def sheets_of_csv(text: str) -> tuple[AnswerSheet, ...]:
    """Sheets from CSV: the first column names the student, the others are item ids; orders are written `B A D C`.

    Cells stand apart by commas, or by semicolons as spreadsheets of some languages write them.

    Raises:
        CaseError: no header, an item named twice, or a line of another length.
        pydantic.ValidationError: a column is no item id.
    """
    head = text.partition("\n")[0]
    apart = ";" if ";" in head and "," not in head else ","
    rows = [row for row in csv.reader(io.StringIO(text), delimiter=apart) if row]
    if not rows or len(rows[0]) < 2:
        raise CaseError([Problem("sheets", "the first line must name the columns: student,q01,q02,...")])
    names = [name.strip() for name in rows[0][1:]]
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        raise CaseError([Problem("sheets", f"column {twice[0]} comes twice", twice[0])])
    out = []
    for line, row in enumerate(rows[1:], 2):
        if len(row) != len(rows[0]):
            raise CaseError(
                [Problem(f"sheets, line {line}", f"has {len(row)} cells, the first line {len(rows[0])}", str(len(row)))]
            )
        answers = {n: cell.strip() for n, cell in zip(names, row[1:], strict=True) if cell.strip()}
        out.append(AnswerSheet.model_validate({"student": row[0].strip(), "answers": answers}))
    return tuple(out)
