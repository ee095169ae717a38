"""Requests nobody should send, byte for byte to a real server: each has its status, none gets a 5xx."""

from __future__ import annotations

import json
import socket
import zlib
from typing import Final

import pytest
from carbdiag_api.problems import ProblemDetails

from tests.api.service import send_raw

HOST: Final = b"host: here\r\n"
SMALL: Final = b'{"id":"fine"}'


def post(
    body: bytes,
    *,
    media_type: bytes | None = b"application/json",
    headers: bytes = b"",
    address: bytes = b"/v1/diagnoses",
    length: int | None = None,
) -> bytes:
    """A POST with this body and a right length, unless another is given."""
    kind = b"" if media_type is None else b"content-type: " + media_type + b"\r\n"
    size = b"content-length: %d\r\n" % (len(body) if length is None else length)
    return b"POST " + address + b" HTTP/1.1\r\n" + HOST + kind + headers + size + b"\r\n" + body


def chunked(*chunks: bytes) -> bytes:
    """A POST in chunks."""
    head = b"POST /v1/diagnoses HTTP/1.1\r\n" + HOST + b"content-type: application/json\r\n"
    parts = b"".join(b"%x\r\n%b\r\n" % (len(c), c) for c in chunks)
    return head + b"transfer-encoding: chunked\r\n\r\n" + parts + b"0\r\n\r\n"


def get(address: bytes, headers: bytes = b"", method: bytes = b"GET") -> bytes:
    """A request without a body."""
    return method + b" " + address + b" HTTP/1.1\r\n" + HOST + headers + b"\r\n"


def note(text: bytes) -> bytes:
    return post(b'{"note":"' + text + b'"}')


def nested(opening: bytes, closing: bytes, depth: int) -> bytes:
    return post(b'{"note":' + opening * depth + b"1" + closing * depth + b"}")


READING = b'{"readings":[{"at":"full","lambda":%s}]}'
FINDING = b'{"findings":[{"finding":%s}]}'
MANY_KEYS = json.dumps({f"key_{n}": n for n in range(3500)}).encode()
PADDED = SMALL + b" " * (64 * 1024 - len(SMALL))

