"""Every citation says which claim it stands behind, and a claim is as good as the best that does."""

from __future__ import annotations

import pytest

from carbdiag import Knowledge
from carbdiag.lint import lint
from carbdiag.sourcing import CLAIMS, STANDINGS, Claim, citing_records, claims
from tests.knowledge.copies import Copy

SPARK = "causes/spark_weak.yaml"
PUBLISHED = """
- id: a_book
  kind: published
  title: A book that was never written, page 1
"""


def named_wrongly(copy: Copy) -> list[str]:
    return [m.found for m in lint(copy.folder).mistakes if m.field.endswith(".supports")]


def claim(copy: Copy, field: str) -> Claim:
    (found,) = (c for c in claims(Knowledge.load(copy.folder)) if (c.record, c.field) == ("spark_weak", field))
    return found


def cite(copy: Copy, supports: str) -> None:
    """Add a citation of a published source to the weak spark."""
    copy.append("sources.yaml", PUBLISHED)
    old = "sources: [{source: from_memory, supports: prior}]"
    copy.edit(SPARK, old, old[:-1] + f', {{source: a_book, supports: "{supports}"}}]')


@pytest.mark.parametrize(
    ("supports", "found"),
    [
        ("the signs", ["the signs"]),
        ("shows.no_such_sign", ["shows.no_such_sign"]),
        ("shows and prior", ["shows and prior"]),
        ("shows, prior: and a remark, with a comma", []),
        ("prior", []),
    ],
)
def test_supports_names_fields_of_the_record_or_their_lines(copy: Copy, supports: str, found: list[str]) -> None:
    before = named_wrongly(copy)
    cite(copy, supports)
    assert named_wrongly(copy) == before + found


def test_a_claim_nobody_stands_behind_has_none(copy: Copy) -> None:
    assert claim(copy, "fixed_by").standing == "none"


def test_the_best_standing_counts(copy: Copy) -> None:
    before = claim(copy, "prior").standing
    assert before != "published"
    cite(copy, "prior")
    assert claim(copy, "prior").standing == "published"


def test_a_line_that_is_named_is_counted_apart_from_the_field(copy: Copy) -> None:
    lines = claim(copy, "fixed_by").lines
    k = Knowledge.load(copy.folder)
    cite(copy, f"fixed_by.{k.causes['spark_weak'].fixed_by[0].do}")
    after = claim(copy, "fixed_by")
    assert (after.standing, after.lines, after.lines_published) == ("published", lines, 1)


def test_naming_the_field_as_a_whole_singles_out_no_line(copy: Copy) -> None:
    cite(copy, "checks")
    assert claim(copy, "checks").standing == "published"
    assert claim(copy, "checks").lines_published == 0


def test_every_claim_of_the_shipped_knowledge_has_a_standing_and_its_kind_is_counted() -> None:
    k = Knowledge.load()
    found = claims(k)
    assert {c.standing for c in found} <= set(STANDINGS)
    assert {(c.kind, c.record) for c in found} >= {(r.kind, r.id) for r in citing_records(k) if r.kind == "causes"}
    assert {c.kind for c in found} == set(CLAIMS)
