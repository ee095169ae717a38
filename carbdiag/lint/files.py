"""The words of the files, and what each says of itself: where editors find its schema."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from carbdiag.errors import Mistake
from carbdiag.knowledge_files import DEMO, WORKED_CASES, record_kinds
from carbdiag.wording import check_words


def modeline(file: str) -> str:
    """The first line of a knowledge file: where editors find its JSON Schema."""
    parts = Path(file).parts
    name = "case" if parts == (WORKED_CASES, DEMO) else Path(parts[0]).stem
    return f"# yaml-language-server: $schema={'../' * len(parts)}docs/schema/{name}.json"


def modelines_missing(texts: Mapping[str, str]) -> Iterator[Mistake]:
    """Files whose first line does not say where their schema is."""
    kinds = record_kinds()
    for file, text in texts.items():
        first = text.removeprefix("\ufeff").split("\n", 1)[0].rstrip("\r")
        if "\ufffd" in first:
            continue  # that it is no UTF-8 is told already
        if file.split("/", maxsplit=1)[0] in kinds and first != modeline(file):
            yield Mistake(file, "file", f"the first line must be {modeline(file)}", first[:60], line=1)


def misspelled_words(texts: Mapping[str, str]) -> Iterator[Mistake]:
    """Words that no text of ours may hold; what posters write is spelled as they spell it."""
    for file, text in texts.items():
        for mistake in check_words(file, text):
            if not (file.startswith("reading/") and mistake.rule == "US spelling"):
                yield mistake
