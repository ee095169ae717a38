"""The JSON of a diagnosis, joined from pieces kept beside the records, is what pydantic writes, byte for byte."""

from __future__ import annotations

import copy
import subprocess
import sys
from pathlib import Path
from typing import Any, cast

import pytest
from pydantic import BaseModel

from carbdiag import Case, Diagnosis, Knowledge, diagnose
from carbdiag.kept_json import HOLE, keep
from carbdiag.strict_yaml import parse_yaml

TESTS = Path(__file__).parent
CASES = sorted([*TESTS.glob("cases/*.yaml"), *TESTS.glob("jetting/*.yaml")])
NOT_THE_CASE = ("expected", "rows", "misleading", "no_band", "family_in_report")


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    return Knowledge.load()


def as_pydantic_writes_it(d: Diagnosis, **options: Any) -> str:
    return BaseModel.model_dump_json(d, **options)


@pytest.mark.parametrize("file", CASES, ids=lambda f: f.stem)
def test_every_written_case(shipped: Knowledge, file: Path) -> None:
    data = cast(dict[str, Any], parse_yaml(file.read_text(encoding="utf-8")))
    if data["machine"].get("family", "unknown") not in (*shipped.families, "unknown"):
        pytest.skip("a family that the knowledge does not cover")
    case = Case.model_validate({n: v for n, v in data.items() if n not in NOT_THE_CASE})
    for d in (diagnose(case, shipped, 0, False), diagnose(case, shipped, 7)):
        for options in ({}, {"by_alias": True}, {"indent": 1}, {"exclude_none": True}):
            assert d.model_dump_json(**options) == as_pydantic_writes_it(d, **options)


@pytest.mark.parametrize("title", [HOLE, f'"{HOLE}"', "\x00", "é→\u2028", '"\\u0000 kept"'])
def test_no_title_is_taken_for_a_hole(shipped: Knowledge, title: str) -> None:
    case = Case.model_validate({"title": title, "findings": [{"finding": "bogs", "at": ["half"]}]})
    d = diagnose(case, shipped)
    assert d.title == title
    assert d.model_dump_json() == as_pydantic_writes_it(d)
    assert Diagnosis.model_validate_json(d.model_dump_json()).title == title


def test_a_changed_copy_is_written_anew(shipped: Knowledge) -> None:
    kept = diagnose(Case.model_validate({"findings": [{"finding": "bogs", "at": ["half"]}]}), shipped).causes[0]
    before = keep(kept.correction)
    other = kept.correction.model_copy(update={"name": "Another"})
    assert keep(other) != before == keep(kept.correction) == keep(copy.deepcopy(kept.correction))
    assert '"Another"' in keep(other)


def test_the_first_json_of_a_process() -> None:
    """No model has been built before; pydantic before 2.14 writes none that it has not built."""
    code = "from carbdiag import Case, diagnose; print(len(diagnose(Case()).model_dump_json()))"
    out = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert int(out.stdout) > 1000
