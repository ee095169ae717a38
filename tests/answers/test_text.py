"""The plain-text page: what it must never drop, never let through, and how it reads."""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from carbdiag import BandTable, Diagnosis, Knowledge, band_table, diagnose, load_case
from carbdiag.answers import printable, to_text
from carbdiag.answers.layout import WIDTH
from carbdiag.diagnosis import shipped_knowledge
from carbdiag.knowledge import default_folder
from carbdiag.schema import (
    BandMixture,
    Case,
    CauseBelief,
    CautionText,
    Citation,
    Correction,
    FindingReport,
    Machine,
    NextStep,
    OutcomeMeaning,
    Reason,
    Unexplained,
    UnlistedBelief,
)
from carbdiag.terms import Level

GOLDEN = Path(__file__).parent / "golden" / "demo.txt"
# Write the golden page anew, then read it as a rider would:
#   CARBDIAG_GOLDEN=write pytest tests/answers
WRITE = os.environ.get("CARBDIAG_GOLDEN") == "write"


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return shipped_knowledge()


def demo() -> Case:
    return load_case((default_folder() / "cases" / "demo.yaml").read_text(encoding="utf-8"))


def one_line(text: str) -> str:
    return " ".join(text.split())


def section(page: str, title: str) -> str:
    """The lines under a heading, up to the next line that is not indented."""
    lines = page.splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith(title))
    body = []
    for line in lines[start + 1 :]:
        if line and not line.startswith(" "):
            break
        body.append(line)
    return "\n".join(body)


# ---------------------------------------------------------------------------------------------------------
# A diagnosis made by hand: every caution has a text of its own, so that a lost one is seen


def caution(name: str) -> CautionText:
    return CautionText(id=name, text=f"Mind the {name.replace('_', ' ')}.")


def step(name: str, *cautions: str) -> NextStep:
    return NextStep(
        kind="check",
        id=name,
        name=f"Look at the {name}",
        do=f"Open it and look at the {name} in good light.",
        minutes=5,
        tools=("lamp",),
        outcomes=(
            OutcomeMeaning(outcome="dirty", means="Dirt is the cause.", probability=0.6),
            OutcomeMeaning(outcome="clean", means="Dirt is not the cause.", probability=0.4),
        ),
        gain_bits=0.5,
        gain_per_minute=0.1,
        why="It helps to tell dirt from wear.",
        cautions=tuple(caution(c) for c in cautions),
    )


def cause(name: str, probability: float, *cautions: str, held_back: str | None = None) -> CauseBelief:
    return CauseBelief(
        id=name,
        group="other",
        name=f"The {name} is off",
        summary=f"The {name} passes too little.",
        probability=probability,
        words="likely",
        because=(Reason(observation="Bogs", text="Bogs: speaks for it", weight=1.0),),
        against=(Reason(observation="Smokes", text="Smokes: speaks against it", weight=-1.0),),
        correction=Correction(
            action="change_it",
            name=f"Change the {name}",
            part=f"The {name}",
            size="one size richer",
            steps=("Shut the tap.", f"Take the {name} out."),
            minutes=30,
            tools=("key",),
            verify="It pulls cleanly.",
            put_back="Refit the old one.",
            held_back=held_back,
            cautions=tuple(caution(c) for c in cautions),
        ),
        verify="It pulls cleanly.",
        sources=(Citation(source="common_practice", supports="prior"),),
        cautions=tuple(caution(c) for c in (*cautions, f"nature_of_{name}")),
    )


def by_hand(held_back: str | None = None, flag: bool = False, left_out: float = 0.0) -> Diagnosis:
    return Diagnosis(
        edition="test",
        case_id="by hand",
        answer="likely",
        summary="The jet is likely off.",
        understood=("Round slide", "Bogs"),
        causes=(
            cause("jet", 0.6, "vapor", "wire", held_back=held_back),
            cause("vent", 0.2, "cap"),
            cause("tap", 0.1, "vapor", "spill"),
        ),
        order=("vent", "jet", "tap"),
        groups=(),
        nothing_wrong=0.01,
        unlisted=UnlistedBelief(probability=0.05),
        mixture=(
            BandMixture(
                place="half",
                name="half throttle",
                levels=dict.fromkeys(Level, 0.2),
                verdict="perhaps lean (60%)",
                circuits=("needle", "main_jet"),
            ),
        ),
        next_steps=(step("bowl", "vapor", "heat"), step("plug", "heat", "shock"), step("hose", "spill")),
        unexplained=Unexplained(
            flag=flag, ratio=9, findings=("Bogs",) if flag else (), text="Take it with care."
        ),
        left_out=left_out,
        notes=("Two-stroke was not said.",),
        cautions=(caution("vapor"), caution("carbon_monoxide")),
        meaning="Percentages are degrees of belief.",
    )


