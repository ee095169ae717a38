"""Knowledge parsed when the package is built: the same as parsing now, and never used once a file has changed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from carbdiag import Knowledge, KnowledgeError, knowledge, strict_yaml
from carbdiag.prepared import PREPARED, Prepared, prepare, prepared_for, record_files
from carbdiag.strict_yaml import YamlRefusedError, parse_yaml
from tests.knowledge.copies import Copy

CAUSE = "causes/spark_weak.yaml"


@pytest.fixture
def parsed_now(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The texts that are parsed from YAML from here on."""
    texts: list[str] = []
    parse = strict_yaml.parse_yaml

    def noted(text: str) -> object:
        texts.append(text)
        return parse(text)

    monkeypatch.setattr(strict_yaml, "parse_yaml", noted)
    return texts


@pytest.fixture
def as_shipped(copy: Copy, monkeypatch: pytest.MonkeyPatch) -> Copy:
    """The toy knowledge, prepared, in the place of the shipped one."""
    prepare(copy.folder)
    monkeypatch.setattr(knowledge, "default_folder", lambda: copy.folder)
    return copy


def same(one: object, other: object) -> bool:
    """Equal in value and type throughout, in the same order: 1, 1.0 and True are three things."""
    if isinstance(one, dict) and isinstance(other, dict):
        return list(one) == list(other) and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    return type(one) is type(other) and one == other


def test_every_shipped_file_is_prepared_as_it_is_parsed(shipped: Copy) -> None:
    prepare(shipped.folder)
    ready, files = prepared_for(shipped.folder), record_files(shipped.folder)
    assert list(ready.files) == list(files)
    for name, raw in files.items():
        assert same(ready.parsed(name, raw), parse_yaml(raw.decode())), name


def test_what_was_prepared_is_not_parsed_again(as_shipped: Copy, parsed_now: list[str]) -> None:
    assert "spark_weak" in Knowledge.load().causes
    assert parsed_now == []


def test_a_changed_file_alone_is_parsed_again(as_shipped: Copy, parsed_now: list[str]) -> None:
    as_shipped.append(CAUSE, "workshop: Another text\n")
    assert Knowledge.load().causes["spark_weak"].workshop == "Another text"
    assert parsed_now == [(as_shipped.folder / CAUSE).read_text()]


def test_a_mistake_is_found_whether_prepared_or_not(copy: Copy, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(knowledge, "default_folder", lambda: copy.folder)
    copy.append(CAUSE, "workshp: text\n")
    told = []
    for get_ready in (lambda: None, lambda: prepare(copy.folder)):
        get_ready()
        with pytest.raises(KnowledgeError) as caught:
            Knowledge.load()
        told.append(caught.value.mistakes)
    assert told[0] == told[1]
    assert told[0][0].line is not None


def test_nothing_is_prepared_from_yaml_that_is_refused(copy: Copy) -> None:
    copy.append(CAUSE, "workshop: yes\n")
    with pytest.raises(YamlRefusedError):
        prepare(copy.folder)
    assert not list(copy.folder.glob("prepared*"))


def test_a_folder_that_somebody_names_is_always_read_from_its_yaml(copy: Copy, parsed_now: list[str]) -> None:
    prepare(copy.folder)
    before = len(parsed_now)
    Knowledge.load(copy.folder)
    assert len(parsed_now) - before == len(record_files(copy.folder))


@pytest.mark.parametrize("text", ["", "{", "[]", "7", '{"scales.yaml": 3}', '{"scales.yaml": ["x"]}', "[" * 100_000])
def test_a_broken_file_of_prepared_data_is_as_good_as_none(as_shipped: Copy, text: str) -> None:
    (as_shipped.folder / PREPARED).write_text(text)
    assert "spark_weak" in Knowledge.load().causes


def test_data_of_another_parser_is_not_used(as_shipped: Copy, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("carbdiag.prepared._digest", lambda raw: f"another {len(raw)}")
    written = json.loads((as_shipped.folder / PREPARED).read_text())
    written["scales.yaml"][1] = {"nothing": "of use"}
    (as_shipped.folder / PREPARED).write_text(json.dumps(written))
    assert Knowledge.load().scales.floor > 0


def test_without_anything_prepared_all_is_parsed(tmp_path: Path) -> None:
    ready = prepared_for(tmp_path)
    assert ready == Prepared({})
    assert ready.parsed("a.yaml", b"a: [1, 1.0, true, text]") == {"a": [1, 1.0, True, "text"]}
    with pytest.raises(UnicodeDecodeError):
        ready.parsed("a.yaml", b"\xff")
