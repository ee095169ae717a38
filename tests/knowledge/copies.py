"""A folder of knowledge that a test may break in one place."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from carbdiag import Knowledge, KnowledgeError, Mistake


@dataclass(frozen=True)
class Copy:
    """A folder of knowledge that a test may change."""

    folder: Path

    def write(self, file: str, text: str | bytes) -> None:
        """Put a file in place, whatever was there."""
        path = self.folder / file
        path.write_bytes(text.encode() if isinstance(text, str) else text)

    def append(self, file: str, text: str) -> int:
        """Add lines to a file; returns the number of the first line added."""
        path = self.folder / file
        old = path.read_text().rstrip("\n") + "\n"
        path.write_text(old + text)
        return old.count("\n") + 1

    def mistakes(self) -> list[Mistake]:
        """What loading it refuses; there must be something."""
        with pytest.raises(KnowledgeError) as caught:
            Knowledge.load(self.folder)
        return list(caught.value.mistakes)

    def edit(self, file: str, old: str, new: str) -> int:
        """Replace a text that must stand exactly once; returns its line."""
        path = self.folder / file
        text = path.read_text()
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {file}"
        path.write_text(text.replace(old, new))
        return text[: text.index(old)].count("\n") + 1
