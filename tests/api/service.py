"""Two ways to talk to the service in tests: in this process, and over a socket with any bytes at all."""

from __future__ import annotations

import asyncio
import contextlib
import json
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from urllib.parse import unquote

import uvicorn
from fastapi import FastAPI

JSON = {"content-type": "application/json"}


@dataclass(frozen=True)
class Answer:
    """A status, headers by lower-case name, and the body."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


class InProcess:
    """The application in this process, started once, without a server."""

    def __init__(self, app: FastAPI, *, started: bool = True) -> None:
        self.app = app
        self._loop = asyncio.new_event_loop()
        self._lifespan = app.router.lifespan_context(app) if started else None
        if self._lifespan is not None:
            self._loop.run_until_complete(self._lifespan.__aenter__())

    def close(self) -> None:
        if self._lifespan is not None:
            self._loop.run_until_complete(self._lifespan.__aexit__(None, None, None))
        self._loop.close()

    def ask(
        self,
        method: str,
        address: str,
        body: bytes | None = b"",
        headers: dict[str, str] | None = None,
    ) -> Answer:
        """Send one request, its body never when None; what is raised after the answer is the server's to log."""
        sent: list[dict[str, Any]] = []
        waiting = [{"type": "http.request", "body": body, "more_body": False}]

        async def receive() -> dict[str, Any]:
            if body is None:
                await asyncio.Event().wait()
            return waiting.pop() if waiting else {"type": "http.disconnect"}

        async def send(message: Any) -> None:
            sent.append(message)

        path, _, query = address.partition("?")
        scope = {
            "type": "http",
            "asgi": {"version": "3.0", "spec_version": "2.3"},
            "http_version": "1.1",
            "method": method,
            "scheme": "http",
            "path": unquote(path),
            "raw_path": path.encode(),
            "query_string": query.encode(),
            "root_path": "",
            "headers": [(n.lower().encode(), v.encode()) for n, v in (headers or {}).items()],
            "client": ("127.0.0.1", 1),
            "server": ("127.0.0.1", 80),
        }
        try:
            self._loop.run_until_complete(self.app(scope, receive, send))
        except Exception:
            if not sent:
                raise
        start = next(m for m in sent if m["type"] == "http.response.start")
        content = b"".join(m.get("body", b"") for m in sent if m["type"] == "http.response.body")
        return Answer(start["status"], {n.decode(): v.decode() for n, v in start["headers"]}, content)

    def get(self, address: str, headers: dict[str, str] | None = None) -> Answer:
        return self.ask("GET", address, headers=headers)

    def post(self, address: str, body: object) -> Answer:
        return self.ask("POST", address, json.dumps(body).encode(), JSON)


@contextmanager
def serving(app: FastAPI) -> Iterator[int]:
    """Run a real server on a free port of this machine, and stop it."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen(64)
        server = uvicorn.Server(uvicorn.Config(app, log_level="critical", ws="none"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        while not server.started and thread.is_alive():
            time.sleep(0.02)
        try:
            yield int(listener.getsockname()[1])
        finally:
            server.should_exit = True
            thread.join(10)


def send_raw(port: int, request: bytes) -> Answer:
    """Send these bytes and nothing else; read until the server closes or has sent what it promised."""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as connection:
        # the server may answer and close before it has read everything
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            connection.sendall(request)
        answer = b""
        while not _complete(answer):
            chunk = connection.recv(1 << 16)
            if not chunk:
                break
            answer += chunk
    head, _, body = answer.partition(b"\r\n\r\n")
    first, *lines = head.decode("latin-1").split("\r\n")
    headers = {n.lower(): v.strip() for n, _, v in (line.partition(":") for line in lines)}
    return Answer(int(first.split()[1]), headers, body)


def _complete(answer: bytes) -> bool:
    head, found, body = answer.partition(b"\r\n\r\n")
    for line in head.lower().split(b"\r\n"):
        if found and line.startswith(b"content-length:"):
            return len(body) >= int(line.partition(b":")[2])
    return False
