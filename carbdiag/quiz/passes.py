"""A pass for graded use: a signed, expiring text with which a service that stores nothing can grade a quiz.

A pass holds the blueprint, a random number, the edition and a digest of what students see. It does not hold the seed:
the seed is computed from the secret and the rest of the pass, so whoever reads a pass, or knows blueprint and
knowledge, still cannot make the quiz again. Nothing in it needs to be hidden, so it is signed, not encrypted.

What it cannot do: whoever holds a pass can have answers graded, and again, and read the right ones in the feedback.
Keep it with the trainer; students need only the items.
"""

from __future__ import annotations

import hashlib
import hmac
import json
from importlib import import_module
from typing import Annotated, Any, Final

from pydantic import Field, ValidationError

from carbdiag.errors import CarbdiagError, CaseError, Problem
from carbdiag.field_types import Text, Whole
from carbdiag.frozen import Frozen
from carbdiag.knowledge import Knowledge
from carbdiag.quiz.making import make_quiz
from carbdiag.quiz_schema import GENERATOR, Blueprint, Quiz

LEAST_SECRET: Final = 32
LONGEST_VALID_S: Final = 180 * 24 * 3600


class PassMissingError(CarbdiagError):
    """Passes cannot be used here: no secret, or too short a one, or no library to sign with."""


class _Pass(Frozen):
    blueprint: Blueprint
    nonce: Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]
    edition: Text
    generator: Whole
    quiz_id: Text
    expires: Whole


def issue_pass(
    blueprint: Blueprint, secret: str, now_s: float, valid_s: int, nonce: str, knowledge: Knowledge
) -> tuple[Quiz, str]:
    """Make a quiz for graded use, and the pass to grade it with.

    Args:
        blueprint: what the quiz must hold.
        secret: key material of the service, at least 32 characters; never leaves it.
        now_s: the time, in seconds since 1970.
        valid_s: how long the pass holds, in seconds, up to 180 days.
        nonce: 32 hexadecimal digits from a good source of randomness (`secrets.token_hex(16)`).
        knowledge: the records.

    Raises:
        PassMissingError: the secret is missing or too short, or `itsdangerous` is not installed.
        CaseError: the blueprint cannot be met, or valid_s is out of range.
    """
    signer = _signer(secret)
    if not 60 <= valid_s <= LONGEST_VALID_S:
        raise CaseError([Problem("valid_s", f"must be from 60 to {LONGEST_VALID_S} seconds", str(valid_s))])
    quiz = make_quiz(blueprint, _seed(secret, blueprint, nonce, knowledge.edition), knowledge)
    content = _Pass(
        blueprint=blueprint,
        nonce=nonce,
        edition=knowledge.edition,
        generator=GENERATOR,
        quiz_id=quiz.quiz_id,
        expires=int(now_s) + valid_s,
    )
    return quiz, str(signer.dumps(content.model_dump(mode="json", exclude_defaults=True)))


def open_pass(text: str, secret: str, now_s: float, knowledge: Knowledge) -> Quiz:
    """The quiz, with its key, that a pass was issued for.

    Raises:
        PassMissingError: as for `issue_pass`.
        CaseError: the pass is not genuine, has expired, or the knowledge has changed since.
    """
    signer = _signer(secret)
    try:
        found = _Pass.model_validate(signer.loads(text))
    except (import_module("itsdangerous").BadData, ValidationError):
        raise CaseError([Problem("grading_pass", "is not one that this service issued")]) from None
    if now_s >= found.expires:
        raise CaseError([Problem("grading_pass", "has expired; make the quiz anew")])
    quiz = None
    if (found.edition, found.generator) == (knowledge.edition, GENERATOR):
        seed = _seed(secret, found.blueprint, found.nonce, knowledge.edition)
        quiz = make_quiz(found.blueprint, seed, knowledge)
    if quiz is None or quiz.quiz_id != found.quiz_id:
        raise CaseError([changed_since(found.edition, knowledge)])
    return quiz


def changed_since(edition: str, knowledge: Knowledge) -> Problem:
    """The problem that a quiz can no longer be made as it was."""
    return Problem(
        "edition",
        "the knowledge or the program has changed since this quiz was made, so it cannot be graded fairly; make it"
        " anew, or grade it from a saved copy with its key",
        edition,
        (knowledge.edition,),
    )


def _signer(secret: str) -> Any:
    if len(secret) < LEAST_SECRET:
        raise PassMissingError(
            f"graded quizzes need a secret of at least {LEAST_SECRET} characters"
            + (f"; this one has {len(secret)}" if secret else ", and there is none")
        )
    try:
        library = import_module("itsdangerous")
    except ModuleNotFoundError:
        raise PassMissingError("graded quizzes need itsdangerous: pip install 'carbdiag[quiz]'") from None
    return library.URLSafeSerializer(
        secret, salt="carbdiag quiz pass", signer_kwargs={"key_derivation": "hmac", "digest_method": hashlib.sha256}
    )


def _seed(secret: str, blueprint: Blueprint, nonce: str, edition: str) -> str:
    """The seed of a graded quiz: nobody without the secret can compute it, and no open seed looks like it."""
    about = json.dumps([blueprint.model_dump(mode="json"), nonce, edition], sort_keys=True)
    return "graded:" + hmac.new(secret.encode(), f"quiz seed|{about}".encode(), hashlib.sha256).hexdigest()
