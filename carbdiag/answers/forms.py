"""The forms and markups that an answer can be given in."""

from __future__ import annotations

from typing import Final, Literal, TypeAlias, get_args

Form: TypeAlias = Literal["full", "short"]
Markup: TypeAlias = Literal["text", "markdown", "bbcode", "html"]

FORMS: Final[tuple[Form, ...]] = get_args(Form)
MARKUPS: Final[tuple[Markup, ...]] = get_args(Markup)
