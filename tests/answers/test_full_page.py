"""The full answer: what leads it, what stands where, and what it must never drop."""

from __future__ import annotations

import pytest
from answer_samples import CASES, by_hand, caution, one_line, section

from carbdiag import Diagnosis, diagnose, load_case, to_text
from carbdiag.answers import FORMS, PostWords, to_document
from carbdiag.answers.layout import WIDTH
from carbdiag.case_schema import Air, AirChange, Case, FindingReport, Machine
from carbdiag.diagnosis_schema import HoldNow, UnlistedBelief
from carbdiag.knowledge import shipped_knowledge
from carbdiag.posted_schema import PostedCase
from carbdiag.reading import diagnose_posted
from carbdiag.terms import Direction


def test_the_first_line_says_what_to_do_now() -> None:
    assert to_text(by_hand()).splitlines()[0] == "Do this first: Look at the bowl (5 minutes)."


def certain(**changes: object) -> Diagnosis:
    d = by_hand()
    jet = d.causes[0].model_copy(update={"probability": 0.95})
    return d.model_copy(update={"causes": (jet, *d.causes[1:]), "do_now": "jet", **changes})


def test_a_cause_that_is_as_good_as_certain_is_put_right_first() -> None:
    page = to_text(certain())
    assert page.splitlines()[0] == "Do this now: Change the jet (30 minutes)."
    assert page.index("1. Shut the tap.") < page.index("To be surer: Look at the bowl (5 minutes)")


def test_a_step_of_a_setting_leads_with_its_direction() -> None:
    d = certain()
    fix = d.causes[0].correction.model_copy(update={"direction": "richer"})
    stepped = d.model_copy(update={"causes": (d.causes[0].model_copy(update={"correction": fix}), *d.causes[1:])})
    assert to_text(stepped).splitlines()[0] == "Try this now: change the jet, richer (30 minutes)."
    assert to_text(stepped, language="es").splitlines()[0].startswith("Prueba esto ahora: ")


def test_no_change_leads_where_the_diagnosis_names_none_to_make_now() -> None:
    assert "Do this now" not in to_text(certain(do_now=None))


def test_a_danger_that_was_seen_comes_before_anything_to_do() -> None:
    seen = HoldNow(id="fuel_in_oil", name="There is fuel in the oil", why="It can burn.", chance=1)
    told = by_hand().model_copy(update={"holds": (seen,)})
    for form in FORMS:
        assert to_text(told, form).startswith("Mind this: There is fuel in the oil.")


def test_what_is_likely_follows_at_once() -> None:
    assert to_text(by_hand()).split("\n\n")[1] == "Likely cause: The jet is off (likely, 60%)."


def test_what_must_not_be_done_now_is_told_before_anything_to_do() -> None:
    hold = HoldNow(id="lean", name="Lean is possible", why="It can seize.", chance=0.7)
    told = by_hand().model_copy(update={"holds": (hold,)})
    page = to_text(told)
    assert page.index("Mind this: Lean is possible. It can seize.") < page.index("How to check it")
    quiet = by_hand().model_copy(update={"holds": (hold.model_copy(update={"chance": 0.2, "pressing": False}),)})
    assert "Mind this" not in to_text(quiet)


def test_a_caution_stands_with_the_step_that_needs_it() -> None:
    first = section(to_text(by_hand()), "How to check it")
    assert first.index("! Mind the vapor.") < first.index("Open it and look at the bowl")
    assert first.index("! Mind the heat.") < first.index("Open it and look at the bowl")


def test_a_later_check_has_its_own_cautions_under_it() -> None:
    later = section(to_text(by_hand()), "Then check")
    plug, hose = later.split("- Look at the hose")
    assert "Mind the heat." in plug
    assert "Mind the shock." in plug
    assert "Mind the spill." in hose


def test_a_caution_of_the_correction_stands_before_its_first_move_even_if_said_above() -> None:
    fix = section(to_text(by_hand()), "If it turns out to be")
    for text in ("Mind the vapor.", "Mind the wire.", "Mind the nature of jet."):
        assert fix.index(text) < fix.index("1. Shut the tap.")


def test_what_stands_beside_a_step_in_short_is_told_in_full_once() -> None:
    full = section(to_text(by_hand()), "The cautions above, in full")
    for name in ("vapor", "heat", "shock", "spill", "wire", "nature of jet"):
        assert full.count(f"Mind the {name}, always.") == 1


