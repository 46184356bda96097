"""Rulebooks, local changes, settings and the journal through the API."""

from __future__ import annotations

from .conftest import TestClient

BOOK = "/api/rulebooks/common-practice"
RING = f"{BOOK}/rules/sweep.first_ring"


def first_ring(client: TestClient) -> dict[str, object]:
    rules = client.get(BOOK, params={"disease": "AFB"}).json()["rules"]
    found: dict[str, object] = next(rule for rule in rules if rule["name"] == "sweep.first_ring")
    return found


def test_every_rule_carries_its_text_and_how_it_binds(client: TestClient) -> None:
    for book in client.get("/api/rulebooks").json():
        for disease in ("AFB", "EFB"):
            sheet = client.get(f"/api/rulebooks/{book['name']}", params={"disease": disease}).json()
            assert sheet["rules"]
            for rule in sheet["rules"]:
                assert rule["label"]
                assert rule["value_text"]
                assert rule["citation"]


def test_a_local_change_shows_with_who_and_why_and_moves_the_rings(client: TestClient) -> None:
    change = {"value": 2500, "reason": "Sea on two sides", "who": "Chief"}
    assert client.put(RING, json=change).status_code == 200
    rule = first_ring(client)
    assert rule["locally_changed"] is True
    assert (rule["changed_by"], rule["changed_reason"]) == ("Chief", "Sea on two sides")
    assert rule["own_value_text"] == "3 km"
    assert client.get("/api/outbreaks/AFB-2026-1/rings").json()["radii_m"] == [2500.0, 5000.0]
    assert client.get("/api/outbreaks/AFB-2026-1").json()["locally_changed"]
    assert client.delete(RING).status_code == 200
    assert first_ring(client)["locally_changed"] is False


def test_a_change_without_a_reason_or_beyond_sense_is_refused(client: TestClient) -> None:
    assert client.put(RING, json={"value": 2500, "reason": " "}).status_code == 422
    assert client.put(RING, json={"value": -5, "reason": "why not"}).status_code == 400
    assert client.put(f"{BOOK}/rules/no.such", json={"value": 1, "reason": "x"}).status_code == 404


def test_a_small_share_is_not_rounded_away(client: TestClient) -> None:
    """Half a per cent of hypochlorite must not read as nought or one."""
    rules = client.get("/api/rulebooks/england-and-wales").json()["rules"]
    for rule in rules:
        if rule["name"] == "disinfect.hypochlorite":
            strength = rule["value"]["strength_share"] * 100
            assert f"{strength:g} %" in rule["value_text"]
            return
    raise AssertionError("Expected the rulebook to have the strength of hypochlorite.")


def test_settings_are_kept_and_a_blank_takes_one_back(client: TestClient) -> None:
    asked = {"title": "West", "rulebook": "scotland"}
    assert client.put("/api/settings", json=asked).json()["rulebook"] == "scotland"
    assert client.get("/api/session").json()["title"] == "West"
    assert client.put("/api/settings", json={"title": ""}).json()["title"] != "West"
    assert client.put("/api/settings", json={"rulebook": "atlantis"}).status_code == 404


def test_the_journal_is_paged_newest_first(client: TestClient) -> None:
    whole = client.get("/api/journal", params={"limit": 500}).json()
    numbers = [entry["seq"] for entry in whole["entries"]]
    assert numbers == sorted(numbers, reverse=True)
    assert len(numbers) == whole["total"]
    page = client.get("/api/journal", params={"limit": 3, "offset": 2}).json()
    assert [entry["seq"] for entry in page["entries"]] == numbers[2:5]
    assert client.get("/api/journal", params={"offset": 10_000}).json()["entries"] == []


def test_the_catalogue_is_given_whole(client: TestClient) -> None:
    words = client.get("/api/words/en").json()["words"]
    assert words["web.tab_today"] == ["Today"]
    assert len(words["common.days"]) == 2
    assert client.get("/api/words/zz").status_code == 404


def test_the_phone_takes_only_the_words_it_shows(client: TestClient) -> None:
    words = client.get("/api/words/en?beginning=fieldbook.phone_,web.unknown").json()["words"]
    assert "web.unknown" in words
    assert words["fieldbook.phone_lines_here"] == ["{count} entry", "{count} entries"]
    assert {key.split("_")[0] for key in words} == {"fieldbook.phone", "web.unknown"}
