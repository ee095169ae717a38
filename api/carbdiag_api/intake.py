"""What comes in: limits on headers and body, then strict JSON, then a model."""

from __future__ import annotations

import asyncio
import json
import math
import re
from collections import Counter
from collections.abc import Awaitable, Callable, Iterator
from typing import Any, Final, TypeVar

from fastapi import Request, Response
from pydantic import BaseModel, ValidationError
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from carbdiag.errors import Problem
from carbdiag.field_problems import field_problems
from carbdiag_api.problems import (
    BODY_TOO_LARGE,
    HEADERS_TOO_LARGE,
    INVALID_INPUT,
    NOT_JSON,
    TOO_SLOW,
    UNSUPPORTED_MEDIA_TYPE,
    RefusedError,
    parameters_of,
    response,
)

MOST_BODY_BYTES: Final = 64 * 1024
MOST_HEADER_BYTES: Final = 16 * 1024
MOST_HEADERS: Final = 100
MOST_DEPTH: Final = 32
MOST_DIGITS: Final = 30
LONGEST_S: Final = 10.0

_Model = TypeVar("_Model", bound=BaseModel)


class Gate:
    """Stands before the application: limits headers, answers OPTIONS, and answers HEAD as GET without a body."""

    def __init__(self, app: ASGIApp, methods_of: Callable[[str], list[str]]) -> None:
        self.app, self.methods_of = app, methods_of

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
        elif _too_many(scope["headers"]):
            await response(HEADERS_TOO_LARGE, HEADERS_TOO_LARGE.meaning)(scope, receive, send)
        elif scope["method"] == "OPTIONS" and (methods := self.methods_of(scope["path"])):
            await Response(status_code=204, headers={"Allow": ", ".join(methods)})(scope, receive, send)
        elif scope["method"] == "HEAD":
            await self.app({**scope, "method": "GET"}, receive, _without_body(send))
        else:
            await self.app(scope, receive, send)


def _too_many(headers: list[tuple[bytes, bytes]]) -> bool:
    return len(headers) > MOST_HEADERS or sum(len(n) + len(v) + 4 for n, v in headers) > MOST_HEADER_BYTES


def _without_body(send: Send) -> Send:
    async def forward(message: Message) -> None:
        await send({**message, "body": b""} if message["type"] == "http.response.body" else message)

    return forward


# ---------------------------------------------------------------------------------------------------------
# The body


def reader(model: type[_Model], what: str) -> Callable[[Request], Awaitable[_Model]]:
    """A dependency that reads the body of a request as a model, which a refusal calls `what`."""

    async def read(request: Request) -> _Model:
        if parameters_of(request) is None:
            _refuse_parameters(request, model)
        return await read_as(request, model, what)

    return read


def described(model: type[BaseModel], description: str) -> dict[str, Any]:
    """The body of a `reader` as OpenAPI has it; the framework does not see it."""
    schema = {"$ref": f"#/components/schemas/{model.__name__}"}
    content = {"application/json": {"schema": schema}}
    return {"requestBody": {"description": description, "required": True, "content": content}}


async def read_as(request: Request, model: type[_Model], what: str) -> _Model:
    """The body of a request as a model, which a refusal calls `what`.

    Raises:
        RefusedError: 400, 408, 413, 415 or 422, with everything that is wrong.
    """
    _check_media_type(request)
    data = strict_json(await _read_body(request))
    try:
        return model.model_validate(data)
    except ValidationError as error:
        found = field_problems(error.errors(include_url=False), model)
        raise RefusedError(INVALID_INPUT, f"The body is not a {what}.", found) from None


async def refuse_repeated(request: Request) -> None:
    """Refuse a parameter that is given twice, as a key named twice in a body is: nobody knows which is meant."""
    given = Counter(name for name, _ in request.query_params.multi_items())
    twice = [Problem(name, "is given twice", name) for name, times in given.items() if times > 1]
    if twice:
        raise RefusedError(INVALID_INPUT, "A parameter cannot be used.", twice)


def _refuse_parameters(request: Request, model: type[BaseModel]) -> None:
    """An address that takes a body alone refuses parameters: `?language=es` would be passed over in silence."""
    body = {field.alias or name for name, field in model.model_fields.items()}
    unknown = [
        Problem(name, f"unknown parameter{'; it belongs in the body' if name in body else ''}", name)
        for name in request.query_params
    ]
    if unknown:
        raise RefusedError(INVALID_INPUT, "A parameter cannot be used.", unknown)