CORPUS: Final[dict[str, tuple[int, bytes]]] = {
    # bodies that are not JSON
    "empty body": (400, post(b"")),
    "only blanks": (400, post(b"  \n\t ")),
    "a word": (400, post(b"hello")),
    "cut short": (400, post(b'{"id":"x"')),
    "two documents": (400, post(SMALL + SMALL)),
    "trailing comma": (400, post(b'{"id":"x",}')),
    "single quotes": (400, post(b"{'id':'x'}")),
    "a comment": (400, post(b'{"id":"x"} // fine')),
    "YAML instead": (400, post(b"id: x\nfindings: []\n")),
    "a NUL byte": (400, note(b"\x00")),
    "a raw line break in a text": (400, note(b"\n")),
    "a bad escape": (400, note(b"\\x41")),
    "half an escape": (400, note(b"\\u12")),
    "a leading zero": (400, post(READING % b"01")),
    "a plus sign": (400, post(READING % b"+1")),
    "hexadecimal": (400, post(READING % b"0x1")),
    "a bare point": (400, post(READING % b".9")),
    "only NUL bytes": (400, post(b"\x00" * 100)),
    "32,000 escaped quotes, never closed": (400, post(b'{"note":"' + b'\\"' * 32_000)),
    # encodings
    "UTF-8 with a byte order mark": (400, post(b"\xef\xbb\xbf" + SMALL)),
    "UTF-16": (400, post(SMALL.decode().encode("utf-16"))),
    "UTF-16 without a mark": (400, post(SMALL.decode().encode("utf-16-le"))),
    "UTF-32": (400, post(SMALL.decode().encode("utf-32"))),
    "Latin-1": (400, note(b"l\xe4uft")),
    "overlong UTF-8": (400, note(b"\xc0\xaf")),
    "a surrogate as UTF-8": (400, note(b"\xed\xa0\x80")),
    "above the last code point": (400, note(b"\xf5\x80\x80\x80")),
    # keys and nesting
    "a key twice": (400, post(b'{"id":"a","id":"b"}')),
    "a key twice, once escaped": (400, post(b'{"id":"a","\\u0069d":"b"}')),
    "a key twice, deep down": (400, post(b'{"machine":{"strokes":2,"strokes":4}}')),
    "a long key twice": (400, post(b'{"%b":1,"%b":1}' % (b"k" * 30_000, b"k" * 30_000))),
    "lists 32 deep": (400, nested(b"[", b"]", 32)),
    "lists 31 deep, only wrong": (422, nested(b"[", b"]", 31)),
    "lists 30,000 deep": (400, nested(b"[", b"]", 30_000)),
    "objects 9,000 deep": (400, nested(b'{"a":', b"}", 9_000)),
    "60,000 opening brackets": (400, post(b"[" * 60_000)),
    "60,000 closing brackets": (400, post(b"]" * 60_000)),
    "brackets in a text are no nesting": (200, note(b"[{" * 1_000)),
    # numbers
    "NaN": (422, post(READING % b"NaN")),
    "Infinity": (422, post(READING % b"Infinity")),
    "minus Infinity": (422, post(READING % b"-Infinity")),
    "1e999": (422, post(READING % b"1e999")),
    "-1e999": (422, post(READING % b"-1e999")),
    "1e999 as a whole body": (422, post(b"1e999")),
    "60,000 digits": (422, post(READING % (b"9" * 60_000))),
    "60,000 decimals": (422, post(READING % (b"9." + b"9" * 60_000))),
    "a negative zero": (422, post(READING % b"-0.0")),
    "a whole number of 31 digits": (422, post(b'{"machine":{"cylinders":%b}}' % (b"1" * 31))),
    "a truth as a number": (422, post(READING % b"true")),
    "a text as a number": (422, post(READING % b'"0.9"')),
    # texts
    "half a surrogate pair": (422, note(b"\\ud800")),
    "the other half": (422, note(b"\\udfff x")),
    "the halves the wrong way round": (422, note(b"\\udc00\\ud800")),
    "half a pair in a key": (422, post(b'{"\\ud800":1}')),
    "half a pair as an id": (422, post(FINDING % b'"\\ud800"')),
    "a whole pair is a character": (200, note(b"\\ud83d\\ude00")),
    "an escaped NUL is a text": (200, note(b"\\u0000")),
    "a terminal escape as an id": (422, post(FINDING % b'"\\u001b[31m"')),
    "a path as an id": (422, post(FINDING % b'"../../etc/passwd"')),
    "markup as an id": (422, post(FINDING % b'"<script>alert(1)</script>"')),
    "an id of 60,000 letters": (422, post(FINDING % (b'"' + b"a" * 60_000 + b'"'))),
    "an id of 60 emoji": (422, post(FINDING % ('"' + "😀" * 60 + '"').encode())),
    "a note of 60,000 letters": (422, note(b"a" * 60_000)),
    "a format string as an id": (422, post(FINDING % b'"{0.__class__}%s%n"')),
    # shapes
    "null": (422, post(b"null")),
    "true": (422, post(b"true")),
    "a list": (422, post(b"[]")),
    "a text": (422, post(b'"case"')),
    "a list of cases": (422, post(b"[" + SMALL + b"]")),
    "an object for a list": (422, post(b'{"findings":{"finding":"bogs"}}')),
    "a list for an object": (422, post(b'{"machine":[]}')),
    "null for an object": (422, post(b'{"machine":null}')),
    "3,500 unknown keys": (422, post(MANY_KEYS)),
    "an unknown key of 60,000 letters": (422, post(b'{"%b":1}' % (b"k" * 60_000))),
    "the key __proto__": (422, post(b'{"__proto__":{"admin":true}}')),
    "20,000 empty findings": (422, post(b'{"findings":[' + b"{}," * 20_000 + b"{}]}")),
    "201 findings": (422, post(json.dumps({"findings": [{"finding": "bogs"}] * 201}).encode())),
    "41 epochs": (422, post(json.dumps({"epochs": [{}] * 41}).encode())),
    "flat and epochs": (422, post(b'{"findings":[{"finding":"bogs"}],"epochs":[{}]}')),
    # sizes
    "exactly 64 KiB": (200, post(PADDED)),
    "one byte more": (413, post(PADDED + b" ")),
    "1 MB": (413, post(b"[" + b"0," * 500_000 + b"0]")),
    "a promise of 10 MB, nothing sent": (413, post(b"", length=10_000_000)),
    "a promise of 10^15 bytes": (413, post(b"", length=10**15)),
    "1 MB in chunks": (413, chunked(*[b" " * 10_000] * 100)),
    "one byte a chunk": (200, chunked(*[b"%c" % c for c in SMALL])),
    "no chunks": (400, chunked()),
    # media types and encodings announced
    "no media type": (415, post(SMALL, media_type=None)),
    "an empty media type": (415, post(SMALL, media_type=b"")),
    "plain text": (415, post(SMALL, media_type=b"text/plain")),
    "XML": (415, post(b"<case/>", media_type=b"application/xml")),
    "YAML": (415, post(b"id: x", media_type=b"application/yaml")),
    "a form": (415, post(b"id=x", media_type=b"application/x-www-form-urlencoded")),
    "a form in parts": (415, post(b"--x--", media_type=b"multipart/form-data; boundary=x")),
    "almost JSON": (415, post(SMALL, media_type=b"application/jsonp")),
    "JSON of another kind": (415, post(SMALL, media_type=b"application/problem+json")),
    "JSON in Latin-1": (415, post(SMALL, media_type=b"application/json; charset=iso-8859-1")),
    "JSON in UTF-7": (415, post(SMALL, media_type=b"application/json; charset=utf-7")),
    "a media type that is not ASCII": (415, post(SMALL, media_type=b"\xff\xfe")),
    "compressed": (415, post(zlib.compress(SMALL), headers=b"content-encoding: deflate\r\n")),
    "said to be gzip": (415, post(SMALL, headers=b"content-encoding: gzip\r\n")),
    "an unknown encoding": (415, post(SMALL, headers=b"content-encoding: rot13\r\n")),
    "identity is no encoding": (200, post(SMALL, headers=b"content-encoding: identity\r\n")),
    # headers
    "a header of 17 KiB": (431, get(b"/health", b"x-long: " + b"x" * 17_000 + b"\r\n")),
    "101 headers": (431, get(b"/health", b"x-many: 1\r\n" * 101)),
    "5,000 headers": (431, get(b"/health", b"x: 1\r\n" * 5_000)),
    "99 headers": (200, get(b"/health", b"x-many: 1\r\n" * 99)),
    "too many headers on a POST": (431, post(SMALL, headers=b"x-many: 1\r\n" * 101)),
    "10,000 tags held": (431, get(b"/v1/knowledge", b"if-none-match: " + b'"a",' * 10_000 + b"\r\n")),
    "3,000 tags held": (200, get(b"/v1/knowledge", b"if-none-match: " + b'"a",' * 3_000 + b"\r\n")),
    "tags that are not ASCII": (200, get(b"/v1/knowledge", b"if-none-match: \xff\xfe\r\n")),
    # addresses
    "nothing there": (404, get(b"/nothing")),
    "the root": (307, get(b"/")),
    "a slash too many": (404, get(b"/v1/knowledge/")),
    "two slashes": (404, get(b"//v1/knowledge")),
    "upwards": (404, get(b"/v1/knowledge/causes/../../../etc/passwd")),
    "upwards, escaped": (404, get(b"/v1/knowledge/causes/..%2f..%2fetc%2fpasswd")),
    "an escaped NUL": (404, get(b"/v1/knowledge/causes/%00")),
    "escaped bytes that are not UTF-8": (404, get(b"/v1/knowledge/%ff%fe")),
    "an escaped surrogate": (404, get(b"/v1/bands/%ed%a0%80")),
    "an id of 10,000 letters": (404, get(b"/v1/knowledge/causes/" + b"a" * 10_000)),
    "a private name as a kind": (404, get(b"/v1/knowledge/memo")),
    "a method as a kind": (404, get(b"/v1/knowledge/__class__")),
    "capital letters": (404, get(b"/V1/Knowledge")),
    "a query of 10,000 letters": (422, get(b"/v1/bands/round_slide?" + b"q" * 10_000)),
    "a query that is not UTF-8": (422, get(b"/v1/bands/round_slide?strokes=%ff")),
    "1,000 parameters": (422, get(b"/v1/bands/round_slide?" + b"".join(b"p%d=1&" % n for n in range(1000)))),
    "steps of 4,000 digits": (422, post(SMALL, address=b"/v1/diagnoses?steps=" + b"9" * 4_000)),
    "steps as a list": (422, post(SMALL, address=b"/v1/diagnoses?steps[]=1")),
    "steps NaN": (422, post(SMALL, address=b"/v1/diagnoses?steps=NaN")),
    # methods
    "GET where POST belongs": (405, get(b"/v1/diagnoses")),
    "DELETE": (405, get(b"/v1/knowledge/causes/air_denser", method=b"DELETE")),
    "TRACE": (405, get(b"/health", method=b"TRACE")),
    "PUT": (405, get(b"/v1/diagnoses", method=b"PUT")),
    "HEAD where POST belongs": (405, get(b"/v1/diagnoses", method=b"HEAD")),
    "OPTIONS of nothing": (404, get(b"/nothing", method=b"OPTIONS")),
}

