"""Whatever numbers a rider writes down, an answer comes, and a richer jet is never a smaller number.

From a post: "jetted for 5000 ft, I live at the beach, it has a 380 main" ended in an error, because the jet for the
denser air was larger than any that is made.
"""

from __future__ import annotations

import re

from hypothesis import given, reject, settings
from hypothesis import strategies as st

from carbdiag import Case, diagnose
from carbdiag.case_schema import Air, AirChange, ContextReport, FindingReport, FittedParts, Jet, Machine
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.errors import CaseError
from carbdiag.knowledge import shipped_knowledge

K = shipped_knowledge()
HEIGHTS = st.integers(0, 45).map(lambda h: h * 100.0)


def answered(parts: FittedParts, set_m: float, now_m: float, findings: tuple[str, ...] = ("low_power",)) -> Diagnosis:
    return diagnose(
        Case(
            machine=Machine(family="round_slide", strokes=2, cylinders=1, parts=parts),
            air=AirChange(set=Air(elevation_m=set_m), now=Air(elevation_m=now_m)),
            contexts=(ContextReport(context="rejetted"),),
            findings=tuple(FindingReport(finding=f) for f in findings),
        ),
        K,
    )


def proposals(diagnosis: Diagnosis) -> list[float]:
    """The main jets that an answer names to begin with, whichever way the number counts."""
    sized = [c.correction.sized for c in diagnosis.causes if c.correction and c.correction.sized]
    return [float(n) for s in sized if s.proposed for n in re.findall(r"(\d+(?:\.\d+)?) first", s.proposed)]


@settings(max_examples=40)
@given(st.floats(10, 1500) | st.floats(280, 420), HEIGHTS, HEIGHTS)
def test_any_number_on_the_jet_and_any_two_heights_are_answered(marked: float, set_m: float, now_m: float) -> None:
    parts = FittedParts(main_jet_marked=marked)
    found = proposals(answered(parts, set_m, now_m))
    if now_m < set_m:
        assert all(n >= marked for n in found), "denser air never wants a smaller jet"


@settings(max_examples=40)
@given(
    st.sampled_from(("bore", "flow")), st.floats(10, 400), st.floats(10, 400), st.integers(1, 5), HEIGHTS, HEIGHTS,
    st.sampled_from(("bogs", "blubbers", "surges", "plug_white", "plug_black_dry")),
)  # fmt: skip
def test_jets_whose_numbering_is_told_are_answered(
    numbering: str, main: float, pilot: float, groove: int, set_m: float, now_m: float, finding: str
) -> None:
    parts = FittedParts(
        main_jet=Jet(number=main, numbering=numbering),
        pilot_jet=Jet(number=pilot, numbering=numbering),
        clip_groove=groove, grooves=5,
    )  # fmt: skip
    try:
        diagnosis = answered(parts, set_m, now_m, (finding,))
    except CaseError:  # no such hole exists: refused, with the field and what it may be
        reject()
    if now_m < set_m:
        assert all(n >= main for n in proposals(diagnosis))


def test_the_end_of_the_series_is_not_proposed_to_who_has_a_larger_jet() -> None:
    """Main jets by hole end at 298: for denser air, that would be a leaner jet than the 380 fitted."""
    [larger] = proposals(answered(FittedParts(main_jet_marked=380), 1524, 0))
    assert larger > 380
