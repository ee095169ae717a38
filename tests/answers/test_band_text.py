"""The band table as a page."""

from __future__ import annotations

import pytest
from answer_samples import one_line, section

from carbdiag import BandTable, band_table
from carbdiag.answers import bands_to_text
from carbdiag.answers.layout import WIDTH


@pytest.fixture(
    scope="module", params=["round_slide 2", "round_slide 4", "flat_slide 2", "flat_slide_pump 4"]
)
def table(request: pytest.FixtureRequest) -> BandTable:
    family, strokes = request.param.split()
    return band_table(family, 2 if strokes == "2" else 4)


def test_every_row_of_a_band_table_stands_under_its_opening(table: BandTable) -> None:
    page = bands_to_text(table)
    for row in table.rows:
        place = row.place.replace("_", " ")
        under = one_line(section(page, place[0].upper() + place[1:]))
        assert one_line(row.sign).casefold() in under.casefold()
        assert f"If {row.direction}: {one_line(row.correction)}" in under
        assert one_line(row.verify) in under
        assert one_line(row.put_back) in under
        for needed in row.cautions:
            assert needed.replace("_", " ") in under


def test_every_caution_of_a_band_table_is_spelled_out_before_the_first_opening(table: BandTable) -> None:
    cautions = one_line(section(bands_to_text(table), "Before you touch a setting"))
    needed = {c.text for c in table.cautions}
    assert {c.id for c in table.cautions} == {c for row in table.rows for c in row.cautions}
    assert needed
    assert {text for text in needed if one_line(text) not in cautions} == set()


def test_a_sign_of_both_directions_is_never_listed_under_one(table: BandTable) -> None:
    page = bands_to_text(table)
    for place in {row.place for row in table.rows}:
        signs: dict[str, set[str]] = {}
        for row in table.rows:
            if row.place == place:
                signs.setdefault(row.sign, set()).add(row.direction)
        title = place.replace("_", " ")
        under = one_line(section(page, title[0].upper() + title[1:]))
        both = under.partition("lean or rich: ")[2].partition(" If ")[0].casefold()
        assert {s for s, ways in signs.items() if len(ways) == 2} == {
            s for s in signs if s.casefold() in both
        }


def test_a_band_table_fits_the_page(table: BandTable) -> None:
    assert max(len(line) for line in bands_to_text(table).splitlines()) <= WIDTH
