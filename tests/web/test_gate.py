"""The gate: who may ask for what, with which cookie and which page."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from fastapi.routing import APIRoute

from broodsweep.access import Access, open_access
from broodsweep.access.codes import Opens
from broodsweep.access.parcel import new_keys
from broodsweep.desk.access import Reach, Role
from broodsweep.desk.context import Desk
from broodsweep.web import create_app
from broodsweep.web.gate import OPEN_TO_ALL, reach_of

from .conftest import HOST

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from fastapi.testclient import TestClient

WORDS = "seven small gates by water"
NAME = "desk.example.org"
KEYS = new_keys()


@pytest.fixture
def access(desk: Desk) -> Access:
    found = open_access(None, now=desk.now)
    found.people.hasher = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    return found


@pytest.fixture
def shared(desk: Desk, home: Path, access: Access) -> Iterator[TestClient]:
    """A desk that is reached by a name of its own, over TLS."""
    app = create_app(desk, home=home, hosts=(NAME,), access=access, is_shared=True)
    with TestClient(app, base_url=f"https://{NAME}") as made:
        yield made


def sign_in(client: TestClient, access: Access, role: Role = Role.LEAD, name: str = "Una Selvik") -> None:
    code = access.people.add(name, role, by="test")
    answered = client.put("/api/access/invitation", json={"code": code, "password": WORDS})
    assert answered.status_code == 204, answered.text
    client.headers["X-Page-Token"] = client.get("/api/session").json()["signed_in"]["page_token"]


def test_on_this_machine_alone_nobody_signs_in(client: TestClient) -> None:
    assert client.get("/api/today").status_code == 200
    assert client.get("/api/session").json()["needs_sign_in"] is False


def test_from_the_first_person_on_everybody_signs_in(client: TestClient) -> None:
    made = client.post("/api/access/people", json={"name": "Una Selvik", "role": "lead"})
    assert made.status_code == 201 and "/sign-in#invitation=" in made.json()["address"]
    assert client.get("/api/today").status_code == 401
    code = made.json()["code"]
    assert client.post("/api/access/invitation", json={"code": code}).json()["name"] == "Una Selvik"
    assert client.put("/api/access/invitation", json={"code": code, "password": WORDS}).status_code == 204
    assert client.get("/api/today").status_code == 200


def test_a_shared_desk_tells_nothing_before_sign_in(shared: TestClient) -> None:
    told = shared.get("/api/session").json()
    assert told["needs_sign_in"] and told["who"] is None and told["record_version"] == 0
    assert shared.get("/").status_code in (200, 503), "the page itself is no secret"


def test_every_answer_but_the_door_needs_sign_in(shared: TestClient) -> None:
    """Every route there is, so that a new one cannot be left open by mistake."""
    tried = 0
    for route in shared.app.routes:  # type: ignore[attr-defined]
        for inner in getattr(route, "routes", None) or [route]:
            path = getattr(inner, "path", "")
            if not isinstance(inner, APIRoute) or not path.startswith(("/api/", "/basemap/")):
                continue
            asked = path.replace("{", "").replace("}", "").replace(":path", "")
            if OPEN_TO_ALL.fullmatch(asked):
                continue
            for method in inner.methods:
                tried += 1
                assert shared.request(method, asked).status_code == 401, (method, asked)
    schema = shared.get("/api/openapi.json")
    assert schema.status_code == 401
    assert tried == 0 or tried > 50


def test_the_description_of_the_api_lists_every_route_behind_the_gate(shared: TestClient) -> None:
    import json

    from broodsweep.web.openapi import written_schema

    tried = 0
    for path, operations in json.loads(written_schema())["paths"].items():
        asked = path.replace("{", "").replace("}", "")
        if OPEN_TO_ALL.fullmatch(asked):
            continue
        for method in operations:
            tried += 1
            assert shared.request(method.upper(), asked).status_code == 401, (method, asked)
    assert tried > 60


def test_the_cookie_is_held_to_this_host_and_hidden_from_scripts(shared: TestClient, access: Access) -> None:
    code = access.people.add("Una Selvik", Role.LEAD, by="test")
    answered = shared.put("/api/access/invitation", json={"code": code, "password": WORDS})
    cookie = answered.headers["set-cookie"]
    assert cookie.startswith("__Host-broodsweep=")
    for part in ("HttpOnly", "Secure", "SameSite=strict", "Path=/"):
        assert part in cookie


def test_a_change_without_the_pages_token_is_refused(shared: TestClient, access: Access) -> None:
    sign_in(shared, access)
    assert shared.put("/api/settings", json={"title": "One"}).status_code == 200
    shared.headers["X-Page-Token"] = "guess"
    assert shared.put("/api/settings", json={"title": "Two"}).status_code == 401
    del shared.headers["X-Page-Token"]
    assert shared.put("/api/settings", json={"title": "Two"}).status_code == 401
    assert shared.get("/api/settings").json()["title"] == "One"


def test_a_page_of_another_site_is_refused_before_the_cookie_counts(
    shared: TestClient, access: Access
) -> None:
    sign_in(shared, access)
    foreign = {"Origin": "https://elsewhere.example", "Sec-Fetch-Site": "cross-site"}
    assert shared.put("/api/settings", json={"title": "Two"}, headers=foreign).status_code == 403


def test_changes_are_signed_by_who_is_signed_in_whatever_the_page_says(
    shared: TestClient, access: Access
) -> None:
    sign_in(shared, access)
    shared.put("/api/settings", json={"title": "One", "who": "Somebody Else"})
    assert shared.get("/api/journal").json()["entries"][0]["who"] == "Una Selvik"


@pytest.mark.parametrize(
    ("role", "look", "record", "lead"),
    [(Role.READER, 200, 403, 403), (Role.INSPECTOR, 200, 201, 403), (Role.LEAD, 200, 201, 200)],
)
def test_roles(shared: TestClient, access: Access, role: Role, look: int, record: int, lead: int) -> None:
    sign_in(shared, access, role)
    visit = {
        "visit": "V9",
        "apiary": "N",
        "visited_on": "2026-07-08",
        "colonies_inspected": 2,
        "colonies_confirmed": 0,
    }
    assert shared.get("/api/today").status_code == look
    assert shared.post("/api/visits", json=visit).status_code == record
    assert shared.put("/api/settings", json={"title": "x"}).status_code == lead
    assert shared.get("/api/access/people").status_code == lead
    assert shared.get("/api/access/mine").status_code == 200


def test_only_a_lead_lifts_a_standstill(shared: TestClient, access: Access) -> None:
    sign_in(shared, access, Role.INSPECTOR)
    name = shared.get("/api/outbreaks").json()[0]["outbreak"]
    step = {"apiary": "C", "kind": "released", "happened_on": "2026-07-08"}
    assert shared.post(f"/api/outbreaks/{name}/events", json=step).status_code == 403
    step["kind"] = "note"
    assert shared.post(f"/api/outbreaks/{name}/events", json=step).status_code == 201
    assert shared.post(f"/api/outbreaks/{name}/close", json={"closed_on": "2026-07-08"}).status_code == 403


def test_what_is_not_named_is_for_a_lead() -> None:
    assert reach_of("POST", "/api/something/new") is Reach.LEAD
    assert reach_of("GET", "/api/access/people") is Reach.LEAD
    assert reach_of("DELETE", "/api/hidden/run") is Reach.RECORD


def test_signing_out(shared: TestClient, access: Access) -> None:
    sign_in(shared, access)
    assert shared.post("/api/access/sign-out").status_code == 204
    assert shared.get("/api/today").status_code == 401


def test_guessing_is_slowed_down(shared: TestClient, access: Access) -> None:
    sign_in(shared, access)
    shared.cookies.clear()
    asked = {"name": "Una Selvik", "password": "a wrong row of words"}
    told = [shared.post("/api/access/sign-in", json=asked).status_code for _ in range(10)]
    assert told[:8] == [401] * 8 and told[8:] == [429] * 2
    codes = [
        shared.post("/api/access/invitation", json={"code": f"AAAA-AAAA-AAA{number}"}).status_code
        for number in range(10)
    ]
    assert codes[:8] == [401] * 8 and codes[8:] == [429] * 2


def test_passwords_stand_in_no_answer_and_no_error(shared: TestClient) -> None:
    told = shared.post("/api/access/sign-in", json={"name": "x", "password": WORDS, "more": 1})
    assert told.status_code == 422 and WORDS not in told.text


def enrol(client: TestClient, access: Access) -> str:
    code = access.codes.make(Opens.ENROLMENT, "Una Selvik", by="test")
    asked = {
        "code": code,
        "label": "Phone 1",
        "seal_key": KEYS.seal_public,
        "sign_key": KEYS.sign_public,
    }
    answered = client.post("/api/fieldbook/devices", json=asked)
    assert answered.status_code == 201, answered.text
    assert answered.json()["desk_seal_key"] == access.keys.seal_public
    return str(answered.json()["token"])


def test_a_phone_reaches_its_own_answers_and_no_others(shared: TestClient, access: Access) -> None:
    bearer = {"Authorization": f"Bearer {enrol(shared, access)}"}
    assert shared.get("/api/fieldbook/state", headers=bearer).json() == {
        "who": "Una Selvik",
        "is_revoked": False,
        "wipe": False,
    }
    assert shared.get("/api/words/en", headers=bearer).status_code == 200
    assert shared.get("/api/today", headers=bearer).status_code == 403
    assert shared.get("/api/access/people", headers=bearer).status_code == 403
    assert shared.get("/api/fieldbook/state", headers={"Authorization": "Bearer x"}).status_code == 401


def test_a_phone_that_was_taken_out_learns_that_it_shall_clear_itself(
    shared: TestClient, access: Access
) -> None:
    bearer = {"Authorization": f"Bearer {enrol(shared, access)}"}
    (phone,) = access.devices.everyone()
    access.devices.revoke(phone.device, by="lead", wipe=True)
    told = shared.get("/api/fieldbook/state", headers=bearer).json()
    assert told["is_revoked"] and told["wipe"]
    assert shared.get(f"/api/fieldbook/wipes/{phone.device}").json() == {"wipe": True}
    assert shared.get("/api/fieldbook/wipes/no-such-phone").json() == {"wipe": False}
    assert shared.post("/api/fieldbook/wiped", headers=bearer).status_code == 204
    assert shared.get("/api/fieldbook/state", headers=bearer).json()["wipe"] is False


def test_the_code_of_a_phone_is_made_by_a_lead(shared: TestClient, access: Access) -> None:
    sign_in(shared, access)
    made = shared.post("/api/access/phones", json={}).json()
    assert made["name"] == "Una Selvik" and made["address"].startswith(f"https://{NAME}/field/#enrol=")
    assert made["square"].startswith("<svg")
    assert shared.post("/api/access/phones", json={"name": "Nobody"}).status_code == 404


def test_another_host_is_refused_before_anything_else(shared: TestClient) -> None:
    assert shared.get("/api/session", headers={"Host": "evil.example"}).status_code == 421
    assert HOST
