"""How far the tool agrees with published sign tables: are a row's causes among the first five for its signs?

    python benchmarks/published_tables.py [--each]

The rows are in tests/published/symptoms.yaml, with the families they are about. A row agrees when every cause it
names is among the first five, or, of a long list, at least three: five places cannot hold seventeen causes, and the
order in printed lists is weak evidence. As with reported cases, a cause counts by its group, for printed words are no
finer; a cause of the group `other` counts by itself. Where a row's words cover several groups ("mixture rich", "dirt in
the carburetor"), their chances count together, as one place.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from reported_cases import by_group

from carbdiag import schema
from carbdiag.casework import assess
from carbdiag.knowledge import Knowledge
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import UNKNOWN_FAMILY

ROWS = Path(__file__).parent.parent / "tests" / "published" / "symptoms.yaml"
PLACES = 5
ENOUGH_OF_A_LIST = 3


@dataclass(frozen=True)
class Row:
    """A row of a published table: its signs as a case, and the causes it names, each with what counts as it."""

    id: str
    number: int
    source: str
    case: schema.Case
    causes: tuple[tuple[str, ...], ...]
    disagrees: str
    """Why the tool does not agree, where it does not."""


@dataclass(frozen=True)
class Verdict:
    """What came first, and which of the row's causes are not among it."""

    row: Row
    first: tuple[str, ...]
    absent: tuple[tuple[str, ...], ...]

    @property
    def agrees(self) -> bool:
        """Whether enough of the row's causes are among the first five."""
        there = len(self.row.causes) - len(self.absent)
        return there >= min(len(self.row.causes), ENOUGH_OF_A_LIST)


def load_rows(k: Knowledge, file: Path = ROWS) -> tuple[list[Row], dict[int, str]]:
    """Every row that names signs and causes, and why each other row of the table does not."""
    data = cast(dict[str, Any], parse_yaml(file.read_text(encoding="utf-8")))
    sets = data["sets"]
    rows = []
    for item in data["rows"]:
        told = {name: item[name] for name in ("machine", "contexts", "findings", "checks") if name in item}
        name = f"{item['row']:03d}{item.get('part', '')}"
        rows.append(
            Row(
                name,
                item["row"],
                item.get("source") or item["url"],
                schema.Case.model_validate(
                    {"id": name, "reporting": "interview", "readings": _readings(k, item.get("mixture", {})), **told}
                ),
                tuple(tuple(c) if isinstance(c, list) else tuple(sets.get(c, (c,))) for c in item["causes"]),
                item.get("disagrees", ""),
            )
        )
    return rows, {int(number): why for number, why in data["left_out"].items()}


def _readings(k: Knowledge, said: Mapping[str, str]) -> list[dict[str, object]]:
    """What a row says of the mixture, as measured under load: off by the limit of lean, or right."""
    off = {"rich": -k.scales.mixture.lean_within, "right": 0.0, "lean": k.scales.mixture.lean_within}
    wanted = {at: k.places[at].lambda_wanted or 1.0 for at in said}
    return [{"lambda": round(wanted[at] * math.exp(off[level]), 3), "at": at} for at, level in said.items()]


def judge(k: Knowledge, row: Row) -> Verdict:
    """Ask the tool about a row's signs."""
    chances = by_group(assess(k, row.case))
    kinds = {name: p for name, p in chances.items() if name in k.groups and name != "other"}
    others = {f"cause:{c.id}": chances.get(f"cause:{c.id}", 0.0) for c in k.causes.values() if c.group == "other"}
    totals = {**kinds, **others}
    absent = tuple(names for names in row.causes if _place(totals, {_key(k, name) for name in names}) > PLACES)
    return Verdict(row, tuple(sorted(totals, key=lambda name: (-totals[name], name))[:PLACES]), absent)


def _place(totals: Mapping[str, float], names: Iterable[str]) -> int:
    """Place of what a row names, its groups taken together, among everything else."""
    mine = set(names)
    together = sum(totals.get(name, 0.0) for name in mine)
    return 1 + sum(p >= together for name, p in totals.items() if name not in mine)


def _key(k: Knowledge, name: str) -> str:
    group = name if name in k.groups else k.causes[name].group
    return f"cause:{name}" if group == "other" else group


def main() -> None:
    """Print the share that agrees."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--each", action="store_true", help="list the rows that do not agree")
    each = options.parse_args().each
    k = Knowledge.load()
    rows, left_out = load_rows(k)
    ready = [row for row in rows if row.case.machine.family in (*k.families, UNKNOWN_FAMILY)]
    verdicts = [judge(k, row) for row in ready]
    named = sum(len(v.row.causes) for v in verdicts)
    print(f"{len({r.number for r in rows})} rows make {len(rows)} cases; {len(left_out)} rows name no sign or no cause")
    if len(ready) < len(rows):
        print(f"{len(rows) - len(ready)} cases wait for their family")
    _share("agree", (v.agrees for v in verdicts))
    _share("stricter, every cause of the row among the first five", (not v.absent for v in verdicts))
    _share("looser, at least one", (len(v.absent) < len(v.row.causes) for v in verdicts))
    print(f"single causes: {named - sum(len(v.absent) for v in verdicts)} of {named} among the first five")
    for v in verdicts if each else ():
        if not v.agrees:
            absent = "; ".join(" or ".join(names) for names in v.absent)
            print(f"{v.row.id}: absent {absent} | first {', '.join(v.first)}")


def _share(what: str, met: Iterable[bool]) -> None:
    found = list(met)
    print(f"{what}: {sum(found)} of {len(found)} ({sum(found) / len(found):.0%})")


if __name__ == "__main__":
    main()
