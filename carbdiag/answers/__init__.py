"""Renderers: a diagnosis as a page or a message for a person. None of them may drop a caution."""

from carbdiag.answers.band_text import bands_to_text
from carbdiag.answers.essentials import PostWords
from carbdiag.answers.language import languages
from carbdiag.answers.rendering import FORMS, MARKUPS, render, to_bbcode, to_document, to_html, to_markdown, to_text
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
