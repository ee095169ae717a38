"""How far the tool agrees with published sign tables: are a row's causes among the first five for its signs?

    python benchmarks/published_tables.py [--each]

The rows are in tests/published/symptoms.yaml, with the families they are about. A row agrees when every cause it
names is among the first five, or, of a long list, at least three: five places cannot hold seventeen causes, and the
order in printed lists is weak evidence.

Printed words range from one part ("exhaust joint") to a whole system ("ignition"), and an answer lists both single
causes and groups of causes, so a printed cause is looked for in both lists: it is among the first five when it is in
either. Both are also counted alone. In the list of groups a cause counts by its group, a cause of the group `other` by
itself, and where a row's words cover several groups ("mixture rich", "dirt in the carburetor"), their chances count
together, as one place. In the list of causes any cause that the words cover will do.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from reported_cases import by_group

from carbdiag.case_schema import Case
from carbdiag.casework.assessing import assess
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
    case: Case
    causes: tuple[tuple[str, ...], ...]
    disagrees: str
    """Why the tool does not agree, where it does not."""


@dataclass(frozen=True)
class Verdict:
    """What came first, and which of the row's causes are among it."""

    row: Row
    first: tuple[str, ...]
    first_groups: tuple[str, ...]
    among_causes: tuple[bool, ...]
    among_groups: tuple[bool, ...]

    @property
    def among(self) -> tuple[bool, ...]:
        """For each cause of the row, whether it is among the first five causes or groups."""
        return tuple(c or g for c, g in zip(self.among_causes, self.among_groups, strict=True))

    @property
    def absent(self) -> tuple[tuple[str, ...], ...]:
        """The causes of the row that are in neither list."""
        return tuple(names for names, there in zip(self.row.causes, self.among, strict=True) if not there)

    @property
    def agrees(self) -> bool:
        """Whether enough of the row's causes are among the first five."""
        return enough(self.among)


def enough(there: tuple[bool, ...]) -> bool:
    """Whether so many of a row's causes are there that the row agrees."""
    return sum(there) >= min(len(there), ENOUGH_OF_A_LIST)


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
                Case.model_validate(
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
    single = {name.removeprefix("cause:"): p for name, p in chances.items() if name.startswith("cause:")}
    kinds = {name: p for name, p in chances.items() if name in k.groups and name != "other"}
    others = {f"cause:{c.id}": chances.get(f"cause:{c.id}", 0.0) for c in k.causes.values() if c.group == "other"}
    groups = kinds | others
    first = _first(single)
    return Verdict(
        row,
        first,
        _first(groups),
        tuple(any(c in names or k.causes[c].group in names for c in first) for names in row.causes),
        tuple(_place(groups, {_key(k, name) for name in names}) <= PLACES for names in row.causes),
    )


def _first(chances: Mapping[str, float]) -> tuple[str, ...]:
    return tuple(sorted(chances, key=lambda name: (-chances[name], name))[:PLACES])


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
    _share("agree, by the list of groups alone", (enough(v.among_groups) for v in verdicts))
    _share("agree, by the list of single causes alone", (enough(v.among_causes) for v in verdicts))
    _share("stricter, every cause of the row among the first five", (all(v.among) for v in verdicts))
    _share("looser, at least one", (any(v.among) for v in verdicts))
    print(f"single causes: {sum(sum(v.among) for v in verdicts)} of {named} among the first five")
    for v in verdicts if each else ():
        if not v.agrees:
            absent = "; ".join(" or ".join(names) for names in v.absent)
            print(f"{v.row.id}: absent {absent} | first {', '.join(v.first)} | groups {', '.join(v.first_groups)}")


def _share(what: str, met: Iterable[bool]) -> None:
    found = list(met)
    print(f"{what}: {sum(found)} of {len(found)} ({sum(found) / len(found):.0%})")


if __name__ == "__main__":
    main()
