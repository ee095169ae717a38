"""Check a folder of knowledge beyond what loading it checks: twins, gaps, counts, words.

Loading refuses what is broken. This module finds what is whole and still wrong: two causes that nothing
tells apart, a check said to separate two causes that does not, a sign nobody shows, a setting that can only
be off one way. Every mistake is listed at once, each with its file and line.
"""

from __future__ import annotations

from pathlib import Path

from carbdiag.answers.language_check import check_languages
from carbdiag.answers.translation_marks import old_translations
from carbdiag.errors import KnowledgeError
from carbdiag.field_problems import with_line
from carbdiag.knowledge import Knowledge, default_folder, load_worked_cases
from carbdiag.lint.apart import causes_without_sign, twins, weak_separators
from carbdiag.lint.claims import misnamed_claims, published_counts
from carbdiag.lint.files import misspelled_words, modelines_missing
from carbdiag.lint.gaps import (
    causes_nobody_can_cure,
    counts_of,
    groups_without_cause,
    mute_records,
    one_way_settings,
    right_above_everyday,
    signs_without_cause,
    too_few,
)
from carbdiag.lint.phrases import broken_phrases, contradicting_phrases, unused_word_groups, without_phrases
from carbdiag.lint.report import LintReport
from carbdiag.lint.spots import Spots
from carbdiag.lint.unused import occasions_without_caution, uncited_sources, unused_records
from carbdiag.lint.worked_cases import misfit_cases
from carbdiag.model import compile_model
from carbdiag.separation import nearest_rivals, rivals, tabulate


def lint(folder: Path | None = None) -> LintReport:
    """Check a folder of knowledge; without one, the knowledge that carbdiag ships.

    Broken files are reported as mistakes, never raised; the checks of the whole set need files that load.
    """
    where = default_folder() if folder is None else Path(folder)
    texts = {
        str(file.relative_to(where)): file.read_bytes().decode("utf-8", "replace")
        for file in sorted(where.rglob("*.yaml"))
    }
    warnings = [*misspelled_words(texts), *modelines_missing(texts)]
    try:
        k, worked = Knowledge.load(where), load_worked_cases(where)
    except KnowledgeError as error:
        return LintReport(where, error.mistakes, tuple(warnings))
    spot = Spots(texts)
    models = [compile_model(k, f.id, strokes) for f in k.families.values() for strokes in f.strokes]
    machines = [tabulate(model) for model in models]
    ranked = rivals(machines)
    counts = counts_of(k)
    in_languages, translated = check_languages(k, where)
    mistakes = [
        *in_languages,
        *too_few(counts),
        *groups_without_cause(k, spot),
        *twins(ranked, spot),
        *one_way_settings(k, models, spot),
        *signs_without_cause(k, spot),
        *causes_nobody_can_cure(k, spot),
        *causes_without_sign(machines, spot),
        *right_above_everyday(k, spot),
        *mute_records(k, spot),
        *misnamed_claims(k, spot),
        *misfit_cases(k, worked, spot),
    ]
    mistakes = [with_line(m, texts[m.file]) if m.file in texts else m for m in dict.fromkeys(mistakes)]
    mistakes += [*broken_phrases(k, spot), *contradicting_phrases(k, spot)]
    warnings += [*without_phrases(k, spot), *unused_word_groups(k, spot)]
    warnings += [*weak_separators(k, machines, spot), *unused_records(k, spot), *uncited_sources(k, spot)]
    warnings += occasions_without_caution(k)
    warnings += old_translations(k, where)
    nearest = tuple(nearest_rivals(ranked))
    return LintReport(
        where, tuple(mistakes), tuple(warnings), tuple(counts.items()), published_counts(k), nearest, tuple(translated)
    )
