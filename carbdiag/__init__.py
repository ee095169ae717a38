"""From what a carbureted engine does at each throttle opening to causes, the next check, and a correction.

The names below are loaded on first use, so that importing the package costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from carbdiag.answers import to_bbcode, to_html, to_markdown, to_text
    from carbdiag.band_schema import BandTable
    from carbdiag.band_view import band_table
    from carbdiag.case_schema import (
        Air,
        AirChange,
        Case,
        CheckResult,
        ContextReport,
        Epoch,
        FindingReport,
        FittedParts,
        Jet,
        Machine,
        Reading,
        Trial,
        Unanswered,
    )
    from carbdiag.diagnosis import diagnose
    from carbdiag.diagnosis_schema import Diagnosis
    from carbdiag.errors import (
        CarbdiagError,
        CaseError,
        KnowledgeError,
        Mistake,
        OutOfRangeError,
        Problem,
        ReadingMissingError,
    )
    from carbdiag.knowledge import Knowledge, load_case
    from carbdiag.posted_walk_schema import PostedWalk, ReadWalk
    from carbdiag.quiz.grading import grade_quiz
    from carbdiag.quiz.making import make_quiz
    from carbdiag.quiz_schema import AnswerSheet, AtLeast, Blueprint, Grade, Quiz, Share
    from carbdiag.reading import case_of, read_text
    from carbdiag.reading_schema import TextReading
    from carbdiag.terms import Certainty, Change, Effect, Level, RepairHow, Status
    from carbdiag.tuning import air_state, correct, resize, sweep
    from carbdiag.tuning_schema import (
        AirAnswer,
        AirInput,
        ChangedParts,
        ChangedSetUp,
        Conditions,
        CorrectionAnswer,
        CorrectionRequest,
        ResizeAnswer,
        ResizeRequest,
        SweepAnswer,
        SweepRequest,
    )
    from carbdiag.walk_in_words import walk_posted
    from carbdiag.walk_schema import StepAnswer, Walk, WalkRequest

__version__ = "0.1.0"
__all__ = [
    "Air",
    "AirAnswer",
    "AirChange",
    "AirInput",
    "AnswerSheet",
    "AtLeast",
    "BandTable",
    "Blueprint",
    "CarbdiagError",
    "Case",
    "CaseError",
    "Certainty",
    "Change",
    "ChangedParts",
    "ChangedSetUp",
    "CheckResult",
    "Conditions",
    "ContextReport",
    "CorrectionAnswer",
    "CorrectionRequest",
    "Diagnosis",
    "Effect",
    "Epoch",
    "FindingReport",
    "FittedParts",
    "Grade",
    "Jet",
    "Knowledge",
    "KnowledgeError",
    "Level",
    "Machine",
    "Mistake",
    "OutOfRangeError",
    "PostedWalk",
    "Problem",
    "Quiz",
    "ReadWalk",
    "Reading",
    "ReadingMissingError",
    "RepairHow",
    "ResizeAnswer",
    "ResizeRequest",
    "Share",
    "Status",
    "StepAnswer",
    "SweepAnswer",
    "SweepRequest",
    "TextReading",
    "Trial",
    "Unanswered",
    "Walk",
    "WalkRequest",
    "air_state",
    "band_table",
    "case_of",
    "correct",
    "diagnose",
    "grade_quiz",
    "load_case",
    "make_quiz",
    "read_text",
    "resize",
    "sweep",
    "to_bbcode",
    "to_html",
    "to_markdown",
    "to_text",
    "walk_posted",
]

_HOME = {
    "answers": ("to_bbcode", "to_html", "to_markdown", "to_text"),
    "band_schema": ("BandTable",),
    "band_view": ("band_table",),
    "case_schema": (
        "Air",
        "AirChange",
        "Case",
        "CheckResult",
        "ContextReport",
        "Epoch",
        "FindingReport",
        "FittedParts",
        "Jet",
        "Machine",
        "Reading",
        "Trial",
        "Unanswered",
    ),
    "diagnosis": ("diagnose",),
    "diagnosis_schema": ("Diagnosis",),
    "errors": (
        "CarbdiagError",
        "CaseError",
        "KnowledgeError",
        "Mistake",
        "OutOfRangeError",
        "Problem",
        "ReadingMissingError",
    ),
    "knowledge": ("Knowledge", "load_case"),
    "posted_walk_schema": ("PostedWalk", "ReadWalk"),
    "quiz.grading": ("grade_quiz",),
    "quiz.making": ("make_quiz",),
    "quiz_schema": ("AnswerSheet", "AtLeast", "Blueprint", "Grade", "Quiz", "Share"),
    "reading": ("case_of", "read_text"),
    "reading_schema": ("TextReading",),
    "terms": ("Certainty", "Change", "Effect", "Level", "RepairHow", "Status"),
    "tuning": ("air_state", "correct", "resize", "sweep"),
    "tuning_schema": (
        "AirAnswer",
        "AirInput",
        "ChangedParts",
        "ChangedSetUp",
        "Conditions",
        "CorrectionAnswer",
        "CorrectionRequest",
        "ResizeAnswer",
        "ResizeRequest",
        "SweepAnswer",
        "SweepRequest",
    ),
    "walk_in_words": ("walk_posted",),
    "walk_schema": ("StepAnswer", "Walk", "WalkRequest"),
}
_MODULE_OF = {name: module for module, names in _HOME.items() for name in names}


def __getattr__(name: str) -> object:
    if name not in _MODULE_OF:
        raise AttributeError(f"module 'carbdiag' has no attribute {name!r}")
    value = getattr(import_module(f"carbdiag.{_MODULE_OF[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