def test_a_caution_stands_with_the_step_that_needs_it() -> None:
    first = section(to_text(by_hand()), "Check first")
    assert first.index("Mind the vapor.") < first.index("Open it and look at the bowl")
    assert first.index("Mind the heat.") < first.index("Open it and look at the bowl")


def test_a_later_step_shows_its_own_cautions_and_names_those_above() -> None:
    later = section(to_text(by_hand()), "Check first").split("Then:")[1]
    plug, hose = later.split("- Look at the hose")
    assert "As above: heat." in plug
    assert "Mind the shock." in plug
    assert "Mind the spill." in hose


def test_a_caution_of_the_correction_stands_before_its_first_move_even_if_said_above() -> None:
    fix = section(to_text(by_hand()), "If it turns out to be")
    for text in ("Mind the vapor.", "Mind the wire.", "Mind the nature of jet."):
        assert fix.index(text) < fix.index("1. Shut the tap.")


def test_no_caution_of_another_cause_or_of_the_whole_answer_is_lost() -> None:
    page = section(to_text(by_hand()), "Before you turn to another cause")
    assert "Mind the cap. [the vent is off]" in page
    assert "Mind the carbon monoxide." in page
    assert "Mind the nature of tap. [the tap is off]" in page


def test_cautions_of_steps_that_are_not_shown_stay_if_a_cause_needs_them() -> None:
    page = one_line(to_text(by_hand(), steps=1))
    assert "Mind the shock." not in page
    assert "Mind the spill. [the tap is off]" in page


def test_what_is_held_back_is_said_loudly_before_anything_to_do() -> None:
    fix = section(to_text(by_hand(held_back="Lean at full is still possible.")), "If it turns out to be")
    loud, why, do = (fix.index(t) for t in ("DO NOT DO THIS YET", "Lean at full", "Change the jet"))
    assert loud < why < do
    assert "DO NOT" not in to_text(by_hand())


def test_the_correction_has_size_moves_proof_and_the_way_back() -> None:
    fix = section(to_text(by_hand()), "If it turns out to be: the jet is off")
    for text in (
        "Rule out first: the vent is off.",
        "Change the jet (30 minutes)",
        "The jet: one size richer",
        "You need: key",
        "2. Take the jet out.",
        "It worked if: It pulls cleanly.",
        "If not, put it back: Refit the old one.",
    ):
        assert text in fix


def test_the_first_step_tells_how_how_long_and_what_each_outcome_means() -> None:
    first = section(to_text(by_hand()), "Check first").split("Then:")[0]
    for text in (
        "Look at the bowl (5 minutes)",
        "You need: lamp",
        "dirty  Dirt is the cause.",
        "clean  Dirt is not the cause.",
    ):
        assert text in first


@pytest.mark.parametrize("steps", [0, 1, 2, 3, 20])
def test_as_many_steps_are_shown_as_asked(steps: int) -> None:
    page = to_text(by_hand(), steps=steps)
    assert [f"Look at the {n}" in page for n in ("bowl", "plug", "hose")] == [steps > n for n in range(3)]
    assert ("Check first" in page) == (steps > 0)


def test_an_unexplained_case_warns_above_the_list_and_names_what_fits_least() -> None:
    page = to_text(by_hand(flag=True))
    causes = section(page, "Likely causes")
    assert causes.index("Take it with care.") < causes.index("60%")
    assert "What fits least: Bogs." in page
    assert "Take it with care." not in to_text(by_hand())


def test_three_faults_at_once_are_mentioned_only_when_they_matter() -> None:
    assert "they could hold up to 26% of the belief" in one_line(to_text(by_hand(left_out=0.36)))
    assert "Three or more" not in to_text(by_hand(left_out=0.01))


def test_nothing_observed_claims_no_cause_and_asks(knowledge: Knowledge) -> None:
    page = to_text(diagnose(Case(), knowledge))
    assert "nothing is claimed" in page
    assert "Check first\n" in page
    assert "Likely causes" not in page
    assert "If it turns out" not in page


# ---------------------------------------------------------------------------------------------------------
# Real answers

CASES = {
    "nothing told": Case(),
    "demo": demo(),
    "fuel in the oil": Case(
        machine=Machine(strokes=4, oiling="sump"),
        findings=(FindingReport(finding="fuel_in_oil", at=("parked",)),),
    ),
    "rich and smoking": Case(
        machine=Machine(family="flat_slide_pump", strokes=4),
        findings=(
            FindingReport(finding="black_smoke", at=("full",)),
            FindingReport(finding="blubbers", at=("full",)),
        ),
    ),
    "knocks": Case(
        machine=Machine(strokes=2),
        findings=(
            FindingReport(finding="knocks", at=("full",)),
            FindingReport(finding="runs_hot", at=("overall",)),
        ),
    ),
    "will not start": Case(findings=(FindingReport(finding="will_not_start", at=("cold_start",)),)),
    "floods when parked": Case(findings=(FindingReport(finding="fuel_overflow", at=("parked",)),)),
    "races by itself": Case(findings=(FindingReport(finding="revs_run_away", at=("idle",)),)),
}


