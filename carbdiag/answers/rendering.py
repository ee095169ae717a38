"""A diagnosis as plain text, CommonMark, BBCode or an HTML fragment, in full or as a chat message.

One document is built from the diagnosis and only marked up here, so that every markup says the same, cautions
included. Nothing that a poster wrote can become markup, script or a link in any of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final

from carbdiag.answers.bbcode import render_bbcode
from carbdiag.answers.document import Document
from carbdiag.answers.essentials import PostWords
from carbdiag.answers.forms import FORMS, MARKUPS, Form, Markup
from carbdiag.answers.full_page import full_page
from carbdiag.answers.html_fragment import render_html
from carbdiag.answers.language import ENGLISH, answer_language
from carbdiag.answers.markdown import render_markdown
from carbdiag.answers.phrases import Phrases
from carbdiag.answers.plain_text import render_text
from carbdiag.answers.short_message import short_message
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.errors import CaseError, Problem, nearest

_RENDERERS: Final[Mapping[Markup, Callable[[Document], str]]] = MappingProxyType(
    {"text": render_text, "markdown": render_markdown, "bbcode": render_bbcode, "html": render_html}
)


def to_document(
    diagnosis: Diagnosis, form: Form = "full", language: str = ENGLISH, post: PostWords | None = None
) -> Document:
    """Build the blocks of an answer.

    Args:
        diagnosis: what to tell.
        form: `full`, or `short` for a chat message of at most 900 characters in every markup.
        language: code of a language in knowledge/languages/answers; a text it lacks is shown in English.
        post: the poster's own words, shown beside what was understood (full form only); left out, those of the
            post that the diagnosis was read from.

    Raises:
        CaseError: no such form or language.
    """
    if form not in FORMS:
        raise CaseError([Problem("form", f"unknown form {form!r}", form, FORMS, nearest(form, FORMS))])
    phrases = Phrases(diagnosis, answer_language(language))
    post = post or PostWords.of(diagnosis)
    if form == "short":
        longest = lambda document: max(len(render(document)) for render in _RENDERERS.values())  # noqa: E731
        return short_message(phrases, longest, read=bool(post.said), asked=post.asks_to_use)
    return full_page(phrases, post)


def render(
    diagnosis: Diagnosis,
    markup: Markup,
    form: Form = "full",
    language: str = ENGLISH,
    post: PostWords | None = None,
) -> str:
    """Render an answer in a markup by its name; see `to_document` for the rest.

    Raises:
        CaseError: no such markup, form or language.
    """
    if markup not in _RENDERERS:
        raise CaseError([Problem("as", f"unknown markup {markup!r}", markup, MARKUPS, nearest(markup, MARKUPS))])
    return _RENDERERS[markup](to_document(diagnosis, form, language, post))


def to_text(
    diagnosis: Diagnosis, form: Form = "full", language: str = ENGLISH, post: PostWords | None = None
) -> str:
    """Render an answer as plain text of at most 88 columns, with every caution.

    Args:
        diagnosis: what to tell.
        form: `full`, or `short` for a chat message of at most 900 characters.
        language: `en`, `es`, or another that the knowledge has; a text it lacks is shown in English.
        post: the poster's own words, shown beside what was understood; left out, those of the post that was read.

    Raises:
        CaseError: no such form or language.
    """
    return render(diagnosis, "text", form, language, post)


def to_markdown(
    diagnosis: Diagnosis, form: Form = "full", language: str = ENGLISH, post: PostWords | None = None
) -> str:
    """Render an answer as CommonMark without tables, HTML or links, with every caution.

    Args:
        diagnosis: what to tell.
        form: `full`, or `short` for a chat message of at most 900 characters.
        language: `en`, `es`, or another that the knowledge has; a text it lacks is shown in English.
        post: the poster's own words, shown beside what was understood; left out, those of the post that was read.

    Raises:
        CaseError: no such form or language.
    """
    return render(diagnosis, "markdown", form, language, post)


def to_bbcode(
    diagnosis: Diagnosis, form: Form = "full", language: str = ENGLISH, post: PostWords | None = None
) -> str:
    """Render an answer as BBCode with [b], [i] and [list] only, with every caution.

    Args:
        diagnosis: what to tell.
        form: `full`, or `short` for a chat message of at most 900 characters.
        language: `en`, `es`, or another that the knowledge has; a text it lacks is shown in English.
        post: the poster's own words, shown beside what was understood; left out, those of the post that was read.

    Raises:
        CaseError: no such form or language.
    """
    return render(diagnosis, "bbcode", form, language, post)


def to_html(
    diagnosis: Diagnosis, form: Form = "full", language: str = ENGLISH, post: PostWords | None = None
) -> str:
    """Render an answer as an HTML fragment without links, styles or scripts, with every caution.

    Args:
        diagnosis: what to tell.
        form: `full`, or `short` for a chat message of at most 900 characters.
        language: `en`, `es`, or another that the knowledge has; a text it lacks is shown in English.
        post: the poster's own words, shown beside what was understood; left out, those of the post that was read.

    Raises:
        CaseError: no such form or language.
    """
    return render(diagnosis, "html", form, language, post)
