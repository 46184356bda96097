"""The desk answers this machine and its own pages only, and lets pages load nothing from elsewhere."""

from __future__ import annotations

import logging

import pytest

from broodsweep.desk import overview
from broodsweep.desk.context import Desk
from broodsweep.web import create_app
from broodsweep.web.guard import BODY_LIMIT, host_of

from .conftest import HOST, TestClient

SETTINGS = {"title": "West"}


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "10.0.0.7:8741", ""])
def test_a_foreign_host_is_refused(client: TestClient, host: str) -> None:
    answer = client.get("/api/session", headers={"Host": host})
    assert answer.status_code == 421
    assert answer.json()["error"]["key"] == "web.foreign_host"


@pytest.mark.parametrize("host", ["localhost:8741", "LOCALHOST", "[::1]:8741", "127.0.0.1"])
def test_the_names_of_this_machine_are_answered(client: TestClient, host: str) -> None:
    assert client.get("/api/session", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_foreign_page_may_not_write(client: TestClient, headers: dict[str, str]) -> None:
    answer = client.put("/api/settings", json=SETTINGS, headers=headers)
    assert answer.status_code == 403
    assert answer.json()["error"]["key"] == "web.foreign_page"
    assert client.get("/api/settings").json()["title"] == "Skarnsey district"


def test_our_own_page_may_write(client: TestClient) -> None:
    headers = {"Origin": HOST, "Sec-Fetch-Site": "same-origin"}
    assert client.put("/api/settings", json=SETTINGS, headers=headers).status_code == 200


@pytest.mark.parametrize("path", ["/api/session", "/api/nothing", "/today", "/api/outbreaks/none"])
def test_every_answer_carries_the_security_headers(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe-eval" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


def test_a_body_beyond_the_limit_is_refused_by_its_stated_length(client: TestClient) -> None:
    answer = client.put("/api/settings", content=b"x" * (BODY_LIMIT + 1))
    assert answer.status_code == 413
    assert answer.json()["error"]["key"] == "web.too_large"


def test_a_body_that_does_not_state_its_length_is_counted(client: TestClient) -> None:
    pieces = (b"x" * 100_000 for _ in range(BODY_LIMIT // 100_000 + 2))
    answer = client.put("/api/settings", content=pieces, headers={"Content-Type": "application/json"})
    assert answer.status_code == 413
    assert answer.json()["error"]["key"] == "web.too_large"


def test_what_nobody_foresaw_is_logged_and_answered_plainly(
    desk: Desk,
    tmp_path: object,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    home: object,
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("inner workings")

    monkeypatch.setattr(overview, "today", broken)
    app = create_app(desk, home=home)  # type: ignore[arg-type]
    with (
        TestClient(app, base_url=HOST, raise_server_exceptions=False) as client,
        caplog.at_level(logging.ERROR),
    ):
        answer = client.get("/api/today")
    assert answer.status_code == 500
    assert answer.json()["error"]["key"] == "web.unforeseen"
    assert "inner workings" not in answer.text
    assert "inner workings" in caplog.text
    assert "content-security-policy" in answer.headers


def test_a_host_is_read_without_its_port() -> None:
    assert host_of("LocalHost:8741") == "localhost"
    assert host_of("[::1]:80") == "[::1]"
