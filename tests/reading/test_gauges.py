"""What a gauge showed is read as a measured lambda at the opening told with it; what was only wanted is not."""

from __future__ import annotations

import pytest

from carbdiag import diagnose, read_text
from carbdiag.answers import to_text
from carbdiag.posted_schema import PostedCase
from carbdiag.reading.casing import case_of
from carbdiag.reading.diagnosing import diagnose_posted

STOICHIOMETRIC = 14.7  # of gasoline, as every gauge for gasoline has it


def ratios(text: str) -> dict[str, float]:
    return {g.at: g.value for g in read_text(text).gauges}


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Dyno says AFR 14.8 at WOT.", {"full": 14.8}),
        ("AFR was 15 at full throttle.", {"full": 15.0}),
        ("Wideband reads 13.2 at idle, 14.5 at half and 12.1 WOT.", {"idle": 13.2, "half": 14.5, "full": 12.1}),
        ("idle afr 13.5, 15.2 at quarter throttle", {"idle": 13.5, "quarter": 15.2}),
        ("air fuel ratio is 13.9 at half throttle", {"half": 13.9}),
    ],
)
def test_a_ratio_of_gasoline_becomes_lambda(text: str, shown: dict[str, float]) -> None:
    assert ratios(text) == pytest.approx({at: ratio / STOICHIOMETRIC for at, ratio in shown.items()}, abs=1e-3)


def test_lambda_is_taken_as_it_is() -> None:
    assert ratios("lambda 1.05 at half throttle") == {"half": 1.05}


@pytest.mark.parametrize(
    "text",
    [
        "What should the AFR be at WOT, 13?",
        "I aim for an AFR of 12.8 at full throttle.",
        "It has 12.5 to 1 compression and bogs at half throttle.",
        "AFR is 12.5 cruising",  # load is no opening
        "AFR 12.1 at WOT on one run, AFR 14.9 at WOT on the next.",
        "> AFR is 14.8 at WOT",
    ],
)
def test_what_was_not_measured_at_one_opening_is_no_reading(text: str) -> None:
    assert ratios(text) == {}


def test_a_lean_gauge_leads_to_the_lean_main_and_is_shown_with_its_words() -> None:
    text = "250 single, bogs. Wideband shows AFR {} at full throttle."
    chances = {}
    for ratio in ("10.2", "16.2"):
        answer = diagnose(case_of(read_text(text.format(ratio))))
        levels = next(m for m in answer.mixture if m.place == "full").levels
        chances[ratio] = {side: sum(p for level, p in levels.items() if side in level) for side in ("lean", "rich")}
    assert chances["16.2"]["lean"] > 2 * chances["16.2"]["rich"]
    assert chances["10.2"]["rich"] > 2 * chances["10.2"]["lean"]
    told = to_text(diagnose_posted(PostedCase(text=text.format("16.2"))))
    assert "Measured lambda 1.10 at full throttle “16.2”" in told
