"""The tool agrees with published sign tables, or the disagreement is listed with its reason and still there."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from carbdiag.knowledge import shipped_knowledge

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "benchmarks"))

from published_tables import Row, judge, load_rows  # noqa: E402

FACTS = ROOT.parent / "shared" / "facts" / "symptoms.md"
K = shipped_knowledge()
ROWS, LEFT_OUT = load_rows(K)


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r.id)
def test_a_row_agrees_unless_it_is_listed_and_then_it_does_not(row: Row) -> None:
    verdict = judge(K, row)
    assert verdict.agrees is not bool(row.disagrees), f"absent {verdict.absent}, first {verdict.first}"


def test_every_row_has_a_source_and_every_cause_is_known() -> None:
    for row in ROWS:
        assert row.source in K.sources or row.source.startswith("http"), row.id
        assert row.causes, row.id
        assert {name for names in row.causes for name in names} <= {*K.causes, *K.groups}, row.id
        assert row.case.findings or row.case.checks or row.case.readings, row.id


def test_every_row_of_the_table_is_a_case_or_left_out_with_a_reason() -> None:
    if not FACTS.exists():
        pytest.skip("the table of facts is not beside this checkout")
    numbers = {int(n) for n in re.findall(r"^\| (\d+) \|", FACTS.read_text(encoding="utf-8"), re.MULTILINE)}
    cases = {row.number for row in ROWS}
    assert cases | set(LEFT_OUT) == numbers
    assert not cases & set(LEFT_OUT)
    assert all(LEFT_OUT.values())
