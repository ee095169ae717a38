"""File and line of the records and fields in which something is wrong."""

from __future__ import annotations

import re
from collections.abc import Mapping

from carbdiag.errors import Mistake


class Spots:
    """File and line of records and fields, found in the texts."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self._lines = {file: text.split("\n") for file, text in texts.items()}
        self._records: dict[tuple[str, str], tuple[str, int]] = {}
        for file, lines in self._lines.items():
            kind = file.split("/", maxsplit=1)[0]
            for number, line in enumerate(lines, 1):
                match = re.match(r"^(?:- \{?)?id: ([a-z0-9_]+)", line)
                if match:
                    self._records.setdefault((kind, match[1]), (file, number))

    def file(self, kind: str, identity: str) -> str:
        """The file a record stands in."""
        return self._records.get((kind, identity), (kind, 0))[0]

    def mistake(
        self,
        kind: str,
        identity: str,
        field: str,
        rule: str,
        found: str = "",
        *,
        near: str = "",
        words: str = "",
    ) -> Mistake:
        """A mistake in a record; `words` is text on the line meant, searched from the record on."""
        file, line = self._records.get((kind, identity), (kind, 0))
        if words:
            for number, text in enumerate(self._lines.get(file, [])[max(line - 1, 0) :], max(line, 1)):
                if words in text:
                    line = number
                    break
        is_list = file != f"{kind}/{identity}.yaml"
        return Mistake(file, f"{identity}.{field}" if is_list else field, rule, found, near, line or None)
