"""What the tables of told signs share: the signs of some knowledge files, and what a text is read as."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

from carbdiag import Knowledge, TextReading, read_text
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


def stated(reading: TextReading) -> set[str]:
    """What a text is read as: signs and circumstances, results of checks, trials with their effect."""
    denied = {Status.DENIED: " denied"}
    return {
        *(f.finding + denied.get(f.status, "") for f in reading.findings),
        *(c.context + denied.get(c.status, "") for c in reading.contexts),
        *(f"{c.check} {c.outcome}" for c in reading.checks),
        *(f"{t.do or f'{t.change} {t.direction}'} {t.effect}" for t in reading.trials),
    }


def places_of(reading: TextReading) -> set[str]:
    """The signs of a text at each of their places: `bogs@half`."""
    denied = {Status.DENIED: " denied"}
    return {f"{f.finding}{denied.get(f.status, '')}@{place}" for f in reading.findings for place in f.at}


def facts_of(reading: TextReading) -> set[str]:
    """The facts of the machine in a text: `fact cylinders 2.0`."""
    return {f"fact {f.fact} {f.value}" for f in reading.facts}
