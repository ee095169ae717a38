"""Grooves of a needle are counted from either end; a lower groove is richer, however it is told."""

from __future__ import annotations

import pytest

from carbdiag import read_text


@pytest.mark.parametrize(
    ("text", "way"),
    [
        ("clip was at 3rd from top i moved it to 4th and it got better", "richer"),
        ("moved the clip from 3rd from top to 4th, better", "richer"),
        ("moved clip from the 2nd notch from the top to the 4th, much better", "richer"),
        ("moved the clip from the third from the bottom to the second from the bottom, better", "richer"),
        ("clip was at third from bottom, i put it at second from bottom and its better", "richer"),
        ("moved clip 3rd from the top to 2nd from the top and it got worse", "leaner"),
        ("moved the clip from 2nd from bottom to 3rd from bottom and it got worse", "leaner"),
        ("clip was 2nd from the bottom i moved it to the 3rd from bottom and it got worse", "leaner"),
        ("went from 4 to 3 on the clip, better", "leaner"),
    ],
)
def test_which_way_the_clip_went(text: str, way: str) -> None:
    moved = [t for t in read_text(text).trials if t.change == "needle"]
    assert [t.direction for t in moved] == [way]


@pytest.mark.parametrize("text", [
    "moved the clip from the second from the bottom to the third from the top, worse",
    "moved the clip from 2nd from bottom to 2nd from the top, better",
])  # fmt: skip
def test_counted_from_different_ends_nothing_is_told(text: str) -> None:
    assert not [t for t in read_text(text).trials if t.change == "needle"]
