"""What a rider types in words of his own during a walk becomes part of the case, like any answer."""

from __future__ import annotations

from carbdiag.answers.reading_text import statements_text
from carbdiag.case_check import check_case
from carbdiag.case_schema import Case, Epoch
from carbdiag.knowledge import Knowledge

_NOTHING: dict[str, object] = dict.fromkeys(("findings", "checks", "readings", "trials"), ())


def are_words(said: str) -> bool:
    """Whether something typed is a phrase to read, and no number or letter of the walk."""
    return any(len(word) > 2 and word[0].isalpha() for word in said.split())


def told_in_words(k: Knowledge, case: Case, said: str, language: str) -> tuple[Case, tuple[str, ...]]:
    """The case with what was read of some words added, and the lines that say so; as it was where nothing was read.

    What is told after a change is of the machine as it is now, so it begins a new epoch.

    Raises:
        CaseError: what was read does not fit the case.
    """
    from carbdiag.reading import beside, read_text  # noqa: PLC0415 - a walk mostly goes by numbers

    reading = read_text(said, k, language=language)
    lines = statements_text(reading, k, language)
    if not lines:
        return case, ()
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
    return new, lines
