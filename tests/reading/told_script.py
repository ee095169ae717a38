"""What the tables of told signs share: the signs of some knowledge files, and what a text is read as."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

from carbdiag import Knowledge, read_text
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import Status

FINDINGS = Path(__file__).parents[2] / "knowledge" / "findings"


def signs_of(*files: str) -> set[str]:
    """The ids of all signs in some files of the knowledge."""
    records = (parse_yaml((FINDINGS / f"{name}.yaml").read_text(encoding="utf-8")) for name in files)
    return {record["id"] for file in records for record in cast(list[dict[str, Any]], file)}


def read_as(k: Knowledge, text: str) -> set[str]:
    """The signs read in a text, alone and at each place: `bogs`, `bogs@half denied`."""
    out: set[str] = set()
    for found in read_text(text, k).findings:
        status = "" if found.status is Status.PRESENT else f" {found.status}"
        out.update((f"{found.finding}{status}", *(f"{found.finding}@{place}{status}" for place in found.at)))
    return out
