"""Hidden infection through the API: begin, see, re-weigh, cancel, the all-clear, and rehearse."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from broodsweep.constants import Disease
from broodsweep.desk.hidden_runs import HiddenRuns
from broodsweep.spread import Settings
from broodsweep.web import create_app

from .conftest import HOST, TODAY, TestClient, district, make_desk

BASE = "/api/outbreaks/AFB-2026-1"
QUICK = Settings(
    chains=2,
    threads=1,
    warm_sweeps=300,
    batch_sweeps=300,
    least_batches=2,
    most_batches=2,
    draws=200,
    rhat_limit=100.0,
    mcse_limit=1.0,
)
"""A run that ends at once and counts as converged."""


def finished(home: Path, settings: Settings) -> Iterator[TestClient]:
    """Give a client of a district with one finished run."""
    desk = make_desk(district())
    runs = HiddenRuns(desk, settings=settings)
    with TestClient(create_app(desk, home=home, runs=runs), base_url=HOST) as client:
        assert client.post(f"{BASE}/hidden/run").status_code == 202
        runs.wait(Disease.AFB, TODAY)
        yield client


@pytest.fixture
def ready(home: Path) -> Iterator[TestClient]:
    yield from finished(home, QUICK)


@pytest.fixture
def doubtful(home: Path) -> Iterator[TestClient]:
    yield from finished(home, replace(QUICK, mcse_limit=1e-12))


def answer(client: TestClient, path: str) -> Any:
    given = client.get(BASE + path)
    assert given.status_code == 200, given.text
    return given.json()


def test_before_a_run_there_is_no_answer_and_the_way_to_one_is_told(client: TestClient) -> None:
    assert answer(client, "/hidden")["answer"] is None
    assert answer(client, "/hidden/run")["state"] == "none"
    refused = client.get(f"{BASE}/allclear")
    assert refused.status_code == 409
    assert "Begin a run" in refused.json()["error"]["text"]
    assert client.post(f"{BASE}/rehearsal", json={"strategies": [{"name": "a"}]}).status_code == 409
    assert answer(client, "/sweep")["method"].startswith("Hidden infection has not been reckoned yet.")


def test_a_run_answers_with_figures_reasons_sources_and_parameters(ready: TestClient) -> None:
    told = answer(ready, "/hidden")
    assert told["run"]["is_trusted"]
    row = told["answer"]
    assert row["total"] == len(row["columns"]["apiary"]) == 3, "N, E and Z/1; C is found"
    assert [line["apiary"] for line in row["lines"]] == row["columns"]["apiary"]
    assert all(line["low"] <= line["probability"] <= line["high"] for line in row["lines"])
    near = next(line for line in row["lines"] if line["apiary"] == "N")
    assert "1.0 km from C, the nearest confirmed apiary" in near["reasons"]
    assert [source["apiary"] for source in row["sources"]] == ["C"]
    assert 0.5 < sum(share["share"] for share in row["sources"][0]["shares"]) <= 1.001
    assert row["unseen"]["low"] <= row["unseen"]["mean"]
    assert {one["name"] for one in row["parameters"]} >= {"reach", "sensitivity", "same_keeper"}
    assert all(one["source"] for one in row["parameters"])
    assert row["diagnostics"]["chains"] == 2
    assert answer(ready, "/hidden?most=1")["answer"]["lines"] == row["lines"][:1]


def test_one_apiary_is_asked_for_by_name(ready: TestClient) -> None:
    assert answer(ready, "/hidden/apiaries/Z%2F1")["apiary"] == "Z/1"
    assert ready.get(f"{BASE}/hidden/apiaries/C").status_code == 404


def test_a_run_that_has_not_converged_says_so(doubtful: TestClient) -> None:
    told = answer(doubtful, "/hidden")
    assert not told["run"]["is_trusted"]
    assert "has not converged" in told["run"]["how"]
    assert told["answer"]["diagnostics"]["reasons"]
    assert not answer(doubtful, "/allclear")["is_trusted"]


def test_a_visit_re_weights_the_figures_at_once(ready: TestClient) -> None:
    before = answer(ready, "/hidden/apiaries/N")["probability"]
    visit = {"apiary": "N", "visited_on": "2026-07-08", "colonies_inspected": 9, "colonies_present": 9}
    assert ready.post("/api/visits", json=visit).status_code == 201
    told = answer(ready, "/hidden")
    assert told["run"]["new_visits"] in (0, 1), "re-weighted, or the full run is through already"
    after = answer(ready, "/hidden/apiaries/N")
    assert after["probability"] < before
    assert any("9 of 9 colonies" in reason for reason in after["reasons"])


def test_the_all_clear_shows_figures_targets_and_what_binds(ready: TestClient) -> None:
    row = answer(ready, "/allclear")
    assert [one["name"] for one in row["figures"]] == ["none_left", "free", "shown"]
    assert all(0 < one["target"] < 1 for one in row["figures"])
    assert not row["is_enough"]
    assert row["binding"] in {one["name"] for one in row["legal"] if not one["is_met"]}
    assert {one["apiary"] for one in row["worth"]} <= {"N", "E", "Z/1"}
    days = [one["days_avoided"] for one in row["worth"]]
    assert days == sorted(days, reverse=True)


def test_the_sweep_list_takes_its_order_from_the_run(ready: TestClient) -> None:
    stops = answer(ready, "/sweep")["stops"]
    chances = [stop["probability"] for stop in stops]
    assert None not in chances
    assert chances == sorted(chances, reverse=True)


def test_a_rehearsal_runs_behind_and_is_seen(ready: TestClient) -> None:
    asked = {"strategies": [{"name": "a"}, {"name": "b", "radius_m": 5000}], "days": 30, "futures": 2}
    assert ready.post(f"{BASE}/rehearsal", json=asked).status_code == 202
    ready.app.state.context.rehearsals.wait(Disease.AFB, TODAY)  # type: ignore[attr-defined]
    row = answer(ready, "/rehearsal")
    assert row["state"] == "ready"
    assert [one["name"] for one in row["made"]] == ["a", "b"]
    assert row["made"][0]["differences"] is None
    assert set(row["made"][1]["differences"]) == {"infected", "destroyed", "inspector_days"}
    assert len(row["made"][0]["active_mean"]) * row["step_days"] >= 30


def test_a_strategy_that_cannot_be_is_refused(ready: TestClient) -> None:
    for wrong in (
        {"name": "a", "rounds": 3},
        {"name": ""},
        {"name": "a", "radius_m": -1},
        {"name": "a", "x": 1},
    ):
        assert ready.post(f"{BASE}/rehearsal", json={"strategies": [wrong]}).status_code == 422
