"""The second language: the commonest signs, read with and without accents."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import Effect, Status
from tests.reading.told_script import facts_of, stated


@pytest.mark.parametrize(
    ("post", "name", "status"),
    [
        ("La moto se ahoga al acelerar", "bogs", Status.PRESENT),
        ("No aguanta el ralentí", "will_not_idle", Status.PRESENT),
        ("no aguanta el ralenti", "will_not_idle", Status.PRESENT),
        ("Petardea al soltar gas.", "pops_on_overrun", Status.PRESENT),
        ("No echa humo negro", "black_smoke", Status.DENIED),
        ("Le cuesta arrancar en frío", "hard_to_start", Status.PRESENT),
        ("La bujía sale negra", "plug_black_dry", Status.PRESENT),
        ("Solo anda con el aire", "runs_only_on_choke", Status.PRESENT),
        ("Pierde gasolina por el rebosadero", "fuel_overflow", Status.PRESENT),
        ("¿Puede que vaya rica?", "judged_rich", None),
    ],
)
def test_common_signs_are_read(k: Knowledge, post: str, name: str, status: Status | None) -> None:
    assert next((f.status for f in read_text(post, k, "es").findings if f.finding == name), None) is status


def test_trials_and_circumstances_are_read(k: Knowledge) -> None:
    reading = read_text("Estuvo parada todo el invierno. Limpié el carburador y sigue igual.", k, "es")
    assert "stood_for_months" in {c.context for c in reading.contexts}
    assert [(t.do, t.effect) for t in reading.trials] == [("clean_carburetor", Effect.NO_CHANGE)]


def test_at_least_fifty_records_have_spanish_phrases(k: Knowledge) -> None:
    records = [*k.findings.values(), *k.contexts.values(), *k.checks.values(), *k.actions.values()]
    assert sum(1 for r in records if r.phrases.get("es")) >= 50


_TOLD = cast(
    dict[str, list[dict[str, Any]]],
    parse_yaml((Path(__file__).parent / "told_spanish.yaml").read_text(encoding="utf-8")),
)


@pytest.mark.parametrize("kind", _TOLD)
def test_what_riders_write_is_read_and_what_looks_like_it_is_not(k: Knowledge, kind: str) -> None:
    for told in _TOLD[kind]:
        got = stated(read_text(told["say"], k, "es"))
        assert {*told.get("read", ())} <= got, told["say"]
        assert not {*told.get("not", ())} & got, told["say"]


_PLACES = cast(
    dict[str, list[dict[str, Any]]],
    parse_yaml((Path(__file__).parent / "told_places_es.yaml").read_text(encoding="utf-8")),
)
#: Of the thirty sentences that no rule was written from: how many at least are read as told, at most wrong somewhere.
_KEPT_AS_TOLD, _KEPT_WRONG = 25, 3


def _lost_and_wrong(k: Knowledge, told: dict[str, Any]) -> tuple[set[str], set[str]]:
    """Of a sentence: what must be read and is not, and what is read of its signs at a place and must not be."""
    read = set()
    for found in read_text(told["say"], k, "es").findings:
        read |= {f"{found.finding}@{p}{' denied' * (found.status is Status.DENIED)}" for p in found.at}
    of = {sign.partition("@")[0] for sign in told["read"]} | {"bogs"}
    others = read - {*told["read"], *told.get("may", ())}
    return {*told["read"]} - read, {r for r in others if r.partition("@")[0] in of}


@pytest.mark.parametrize("told", _PLACES["looked_at"], ids=lambda t: t["say"][:60])
def test_each_trouble_is_read_where_it_is_told(k: Knowledge, told: dict[str, Any]) -> None:
    assert _lost_and_wrong(k, told) == (set(), set())


def test_sentences_no_rule_was_written_from_are_read_mostly(k: Knowledge) -> None:
    read = [_lost_and_wrong(k, told) for told in _PLACES["kept"]]
    assert sum(r == (set(), set()) for r in read) >= _KEPT_AS_TOLD
    assert sum(bool(wrong) for _, wrong in read) <= _KEPT_WRONG


@pytest.mark.parametrize(
    "post",
    [
        "Le hice una limpieza a fondo al carburador y falla.", "Limpié el carburador a fondo y falla.",
        "El fondo de la cuba está sucio y falla.", "Lleva un año y medio parada y falla.",
        "Llené el depósito a tope y falla.", "Apreté a tope el tornillo y falla.", "A un cuarto de hora falla.",
        "Gasté medio tanque y falla.", "Con el aire todo abierto falla.",
    ],
)  # fmt: skip
def test_words_of_openings_that_name_none(k: Knowledge, post: str) -> None:
    assert [f.at for f in read_text(post, k, "es").findings if f.finding == "misfires"] == [()]


_POSTS = cast(list[Any], parse_yaml((Path(__file__).parent / "posts_es.yaml").read_text(encoding="utf-8")))
#: Of what the posts say: how much at least is read, and how much of what they do not say at most.
_POSTS_READ, _POSTS_WRONG = 91, 2


def test_whole_posts_are_read_mostly_and_seldom_wrong(k: Knowledge) -> None:
    read = wrong = 0
    for told in _POSTS:
        reading = read_text(told["say"], k, "es")
        got = {*stated(reading), *facts_of(reading)}
        for found in reading.findings:
            got |= {f"{found.finding}@{p}{' denied' * (found.status is Status.DENIED)}" for p in found.at}
        read += len(got & {*told["read"]})
        wrong += len(got & {*told["not"]})
    assert read >= _POSTS_READ
    assert wrong <= _POSTS_WRONG


@pytest.mark.parametrize(
    ("post", "jet"),
    [
        ("Se ahoga. El chicle de baja era un 45, le puse un 42.", "fact pilot_jet 42.0"),
        ("Subí el chicle principal de 102 a 110 y va peor.", "fact main_jet 110.0"),
        ("El chicle de baja es un 45.", "fact pilot_jet 45.0"),
        ("Le voy a poner un 90 de alta.", None),
        ("Sube el chicle de alta a 90.", None),
        ("Abrí el tornillo de mezcla media vuelta y falla.", None),
    ],
)
def test_the_jet_that_is_in_it_now(k: Knowledge, post: str, jet: str | None) -> None:
    facts = facts_of(read_text(post, k, "es"))
    assert {f for f in facts if "jet" in f or "screw" in f} == ({jet} if jet else set())


def test_turns_of_a_screw_are_no_revs(k: Knowledge) -> None:
    facts = facts_of(read_text("La mezcla la tengo a 3 vueltas.", k, "es"))
    assert "fact screw_turns 3.0" in facts
    assert not any("engine_speed" in f for f in facts)
