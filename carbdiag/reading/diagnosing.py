"""Reading and diagnosis in one go."""

from __future__ import annotations

from carbdiag.case_schema import Case
from carbdiag.diagnosis import diagnose
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.knowledge import Knowledge, the_knowledge
from carbdiag.posted_schema import PostedCase, ReadDiagnosis
from carbdiag.reading.casing import beside
from carbdiag.reading.reader import read_text


def diagnose_posted(posted: PostedCase, knowledge: Knowledge | None = None, steps: int = 5) -> Diagnosis:
    """Diagnose a case, a post, or both; where there is a post, a ReadDiagnosis says what it was read as.

    Raises:
        CaseError: the text cannot be read, or the case has problems.
        OutOfRangeError: `steps` is below 0 or above 20.
        ReadingMissingError: there is a text, and the extra `reading` is not installed.
    """
    k = the_knowledge(knowledge)
    case = Case.trusted(**{name: getattr(posted, name) for name in Case.model_fields})
    if posted.text is None:
        return diagnose(case, k, steps)
    machine = case.machine if posted.machine.model_fields_set else None
    reading = read_text(posted.text, k, posted.language, machine)
    found = diagnose(beside(reading, case), k, steps)
    return ReadDiagnosis.trusted(**{**found.__dict__, "reading": reading})
