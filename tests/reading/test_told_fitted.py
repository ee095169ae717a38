"""Parts told as fitted, and parts told as bought, wished for, another's or out again."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from carbdiag import Knowledge, read_text
from carbdiag.terms import Status

TOLD = yaml.safe_load((Path(__file__).parent / "told_fitted.yaml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("told", TOLD, ids=lambda told: told["say"][:60])
def test_circumstances_are_read_as_told(told: dict[str, Any], k: Knowledge) -> None:
    reading = read_text(told["say"], k)
    there = {c.context for c in reading.contexts if c.status is Status.PRESENT}
    assert there >= {*told.get("reads", ())}
    assert there.isdisjoint({*told.get("not", ())})
    if "checks" in told:
        assert [c.check for c in reading.checks] == told["checks"]
    for name, value in told.get("facts", {}).items():
        listed = value if isinstance(value, list) else [value] if value is not None else []
        assert {f.value for f in reading.facts if f.fact == name} == {*listed}
