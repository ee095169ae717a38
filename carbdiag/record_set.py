"""The records of a folder of knowledge by kind, before anything is worked out from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from carbdiag.records.actions import Action
from carbdiag.records.applies import Applies
from carbdiag.records.bands import Place
from carbdiag.records.causes import Cause, Group
from carbdiag.records.checks import Check, TemporaryTrial
from carbdiag.records.circuits import Circuit, TuningStage
from carbdiag.records.contexts import Context
from carbdiag.records.families import Family, Use
from carbdiag.records.findings import Finding
from carbdiag.records.language import Language
from carbdiag.records.quiz import QuizRules, RidersWords, UnsafeStep
from carbdiag.records.safety import Caution, CautionText, Hold
from carbdiag.records.scales import Scales
from carbdiag.records.sources import KnowledgeInfo, Source


@dataclass(frozen=True, eq=False)
class RecordSet:
    """The records of each kind by id, in the order of their files."""

    info: KnowledgeInfo
    scales: Scales
    places: Mapping[str, Place]
    groups: Mapping[str, Group]
    circuits: Mapping[str, Circuit]
    families: Mapping[str, Family]
    uses: Mapping[str, Use]
    causes: Mapping[str, Cause]
    findings: Mapping[str, Finding]
    checks: Mapping[str, Check]
    actions: Mapping[str, Action]
    contexts: Mapping[str, Context]
    temporary_trials: Mapping[str, TemporaryTrial]
    cautions: Mapping[str, Caution]
    holds: Mapping[str, Hold]
    sources: Mapping[str, Source]
    tuning_order: Mapping[str, TuningStage]
    reading: Mapping[str, Language]
    caution_texts: Mapping[str, CautionText]
    quiz: QuizRules | None = None
    unsafe_steps: Mapping[str, UnsafeStep] = field(default_factory=dict)
    riders_words: Mapping[str, RidersWords] = field(default_factory=dict)


def families_with(records: RecordSet, applies: Applies) -> tuple[str, ...]:
    """The families a record applies to, by name and by the circuits they have."""
    return tuple(
        f.id
        for f in records.families.values()
        if (not applies.families or f.id in applies.families)
        and (not applies.circuits or set(applies.circuits) & set(f.circuits))
        and not set(applies.without_circuits) & set(f.circuits)
    )
