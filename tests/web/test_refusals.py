"""Every error has one shape, in the language asked for."""

from __future__ import annotations

from broodsweep.words import text

from .conftest import TestClient


def test_what_is_not_there_says_so(client: TestClient) -> None:
    answer = client.get("/api/outbreaks/AFB-1999-1")
    assert answer.status_code == 404
    error = answer.json()["error"]
    assert error["key"] == "desk.no_such_outbreak"
    assert "AFB-1999-1" in error["text"]
    assert "AFB-2026-1" in error["text"], "the way out names what is there"


def test_an_impossible_step_is_refused_with_the_reason(client: TestClient) -> None:
    step = {"apiary": "C", "kind": "released", "happened_on": "2026-07-08"}
    answer = client.post("/api/outbreaks/AFB-2026-1/events", json=step)
    assert answer.status_code == 409
    assert answer.json()["error"]["text"]


def test_a_malformed_body_names_its_fields(client: TestClient) -> None:
    answer = client.post("/api/visits", json={"apiary": "N", "visited_on": "yesterday", "colour": "blue"})
    assert answer.status_code == 422
    error = answer.json()["error"]
    assert error["key"] == "web.malformed"
    assert set(error["fields"]) == {"visited_on", "colonies_inspected", "colour"}


def test_an_unknown_address_and_a_wrong_method_have_the_same_shape(client: TestClient) -> None:
    for answer, status in ((client.get("/api/nothing"), 404), (client.delete("/api/today"), 405)):
        assert answer.status_code == status
        assert set(answer.json()["error"]) >= {"key", "text"}


def test_errors_speak_the_language_asked_for(client: TestClient) -> None:
    key = "web.no_such_address"
    assert client.get("/api/nothing?locale=en-XA").json()["error"]["text"] == text(key, locale="en-XA")
    header = {"Accept-Language": "xx, en-XA;q=0.9, en;q=0.5"}
    assert client.get("/api/nothing", headers=header).json()["error"]["text"] == text(key, locale="en-XA")
    assert client.get("/api/nothing").json()["error"]["text"] == text(key)


def test_the_language_that_was_set_goes_before_the_browsers(client: TestClient) -> None:
    assert client.put("/api/settings", json={"locale": "en-XA"}).status_code == 200
    session = client.get("/api/session", headers={"Accept-Language": "en"}).json()
    assert session["locale"] == "en-XA"
