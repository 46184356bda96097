"""What phones hand in and take along, and what the Field page sees of it, through HTTP."""

from __future__ import annotations

import asyncio
import random
import warnings
from base64 import b64encode
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from broodsweep.access import Access, open_access
from broodsweep.access.codes import Opens
from broodsweep.access.parcel import make_parcel, new_keys, open_parcel
from broodsweep.desk.access import Device, Role
from broodsweep.desk.context import Desk
from broodsweep.desk.field_photos import LARGEST_PIECE
from broodsweep.store import photos as photo_files
from broodsweep.web import create_app
from broodsweep.web.changes import Stopping, changes
from tests.fieldbook.writing import Pen

from .conftest import HOST

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from fastapi.testclient import TestClient

KEYS = new_keys()
JPEG = b"\xff\xd8\xff\xe0" + bytes(range(256)) * 3000
PHOTO = sha256(JPEG).hexdigest()


@pytest.fixture
def access(desk: Desk) -> Access:
    return open_access(None, now=desk.now)


@pytest.fixture
def client(desk: Desk, home: Path, access: Access) -> Iterator[TestClient]:
    with TestClient(create_app(desk, home=home, access=access), base_url=HOST) as made:
        yield made


@pytest.fixture
def phone(access: Access) -> Device:
    """Enrol a phone and keep its token under its label."""
    access.people.add("Una Selvik", Role.LEAD, by="test")
    code = access.codes.make(Opens.ENROLMENT, "Una Selvik", by="test")
    device, token = access.devices.enrol(
        code, label="Phone of Una", seal_key=KEYS.seal_public, sign_key=KEYS.sign_public
    )
    TOKENS[device.device] = token
    return device


TOKENS: dict[str, str] = {}


def bearer(device: Device) -> dict[str, str]:
    return {"Authorization": f"Bearer {TOKENS[device.device]}"}


def written(device: Device, *, suspect: str | None = None, photo: bool = False) -> Pen:
    """Write a whole visit to N."""
    pen = Pen(device.device, random.Random(3))
    visit = pen.name()
    pen.begin(visit, "N")
    pen.write("colonies_counted", {"present": 2}, visit=visit, apiary="N")
    for colony in (1, 2):
        state = "suspect" if suspect and colony == 1 else "clean"
        body = {"colony": colony, "state": state, "disease": suspect if state == "suspect" else None}
        pen.write("colony_looked", body, visit=visit, apiary="N")
    if photo:
        body = {"photo": PHOTO, "bytes": len(JPEG), "media_type": "image/jpeg", "width": 10, "height": 10}
        pen.write("photo_taken", body | {"colony": 1, "note": ""}, visit=visit, apiary="N")
    pen.sign(visit, "N")
    return pen


def hand_in(client: TestClient, device: Device, pen: Pen) -> Any:
    answered = client.post("/api/fieldbook/lines", json={"lines": pen.lines}, headers=bearer(device))
    assert answered.status_code == 200, answered.text
    return answered.json()


def test_lines_are_taken_in_once_and_stand_on_the_field_page(client: TestClient, phone: Device) -> None:
    pen = written(phone, suspect="AFB")
    first = hand_in(client, phone, pen)
    assert {row["is"] for row in first["answers"]} == {"kept"}
    assert first["wipe"] is False
    assert {row["is"] for row in hand_in(client, phone, pen)["answers"]} == {"already"}


def test_nobody_but_an_enrolled_phone_hands_lines_in(client: TestClient) -> None:
    assert client.post("/api/fieldbook/lines", json={"lines": []}).status_code == 401
    forged = {"Authorization": "Bearer nothing"}
    assert client.post("/api/fieldbook/lines", json={"lines": []}, headers=forged).status_code == 401


def test_a_phone_does_not_see_the_desk_s_side(client: TestClient, phone: Device) -> None:
    assert client.get("/api/field", headers=bearer(phone)).status_code == 403
    assert client.post("/api/field/settle", json={}, headers=bearer(phone)).status_code == 403


@pytest.fixture
def lone(desk: Desk, home: Path) -> Iterator[tuple[TestClient, Device]]:
    """A desk without sign-in, with a phone of its only user."""
    access = open_access(None, now=desk.now)
    code = access.codes.make(Opens.ENROLMENT, "Ottar Brask", by="test")
    device, token = access.devices.enrol(
        code, label="Phone", seal_key=KEYS.seal_public, sign_key=KEYS.sign_public
    )
    TOKENS[device.device] = token
    with TestClient(create_app(desk, home=home, access=access), base_url=HOST) as made:
        yield made, device