def test_the_cautions_of_the_other_causes_are_told_once_in_short() -> None:
    page = section(to_text(by_hand()), "Before you go after another cause")
    assert [line.strip() for line in page.splitlines() if line] == [
        "! Mind the cap.",
        "! Mind the nature of vent.",
        "! Mind the nature of tap.",
    ]


def test_what_the_kind_of_machine_asks_for_stands_at_the_top_in_both_forms() -> None:
    assert to_text(by_hand()).index("! Mind the carbon monoxide.") < to_text(by_hand()).index("How to check it")
    assert "! Mind the carbon monoxide." in to_text(by_hand(), "short")


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


def test_no_correction_is_spelled_out_while_the_leading_cause_is_unlikely() -> None:
    d = by_hand()
    weak = tuple(c.model_copy(update={"probability": 0.1, "spelled_out": False}) for c in d.causes)
    page = to_text(d.model_copy(update={"causes": weak, "answer": "open"}))
    assert "Nothing yet: it is too open." in page
    assert "Shut the tap." not in page


def test_the_first_step_tells_how_how_long_and_what_each_outcome_means() -> None:
    first = section(to_text(by_hand()), "How to check it (5 minutes)")
    for text in ("You need: lamp", "dirty: Dirt is the cause.", "clean: Dirt is not the cause."):
        assert text in first


@pytest.mark.parametrize("steps", [0, 1, 2, 3])
def test_all_the_steps_of_a_diagnosis_are_shown(steps: int) -> None:
    d = by_hand()
    page = to_text(d.model_copy(update={"next_steps": d.next_steps[:steps]}))
    assert [f"Look at the {n}" in page for n in ("bowl", "plug", "hose")] == [steps > n for n in range(3)]
    assert ("How to check it" in page) == (steps > 0)
    assert page.startswith("Do this first") == (steps > 0)


def test_what_the_machine_is_comes_first_among_the_questions() -> None:
    kinds = {"round_slide": 0.6, "flat_slide": 0.3, "flat_slide_pump": 0.07, "diaphragm": 0.03}
    unknown = by_hand().model_copy(update={"machine": Machine(), "families": kinds})
    asked = section(to_text(unknown), "Please answer these questions")
    kind = "1. What kind of carburetor is it: round slide / flat slide / diaphragm, no float bowl?"
    assert asked.index(kind) < asked.index("2. Is it a two-stroke")
    assert "Please answer" not in to_text(by_hand())


def test_kinds_of_carburetor_that_such_a_machine_hardly_has_are_not_asked_about() -> None:
    kinds = {"butterfly": 0.92, "diaphragm": 0.08}
    mower = Machine(use="garden_machine", strokes=4)
    assert "What kind of carburetor" not in to_text(by_hand().model_copy(update={"machine": mower, "families": kinds}))
    either = {"butterfly": 0.6, "diaphragm": 0.4}
    asked = to_text(by_hand().model_copy(update={"machine": mower, "families": either}))
    assert "throttle plate with a float bowl / diaphragm, no float bowl?" in " ".join(asked.split())


def test_an_unexplained_case_warns_above_the_list_and_names_what_fits_least() -> None:
    page = to_text(by_hand(flag=True))
    causes = section(page, "Likely causes")
    assert causes.index("Take it with care.") < causes.index("60%")
    assert "What fits least: Bogs." in page
    assert "Take it with care." not in to_text(by_hand())


def test_three_faults_at_once_are_mentioned_only_when_they_matter() -> None:
    told = "At most two faults at once are weighed, and here there may be more"
    assert told in one_line(to_text(by_hand(left_out=0.36)))
    assert told not in one_line(to_text(by_hand(left_out=0.01)))


def test_nothing_observed_claims_no_cause_and_asks() -> None:
    page = to_text(diagnose(Case()))
    assert "nothing is claimed" in page
    assert page.startswith("Answer this first: What does the engine do wrong")
    assert "Please answer these questions\n" in page
    assert "Likely causes" not in page
    assert "If it turns out" not in page


def test_the_words_of_a_poster_stand_in_quotes_beside_what_they_were_read_as() -> None:
    post = PostWords(said={"bogs": ("falls on its face",)}, not_understood=("it has a soul",))
    understood = one_line(section(to_text(by_hand(), post=post), "What I understood"))
    assert "Bogs “falls on its face”" in understood
    assert "Not understood: “it has a soul”" in understood


# ---------------------------------------------------------------------------------------------------------
# Real answers


@pytest.fixture(scope="module", params=CASES)
def answer(request: pytest.FixtureRequest) -> Diagnosis:
    return diagnose(CASES[request.param], shipped_knowledge(), steps=5)


