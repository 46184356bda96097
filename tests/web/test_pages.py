"""The built pages are served at every address of theirs, with the right lifetimes."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest

from broodsweep.desk.context import Desk
from broodsweep.web import create_app

from .conftest import HOST, TestClient


@pytest.fixture
def static(tmp_path: Path) -> Path:
    folder = tmp_path / "static"
    (folder / "assets").mkdir(parents=True)
    (folder / "index.html").write_text("<!doctype html><title>book</title>")
    (folder / "assets" / "index-abc.js").write_text("1")
    (folder / ".stamp").write_text("digest")
    (folder / "fieldbook.html").write_text("<!doctype html><title>phone</title>")
    (folder / "field").mkdir()
    (folder / "field" / "sw.js").write_text("worker")
    (folder / "field" / "field.webmanifest").write_text("{}")
    (folder / "assets" / "phone-abc.css").write_text("long")
    (folder / "assets" / "phone-abc.css.gz").write_bytes(gzip.compress(b"long"))
    return folder


@pytest.fixture
def pages(desk: Desk, home: Path, static: Path) -> TestClient:
    return TestClient(create_app(desk, home=home, static=static), base_url=HOST)


@pytest.mark.parametrize(
    "path", ["/", "/today", "/outbreaks/AFB-2026-1", "/ground/apiary/Z%2F1", "/index.html"]
)
def test_every_address_of_the_book_gives_the_page_fresh(pages: TestClient, path: str) -> None:
    answer = pages.get(path)
    assert "book" in answer.text
    assert answer.headers["cache-control"] == "no-cache"


def test_files_named_by_their_content_are_kept_for_good(pages: TestClient) -> None:
    assert "immutable" in pages.get("/assets/index-abc.js").headers["cache-control"]


@pytest.mark.parametrize("path", ["/assets/gone.js", "/.stamp", "/../pages.py", "/favicon.ico"])
def test_what_is_not_there_is_not_the_page(pages: TestClient, path: str) -> None:
    answer = pages.get(path, headers={"Accept": "*/*"})
    assert answer.status_code == 404
    assert "digest" not in answer.text


def test_pages_that_are_not_built_say_how(desk: Desk, home: Path, tmp_path: Path) -> None:
    client = TestClient(create_app(desk, home=home, static=tmp_path / "none"), base_url=HOST)
    answer = client.get("/today")
    assert answer.status_code == 503
    assert "make setup" in answer.text


def test_the_phone_has_a_page_of_its_own_that_is_asked_for_anew(pages: TestClient) -> None:
    answer = pages.get("/field/")
    assert "phone" in answer.text
    assert answer.headers["cache-control"] == "no-cache"
    moved = pages.get("/field", follow_redirects=False)
    assert (moved.status_code, moved.headers["location"]) == (308, "/field/")


def test_the_service_worker_may_answer_for_the_phone_only_and_is_never_kept(pages: TestClient) -> None:
    answer = pages.get("/field/sw.js")
    assert answer.headers["content-type"].startswith("text/javascript")
    assert answer.headers["service-worker-allowed"] == "/field/"
    assert answer.headers["cache-control"] == "no-cache"


def test_the_manifest_says_what_it_is(pages: TestClient) -> None:
    assert pages.get("/field/field.webmanifest").headers["content-type"] == "application/manifest+json"


def test_a_built_file_comes_compressed_to_whoever_can_read_it(pages: TestClient) -> None:
    small = pages.get("/assets/phone-abc.css", headers={"Accept-Encoding": "gzip"})
    plain = pages.get("/assets/phone-abc.css", headers={"Accept-Encoding": "identity"})
    assert small.headers["content-encoding"] == "gzip"
    assert "content-encoding" not in plain.headers
    assert small.text == plain.text == "long"
    assert {small.headers["content-type"], plain.headers["content-type"]} == {"text/css; charset=utf-8"}
