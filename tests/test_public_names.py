"""An application needs no name from below the package: what goes in and comes out can be imported from the top."""

from __future__ import annotations

import inspect
import pkgutil
import re
from enum import Enum
from typing import Any, get_args

import carbdiag
from carbdiag.frozen import Frozen

PUBLIC = {name: getattr(carbdiag, name) for name in carbdiag.__all__}
INPUTS = (
    "AirInput", "AnswerSheet", "Blueprint", "Case", "CorrectionRequest", "ResizeRequest", "SweepRequest", "WalkRequest",
)  # fmt: skip


def _types_in(annotation: Any) -> set[type]:
    """The models and enums that a value holds, at any depth."""
    inside = [t for inner in get_args(annotation) for t in _types_in(inner)]
    if isinstance(annotation, type) and issubclass(annotation, Enum):
        inside.append(annotation)
    elif isinstance(annotation, type) and issubclass(annotation, Frozen):
        inside += [annotation, *(t for f in annotation.model_fields.values() for t in _types_in(f.annotation))]
    return set(inside)


def test_every_type_that_an_input_is_built_from_is_public() -> None:
    needed = {t.__name__ for name in INPUTS for t in _types_in(PUBLIC[name])}
    assert {"Reading", "RepairHow", "Conditions", "Share"} <= needed
    assert needed - PUBLIC.keys() == set()


def test_a_measured_lambda_can_be_passed_in_and_an_input_dumped_reads_back() -> None:
    reading = carbdiag.Reading(lambda_=0.95, at="full")
    asked = carbdiag.CorrectionRequest(machine=carbdiag.Machine(family="round_slide"), at="half", lambda_=1.05)
    for by_alias in (True, False):
        for told in (carbdiag.Case(readings=(reading,)), asked):
            assert type(told).model_validate_json(told.model_dump_json(by_alias=by_alias)) == told


def test_every_model_that_a_public_function_takes_or_gives_is_public() -> None:
    signatures = [inspect.signature(f) for f in PUBLIC.values() if inspect.isfunction(f)]
    named = set(re.findall(r"\b[A-Z][a-z]\w+", " ".join(map(str, signatures))))
    assert {"Quiz", "Diagnosis", "SweepAnswer"} <= named
    assert named - PUBLIC.keys() == {"Callable", "Form", "Literal", "None", "PostWords", "True"}


def test_no_public_name_hides_a_module() -> None:
    """`import carbdiag.x as m` must give the module, and `from carbdiag import x` what it always gave."""
    assert not PUBLIC.keys() & {module.name for module in pkgutil.iter_modules(carbdiag.__path__)}


def test_no_function_that_is_used_from_outside_has_the_name_of_its_module() -> None:
    """Else `from carbdiag import walk` would give a module, which is not callable."""
    used = {"diagnose", "walk", "resize", "correct", "sweep", "read_text"}
    assert not used & {module.name for module in pkgutil.iter_modules(carbdiag.__path__)}
