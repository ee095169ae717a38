"""Renderers: a diagnosis as a page or a message for a person. None of them may drop a caution.

The names below are loaded on first use: a command that prints no answer loads none of them.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from carbdiag.answers.band_text import bands_to_text
    from carbdiag.answers.essentials import PostWords
    from carbdiag.answers.forms import FORMS, MARKUPS
    from carbdiag.answers.language import languages
    from carbdiag.answers.rendering import render, to_bbcode, to_document, to_html, to_markdown, to_text
    from carbdiag.answers.untrusted import printable

__all__ = [
    "FORMS",
    "MARKUPS",
    "PostWords",
    "bands_to_text",
    "languages",
    "printable",
    "render",
    "to_bbcode",
    "to_document",
    "to_html",
    "to_markdown",
    "to_text",
]

_HOME = {
    "band_text": ("bands_to_text",),
    "essentials": ("PostWords",),
    "forms": ("FORMS", "MARKUPS"),
    "language": ("languages",),
    "rendering": ("render", "to_bbcode", "to_document", "to_html", "to_markdown", "to_text"),
    "untrusted": ("printable",),
}
_MODULE_OF = {name: module for module, names in _HOME.items() for name in names}


def __getattr__(name: str) -> object:
    if name not in _MODULE_OF:
        raise AttributeError(f"module 'carbdiag.answers' has no attribute {name!r}")
    value = getattr(import_module(f"carbdiag.answers.{_MODULE_OF[name]}"), name)
    globals()[name] = value
    return value
