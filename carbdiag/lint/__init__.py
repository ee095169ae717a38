"""Check a folder of knowledge beyond what loading it checks: twins, gaps, counts, words."""

from carbdiag.lint.all_checks import lint
from carbdiag.lint.report import LintReport

__all__ = ["LintReport", "lint"]
