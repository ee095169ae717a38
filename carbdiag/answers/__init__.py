"""Renderers: a diagnosis or a band table as a page for a person. None of them may drop a caution."""

from carbdiag.answers.layout import printable
from carbdiag.answers.text import to_text

__all__ = ["printable", "to_text"]
