"""What was found in a folder of knowledge, and how it is told."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from carbdiag.answers.language_check import Translated
from carbdiag.errors import Mistake
from carbdiag.separation import (
    Rival,
)

_MOST_MISSING: Final = 6


@dataclass(frozen=True)
class LintReport:
    """All that was found. Mistakes must be mended; warnings should be looked at."""

    folder: Path
    mistakes: tuple[Mistake, ...]
    warnings: tuple[Mistake, ...] = ()
    counts: tuple[tuple[str, int], ...] = ()
    published: tuple[tuple[str, int, int], ...] = ()
    """For each kind of record: how many cite a published source, and of how many."""
    rivals: tuple[Rival, ...] = ()
    """The pairs of causes that are the nearest to one of the two, the hardest to tell apart first."""
    translated: tuple[Translated, ...] = ()
    """How far the texts that answers show are translated, by language."""

    @property
    def fine(self) -> bool:
        """Whether there is no mistake."""
        return not self.mistakes

    def __str__(self) -> str:
        lines = [f"error: {m}" for m in self.mistakes] + [f"warning: {m}" for m in self.warnings]
        lines += [f"{name}: {count}" for name, count in self.counts]
        lines += [f"{kind} with a published source: {cited} of {total}" for kind, cited, total in self.published]
        for language in self.translated:
            lines.append(
                f"answers in {language.code}: {language.translated} of {language.total} texts"
                f" ({100 * language.translated // language.total} %)"
            )
            if language.missing:
                shown, more = language.missing[:_MOST_MISSING], len(language.missing) - _MOST_MISSING
                rest = f" and {more} more (all: --json)" if more > 0 else ""
                lines.append(f"  not translated: {', '.join(shown)}{rest}")
        if self.rivals:
            lines.append("hardest to tell apart:")
            lines += [f"  {rival}" for rival in self.rivals[:5]]
        lines.append(f"{len(self.mistakes)} mistakes, {len(self.warnings)} warnings in {self.folder}")
        return "\n".join(lines)