@pytest.fixture(scope="module", params=CASES)
def answer(request: pytest.FixtureRequest, knowledge: Knowledge) -> Diagnosis:
    return diagnose(CASES[request.param], knowledge, steps=3)


def test_every_caution_of_what_is_shown_is_on_the_page(answer: Diagnosis) -> None:
    page = one_line(to_text(answer))
    needed = {c.text for s in answer.next_steps for c in s.cautions} | {c.text for c in answer.cautions}
    for shown in answer.causes[:5]:
        needed |= {c.text for c in (*shown.cautions, *shown.correction.cautions)}
    assert {text for text in needed if one_line(text) not in page} == set()


def test_the_page_says_what_was_understood_and_what_is_likely(answer: Diagnosis) -> None:
    page = one_line(to_text(answer))
    for text in (answer.summary, *answer.understood, *(c.name for c in answer.causes[:5]), answer.meaning):
        assert one_line(text) in page


def test_no_line_is_wider_than_the_page_or_ends_in_a_space(answer: Diagnosis) -> None:
    for line in to_text(answer).splitlines():
        assert len(line) <= WIDTH
        assert line == line.rstrip()


def test_the_demo_reads_as_the_golden_page(knowledge: Knowledge) -> None:
    page = to_text(diagnose(demo(), knowledge, steps=3))
    if WRITE:
        GOLDEN.write_text(page, encoding="utf-8")
    assert page == GOLDEN.read_text(encoding="utf-8"), "reads differently; see the top of this file"


# ---------------------------------------------------------------------------------------------------------
# The band table


@pytest.fixture(
    scope="module", params=["round_slide 2", "round_slide 4", "flat_slide 2", "flat_slide_pump 4"]
)
def table(request: pytest.FixtureRequest, knowledge: Knowledge) -> BandTable:
    family, strokes = request.param.split()
    return band_table(knowledge, family, 2 if strokes == "2" else 4)


def test_every_row_of_a_band_table_stands_under_its_opening(table: BandTable) -> None:
    page = to_text(table)
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
    cautions = one_line(section(to_text(table), "Before you touch a setting"))
    needed = {c.text for c in table.cautions}
    assert {c.id for c in table.cautions} == {c for row in table.rows for c in row.cautions}
    assert needed
    assert {text for text in needed if one_line(text) not in cautions} == set()


def test_a_sign_of_both_directions_is_never_listed_under_one(table: BandTable) -> None:
    page = to_text(table)
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
    assert max(len(line) for line in to_text(table).splitlines()) <= WIDTH


# ---------------------------------------------------------------------------------------------------------
# Text from outside


def steers(text: str) -> set[str]:
    """Characters that control a terminal or the order of letters; a line end is the page's own."""
    return {c for c in text if c != "\n" and unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp")}


@pytest.mark.parametrize(
    ("given_text", "shown"),
    [
        ("\x1b[2J\x1b]0;title\x07", "\\x1b[2J\\x1b]0;title\\x07"),
        ("\x9b31m", "\\x9b31m"),
        ("a\u202egpj.exe\u2066", "a\\u202egpj.exe\\u2066"),
        ("zero\u200bwidth\ufeff", "zero\\u200bwidth\\ufeff"),
        ("tag\U000e0041", "tag\\U000e0041"),
        ("line\u2028end\u2029", "line\\u2028end\\u2029"),
        ("half\ud800", "half\\ud800"),
        ("tab\tand\r\nline", "tab and line"),
        ("λ = 0,9 · 25 °C → größer", "λ = 0,9 · 25 °C → größer"),
    ],
)
def test_what_steers_a_terminal_is_spelled_out_and_the_rest_is_left_alone(
    given_text: str, shown: str
) -> None:
    assert printable(given_text) == shown


@given(st.text(st.characters(codec=None), max_size=80))
def test_no_text_of_a_user_can_steer_the_terminal(text: str) -> None:
    page = to_text(
        by_hand().model_copy(update={"case_id": text, "understood": (text, "Bogs"), "summary": text})
    )
    assert steers(page) == set()


def test_no_text_of_a_user_can_pose_as_a_heading() -> None:
    page = to_text(by_hand().model_copy(update={"case_id": "x\n\nCheck first\n  Drink it"}))
    assert page.splitlines().count("Check first") == 1
