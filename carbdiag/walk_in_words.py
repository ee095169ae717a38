"""What a rider says in words of his own during a walk becomes part of the case, like any answer."""

from __future__ import annotations

from carbdiag.case_check import check_case
from carbdiag.case_schema import Case, Epoch
from carbdiag.errors import must_be
from carbdiag.knowledge import Knowledge, the_knowledge
from carbdiag.posted_walk_schema import PostedWalk, ReadWalk
from carbdiag.reading_schema import TextReading
from carbdiag.walk_answer import with_answer
from carbdiag.walk_schema import Walk, WalkRequest
from carbdiag.walking import walk

_NOTHING: dict[str, object] = dict.fromkeys(("findings", "checks", "readings", "trials"), ())


def walk_posted(posted: PostedWalk, knowledge: Knowledge | None = None) -> Walk:
    """Take an answer, then a text, and say what to do next; where there is a text, a ReadWalk says what it was read as.

    Raises:
        CaseError: the case, the answer or the text cannot be used; every problem is listed.
        ReadingMissingError: there is a text, and the extra `reading` is not installed.
    """
    must_be(posted, PostedWalk)
    k = the_knowledge(knowledge)
    request = WalkRequest.trusted(**{name: getattr(posted, name) for name in WalkRequest.model_fields})
    if posted.text is None:
        return walk(request, k)
    case = posted.case if posted.answer is None else with_answer(k, posted.case, posted.answer)
    told, reading = told_in_words(k, case, posted.text, posted.language)
    found = walk(WalkRequest.trusted(**{**request.__dict__, "case": told, "answer": None}), k)
    return ReadWalk.trusted(**{**found.__dict__, "reading": reading})


def told_in_words(k: Knowledge, case: Case, text: str, language: str = "en") -> tuple[Case, TextReading]:
    """The case with what was read of some words added, and the reading.

    What is told after a change is of the machine as it is now, so it begins a new epoch.

    Raises:
        CaseError: what was read does not fit the case, or the text cannot be read.
        ReadingMissingError: the extra `reading` is not installed.
    """
    from carbdiag.reading import beside, read_text  # noqa: PLC0415 - a walk mostly goes by numbers

    reading = read_text(text, k, language, case.machine if case.machine.model_fields_set else None)
    history = case.history()
    before, now = (history, Epoch()) if history[-1].trials else (history[:-1], history[-1])
    apart = beside(reading, case.model_copy(update={**_NOTHING, "epochs": (*before, Epoch())}))
    *earlier, last = apart.epochs
    joined = {name: tuple(dict.fromkeys((*getattr(now, name), *getattr(last, name)))) for name in _NOTHING}
    epochs = (*earlier, now.model_copy(update=joined))
    alone = len(epochs) == 1 and not case.epochs
    new = apart.model_copy(update={"epochs": (), **joined} if alone else {**_NOTHING, "epochs": epochs})
    new = Case.model_validate(new.model_dump(by_alias=True))
    check_case(k, new)
    return new, reading
