"""What the answer claims in its first sentence: a cause, a group, where it is rich or lean, or nothing yet."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from carbdiag import Case, Diagnosis, Knowledge, case_of, diagnose, load_case, read_text
from carbdiag.answers import to_text
from carbdiag.answers.forms import Form
from carbdiag.answers.language import answer_language
from carbdiag.knowledge import default_folder, shipped_knowledge
from carbdiag.terms import Level

ROOT = Path(__file__).parents[1]
LEAN = {
    "contexts": ["exhaust_changed", "filter_changed"],
    "findings": [{"finding": "surges", "at": ["half", "full"]}, {"finding": "plug_white"}],
    "checks": [{"check": "touch_of_choke", "at": "half", "outcome": "better"}],
}
RICH = {
    "findings": [{"finding": "blubbers", "at": "half"}, {"finding": "black_smoke"}, {"finding": "plug_black_dry"}],
    "checks": [{"check": "touch_of_choke", "at": "half", "outcome": "worse"}],
}


def answer(k: Knowledge, told: dict[str, object], family: str = "round_slide") -> Diagnosis:
    machine = {"family": family, "strokes": 2, "cylinders": 1}
    return diagnose(Case.model_validate({"machine": machine, **told}), k)


@pytest.mark.parametrize(("told", "direction"), [(LEAN, "lean"), (RICH, "rich")])
@pytest.mark.parametrize("family", ["round_slide", "flat_slide"])
def test_textbook_signs_say_rich_or_lean_though_no_part_is_likely(
    k: Knowledge, told: dict[str, object], direction: str, family: str
) -> None:
    d = answer(k, told, family)
    assert d.answer == "open"
    assert d.area is None
    assert d.off is not None
    assert d.off.direction == direction
    assert "half" in d.off.places
    assert f"probably runs {direction}" in d.summary
    forms: tuple[Form, ...] = ("full", "short")
    for form in forms:
        assert f"probably runs {direction}" in " ".join(to_text(d, form).split())


def test_every_opening_named_is_as_sure_as_the_scales_ask_and_its_neighbors_are_not(k: Knowledge) -> None:
    d = answer(k, LEAN)
    assert d.off is not None
    least = k.scales.decision.points_to_mixture
    lean = {b.place: b.levels[Level.LEAN] + b.levels[Level.VERY_LEAN] for b in d.mixture}
    order = list(lean)
    first, last = (order.index(d.off.places[n]) for n in (0, -1))
    assert d.off.places == tuple(order[first : last + 1])
    assert min(lean[p] for p in d.off.places) >= least
    assert all(lean[p] < least for p in (*order[max(first - 1, 0) : first], *order[last + 1 : last + 2]))
    assert d.off.probability == pytest.approx(max(lean.values()), abs=1e-4)


def test_where_a_cause_or_a_group_is_named_the_mixture_is_not(k: Knowledge) -> None:
    fuel = answer(k, {"findings": [{"finding": "fades_like_out_of_fuel"}, {"finding": "recovers_after_rest"}]})
    assert fuel.area == "fuel_starvation_tank"
    assert fuel.off is None


def test_one_vague_sign_says_nothing_of_the_mixture(k: Knowledge) -> None:
    assert answer(k, {"findings": [{"finding": "low_power"}]}).off is None


@pytest.mark.parametrize(
    ("text", "hold", "warning"),
    [
        (
            "Been tuning it in the garage with the door shut, 2 stroke, it loads up at idle. How many turns?",
            "exhaust_gas",
            "Exhaust gas kills: run it outdoors only",
        ),
        (
            "Kids quad sat all winter, wont run without choke, the garage smells of gas.",
            "fuel_vapor",
            "It smells of gasoline indoors: air it out, no flame or spark",
        ),
    ],
)
def test_what_fills_a_closed_room_is_warned_of_first_in_every_form(
    k: Knowledge, text: str, hold: str, warning: str
) -> None:
    d = diagnose(case_of(read_text(text, k)), k)
    assert {h.id: h.chance for h in d.holds}[hold] == 1
    forms: tuple[Form, ...] = ("full", "short")
    for form in forms:
        assert " ".join(to_text(d, form).split()).startswith(f"Mind this: {warning}")
    assert not read_text("It sits in the garage and it will not start.", k).contexts


@pytest.mark.parametrize("hold", [h for h in shipped_knowledge().holds if h != "aviation_engine"])
def test_the_name_of_a_hold_says_what_to_do(k: Knowledge, hold: str) -> None:
    """A short message has room for the name alone."""
    danger, _, what_to_do = k.holds[hold].name.partition(": ")
    assert danger
    assert what_to_do
    assert ": " in answer_language("es").text("safety", hold, "name", "")


def test_what_fits_a_cause_is_not_said_to_fit_it_worse(k: Knowledge) -> None:
    """A choke that helps fits a blocked pilot; that it fits another cause better still speaks only between the two."""
    found = diagnose(
        Case.model_validate(
            {
                "machine": {"family": "round_slide", "strokes": 4},
                "contexts": [{"context": "stood_for_months"}],
                "findings": [{"finding": "dies_when_choke_released"}, {"finding": "fuel_smells_of_varnish"}],
            }
        ),
        k,
    )
    reasons = [r for c in found.causes for r in c.against]
    assert {r.fits for r in reasons} == {True, False}
    for reason in reasons:
        assert ("speaks" in reason.text) is not reason.fits
    text = " ".join(to_text(found).split())
    for cause in found.causes[:3]:
        for reason in cause.against:
            heading = "fits, the other still better:" if reason.fits else "fits worse:"
            assert heading in text[text.index(cause.name) :]


@pytest.mark.parametrize(
    ("trial", "en", "es"),
    [
        (
            {"at": "full"},
            "Main jet 130 to 135 (richer), felt at full throttle: no change",
            "Chicler principal: de 130 a 135, hacia más rico, probado en acelerador a fondo: sin cambio",
        ),
        ({}, "Main jet 130 to 135 (richer): no change", "Chicler principal: de 130 a 135, hacia más rico: sin cambio"),
    ],
)
def test_a_place_that_nobody_told_is_not_shown_as_understood(
    k: Knowledge, trial: dict[str, object], en: str, es: str
) -> None:
    moved = {"change": "main_jet", "from_size": 130, "to_size": 135, "effect": "no_change", **trial}
    d = answer(k, {"findings": [{"finding": "dies_after_minutes"}], "trials": [moved]})
    assert en in d.understood
    assert es in " ".join(to_text(d, language="es").split())


def test_a_check_named_as_a_question_is_answered(k: Knowledge) -> None:
    d = answer(k, {"checks": [{"check": "spark_test", "outcome": "weak"}]})
    assert "Is there a good spark? Weak" in d.understood


# ---------------------------------------------------------------------------------------------------------
# From which chance on a thing is said stands in the scales


def showing(k: Knowledge, **numbers: float) -> Knowledge:
    """The knowledge with other numbers under `showing`."""
    shown = k.scales.showing.model_copy(update=numbers)
    return replace(k, scales=k.scales.model_copy(update={"showing": shown}), memo={})


DEMO = load_case((default_folder() / "cases" / "demo.yaml").read_text(encoding="utf-8"))


def test_from_which_chance_a_correction_is_told_stands_in_the_scales(k: Knowledge) -> None:
    assert "Nothing yet: it is too open." not in to_text(diagnose(DEMO, k))
    assert "Nothing yet: it is too open." in to_text(diagnose(DEMO, showing(k, correction_from=1.0)))


def test_from_which_chance_causes_several_settings_and_holds_are_told_stands_in_the_scales(k: Knowledge) -> None:
    d, few = diagnose(DEMO, k), diagnose(DEMO, showing(k, cause_from=0.2, several_from=1.0, hold_from=1.0))
    assert d.several_settings is not None
    assert d.several_settings.named
    assert few.several_settings == d.several_settings.model_copy(update={"named": False})
    assert [c.id for c in few.causes] == [c.id for c in d.causes if c.probability >= 0.2] != [c.id for c in d.causes]
    assert [h.pressing for h in d.holds] != [h.pressing for h in few.holds] == [h.chance == 1.0 for h in few.holds]


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_question_about_an_opening_ends_with_it_and_has_one_colon_before_it(k: Knowledge, language: str) -> None:
    """Not "Answer this first: Quarter throttle: With the throttle held still, ...": a walk asks it the same way."""
    d = answer(k, {"findings": [{"finding": "bogs", "at": "half"}]})
    steps = [s for s in diagnose(DEMO, k, steps=20).next_steps if s.kind == "finding" and s.at == "full"]
    assert steps
    words = answer_language(language)
    for step in steps:
        page = " ".join(to_text(d.model_copy(update={"next_steps": (step,)}), language=language).split())
        ask = words.text("findings", step.id, "ask", k.findings[step.id].ask)
        assert f": {ask} ({words.text('bands', 'full', 'name', 'full throttle')})" in page


def test_every_question_ends_as_one(k: Knowledge) -> None:
    """What stands behind the mark is the opening that it is asked of, and the pages go by that."""
    assert [r.id for r in (*k.findings.values(), *k.contexts.values()) if not r.ask.endswith("?")] == []


def test_no_group_of_the_knowledge_is_named_in_the_answers() -> None:
    """Which cause is one of the air its record says (`air`), and the diagnosis tells."""
    k = shipped_knowledge()
    code = "".join(f.read_text(encoding="utf-8") for f in (ROOT / "carbdiag").glob("*.py"))
    code += "".join(f.read_text(encoding="utf-8") for f in (ROOT / "carbdiag" / "answers").glob("*.py"))
    assert [g for g in k.groups if "_" in g and f'"{g}"' in code] == []