def test_the_field_page_shows_phones_visits_and_what_waits(lone: tuple[TestClient, Device]) -> None:
    client, phone = lone
    pen = written(phone, suspect="AFB", photo=True)
    strange = {**pen.lines[1], "line": pen.name(), "kind": "moon_seen", "number": 99}
    client.post("/api/fieldbook/lines", json={"lines": [*pen.lines, strange]}, headers=bearer(phone))
    sheet = client.get("/api/field").json()
    assert [row["label"] for row in sheet["phones"]] == ["Phone"]
    assert sheet["phones"][0]["lines"] == len(pen.lines) + 1
    (visit,) = sheet["visits"]
    assert (visit["apiary"], visit["suspect"], visit["is_whole"], visit["photos"], visit["photos_here"]) == (
        *("N", 1, True, 1, 0),
    )
    (aside,) = sheet["set_aside"]
    assert aside["can_count"] is False
    assert "moon_seen" in aside["why"]
    assert client.post(f"/api/field/set-aside/{aside['key']}", json={"take_in": True}).status_code == 409
    left = client.post(f"/api/field/set-aside/{aside['key']}", json={"take_in": False})
    assert left.json()["state"] == "left"
    assert client.get("/api/field").json()["set_aside"] == []
    whole = client.get(f"/api/field/visits/{visit['visit']}").json()
    assert whole["now"]["colonies"][0]["disease"] == "AFB"
    assert len(whole["rows"]) == len(pen.lines) + 1
    assert client.get("/api/field/visits/0197e0f0-0000-7000-8000-00000000ffff").status_code == 404


def test_a_suspect_colony_feeds_the_outbreak_and_the_sweep_list(lone: tuple[TestClient, Device]) -> None:
    client, phone = lone
    before = client.get("/api/outbreaks/AFB-2026-1").json()
    assert [case["apiary"]["apiary"] for case in before["cases"]] == ["C"]
    hand_in(client, phone, written(phone, suspect="AFB"))
    after = client.get("/api/outbreaks/AFB-2026-1").json()
    assert [(case["apiary"]["apiary"], case["state"]) for case in after["cases"]] == [
        ("C", "confirmed"),
        ("N", "suspected"),
    ]
    stops = client.get("/api/outbreaks/AFB-2026-1/sweep").json()["stops"]
    assert "N" not in [row["apiary"]["apiary"] for row in stops]


def test_a_photo_comes_in_pieces_in_any_state_of_the_line(lone: tuple[TestClient, Device]) -> None:
    client, phone = lone
    hand_in(client, phone, written(phone, photo=True))
    path, piece = f"/api/fieldbook/photos/{PHOTO}", int(LARGEST_PIECE.value)
    assert client.get(path, headers=bearer(phone)).json() == {"received": 0, "is_whole": False}

    def put(start: int, data: bytes) -> Any:
        params = {"from": start, "bytes": len(JPEG)}
        return client.put(path, params=params, content=data, headers=bearer(phone))

    assert put(piece, JPEG[piece:]).json()["received"] == 0, "a gap changes nothing"
    assert put(0, JPEG[:100_000]).json()["received"] == 100_000
    assert put(0, JPEG[:100_000]).json()["received"] == 100_000
    assert put(50_000, JPEG[50_000:200_000]).json()["received"] == 200_000
    assert put(0, JPEG[: piece + 1]).status_code == 413
    assert put(len(JPEG) - 1, JPEG[:2]).status_code == 409
    assert put(200_000, JPEG[200_000:700_000]).json()["received"] == 700_000
    assert put(700_000, JPEG[700_000:]).json() == {"received": len(JPEG), "is_whole": True}
    assert put(0, b"x").json() == {"received": len(JPEG), "is_whole": True}
    shown = client.get(f"/api/field/photos/{PHOTO}")
    assert (shown.content, shown.headers["content-type"]) == (JPEG, "image/jpeg")
    assert shown.headers["content-security-policy"] == "default-src 'none'; sandbox"
    assert shown.headers["x-content-type-options"] == "nosniff"
    assert hand_in(client, phone, written(phone, photo=True))["photos_wanted"] == []


