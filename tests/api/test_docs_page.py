"""The page of the addresses: complete, and nothing in it that a browser would fetch or run."""

from __future__ import annotations

import html
import re
import shlex

from tests.api.service import JSON, InProcess


def test_the_bare_address_leads_to_the_page(service: InProcess) -> None:
    answer = service.get("/")
    assert (answer.status, answer.headers["location"]) == (307, "docs")


def test_the_page_lists_every_address_and_loads_nothing(service: InProcess) -> None:
    answer = service.get("/docs")
    assert answer.status == 200
    assert answer.headers["content-type"].startswith("text/html")
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    page = answer.body.decode()
    described = service.get("/openapi.json").json["paths"]
    for path, methods in described.items():
        for method, operation in methods.items():
            assert f"<code>{method.upper()} {html.escape(path)}</code> {html.escape(operation['summary'])}" in page
    assert not re.search(r"<script|<link|<img|<iframe|url\(|@import|\bon\w+=|https?://", page)
    assert re.findall(r'(?:href|src)="([^"]*)"', page) == ["/openapi.json"]


def test_the_commands_of_the_page_go_to_this_server_and_are_answered(service: InProcess) -> None:
    page = html.unescape(service.ask("GET", "/docs", headers={"host": "garage.example:8731"}).body.decode())
    commands = [shlex.split(c.replace("\\\n", " ")) for c in re.findall(r"curl [^<]*?'\n(?=\n|<|curl)", page)]
    assert len(commands) == 2
    kinds = []
    for command in commands:
        address = command[2].removeprefix("garage.example:8731")
        assert address != command[2]
        answer = service.ask("POST", address, command[command.index("-d") + 1].encode(), JSON)
        assert answer.status == 200
        kinds.append(answer.headers["content-type"].partition(";")[0])
    assert kinds == ["application/json", "text/plain"]