def test_every_caution_of_what_is_shown_is_in_the_document(answer: Diagnosis) -> None:
    needed = {c.id for s in answer.next_steps for c in s.cautions} | {c.id for c in answer.cautions}
    for shown in answer.causes[:5]:
        needed |= {c.id for c in (*shown.cautions, *shown.correction.cautions)}
    assert {c.id for c in to_document(answer).cautions()} == needed


def test_the_page_says_what_was_understood_and_what_is_likely(answer: Diagnosis) -> None:
    page = one_line(to_text(answer))
    for text in (*answer.understood, *(c.name for c in answer.causes[:5]), answer.meaning):
        assert one_line(text) in page


def test_no_line_is_wider_than_the_page_or_ends_in_a_space(answer: Diagnosis) -> None:
    for line in to_text(answer).splitlines():
        assert len(line) <= WIDTH
        assert line == line.rstrip()


def test_a_caution_without_a_short_wording_is_told_in_full() -> None:
    d = by_hand()
    bare = d.next_steps[0].model_copy(update={"cautions": (caution("vapor").model_copy(update={"short": None}),)})
    first = section(to_text(d.model_copy(update={"next_steps": (bare,)})), "How to check it")
    assert "! Mind the vapor, always." in first


@pytest.mark.parametrize(
    ("where", "said"),
    [
        ({"group": "spark_plug"}, "Something that is not on my list, of this kind: spark plug"),
        ({"circuit": "pilot", "direction": Direction.LEAN}, "Something that is not on my list, lean at the pilot"),
        ({}, "Something that is not on my list"),
    ],
)
def test_a_fault_nobody_wrote_down_is_named_by_where_it_would_sit(where: dict[str, object], said: str) -> None:
    unlisted = UnlistedBelief.model_validate({"probability": 0.2, **where})
    page = to_text(by_hand().model_copy(update={"unlisted": unlisted}))
    assert f"20% {said}" in one_line(page)


def test_the_outcomes_of_a_question_are_not_said_again_below_them() -> None:
    d = diagnose(CASES["demo"])
    finding = next(s for s in d.next_steps if s.kind == "finding")
    page = to_text(d.model_copy(update={"next_steps": (finding,), "do_now": None}))
    assert "yes: speaks for" in section(page, "How to answer it")
    assert "It helps to tell" not in page


def test_the_order_of_work_is_told_in_spanish_stage_by_stage_and_only_where_a_setting_leads() -> None:
    d = diagnose(CASES["demo"])
    assert d.causes[0].correction.direction is not None
    page = one_line(to_text(d, language="es"))
    assert "compresión y escape → nivel de combustible → chicler principal → aguja →" in page
    weak = diagnose(load_case("checks: [{check: spark_test, outcome: none}]\nfindings: [{finding: will_not_start}]"))
    assert weak.causes[0].correction.direction is None
    assert "one change at a time" not in "".join(weak.notes)


@pytest.mark.parametrize(
    ("told", "understood"),
    [
        (
            "250 four stroke. 180 main, 45 pilot, clip 3, fuel screw 2 turns out. 4200 ft. It bogs on snaps.",
            "Set-up: main jet 180, pilot jet 45, clip in groove 3, screw 2 turns out, at 1280 m",
        ),
        ("250 four stroke. It bogs when I snap it open.", ""),
    ],
)
def test_the_set_up_of_a_post_is_shown_as_it_was_understood(told: str, understood: str) -> None:
    """Whoever states his jets sees whether they were read right."""
    answer = to_text(diagnose_posted(PostedCase(text=told)))
    shown = one_line(section(answer, "What I understood"))
    assert understood in shown
    assert ("Set-up:" in shown) is bool(understood)


@pytest.mark.parametrize(("elevation_m", "air"), [(2000.0, "thinner"), (0.0, "denser")])
def test_a_ride_to_come_is_no_fault(elevation_m: float, air: str) -> None:
    change = AirChange(set=Air(elevation_m=1000.0), now=Air(elevation_m=elevation_m))
    case = Case(machine=Machine(family="flat_slide", strokes=2), air=change)
    page = to_text(diagnose(case))
    assert f"No trouble was told, only other air: air {air} than" in one_line(page)
    assert "Likely cause:" not in page
    told = case.model_copy(update={"findings": (FindingReport(finding="low_power", at=("full",)),)})
    assert "No trouble was told" not in to_text(diagnose(told))