def _check_media_type(request: Request) -> None:
    media_type, _, parameters = request.headers.get("content-type", "").partition(";")
    parameters = parameters.strip().lower().replace('"', "")
    encoding = request.headers.get("content-encoding", "identity").strip().lower()
    plain = media_type.strip().lower() == "application/json" and encoding in ("", "identity")
    if not plain or parameters not in ("", "charset=utf-8", "charset=utf8"):
        taken = {"Accept": "application/json"}
        raise RefusedError(UNSUPPORTED_MEDIA_TYPE, UNSUPPORTED_MEDIA_TYPE.remedy, headers=taken)


async def _read_body(request: Request) -> bytes:
    promised = request.headers.get("content-length", "")
    body = bytearray()
    try:
        async with asyncio.timeout(LONGEST_S):
            if promised.isdecimal() and (len(promised) > 9 or int(promised) > MOST_BODY_BYTES):
                raise RefusedError(BODY_TOO_LARGE, BODY_TOO_LARGE.meaning)
            async for chunk in request.stream():
                body += chunk
                if len(body) > MOST_BODY_BYTES:
                    raise RefusedError(BODY_TOO_LARGE, BODY_TOO_LARGE.meaning)
    except TimeoutError:
        raise RefusedError(TOO_SLOW, TOO_SLOW.meaning, headers={"Connection": "close"}) from None
    except ClientDisconnect:
        raise RefusedError(NOT_JSON, "The body ended early.") from None
    return bytes(body)


# A string, or a bracket. The possessive repeat and the closing quote left optional keep the scan linear.
_BRACKETS = re.compile(r'"(?:[^"\\]|\\.)*+"?|[\[{]|[\]}]', re.DOTALL)


class _TwiceError(ValueError):
    """A key that an object names twice."""


def strict_json(body: bytes) -> object:
    """Read one JSON document strictly.

    Raises:
        RefusedError: 400 when it is not UTF-8, not JSON, names a key twice or nests too deep; 422 when a number is
            not finite or has too many digits, or a text holds half of a surrogate pair.
    """
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError:
        raise RefusedError(NOT_JSON, "The body is not UTF-8.") from None
    if text.startswith("\N{BOM}"):
        raise RefusedError(NOT_JSON, "The body starts with a byte order mark.")
    if _depth(text) > MOST_DEPTH:
        raise RefusedError(NOT_JSON, f"The body nests deeper than {MOST_DEPTH} levels.")
    try:
        data: object = json.loads(text, object_pairs_hook=_once, parse_int=_whole, parse_constant=lambda word: math.nan)
    except _TwiceError as error:
        raise RefusedError(NOT_JSON, "A key is named twice in one object.", [_twice(error)]) from None
    except json.JSONDecodeError as error:
        where = f"at line {error.lineno}, column {error.colno}"
        raise RefusedError(NOT_JSON, f"The body is not valid JSON: {error.msg} {where}.") from None
    unfit = list(_unfit(data, ""))
    if unfit:
        raise RefusedError(INVALID_INPUT, "A value cannot be used.", unfit)
    return data


def _depth(text: str) -> int:
    if text.count("[") + text.count("{") <= MOST_DEPTH:
        return 0
    deepest = depth = 0
    for match in _BRACKETS.finditer(text):
        mark = match[0]
        depth += 1 if mark in "[{" else -1 if mark in "]}" else 0
        deepest = max(deepest, depth)
    return deepest


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    out: dict[str, object] = {}
    for key, value in pairs:
        if key in out:
            raise _TwiceError(key)
        out[key] = value
    return out


def _twice(error: _TwiceError) -> Problem:
    key = str(error)
    return Problem(key, "is named twice", key)


def _whole(digits: str) -> int | float:
    return int(digits) if len(digits) <= MOST_DIGITS else math.inf


def _unfit(node: object, path: str) -> Iterator[Problem]:
    if isinstance(node, float) and not math.isfinite(node):
        yield Problem(path, f"must be a finite number of at most {MOST_DIGITS} digits")
    elif isinstance(node, str) and not _encodes(node):
        yield Problem(path, "holds half of a surrogate pair")
    elif isinstance(node, list):
        for n, item in enumerate(node):
            yield from _unfit(item, f"{path}[{n}]")
    elif isinstance(node, dict):
        for key, item in node.items():
            field = f"{path}.{key[:60]}" if path else key[:60]
            if not _encodes(key):
                yield Problem(field, "holds half of a surrogate pair")
            yield from _unfit(item, field)


def _encodes(text: str) -> bool:
    return text.isascii() or not any("\ud800" <= c <= "\udfff" for c in text)