def test_bytes_that_are_another_photo_are_thrown_away(lone: tuple[TestClient, Device]) -> None:
    client, phone = lone
    path, other = f"/api/fieldbook/photos/{PHOTO}", b"x" * 1000
    answered = client.put(path, params={"from": 0, "bytes": 1000}, content=other, headers=bearer(phone))
    assert answered.json() == {"received": 0, "is_whole": False}
    assert client.get(f"/api/field/photos/{PHOTO}").status_code == 404


def test_what_is_no_picture_is_not_shown(lone: tuple[TestClient, Device]) -> None:
    client, phone = lone
    page = b"<script>alert(1)</script>"
    name = sha256(page).hexdigest()
    params = {"from": 0, "bytes": len(page)}
    client.put(f"/api/fieldbook/photos/{name}", params=params, content=page, headers=bearer(phone))
    assert client.get(f"/api/field/photos/{name}").status_code == 404


def test_a_full_disk_refuses_photos_and_takes_lines(
    lone: tuple[TestClient, Device], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    client, phone = lone
    store = client.app.state.context.desk.store  # type: ignore[attr-defined]
    store.photos = photo_files.PhotoFiles(tmp_path / "photos")
    usage = photo_files.shutil.disk_usage(tmp_path)
    monkeypatch.setattr(photo_files.shutil, "disk_usage", lambda _: usage._replace(free=1_000_000))
    answered = client.put(
        f"/api/fieldbook/photos/{PHOTO}",
        params={"from": 0, "bytes": len(JPEG)},
        content=JPEG[:1000],
        headers=bearer(phone),
    )
    assert answered.status_code == 507
    assert "nearly full" in answered.json()["error"]["text"]
    assert {row["is"] for row in hand_in(client, phone, written(phone))["answers"]} == {"kept"}


def test_the_satchel_holds_the_surroundings_and_nothing_of_the_rest(lone: tuple[TestClient, Device]) -> None:
    client, phone = lone
    answered = client.get("/api/fieldbook/satchel", headers=bearer(phone))
    told = answered.json()
    assert (told["on"], told["stands_on"], told["who"]) == ("2026-07-08", "2026-07-08", "Ottar Brask")
    assert [row["apiary"] for row in told["candidates"]] == ["N", "Z/1", "E"] or told["candidates"]
    assert {row["outbreak"] for row in told["outbreaks"]} == {"AFB-2026-1"}
    assert told["limits"]["radii_m"]["AFB"]
    assert 0 < told["limits"]["suspect_probability"] < told["limits"]["confirm_probability"] < 1
    assert {"notify.on_suspicion.AFB", "caution.stings"} <= {row["key"] for row in told["rules"]}
    assert all(row["source"] and row["text"] for row in told["rules"])
    again = client.get(
        "/api/fieldbook/satchel", headers={**bearer(phone), "If-None-Match": answered.headers["etag"]}
    )
    assert (again.status_code, again.content) == (304, b"")
    hand_in(client, phone, written(phone))
    changed = client.get(
        "/api/fieldbook/satchel", headers={**bearer(phone), "If-None-Match": answered.headers["etag"]}
    )
    assert changed.status_code == 200


def test_a_revoked_phone_takes_nothing_along_and_is_set_aside(
    client: TestClient, phone: Device, access: Access
) -> None:
    access.devices.revoke(phone.device, by="test", wipe=True)
    assert client.get("/api/fieldbook/satchel", headers=bearer(phone)).status_code == 409
    answered = hand_in(client, phone, written(phone))
    assert {row["is"] for row in answered["answers"]} == {"set_aside"}
    assert answered["wipe"] is True


def test_a_paper_sheet_becomes_the_lines_of_a_visit_once(client: TestClient) -> None:
    start = client.get("/api/field/paper/start", params={"apiary": "N"}).json()
    assert (start["colonies"], start["is_entered"], start["purpose"]) == (9, False, "sweep")
    sign = next(iter(start["signs"]))
    sheet = {
        "visit": start["visit"],
        "apiary": "N",
        "visited_on": "2026-07-08",
        "purpose": "sweep",
        "present": 2,
        "colonies": [
            {"colony": 1, "state": "suspect", "disease": "EFB", "signs": [sign]},
            {"colony": 2, "state": "clean"},
        ],
        "tests": [{"colony": 1, "test": "ropiness", "outcome": start_outcome(start, "ropiness")}],
        "samples": [
            {
                **{"sample": "S-9", "colony": 1, "of": "larva"},
                **{"handed_to": "Laboratory", "handed_at": "2026-07-08T08:00:00Z"},
            }
        ],
        "reports": [{"direction": "in", "goods": "queens", "moved_on": "2026-06-01", "other": "C"}],
        "cleaned": ["hands", "tools"],
        "note": "The gate sticks.",
        "signed_by": "Ottar Brask",
    }
    made = client.post("/api/field/paper", json=sheet)
    assert made.status_code == 201, made.text
    now = made.json()["now"]
    assert (now["is_whole"], now["purpose"], now["colonies"][0]["signs"]) == (True, "sweep", {sign: True})
    assert now["samples"][0]["handed"][0]["to"] == "Laboratory"
    assert now["colonies"][0]["tests"][0]["reading"]["test"] == "ropiness"
    assert client.post("/api/field/paper", json=sheet).status_code == 409
    assert client.get("/api/field/paper/start", params={"apiary": "N"}).json()["is_entered"]
    assert [row["outbreak"] for row in client.get("/api/outbreaks").json()] == ["EFB-2026-1", "AFB-2026-1"]
    assert client.post("/api/field/paper", json={**sheet, "apiary": "none"}).status_code == 404


def start_outcome(start: Any, test: str) -> str:
    return next(iter(next(row for row in start["tests"] if row["test"] == test)["outcomes"]))


def test_paper_sheets_are_a_pdf_that_claims_to_be_accessible_and_lasting(client: TestClient) -> None:
    answered = client.get("/api/field/paper.pdf", params={"apiary": ["N", "Z/1"]})
    assert answered.headers["content-type"] == "application/pdf"
    assert answered.content.startswith(b"%PDF-")
    assert b"pdfuaid" in answered.content
    assert client.get("/api/field/paper.pdf").status_code == 409


def test_a_change_is_told_within_a_second_and_listening_ends_when_the_desk_stops() -> None:
    versions, stopping = [1], Stopping()

    async def listen() -> list[str]:
        told = changes(lambda: versions[0], stopping)
        heard = [await anext(told)]
        versions[0] = 2
        heard.append(await asyncio.wait_for(anext(told), 1.0))
        stopping.ask()
        with pytest.raises(StopAsyncIteration):
            await asyncio.wait_for(anext(told), 1.0)
        return heard

    # In a thread of its own: a browser test on the same worker may leave its loop running in this one.
    with ThreadPoolExecutor(1) as thread:
        first, second = thread.submit(asyncio.run, listen()).result()
    assert '{"version": 1}' in first
    assert '{"version": 2}' in second


def test_pages_may_ask_for_the_camera_and_the_place(client: TestClient) -> None:
    policy = client.get("/api/session").headers["permissions-policy"]
    assert "camera=(self)" in policy
    assert "geolocation=(self)" in policy


def test_visits_come_home_as_one_sealed_file_where_no_network_joins_the_two(
    lone: tuple[TestClient, Device],
) -> None:
    client, phone = lone
    desk_key = client.app.state.access.keys.seal_public  # type: ignore[attr-defined]
    pen = written(phone, photo=True)
    content = {"lines": pen.lines, "photos": [{"photo": PHOTO, "data": b64encode(JPEG).decode()}]}
    parcel = make_parcel(
        content,
        sender=phone.device,
        receiver="desk",
        made_at="2026-07-08T18:00:00Z",
        sign=KEYS.sign,
        seal_to=desk_key,
    )
    first = client.post("/api/field/parcels", content=parcel)
    assert first.json() == {
        **{"phone": "Phone", "kept": len(pen.lines), "already": 0, "set_aside": 0},
        **{"photos": 1, "photos_spoilt": 0},
    }
    assert client.post("/api/field/parcels", content=parcel).json()["already"] == len(pen.lines)
    assert client.get("/api/field").json()["visits"][0]["photos_here"] == 1
    assert client.post("/api/field/parcels", content=parcel.replace(b"A", b"B", 40)).status_code in (400, 404)
    taken = client.get(f"/api/field/phones/{phone.device}/parcel")
    desk_sign = client.app.state.access.keys.sign_public  # type: ignore[attr-defined]
    told = open_parcel(taken.content, receiver=phone.device, seal=KEYS.seal, signed_by=desk_sign)
    assert told["who"] == "Ottar Brask"
