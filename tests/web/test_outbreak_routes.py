"""An outbreak from finding to release through the API, its lists and its files."""

from __future__ import annotations

import csv
import io
import json
from datetime import date
from itertools import pairwise

import icalendar
import openpyxl
import pytest

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.ports import RiskFigures, RiskLine
from broodsweep.words import say

from .conftest import TestClient

OUTBREAK = "/api/outbreaks/AFB-2026-1"


def step(client: TestClient, kind: str, on: str, **more: object) -> int:
    fields = {"apiary": "C", "kind": kind, "happened_on": on, "who": "I. Moe", **more}
    return client.post(f"{OUTBREAK}/events", json=fields).status_code


def test_the_sheet_says_what_is_due_by_which_rule_and_what_is_forbidden(client: TestClient) -> None:
    sheet = client.get(OUTBREAK).json()
    assert sheet["rulebook_title"]
    assert sheet["cases"][0]["state"] == "confirmed"
    overdue = [row for row in sheet["due"] if row["state"] == "overdue"]
    assert overdue
    for row in overdue:
        assert row["rule"]["citation"]
        assert row["rule"]["standing"] in ("law", "official practice", "common practice", "project choice")
    assert {ban["direction"] for ban in sheet["forbidden"]} == {"in", "out"}
    assert sheet["forbidden"][0]["places"][0]["apiary"] == "C"
    assert sheet["cautions"]
    assert "laboratory" in sheet["options"]["by"]


def test_a_step_is_written_down_and_moves_the_case(client: TestClient) -> None:
    assert step(client, "notice_served", "2026-07-02", evidence="Handed over") == 201
    sheet = client.get(OUTBREAK).json()
    case = sheet["cases"][0]
    assert case["state"] == "under_measures"
    assert case["events"][-1]["who"] == "I. Moe"
    assert "released" not in [row["key"] for row in sheet["due"] if row["state"] == "done"]


def test_a_correction_marks_the_entry_that_it_corrects(client: TestClient) -> None:
    assert step(client, "notice_served", "2026-07-02") == 201
    wrong = client.get(OUTBREAK).json()["cases"][0]["events"][-1]["event"]
    detail = {"event": wrong, "withdrawn": True}
    assert step(client, "amended", "2026-07-08", detail=detail, evidence="Wrong apiary") == 201
    case = client.get(OUTBREAK).json()["cases"][0]
    assert [event["amended"] for event in case["events"]] == [False, True, False]
    assert case["state"] == "confirmed"


def test_a_finding_opens_an_outbreak_and_another_joins_it(client: TestClient) -> None:
    finding = {"apiary": "E", "found_on": "2026-07-06", "kind": "suspected", "who": "I. Moe"}
    opened = client.post("/api/outbreaks", json={**finding, "disease": "EFB"})
    assert opened.status_code == 201
    name = opened.json()["outbreak"]
    assert client.get("/api/today").json()["findings"] == []
    other = {**finding, "apiary": "N"}
    assert client.post(f"/api/outbreaks/{name}/cases", json=other).status_code == 201
    lines = {row["outbreak"]: row["cases"] for row in client.get("/api/outbreaks").json()}
    assert lines == {"AFB-2026-1": 1, name: 2}


def test_an_outbreak_with_open_cases_is_not_closed(client: TestClient) -> None:
    answer = client.post(f"{OUTBREAK}/close", json={"closed_on": "2026-07-08"})
    assert answer.status_code == 409
    assert "C" in answer.json()["error"]["text"]


def test_the_sweep_list_gives_reasons_and_ring_answers(client: TestClient) -> None:
    sweep = client.get(f"{OUTBREAK}/sweep").json()
    stops = {stop["apiary"]["apiary"]: stop for stop in sweep["stops"]}
    assert set(stops) == {"N", "E", "Z/1"}
    assert [stop["rank"] for stop in sweep["stops"]] == [1, 2, 3]
    assert all(stop["reasons"] for stop in sweep["stops"])
    assert "cannot_tell" in stops["E"]["ring"]["answers"]
    assert sweep["method"]


def test_rings_are_closed_geojson_polygons(client: TestClient) -> None:
    rings = client.get(f"{OUTBREAK}/rings").json()
    assert rings["radii_m"] == [3000.0, 5000.0]
    for feature in rings["outlines"]["features"]:
        outer = feature["geometry"]["coordinates"][0]
        assert outer[0] == outer[-1]
        area = sum((x2 - x1) * (y2 + y1) for (x1, y1), (x2, y2) in pairwise(outer))
        assert area < 0, "anticlockwise, RFC 7946 section 3.1.6"


def test_due_dates_are_a_calendar_that_a_calendar_library_reads(client: TestClient) -> None:
    for path in ("/api/calendar.ics", f"{OUTBREAK}/calendar.ics"):
        answer = client.get(path)
        assert answer.headers["content-type"].startswith("text/calendar")
        entries = icalendar.Calendar.from_ical(answer.content).walk("VEVENT")
        assert entries
        assert all(entry.get("UID") for entry in entries)


def test_the_sweep_list_is_saved_as_csv_xlsx_and_geojson(client: TestClient) -> None:
    rows = list(csv.DictReader(io.StringIO(client.get(f"{OUTBREAK}/sweep.csv").content.decode("utf-8-sig"))))
    assert {row["apiary"] for row in rows} == {"N", "E", "Z/1"}
    book = openpyxl.load_workbook(io.BytesIO(client.get(f"{OUTBREAK}/sweep.xlsx").content))
    assert book.active.max_row == 4
    places = json.loads(client.get(f"{OUTBREAK}/sweep.geojson").content)
    assert [f["geometry"]["type"] for f in places["features"]] == ["Point"] * 3


@pytest.mark.parametrize("is_trusted", [True, False])
def test_a_figure_that_may_not_stand_by_itself_is_given_as_its_range(
    client: TestClient, desk: Desk, is_trusted: bool
) -> None:
    line = RiskLine(probability=0.31, low=0.2, high=0.4, reasons=())

    class Known:
        def figures(self, disease: Disease, on: date) -> RiskFigures:
            return RiskFigures(method=say("hidden.how_converged"), lines={"N": line}, is_trusted=is_trusted)

    desk.risk = Known()
    assert client.get(f"{OUTBREAK}/sweep").json()["is_trusted"] is is_trusted
    text = client.get(f"{OUTBREAK}/sweep.csv").content.decode("utf-8-sig")
    (row,) = [row for row in csv.DictReader(io.StringIO(text)) if row["apiary"] == "N"]
    assert (row["infected_probability"], row["low"], row["high"]) == (
        "0.31" if is_trusted else "",
        "0.2",
        "0.4",
    )


def test_another_day_is_asked_for_by_name(client: TestClient) -> None:
    assert client.get("/api/today", params={"on": "2026-07-01"}).json()["on"] == "2026-07-01"
    early = client.get(OUTBREAK, params={"on": "2026-07-01"}).json()
    assert not [row for row in early["due"] if row["state"] == "overdue"]


def test_the_pseudo_locale_reaches_every_sentence(client: TestClient) -> None:
    plain = client.get(OUTBREAK).json()
    accented = client.get(OUTBREAK, params={"locale": "en-XA"}).json()
    assert plain["cautions"] != accented["cautions"]
    assert plain["due"][0]["what"] != accented["due"][0]["what"]
    assert plain["due"][0]["rule"]["label"] != accented["due"][0]["rule"]["label"]
