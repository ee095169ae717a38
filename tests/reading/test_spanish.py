"""The second language: the commonest signs, read with and without accents."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import Effect, Status
from tests.reading.told_script import facts_of, stated


@pytest.fixture(scope="module")
def k() -> Knowledge:
    return Knowledge.load()


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


def test_turns_of_a_screw_are_no_revs(k: Knowledge) -> None:
    facts = facts_of(read_text("La mezcla la tengo a 3 vueltas.", k, "es"))
    assert "fact screw_turns 3.0" in facts
    assert not any("engine_speed" in f for f in facts)
