"""Loading refuses what YAML would quietly misread, and says every mistake at once with its place."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from carbdiag import Knowledge
from carbdiag.cli import main
from carbdiag.errors import Mistake
from carbdiag.knowledge import shipped_knowledge
from carbdiag.knowledge_files import record_kinds
from carbdiag.strict_yaml import YamlRefusedError, parse_yaml
from tests.knowledge.copies import Copy

CAUSE = "causes/spark_weak.yaml"


def only(copy: Copy) -> Mistake:
    (mistake,) = copy.mistakes()
    return mistake


def test_the_untouched_copy_loads(copy: Copy) -> None:
    assert "spark_weak" in Knowledge.load(copy.folder).causes


# What YAML would misread: refused with file and line ------------------------------------------------------


@pytest.mark.parametrize(
    ("added", "rule"),
    [
        ("name: Spark weak again", "duplicate key"),
        ("workshop: yes", "quote it"),
        ("workshop: No", "quote it"),
        ("workshop: on", "quote it"),
        ("workshop: off", "quote it"),
        ("workshop: y", "quote it"),
        ("workshop: True", "quote it"),
        ("workshop: 12:30", "quote it"),
        ("workshop: 2026-10-01", "quote it"),
        ("workshop: 010", "quote it"),
        ("workshop: 0x1F", "quote it"),
        ("workshop: 1_000", "quote it"),
        ("workshop: 1e5", "quote it"),
        ("workshop: .inf", "quote it"),
        ("workshop: &here text", "anchors"),
        ("workshop: *here", "anchors"),
        ("workshop: !!python/name:os.system text", "tags"),
        ("workshop: !secret text", "tags"),
        ("<<: {verify: again}", "quote it"),
        ("? [a, b]\n: text", "a key must be text"),
        ("7: text", "a key must be text"),
        ("\tworkshop: text", "not valid YAML"),
        ("workshop: 'no end", "not valid YAML"),
        ("workshop: " + "[" * 30 + "]" * 30, "nested deeper than 20 levels"),
        ("workshop: " + "9" * 40, "at most 30 digits"),
    ],
)
def test_yaml_that_versions_read_differently_is_refused_with_its_line(copy: Copy, added: str, rule: str) -> None:
    line = copy.append(CAUSE, f"{added}\n")
    mistake = only(copy)
    assert mistake.file == CAUSE
    assert mistake.line in (line, line + 1)  # an unclosed quote is noticed at the end of the text
    assert rule in mistake.rule
    assert str(mistake).startswith(f"{CAUSE}:{mistake.line}: ")


@pytest.mark.parametrize("word", ["yes", "no", "on", "12:30", "2026-10-01", "010", "1e5", "2026.10"])
def test_the_same_words_are_taken_as_text_when_quoted(copy: Copy, word: str) -> None:
    copy.append(CAUSE, f'workshop: "{word}"\n')
    assert Knowledge.load(copy.folder).causes["spark_weak"].workshop == word


def test_a_version_that_would_lose_its_last_zero_is_refused_where_text_is_wanted(copy: Copy) -> None:
    line = copy.append(CAUSE, "workshop: 2026.10\n")
    mistake = only(copy)
    assert (mistake.file, mistake.line, mistake.field) == (CAUSE, line, "workshop")
    assert mistake.found == "2026.1"


def test_an_alias_bomb_is_refused_before_it_unfolds() -> None:
    rows = ["a0: &a0 [x, x]"] + [f"a{n}: &a{n} [*a{n - 1}, *a{n - 1}]" for n in range(1, 40)]
    with pytest.raises(YamlRefusedError, match="anchors"):
        parse_yaml("\n".join(rows))


@pytest.mark.parametrize("text", ["[" * 200_000, "{a: " * 200_000, "- " * 200_000])
def test_a_nesting_bomb_is_refused_and_does_not_crash(text: str) -> None:
    with pytest.raises(YamlRefusedError):
        parse_yaml(text)


def test_two_documents_in_one_file_are_refused(copy: Copy) -> None:
    copy.append(CAUSE, "---\nid: other\n")
    assert "not valid YAML" in only(copy).rule


def test_a_file_of_more_than_one_mebibyte_is_refused(copy: Copy) -> None:
    copy.append(CAUSE, "# " + "x" * (1 << 20) + "\n")
    assert only(copy).rule == "a file may have at most 1 MiB"


def test_a_file_that_is_not_utf8_is_refused(copy: Copy) -> None:
    copy.write(CAUSE, "name: caf\xe9\n".encode("latin-1"))
    assert (only(copy).file, only(copy).rule) == (CAUSE, "must be UTF-8")


def test_a_byte_that_is_no_utf8_is_told_with_its_line(copy: Copy) -> None:
    copy.write(CAUSE, "id: spark_weak\nname: caf\xe9\n".encode("latin-1"))
    assert (only(copy).line, only(copy).found) == (2, "byte 0xe9")


@pytest.mark.parametrize(
    ("added", "hint"),
    [
        ("\tworkshop: text", "a tab: indent with blanks"),
        ("workshop: Note: text", "wants quotes"),
        ('workshop: "no end\nverify: "x"', "is a quote left open in line"),
        ("checks: [{check: a, outcome: b]", "a bracket left open"),
    ],
)
def test_what_is_mostly_behind_an_error_of_the_parser_is_hinted(copy: Copy, added: str, hint: str) -> None:
    copy.append(CAUSE, f"{added}\n")
    assert hint in only(copy).rule


@pytest.mark.parametrize(
    ("minutes", "rule"), [("2 min", "without a unit"), ('"2"', "without quotes"), ("2,5", "with a decimal point")]
)
def test_a_text_that_was_meant_as_a_number_says_what_to_change(shipped: Copy, minutes: str, rule: str) -> None:
    path = shipped.folder / "checks/mixture.yaml"
    path.write_text(path.read_text().replace("minutes: 2\n", f"minutes: {minutes}\n", 1))
    assert rule in only(shipped).rule


def test_names_that_are_nobodys_are_told_beside_records_that_cannot_be_read(shipped: Copy) -> None:
    """Everything at once: a word that is none in one file does not hide a name that is none in another."""
    shipped.edit("causes/valve_springs_weak.yaml", "prior: rare", "prior: rar")
    shipped.edit("causes/coil_weak.yaml", "id: coil_weak", "id: coil_weak\nsurplus: text")
    shipped.edit("causes/choke_not_working.yaml", "check: cold_or_hot,", "check: cold_or_hott,")
    found = {(m.file, m.found) for m in shipped.mistakes()}
    # coil_weak is named by others, who make no mistake in it
    assert found == {
        ("causes/valve_springs_weak.yaml", "rar"),
        ("causes/coil_weak.yaml", "surplus"),
        ("causes/choke_not_working.yaml", "cold_or_hott"),
    }


@pytest.mark.parametrize("file", sorted(name for name in record_kinds() if name != "reading"))
def test_a_record_of_any_kind_that_cannot_be_read_brings_no_other_mistakes(shipped: Copy, file: str) -> None:
    path = shipped.folder / file
    name = file if path.is_file() else f"{file}/{sorted(p.name for p in path.glob('*.yaml'))[0]}"
    if file == "cases":
        return  # read apart, and only by the lint
    first = (shipped.folder / name).read_text().split("\n")
    at = next(n for n, line in enumerate(first) if line and not line.startswith("#"))
    if first[at].startswith("- {"):
        first[at] = first[at].replace("- {", "- {surplus: text, ", 1)
    elif first[at].startswith("- "):
        first[at] = first[at].replace("- ", "- surplus: text\n  ", 1)
    else:
        first[at] = f"surplus: text\n{first[at]}"
    shipped.write(name, "\n".join(first))
    assert {(m.file, m.found) for m in shipped.mistakes()} == {(name, "surplus")}


def test_phrases_in_a_language_that_nobody_reads_are_refused(shipped: Copy) -> None:
    path = shipped.folder / "findings/starting.yaml"
    path.write_text(path.read_text().replace("    es:", "    ess:", 1))
    assert (only(shipped).found, only(shipped).nearest) == ("ess", "es")


def test_a_sign_that_names_itself_is_refused(shipped: Copy) -> None:
    shipped.edit("findings/starting.yaml", "- id: hard_to_start\n", "- id: hard_to_start\n  narrows: [hard_to_start]\n")
    assert "names the sign itself" in only(shipped).rule


def test_a_list_file_that_holds_a_record_is_refused(copy: Copy) -> None:
    copy.write("groups.yaml", "id: low\nname: Low\nwhat: low\n")
    assert any(m.file == "groups.yaml" and m.rule == "must be a list of records" for m in copy.mistakes())


def test_a_file_nobody_knows_is_named_with_the_nearest(copy: Copy) -> None:
    copy.write("contxts.yaml", "[]\n")
    assert (only(copy).file, only(copy).nearest) == ("contxts.yaml", "contexts.yaml")


def test_a_hold_names_checks_and_outcomes_that_exist(shipped: Copy) -> None:
    shipped.edit("safety.yaml", "piston_through_port: [scored]", "piston_through_port: [scorred]")
    mistake = only(shipped)
    assert (mistake.file, mistake.found, mistake.nearest) == ("safety.yaml", "scorred", "scored")
    assert "when.outcomes.piston_through_port" in mistake.field


def test_the_numbers_of_a_jet_go_from_the_least_to_the_largest(shipped: Copy) -> None:
    shipped.edit("circuits/pilot.yaml", "numbered: [5, 300]", "numbered: [300, 5]")
    assert "the least number first" in only(shipped).rule


def test_a_missing_scales_file_is_named(copy: Copy) -> None:
    (copy.folder / "scales.yaml").unlink()
    assert (only(copy).file, only(copy).rule) == ("scales.yaml", "is missing")


# Fields and values ---------------------------------------------------------------------------------------


def test_a_value_of_the_wrong_type_is_refused_with_field_and_line(copy: Copy) -> None:
    line = copy.edit(CAUSE, "summary: Invented.", "summary: [Invented]")
    mistake = only(copy)
    assert (mistake.file, mistake.line, mistake.field) == (CAUSE, line, "summary")
    assert mistake.rule == "must be text, not a list"


def test_an_unknown_field_is_refused_with_the_nearest(copy: Copy) -> None:
    line = copy.append(CAUSE, "compensate: []\n")
    mistake = only(copy)
    assert (mistake.line, mistake.rule, mistake.found) == (line, "unknown field", "compensate")
    assert mistake.nearest == "compensates"


def test_a_word_off_the_scale_is_refused_with_the_nearest(copy: Copy) -> None:
    line = copy.edit(CAUSE, "often: seldom}", "often: seldomly}")
    mistake = only(copy)
    assert (mistake.line, mistake.found, mistake.nearest) == (line, "seldomly", "seldom")


def test_a_missing_field_is_named(copy: Copy) -> None:
    copy.edit(CAUSE, "verify: it runs\n", "")
    assert (only(copy).field, only(copy).rule) == ("verify", "is missing")


def test_a_mistake_in_a_list_says_which_entry_by_its_id_or_else_its_number(copy: Copy) -> None:
    line = copy.append("groups.yaml", "- {id: extra, name: Extra, what: more, waht: more}\n- {what: more}\n")
    named, *nameless = copy.mistakes()
    assert (named.field, named.line, named.nearest) == ("extra.waht", line, "what")
    assert [(m.field, m.line, m.rule) for m in nameless] == [
        (f"[{line}].{field}", line + 1, "is missing") for field in ("id", "name")
    ]


@pytest.mark.parametrize("amount", ["25 %", "-25", "-25 percent", "+1 stp", "one step"])
def test_an_amount_must_have_a_sign_and_a_unit(copy: Copy, amount: str) -> None:
    copy.edit("causes/low_lean.yaml", '"-1 step"', f'"{amount}"')
    assert only(copy).found == amount


# Names that must meet ------------------------------------------------------------------------------------


def test_the_id_of_a_cause_must_be_its_file_name(copy: Copy) -> None:
    copy.edit(CAUSE, "id: spark_weak", "id: spark_week")
    mistake = only(copy)
    assert (mistake.file, mistake.field, mistake.found) == (CAUSE, "id", "spark_week")
    assert (mistake.rule, mistake.nearest) == ("must equal the file name", "spark_weak")


def test_an_id_is_taken_once(copy: Copy) -> None:
    copy.append("groups.yaml", "- {id: spark, name: Again, what: again}\n")
    assert (only(copy).rule, only(copy).found) == ("this id is taken already", "spark")


@pytest.mark.parametrize(
    ("old", "new", "kind", "near"),
    [
        ("group: spark\n", "group: sparc\n", "group", "spark"),
        ("finding: misfires", "finding: misfire", "finding", "misfires"),
        ("at: [parked]", "at: [packed]", "place of smells", "parked"),
        ("check: spark_look", "check: spark_lok", "check", "spark_look"),
        ("outcome: weak", "outcome: week", "outcome of spark_look", "weak"),
        ("do: mend_spark", "do: mend_sparks", "action", "mend_spark"),
        ("cause: high_lean", "cause: high_leen", "cause", "high_lean"),
        ("told_apart_by: part_look", "told_apart_by: part_lok", "finding or check", "part_look"),
        ("source: from_memory", "source: from_memori", "source", "from_memory"),
    ],
)
def test_an_unknown_id_is_named_with_the_nearest(copy: Copy, old: str, new: str, kind: str, near: str) -> None:
    line = copy.edit(CAUSE, old, new)
    mistake = only(copy)
    assert (mistake.file, mistake.line) == (CAUSE, line)
    assert (mistake.rule, mistake.nearest) == (f"unknown {kind}", near)
    assert near in mistake.allowed
    assert str(mistake).startswith(f"{CAUSE}:{line}: ")


def test_an_unknown_id_like_no_other_is_told_what_is_allowed(copy: Copy) -> None:
    copy.edit(CAUSE, "at: [parked]", "at: [half]")
    assert str(only(copy)).endswith("unknown place of smells; found half. Allowed: parked.")


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ("taper_start: 0.19", "taper_strt: 0.19", "unknown dimension; found taper_strt; did you mean taper_start?"),
        ("taper_start: 0.19", "taper_start: 19", "taper start must be from 0 to 0.6 of the bore, got 19"),
        ("air_exponent: {idle: ", "air_exponent: {idel: ", "unknown place; found idel; did you mean idle?"),
    ],
)
def test_a_dimension_that_no_carburetor_has_is_refused_and_never_fails_later(
    shipped: Copy, old: str, new: str, rule: str
) -> None:
    line = shipped.edit("families/flat_slide.yaml", old, new)
    mistake = only(shipped)
    assert mistake.line == line
    assert rule in str(mistake)


def test_an_amount_of_more_than_the_whole_flow_is_refused(copy: Copy) -> None:
    line = copy.edit("causes/low_lean.yaml", '"-1 step"', '"-130 %"')
    assert (only(copy).line, only(copy).found) == (line, "-130 %")
    assert "at most all of the flow" in only(copy).rule


def test_words_of_a_scale_must_fall(copy: Copy) -> None:
    copy.edit("scales.yaml", "usually: 0.80", "usually: 0.30")
    assert only(copy).rule == "probability.usually must be more than probability.often, which is 0.6"


@pytest.mark.parametrize(("old", "new"), [("  likely: 0.5", "  likely: 0.75"), ("unlikely: 0.0", "unlikely: 0.01")])
def test_what_chances_are_called_must_fall_to_nothing(copy: Copy, old: str, new: str) -> None:
    copy.edit("scales.yaml", old, new)
    assert "saying must fall" in only(copy).rule


def test_a_file_that_would_not_be_read_is_told(copy: Copy) -> None:
    copy.write("causes/more.yml", "id: more\n")
    assert str(only(copy)) == "causes/more.yml: file: is not read: its name must end in .yaml"


def test_a_check_that_reads_the_mixture_takes_no_line_from_a_cause(copy: Copy) -> None:
    copy.edit(CAUSE, "{check: spark_look, outcome: weak", "{check: more_fuel, outcome: better")
    assert only(copy).rule == "reads the mixture, so a cause cannot answer it"


def test_the_mistakes_of_all_files_come_at_once_and_each_once(copy: Copy) -> None:
    copy.append(CAUSE, "colour: blue\nworkshp: none\n")
    copy.append("causes/low_lean.yaml", "name: again\n")
    copy.append("groups.yaml", "- {id: Bad Id, name: Bad, what: bad}\n")
    found = copy.mistakes()
    assert sorted(m.file for m in found) == ["causes/low_lean.yaml", CAUSE, CAUSE, "groups.yaml"]
    assert len({str(m) for m in found}) == len(found)


def test_unknown_names_in_several_files_come_at_once(copy: Copy) -> None:
    copy.edit(CAUSE, "group: spark\n", "group: sparc\n")
    copy.edit("causes/low_lean.yaml", "group: low_lean", "group: low_leen")
    assert {m.file for m in copy.mistakes()} == {CAUSE, "causes/low_lean.yaml"}


# A folder of one's own ------------------------------------------------------------------------------------


@pytest.fixture
def own(copy: Copy, monkeypatch: pytest.MonkeyPatch) -> Iterator[Copy]:
    """A folder that the environment names."""
    monkeypatch.setenv("CARBDIAG_KNOWLEDGE", str(copy.folder))
    shipped_knowledge.cache_clear()
    yield copy
    shipped_knowledge.cache_clear()


def test_every_command_uses_the_folder_that_the_environment_names(
    own: Copy, capsys: pytest.CaptureFixture[str]
) -> None:
    copied = own.folder / "case.yml.txt"
    copied.write_text("machine: {family: toy_slide, strokes: 2}\nfindings: [{finding: misfires}]\n")
    assert main(["list", "causes"]) == 0
    assert "spark_weak" in capsys.readouterr().out
    assert main(["diagnose", str(copied), "--language", "es"]) == 0
    assert "Causas probables" in capsys.readouterr().out


def test_a_broken_folder_is_bad_input_with_every_mistake(own: Copy, capsys: pytest.CaptureFixture[str]) -> None:
    own.edit(CAUSE, "group: spark\n", "group: sparc\n")
    assert main(["list", "causes"]) == 2
    said = capsys.readouterr().err
    assert f"{CAUSE}:3: group: unknown group" in said
    assert f"The knowledge in {own.folder} cannot be used." in said


def test_a_setting_of_several_that_is_no_circuit_is_told_with_its_line(copy: Copy) -> None:
    copy.edit("scales.yaml", "  steps: {main_jet: 4, pilot: 2}", "  steps: {main_jet: 4, pilott: 2}")
    (mistake,) = copy.mistakes()
    assert (mistake.file, mistake.field, mistake.rule) == (
        "scales.yaml", "several_settings.steps.pilott", "unknown circuit",
    )  # fmt: skip
    assert mistake.nearest == "pilot"
