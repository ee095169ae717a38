"""Which claim of a record each of its sources supports, and how well sourced all claims are.

A claim is a field of a record that says something about engines, such as the signs a cause shows. The field
`supports` of a citation names the claims it stands behind:

    supports: shows                              the field as a whole
    supports: shows.bogs, fixed_by               one line of a field by the id it names, and another field
    supports: "mixture: only that it is lean"    a remark, after a colon

The size of a likelihood word is always judgment: a source supports that there is a link, and which way it points.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, cast

from pydantic import BaseModel

from carbdiag.errors import nearest
from carbdiag.knowledge import Knowledge
from carbdiag.records.sources import Citation

#: For each kind of record, the fields that are claims; the rest are names, wording and bookkeeping.
CLAIMS: Final[Mapping[str, tuple[str, ...]]] = {
    "causes": ("mixture", "shows", "checks", "contexts", "prior", "fixed_by", "mistaken_for"),
    "findings": ("mixture", "everyday"),
    "checks": ("do", "outcomes", "groups"),
    "actions": ("steps",),
    "circuits": ("strongest_at", "richer", "leaner", "rank"),
    "families": ("mixture_screw", "published_bands", "shares", "steps", "air_exponent"),
    "geometries": ("dimensions",),
    "contexts": ("groups", "often"),
    "uses": ("families", "groups"),
    "cautions": ("text",),
    "holds": ("when", "why"),
    "tuning stages": ("rank",),
}

#: Claims that say only how often or how likely. Nobody publishes these; they are judgment and say so.
WEIGHTS: Final = (("causes", "prior"), ("findings", "everyday"), ("contexts", "often"))

#: What can stand behind a claim, best first; a claim is as good as the best that does.
STANDINGS: Final = ("published", "common_practice", "from_memory", "none")

#: A line of a list is named by the first of these it has.
_NAMED_BY: Final = ("finding", "check", "do", "cause", "circuit")


@dataclass(frozen=True)
class Record:
    """A record that cites sources, and the file or folder of knowledge that keeps its kind."""

    kind: str
    kept_in: str
    id: str
    content: Any

    @property
    def sources(self) -> tuple[Citation, ...]:
        """What it cites."""
        return cast(tuple[Citation, ...], self.content.sources)


@dataclass(frozen=True)
class Claim:
    """One claim of a record and the best that stands behind it, with its lines that a published source singles out."""

    kind: str
    record: str
    field: str
    standing: str
    lines: int
    lines_published: int


def citing_records(k: Knowledge) -> Iterator[Record]:
    """Every record that cites sources, in a fixed order."""
    kinds: tuple[tuple[str, str, Mapping[str, Any]], ...] = (
        ("causes", "causes", k.causes),
        ("findings", "findings", k.findings),
        ("checks", "checks", k.checks),
        ("actions", "actions", k.actions),
        ("circuits", "circuits", k.circuits),
        ("families", "families", k.families),
        ("geometries", "families", {f.id: f.geometry for f in k.families.values() if f.geometry}),
        ("contexts", "contexts.yaml", k.contexts),
        ("uses", "uses.yaml", k.uses),
        ("cautions", "cautions.yaml", k.cautions),
        ("holds", "safety.yaml", k.holds),
        ("tuning stages", "tuning_order.yaml", k.tuning_order),
    )
    for kind, kept_in, records in kinds:
        for identity, content in records.items():
            yield Record(kind, kept_in, identity, content)


def supported(citation: Citation) -> tuple[tuple[str, str], ...]:
    """The (field, line) pairs a citation stands behind; an empty line means the whole field.

    >>> supported(Citation(source="a_book", supports="shows.bogs, prior: as far as seen"))
    (('shows', 'bogs'), ('prior', ''))
    """
    named = citation.supports.split(":", 1)[0].split(",")
    pairs = (part.strip().partition(".") for part in named)
    return tuple((name, line) for name, _, line in pairs)


def lines_of(value: object) -> tuple[str, ...]:
    """The lines of a field, by the id each names; none for a plain value."""
    if isinstance(value, BaseModel):
        return tuple(name for name in type(value).model_fields if getattr(value, name) is not None)
    if isinstance(value, Mapping):
        return tuple(str(key) for key in value)
    if isinstance(value, tuple):
        return tuple(_line_name(item) for item in value)
    return ()


def _line_name(item: object) -> str:
    if isinstance(item, BaseModel):
        return str(next(getattr(item, name) for name in _NAMED_BY if hasattr(item, name)))
    return str(item)


@dataclass(frozen=True)
class Misnamed:
    """A citation, by its number, whose `supports` names nothing of the record."""

    number: int
    named: str
    nearest: str
    allowed: tuple[str, ...]


def misnamed(record: Record) -> Iterator[Misnamed]:
    """What the citations of a record name that it does not have, with what they may have meant."""
    fields = [name for name in type(record.content).model_fields if name not in ("id", "sources")]
    for n, citation in enumerate(record.sources):
        for name, line in supported(citation):
            if name not in fields:
                yield Misnamed(n, name, nearest(name, fields), CLAIMS[record.kind])
            elif line and line not in (known := lines_of(getattr(record.content, name))):
                near = nearest(line, known)
                yield Misnamed(n, f"{name}.{line}", near and f"{name}.{near}", tuple(f"{name}.{k}" for k in known))


def claims(k: Knowledge) -> tuple[Claim, ...]:
    """Every claim of every record with its standing."""
    return tuple(
        _claim(k, record, name)
        for record in citing_records(k)
        for name in CLAIMS[record.kind]
        if getattr(record.content, name) not in (None, (), {})
    )


def _claim(k: Knowledge, record: Record, name: str) -> Claim:
    value = getattr(record.content, name)
    if name == "published_bands":  # each line carries its own source
        return Claim(record.kind, record.id, name, "published", len(value), len(value))
    lines = set(lines_of(value)) or {""}
    standing, singled = STANDINGS[-1], set[str]()
    for citation in record.sources:
        kind = k.sources[citation.source].kind
        for field, line in supported(citation):
            if field == name:
                standing = min(standing, kind, key=STANDINGS.index)
                if kind == "published" and line in lines:
                    singled.add(line)
    return Claim(record.kind, record.id, name, standing, len(lines), len(singled))