#: Refused by the server before the application sees them, in its own words.
NOT_HTTP: Final[dict[str, tuple[int, bytes]]] = {
    "a line of garbage": (400, b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\r\n\r\n"),
    "a method nobody knows": (400, get(b"/health", method=b"BREW")),
    "a length and chunks": (400, post(SMALL, headers=b"transfer-encoding: chunked\r\n")),
    "a negative length": (400, post(SMALL, length=-1)),
    "two lengths": (400, post(SMALL, headers=b"content-length: 1\r\n")),
    "a header without a colon": (400, get(b"/health", b"nonsense\r\n")),
    "a blank in a header name": (400, get(b"/health", b"x y: 1\r\n")),
    "a chunk length that is no number": (400, chunked().replace(b"\r\n0\r\n", b"\r\nzz\r\n")),
}


@pytest.mark.parametrize("name", CORPUS)
def test_each_hostile_request_has_its_status_and_a_small_answer(port: int, name: str) -> None:
    status, request = CORPUS[name]
    answer = send_raw(port, request)
    assert answer.status == status
    if status >= 400:
        assert len(answer.body) <= 8000
        assert answer.headers["content-type"] == "application/problem+json"
        assert request.startswith(b"HEAD") or ProblemDetails.model_validate_json(answer.body).status == status
    if status == 405:
        assert answer.headers["allow"]


@pytest.mark.parametrize("name", NOT_HTTP)
def test_what_is_not_http_is_refused_by_the_server(port: int, name: str) -> None:
    status, request = NOT_HTTP[name]
    answer = send_raw(port, request)
    assert answer.status == status
    assert len(answer.body) <= 8000


def test_the_corpus_is_large_and_has_no_fault_of_ours() -> None:
    assert len(CORPUS) + len(NOT_HTTP) >= 60
    assert all(status < 500 for status, _ in (*CORPUS.values(), *NOT_HTTP.values()))


def test_a_client_that_leaves_halfway_does_no_harm(port: int) -> None:
    with socket.create_connection(("127.0.0.1", port)) as connection:
        connection.sendall(post(SMALL, length=1000))
    assert send_raw(port, get(b"/health")).status == 200


def test_no_answer_repeats_a_long_or_secret_value(port: int) -> None:
    canary = b"canary" * 20
    for body in (b'{"%b":1}' % canary, b'{"note":%b}' % canary, FINDING % (b'"' + canary + b' "')):
        answer = send_raw(port, post(body))
        assert answer.status in (400, 422)
        assert canary not in answer.body
