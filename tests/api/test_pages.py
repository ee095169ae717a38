"""Pages that change with the knowledge alone are tagged, and not sent twice."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest
from carbdiag_api.app import create_app

from carbdiag import Knowledge
from tests.api.service import InProcess

PAGES = [
    "/v1/knowledge",
    "/v1/knowledge/causes",
    "/v1/knowledge/circuits/main_jet",
    "/v1/bands/round_slide?strokes=2",
    "/v1/problems/invalid-input",
]


@pytest.mark.parametrize("address", PAGES)
def test_a_page_has_a_strong_tag_and_may_be_kept(service: InProcess, address: str) -> None:
    answer = service.get(address)
    tag = answer.headers["etag"]
    assert tag.startswith('"')
    assert tag.endswith('"')
    assert len(tag) == 34
    assert answer.headers["cache-control"] == "public, max-age=300"


@pytest.mark.parametrize("address", PAGES)
@pytest.mark.parametrize("held", ["{}", "W/{}", '"other", {}', '"a" ,W/{}', "*"])
def test_a_page_already_held_is_not_sent_again(service: InProcess, address: str, held: str) -> None:
    tag = service.get(address).headers["etag"]
    answer = service.get(address, {"if-none-match": held.format(tag)})
    assert (answer.status, answer.body, answer.headers["etag"]) == (304, b"", tag)
    assert answer.headers["cache-control"] == "public, max-age=300"


@pytest.mark.parametrize("held", ['"other"', "", "nonsense", '"*"', ",,,"])
def test_another_page_held_does_not_count(service: InProcess, held: str) -> None:
    assert service.get("/v1/knowledge", {"if-none-match": held}).status == 200


def test_every_page_has_its_own_tag(service: InProcess) -> None:
    tags = [service.get(address).headers["etag"] for address in PAGES]
    assert len(set(tags)) == len(tags)


def test_a_tag_stays_while_the_knowledge_does(service: InProcess) -> None:
    fresh = InProcess(create_app(Knowledge.load()))
    try:
        for address in PAGES:
            assert fresh.get(address).headers["etag"] == service.get(address).headers["etag"]
    finally:
        fresh.close()


def test_a_tag_changes_with_the_edition(toy_folder: Path) -> None:
    before = tags_of(toy_folder)
    info = toy_folder / "knowledge.yaml"
    info.write_text(info.read_text().replace(Knowledge.load(toy_folder).edition, "2099.01"))
    after = tags_of(toy_folder)
    assert not set(before) & set(after)


def tags_of(folder: Path) -> list[str]:
    service = InProcess(create_app(Knowledge.load(folder)))
    tags = [service.get(address).headers["etag"] for address in ("/v1/knowledge", "/v1/knowledge/causes")]
    service.close()
    return tags


@pytest.mark.parametrize("address", PAGES)
@pytest.mark.parametrize("accepted", ["gzip", "br, GZIP;q=0.5", "*", "deflate;q=1,x-gzip"])
def test_a_client_that_takes_gzip_gets_the_same_page_compressed(
    service: InProcess, address: str, accepted: str
) -> None:
    plain, small = service.get(address), service.get(address, {"accept-encoding": accepted})
    assert plain.headers["vary"] == small.headers["vary"] == "Accept-Encoding"
    assert "content-encoding" not in plain.headers
    assert int(small.headers["content-length"]) == len(small.body) <= len(plain.body)
    if len(plain.body) < 1024:
        assert (small.body, small.headers["etag"]) == (plain.body, plain.headers["etag"])
        return
    assert small.headers["content-encoding"] == "gzip"
    assert gzip.decompress(small.body) == plain.body
    # a strong tag is of the very bytes sent
    assert small.headers["etag"] != plain.headers["etag"]


@pytest.mark.parametrize("accepted", ["gzip;q=0", "gzip; q=0.000, *", "identity", "br", "", "*;q=0"])
def test_a_client_that_does_not_take_gzip_gets_none(service: InProcess, accepted: str) -> None:
    answer = service.get("/v1/bands/round_slide", {"accept-encoding": accepted})
    assert "content-encoding" not in answer.headers
    assert answer.body.startswith(b"{")


def test_a_compressed_page_already_held_is_not_sent_again(service: InProcess) -> None:
    takes = {"accept-encoding": "gzip"}
    tag = service.get("/v1/bands/round_slide", takes).headers["etag"]
    answer = service.get("/v1/bands/round_slide", takes | {"if-none-match": tag})
    assert (answer.status, answer.body, answer.headers["etag"]) == (304, b"", tag)
    assert "content-encoding" not in answer.headers


def test_the_table_of_a_family_travels_small(service: InProcess) -> None:
    answer = service.get("/v1/bands/round_slide", {"accept-encoding": "gzip"})
    assert len(answer.body) < len(gzip.decompress(answer.body)) / 10


def test_errors_and_diagnoses_are_not_kept(service: InProcess) -> None:
    assert service.get("/v1/knowledge/nothing").headers["cache-control"] == "no-store"
    assert "etag" not in service.post("/v1/diagnoses", {}).headers


def test_what_is_refused_is_not_put_on_the_shelf(service: InProcess) -> None:
    before = len(service.app.state.shelf.pages)
    for n in range(50):
        assert service.get(f"/v1/knowledge/causes/nothing_{n}").status == 404
    assert len(service.app.state.shelf.pages) == before
