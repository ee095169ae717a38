"""A blueprint is met to the letter, or refused with the wish that cannot be met and the nearest possible."""

from __future__ import annotations

import pytest

from carbdiag import CaseError, Knowledge, make_quiz
from carbdiag.quiz_schema import AtLeast, Blueprint, Share


def refused(wish: Blueprint, k: Knowledge) -> str:
    with pytest.raises(CaseError) as caught:
        make_quiz(wish, 1, k)
    return str(caught.value)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_twenty_items_forty_percent_needle_and_main_two_stroke_medium_three_on_safety(k: Knowledge, seed: int) -> None:
    wish = Blueprint(
        items=20,
        strokes=2,
        difficulty="medium",
        shares=(Share(tags=("needle", "main_jet"), percent=40),),
        at_least=(AtLeast(tags=("safety",), items=3),),
    )
    quiz = make_quiz(wish, seed, k)
    assert len(quiz.items) == 20
    about = [x for x in quiz.keys if {"circuit:needle", "circuit:main_jet"} & set(x.tags)]
    assert len(about) == 8
    assert sum("skill:safety" in x.tags for x in quiz.keys) >= 3
    assert {x.difficulty_word for x in quiz.keys} == {"medium"}
    assert not any("strokes:4" in x.tags for x in quiz.keys)


def test_families_and_kinds_are_kept_to(k: Knowledge) -> None:
    quiz = make_quiz(Blueprint(items=8, families=("flat_slide_pump",), kinds=("likely_cause", "best_check")), 1, k)
    assert {v.kind for v in quiz.items} <= {"likely_cause", "best_check"}
    assert all("family:flat_slide_pump" in x.tags for x in quiz.keys)


@pytest.mark.parametrize("tag", ["band:full", "group:crank_seal", "kind:size_it", "skill:sizing", "family:round_slide"])
def test_a_share_of_everything_fills_the_quiz(k: Knowledge, tag: str) -> None:
    quiz = make_quiz(Blueprint(items=5, shares=(Share(tags=(tag,), percent=100),)), 1, k)
    assert all(tag in x.tags for x in quiz.keys)


def test_every_kind_alone_can_fill_a_small_quiz(k: Knowledge) -> None:
    assert k.quiz is not None
    for kind in k.quiz.kinds:
        assert {v.kind for v in make_quiz(Blueprint(items=3, kinds=(kind.id,)), 1, k).items} == {kind.id}


def test_an_unknown_tag_is_named_with_the_nearest(k: Knowledge) -> None:
    text = refused(Blueprint(items=5, at_least=(AtLeast(tags=("saftey",), items=1),)), k)
    assert "at_least[0].tags[0]" in text
    assert "did you mean safety?" in text


def test_an_unknown_family_is_named_with_the_nearest(k: Knowledge) -> None:
    assert "did you mean round_slide?" in refused(Blueprint(families=("round_slid",)), k)


def test_more_wishes_than_items_say_how_many_are_needed(k: Knowledge) -> None:
    wish = Blueprint(items=4, at_least=(AtLeast(tags=("safety",), items=3), AtLeast(tags=("sizing",), items=3)))
    text = refused(wish, k)
    assert "need 6 items" in text
    assert "Nearest possible: 6 items" in text


def test_more_than_there_is_says_which_wish_and_what_is_possible(k: Knowledge) -> None:
    wish = Blueprint(items=60, kinds=("unsafe_step",))
    text = refused(wish, k)
    assert "items: cannot be met within kinds unsafe_step" in text
    possible = int(text.split("Nearest possible with this seed: ")[1].split(".")[0])
    assert 15 <= possible <= len(k.unsafe_steps)
    assert len(make_quiz(wish.model_copy(update={"items": possible}), 1, k).items) == possible


def test_a_circuit_that_the_machine_lacks_cannot_be_asked_about(k: Knowledge) -> None:
    wish = Blueprint(items=5, families=("round_slide",), at_least=(AtLeast(tags=("accelerator_pump",), items=2),))
    text = refused(wish, k)
    assert "at_least[0]" in text
    assert "Nearest possible with this seed: 0" in text


def test_a_stroke_that_no_family_asked_for_has_is_refused(k: Knowledge) -> None:
    one_stroke = next(f for f in k.families.values() if f.strokes == (4,))
    assert "2-stroke" in refused(Blueprint(families=(one_stroke.id,), strokes=2), k)


def test_shares_beyond_the_whole_are_refused(k: Knowledge) -> None:
    wish = Blueprint(shares=(Share(tags=("needle",), percent=60), Share(tags=("main_jet",), percent=60)))
    assert "ask for 120 percent together. Nearest possible: 100 percent" in refused(wish, k)


def test_knowledge_without_quiz_rules_says_so(k: Knowledge) -> None:
    from dataclasses import replace  # noqa: PLC0415

    assert "no quiz.yaml" in refused(Blueprint(), replace(k, quiz=None))
