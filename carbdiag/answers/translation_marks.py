"""Which translated texts are older than their English.

`knowledge/languages/marks/<code>.yaml` holds for each translated text a short hash of the English it was made from, and
one of the translation itself. An English text that no longer has its hash was changed since.

    python -m carbdiag.answers.translation_marks [--still-right "cautions fuel_vapor.text" ...]

writes the marks anew after you translated. A text whose English changed while its translation did not keeps its old
mark, so that it stays named until it is translated anew, or named here as still right.
"""

from __future__ import annotations

import argparse
import hashlib
import json
from collections.abc import Collection, Iterator, Mapping
from itertools import groupby
from pathlib import Path
from typing import Any, Final

from carbdiag.answers.language import ENGLISH, languages
from carbdiag.answers.language_check import near_text
from carbdiag.answers.language_files import record_texts, shown_texts
from carbdiag.errors import Mistake
from carbdiag.knowledge import Knowledge, default_folder
from carbdiag.strict_yaml import parse_yaml

_COMMAND: Final = "python -m carbdiag.answers.translation_marks"
_DIGITS: Final = 6

Key = tuple[str, str, str]
"""Kind of record, id and field."""


def old_translations(k: Knowledge, folder: Path) -> Iterator[Mistake]:
    """Every translated text of a folder whose English has changed since, or that has no mark to tell by."""
    english = dict(shown_texts(k))
    for code in (c for c in languages(folder) if c != ENGLISH):
        marks = _marks(folder, code)
        for key, (translation, file) in record_texts(folder, code, []).items():
            _, identity, field = key
            made_from, _, _ = marks.get(key, "").partition("-")
            if key not in english or made_from == _hash(english[key]):
                continue
            rule = (
                f"the English has changed since: translate it anew, then run `{_COMMAND}`"
                if made_from
                else f"has no mark of the English it was made from: run `{_COMMAND}`"
            )
            yield Mistake(file, f"{identity}.{field}", rule, near_text(str(translation)))


def write_marks(k: Knowledge, folder: Path, code: str, still_right: Collection[str] = ()) -> list[str]:
    """Write the marks of a language.

    Args:
        still_right: texts, as `kind id.field`, that are right although their English changed.

    Returns:
        The texts that stay old, as `kind id.field`.
    """
    english, marks = dict(shown_texts(k)), _marks(folder, code)
    new: dict[Key, str] = {}
    old = []
    for key, (translation, _) in record_texts(folder, code, []).items():
        if key not in english:
            continue
        kind, identity, field = key
        name = f"{kind} {identity}.{field}"
        new[key] = f"{_hash(english[key])}-{_hash(translation)}"
        before = marks.get(key, new[key])
        changed, translated_anew = (a != b for a, b in zip(before.split("-"), new[key].split("-"), strict=True))
        if changed and not translated_anew and name not in still_right:
            new[key] = before
            old.append(name)
    file = folder / "languages" / "marks" / f"{code}.yaml"
    file.parent.mkdir(exist_ok=True)
    file.write_text(_as_yaml(new), encoding="utf-8")
    return old


def _marks(folder: Path, code: str) -> dict[Key, str]:
    file = folder / "languages" / "marks" / f"{code}.yaml"
    data: Any = parse_yaml(file.read_text(encoding="utf-8")) if file.exists() else {}
    return {
        (kind, identity, field): mark
        for kind, records in data.items()
        for identity, fields in records.items()
        for field, mark in fields.items()
    }


def _as_yaml(marks: Mapping[Key, str]) -> str:
    """One line a record, so that a change of one text is a change of one line."""
    lines = [f"# Written by `{_COMMAND}`. Do not edit here."]
    for kind, of_kind in groupby(sorted(marks), key=lambda key: key[0]):
        lines.append(f"{kind}:")
        for identity, keys in groupby(of_kind, key=lambda key: key[1]):
            lines.append(f"  {identity}: {json.dumps({key[2]: marks[key] for key in keys})}")
    return "\n".join(lines) + "\n"


def _hash(text: object) -> str:
    """A short hash of a text or a list of texts, however its lines are broken."""
    parts = [text] if isinstance(text, str) else list(text) if isinstance(text, (list, tuple)) else [str(text)]
    whole = "\n".join(" ".join(part.split()) for part in parts)
    return hashlib.sha256(whole.encode("utf-8")).hexdigest()[:_DIGITS]


def main() -> None:
    """Write the marks of every shipped language."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--still-right", nargs="+", default=[], metavar="'KIND ID.FIELD'")
    still_right = options.parse_args().still_right
    k, folder = Knowledge.load(), default_folder()
    for code in (c for c in languages(folder) if c != ENGLISH):
        for name in write_marks(k, folder, code, still_right):
            print(f"{code}: still older than its English: {name}")


if __name__ == "__main__":
    main()
