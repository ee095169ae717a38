"""What a trainer puts in the wrong place, or takes for something else, is told what it is and where it belongs."""

from __future__ import annotations

import pytest

from carbdiag import Knowledge
from carbdiag.lint import lint
from tests.knowledge.copies import Copy

FINDING = """\
- id: hums
  name: Hums
  ask: Does it hum?
  at: [idle]
  everyday: rarely
  noticed_unasked: rarely
  sources: [{source: common_practice, supports: everyday}]
"""
CAUSE = "causes/coil_weak.yaml"


def test_a_record_in_the_folder_of_another_kind_is_told_its_own(shipped: Copy) -> None:
    line = shipped.append("checks/fuel.yaml", FINDING)
    (told,) = shipped.mistakes()
    assert (told.file, told.line, told.field) == ("checks/fuel.yaml", line, "hums")
    assert told.rule == "has the fields of what belongs in findings/"


def test_a_file_beside_its_folder_is_told_where_it_belongs(shipped: Copy) -> None:
    (shipped.folder / CAUSE).rename(shipped.folder / "coil_weak.yaml")
    (told,) = [m for m in shipped.mistakes() if m.field == "file"]
    assert (told.file, told.rule) == ("coil_weak.yaml", "has the fields of what belongs in causes/")


def test_a_file_that_is_nobodys_is_told_which_there_are(shipped: Copy) -> None:
    shipped.write("notes.yaml", "- hello\n")
    (told,) = shipped.mistakes()
    assert (told.file, told.rule, told.nearest) == ("notes.yaml", "unknown file", "")
    assert {"sources.yaml", "causes/"} <= set(told.allowed)
    (shipped.folder / "notes.yaml").rename(shipped.folder / "source.yaml")
    assert shipped.mistakes()[0].nearest == "sources.yaml"


@pytest.mark.parametrize(
    ("right", "wrong", "rule"),
    [
        ("- {do: replace_coil,", "- {do: loosen_fuel_cap,", "is a check, and no action"),
        ("- {cause: plug_worn_out,", "- {cause: bogs,", "is a finding, and no cause"),
    ],
)
def test_an_id_of_another_kind_is_told_what_it_is(shipped: Copy, right: str, wrong: str, rule: str) -> None:
    shipped.edit(CAUSE, right, wrong)
    assert rule in [m.rule for m in shipped.mistakes()]


def test_a_cause_is_no_rival_of_its_own(shipped: Copy) -> None:
    shipped.edit(CAUSE, "mistaken_for:\n", "mistaken_for:\n  - {cause: coil_weak, told_apart_by: loosen_fuel_cap}\n")
    assert [m.rule for m in shipped.mistakes()] == ["names the cause itself"]


def test_a_list_that_is_too_short_for_a_refused_entry_is_not_told_as_short(shipped: Copy) -> None:
    shipped.append("sources.yaml", "")
    shipped.write(CAUSE, (shipped.folder / CAUSE).read_text().split("sources:\n")[0])
    shipped.append(CAUSE, "sources:\n  - {source: common_practice, supports: [prior, shows]}\n")
    (told,) = shipped.mistakes()
    assert (told.field, told.rule) == ("sources[0].supports", "must be text, not a list")


@pytest.mark.parametrize(("title", "fine"), [("A manual, page 12", True), ("A page of mine", False)])
def test_a_published_source_can_be_found_again(shipped: Copy, title: str, fine: bool) -> None:
    shipped.append("sources.yaml", f"- {{id: my_page, kind: published, title: \"{title}\"}}\n")
    if fine:
        assert "my_page" in Knowledge.load(shipped.folder).sources
    else:
        assert "a published source has its url" in shipped.mistakes()[0].rule


def test_a_phrase_that_tells_both_sides_of_a_sign_is_refused(shipped: Copy) -> None:
    file, against = "findings/electrical_details.yaml", '    en: ["{lights} (stay|remain|still|keep)'
    line = shipped.edit(file, against, against.replace('["', '["lights went out here", "'))
    assert lint(shipped.folder).mistakes == ()
    sign = next(f for f in Knowledge.load(shipped.folder).findings.values() if "lights went out here" in str(f))
    said = f'["{sign.phrases["en"][0]}"'
    shipped.edit(file, said, f'["lights went out here", {said[1:]}')
    (told,) = lint(shipped.folder).mistakes
    assert (told.file, told.field, told.found) == (file, f"{sign.id}.phrases.en", "lights went out here")
    assert told.rule == "the same phrase tells present and denied"
    assert told.line is not None
    assert told.line < line
