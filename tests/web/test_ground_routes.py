"""Apiaries, visits, duplicates, places and rings through the API."""

from __future__ import annotations

from .conftest import TestClient


def test_the_list_is_searched_sorted_and_paged(client: TestClient) -> None:
    page = client.get("/api/apiaries", params={"search": "una black"}).json()
    assert [line["apiary"]["apiary"] for line in page["lines"]] == ["N"]
    page = client.get("/api/apiaries", params={"sort": "colonies", "limit": 2, "offset": 1}).json()
    assert page["total"] == 4
    assert [line["apiary"]["colonies"] for line in page["lines"]] == [5, 4]


def test_an_apiary_whose_name_holds_a_slash_has_its_sheet(client: TestClient) -> None:
    sheet = client.get("/api/apiaries/Z%2F1").json()
    assert sheet["line"]["apiary"]["apiary"] == "Z/1"
    assert sheet["keeper"]["name"] == "Ottar Brask"
    assert sheet["same_keeper"] == ["C"]
    assert sheet["moves"][0]["goods"] == "nuclei"


def test_points_come_in_columns_and_only_when_changed(client: TestClient) -> None:
    answer = client.get("/api/points")
    points = answer.json()
    assert points["apiary"] == ["C", "E", "N", "Z/1"]
    assert {len(column) for name, column in points.items() if name != "version"} == {4}
    assert points["mark"] == ["confirmed", None, None, None]
    again = client.get("/api/points", headers={"If-None-Match": answer.headers["etag"]})
    assert again.status_code == 304
    visit = {"apiary": "N", "visited_on": "2026-07-08", "colonies_inspected": 9}
    assert client.post("/api/visits", json=visit).status_code == 201
    fresh = client.get("/api/points", headers={"If-None-Match": answer.headers["etag"]})
    assert fresh.json()["last_visited_on"][2] == "2026-07-08"


def test_a_visit_is_written_down_with_its_author(client: TestClient) -> None:
    visit = {
        "apiary": "N",
        "visited_on": "2026-07-08",
        "colonies_inspected": 9,
        "colonies_suspect": 1,
        "disease": "AFB",
        "inspector": "I. Moe",
    }
    made = client.post("/api/visits", json=visit)
    assert made.status_code == 201
    assert made.json()["visit"].startswith("V-20260708-")
    newest = client.get("/api/journal", params={"limit": 1}).json()["entries"][0]
    assert (newest["who"], newest["what"]) == ("I. Moe", "record_visit")
    assert [f["visit"]["apiary"] for f in client.get("/api/today").json()["findings"]] == ["N", "E"]


def test_an_apiary_found_on_the_way_is_entered_with_its_new_keeper(client: TestClient) -> None:
    found = {
        "apiary": "W1",
        "place": "OV 505 505",
        "colonies": 3,
        "keeper": "K9",
        "keeper_name": "Marit Holm",
    }
    made = client.post("/api/apiaries", json=found)
    assert made.status_code == 201
    assert made.json()["keeper"]["name"] == "Marit Holm"
    assert made.json()["line"]["apiary"]["place"]["precision_m"] == 100
    again = client.post("/api/apiaries", json={**found, "keeper": "K1"})
    assert again.json()["error"]["key"] == "desk.apiary_exists"
    second = client.post("/api/apiaries", json={**found, "apiary": "W2", "keeper": "K1"})
    assert second.json()["keeper"]["name"] == "Ottar Brask", "a keeper on record stays as it is"
    bad = client.post("/api/apiaries", json={**found, "apiary": "W3", "place": "nowhere"})
    assert bad.status_code == 400


def test_a_visit_in_the_future_is_refused(client: TestClient) -> None:
    visit = {"apiary": "N", "visited_on": "2026-07-09", "colonies_inspected": 9}
    assert client.post("/api/visits", json=visit).json()["error"]["key"] == "desk.visit_in_future"


def test_likely_duplicates_are_offered_and_merged_on_a_word(client: TestClient) -> None:
    pairs = client.get("/api/duplicates").json()
    keepers = [pair for pair in pairs if pair["kind"] == "keeper"]
    assert {keepers[0]["first"]["key"], keepers[0]["second"]["key"]} == {"K2", "K3"}
    assert keepers[0]["reasons"]
    merge = {"kind": "keeper", "keep": "K2", "drop": "K3"}
    assert client.post("/api/duplicates/merge", json=merge).status_code == 204
    assert client.get("/api/apiaries/E").json()["keeper"]["keeper"] == "K2"


def test_a_pair_noted_as_different_is_not_offered_again(client: TestClient) -> None:
    note = {"kind": "keeper", "first": "K2", "second": "K3"}
    assert client.post("/api/duplicates/dismiss", json=note).status_code == 204
    assert not [pair for pair in client.get("/api/duplicates").json() if pair["kind"] == "keeper"]


def test_a_place_is_read_in_any_notation(client: TestClient) -> None:
    place = client.get("/api/locate", params={"place": "OV 500 500"}).json()
    assert place["precision_m"] == 100
    assert place["epsg"] == 27700
    assert client.get("/api/locate", params={"place": "QQ 1"}).status_code == 400


def test_a_ring_answers_in_out_or_cannot_tell(client: TestClient) -> None:
    ring = client.get("/api/ring", params={"place": "OV 50000 50000", "radii": "3km,5000"}).json()
    answers = {row["apiary"]: row["answers"] for row in ring["apiaries"]}
    assert answers == {"C": ["in", "in"], "N": ["in", "in"], "E": ["cannot_tell", "in"]}
    bad = client.get("/api/ring", params={"place": "OV 50000 50000", "radii": "3 miles"})
    assert bad.json()["error"]["key"] == "web.bad_radius"


def test_the_grid_is_the_grid_of_the_references(client: TestClient) -> None:
    place = client.get("/api/locate", params={"place": "OV 50000 50000"}).json()
    view = {
        "west": place["longitude"] - 0.05,
        "east": place["longitude"] + 0.05,
        "south": place["latitude"] - 0.03,
        "north": place["latitude"] + 0.03,
    }
    lines = client.get("/api/map/grid", params=view).json()["features"]
    assert lines
    figures = {line["properties"]["figure"] for line in lines}
    assert f"{place['easting'] / 1000:g}" in figures or f"{place['northing'] / 1000:g}" in figures
    squares = client.get("/api/map/squares", params=view).json()["features"]
    assert {square["properties"]["apiary"] for square in squares} == {"C", "N", "E"}
    ring = squares[0]["geometry"]["coordinates"][0]
    assert ring[0] == ring[-1]
    assert len(ring) == 5


def test_a_view_of_half_the_world_has_no_plane_grid(client: TestClient) -> None:
    view = {"west": -170, "east": 170, "south": -80, "north": 80}
    assert client.get("/api/map/grid", params=view).json()["features"] == []
