"""What the knowledge holds, by address: its kinds, their records, one record, the bands of one family."""

from __future__ import annotations

from typing import Final, Literal, get_args

from carbdiag import BandTable, Knowledge, band_table
from carbdiag.field_types import Id
from carbdiag.frozen import Frozen
from carbdiag.knowledge import family_id
from carbdiag.records.actions import Action
from carbdiag.records.bands import Place
from carbdiag.records.causes import Cause, Group
from carbdiag.records.checks import Check
from carbdiag.records.circuits import Circuit
from carbdiag.records.contexts import Context
from carbdiag.records.families import Family, Use
from carbdiag.records.findings import Finding
from carbdiag.records.safety import Caution
from carbdiag.records.sources import Source
from carbdiag_api.problems import find

Kind = Literal[
    "causes",
    "findings",
    "checks",
    "actions",
    "circuits",
    "families",
    "uses",
    "contexts",
    "cautions",
    "groups",
    "places",
    "sources",
]
KINDS: Final[tuple[str, ...]] = get_args(Kind)

Record = (
    Cause
    | Finding
    | Check
    | Action
    | Circuit
    | Family
    | Use
    | Context
    | Caution
    | Group
    | Place
    | Source
)


class KnowledgeOverview(Frozen):
    """Which knowledge this service answers from."""

    edition: str
    title: str
    kinds: tuple[Kind, ...]
    counts: dict[Kind, int]


class NamedRecord(Frozen):
    """A record by id and name."""

    id: Id
    name: str


class RecordList(Frozen):
    """All records of one kind."""

    edition: str
    kind: Kind
    records: tuple[NamedRecord, ...]


class RecordPage(Frozen):
    """One record as the knowledge has it."""

    edition: str
    kind: Kind
    record: Record


def overview(knowledge: Knowledge) -> KnowledgeOverview:
    """The edition, and how many records of each kind it has."""
    counts = {kind: len(getattr(knowledge, kind)) for kind in KINDS}
    return KnowledgeOverview.trusted(edition=knowledge.edition, title=knowledge.info.title, kinds=KINDS, counts=counts)


def records(knowledge: Knowledge, kind: str) -> RecordList:
    """All records of a kind.

    Raises:
        RefusedError: 404, there is no such kind.
    """
    find(kind, KINDS, "kind", "kind of record")
    named = tuple(
        NamedRecord.trusted(id=identity, name=record.title if kind == "sources" else record.name)
        for identity, record in getattr(knowledge, kind).items()
    )
    return RecordList.trusted(edition=knowledge.edition, kind=kind, records=named)


def record(knowledge: Knowledge, kind: str, identity: str) -> RecordPage:
    """One record.

    Raises:
        RefusedError: 404, there is no such kind or record.
    """
    find(kind, KINDS, "kind", "kind of record")
    find(identity, getattr(knowledge, kind), "id", "record")
    return RecordPage.trusted(edition=knowledge.edition, kind=kind, record=getattr(knowledge, kind)[identity])


def bands(knowledge: Knowledge, family: str, strokes: Literal[2, 4] | None) -> BandTable:
    """The table of one family.

    Raises:
        RefusedError: 404, there is no such family.
        CaseError: the family is not known on that stroke.
    """
    family = family_id(knowledge, family)
    find(family, knowledge.families, "family", "family")
    return band_table(family, strokes, knowledge)
