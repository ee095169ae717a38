"""One mistake of a trainer is told once, where it stands; what only follows from it is not told."""

from __future__ import annotations

from collections import Counter

import pytest

from carbdiag import Knowledge
from carbdiag.lint import lint
from tests.knowledge.copies import Copy

EN = "reading/en.yaml"


@pytest.mark.parametrize(
    ("file", "right", "wrong", "field", "rule", "near"),
    [
        # fields of a language, which a thousand deeds of the records lean on
        (EN, "\n  same_in_past: ", "\n  same_in_pasts: ", "deeds.same_in_pasts", "unknown field", "same_in_past"),
        (EN, "\n  never: [never]", "\n  never: never", "deeds.never", "must be a list", ""),
        (EN, "\nname: English", "\nnam: English", "nam", "unknown field", "name"),
        # names that a language gives, and that records use
        (EN, "\n    check: [", "\n    chek: [", "deeds.verbs.chek", "no record names this kind of verb", "check"),
        (EN, "\n    leaking: [", "\n    leakng: [", "deeds.verdicts.leakng", "no record names this kind", "leaking"),
        # names that it uses itself
        (EN, "\n  looking: check\n", "\n  looking: chek\n", "deeds.looking", "unknown kind of verb", "check"),
        (EN, "adjectives: [new, other,", "adjectives: [new, othr,", "deeds.adjectives[1]", "unknown kind", "other"),
        (EN, "opposites: {tight: ", "opposites: {tihgt: ", "deeds.opposites.tihgt", "unknown kind of verdict", "tight"),
        (EN, "engine_groups: [die, dies", "engine_groups: [die, dis", "engine_groups[1]", "unknown word group", "die"),
        (EN, "least: {breaks_up_at", "least: {break_up_at", "least.break_up_at_high_rpm", "unknown", "breaks_up_at"),
        # records that many others name
        (
            "findings/idle.yaml", "- id: will_not_idle\n", "- id: wil_not_idle\n",
            "wil_not_idle.id", "no record names this finding, and", "will_not_idle",
        ),
        (
            "groups.yaml", "{id: pilot_circuit_rich,", "{id: pilot_circuit_richh,",
            "pilot_circuit_richh.id", "no record names this group, and", "pilot_circuit_rich",
        ),
        ("causes/coil_weak.yaml", "\nid: coil_weak\n", "\nid: coil_weka\n", "id", "must equal the file", "coil_weak"),
        # an outcome has no id; it is known by its field
        (
            "checks/carburetor.yaml", "    responds: {means: \"The idle", "    respond: {means: \"The idle",
            "screw_response.outcomes.respond", "no record names this outcome of screw_response", "responds",
        ),
        # a field that must be there, misspelled
        ("circuits/main_jet.yaml", "\nricher:", "\nrichr:", "richr", "unknown field", "richer"),
        ("quiz.yaml", "\nplace_words:", "\nplace_word:", "place_word", "unknown field", "place_words"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_once_where_it_stands(
    shipped: Copy, file: str, right: str, wrong: str, field: str, rule: str, near: str
) -> None:
    line = shipped.edit(file, right, wrong) + right.startswith("\n")
    (told,) = shipped.mistakes()
    assert (told.file, told.field, told.line) == (file, field, line)
    assert told.rule.startswith(rule)
    assert told.nearest.startswith(near)


def test_a_name_that_many_use_and_none_is_near_to_is_told_once_with_the_number_of_places(shipped: Copy) -> None:
    shipped.edit("checks/carburetor.yaml", '    responds: {means: "The idle', '    x_turns: {means: "The idle')
    (told,) = shipped.mistakes()
    assert told.field == "screw_response.groups.pilot_blocked.responds"
    assert told.rule.startswith("unknown outcome of screw_response, here and in ")
    assert told.allowed == ("x_turns", "no_response")


def test_a_finding_that_cannot_be_read_leaves_nothing_unknown_that_it_tells(shipped: Copy) -> None:
    """What a finding tells is presumed by others; while one is broken, nobody knows what it tells."""
    k = Knowledge.load(shipped.folder)
    presumed = {r.presumes for records in (k.findings, k.checks) for r in records.values()}
    tellers = Counter(tag for f in k.findings.values() for tag in f.tells)
    alone = {tag for tag, count in tellers.items() if count == 1 and tag in presumed}
    teller = next(f.id for f in k.findings.values() if alone.intersection(f.tells))
    file = next(f for f in shipped.folder.glob("findings/*.yaml") if f"- id: {teller}\n" in f.read_text())
    text = file.read_text()
    file.write_text(text.replace(f"- id: {teller}\n", f"- id: {teller}\n  nonsense: 1\n"))
    (told,) = shipped.mistakes()
    assert told.field == f"{teller}.nonsense"


@pytest.mark.parametrize(
    ("right", "wrong", "field", "rule", "near"),
    [
        ("\n  bad: [bad, terrible", "\n  badd: [bad, terrible", "word_groups.badd", "no phrase names this", "bad"),
        ('  trouble: ["{die}"', '  trouble: ["{diee}"', "word_groups.trouble", "there is no word group", "{die}"),
        ('spell: ["<time>"', 'spell: ["<tyme>"', "word_groups.spell", "there is no slot", "<time>"),
        ('"(rev|idle|rpm|speed|note) (', '"(rev|idle|rpm|speed|note (', "word_groups.revs_react", "'(' is not", ""),
    ],
)
def test_a_broken_word_group_is_told_once_and_not_of_every_phrase_that_names_it(
    shipped: Copy, right: str, wrong: str, field: str, rule: str, near: str
) -> None:
    line = shipped.edit(EN, right, wrong) + right.startswith("\n")
    (told,) = lint(shipped.folder).mistakes
    assert (told.file, told.field, told.line, told.nearest) == (EN, field, line, near)
    assert told.rule.startswith(rule)


def test_a_word_group_that_no_phrase_names_is_warned_of(shipped: Copy) -> None:
    line = shipped.edit(EN, "\nword_groups:\n", '\nword_groups:\n  idle_thing: ["never * checked"]\n') + 2
    (told,) = lint(shipped.folder).warnings
    assert (told.file, told.field, told.line) == (EN, "word_groups.idle_thing", line)
