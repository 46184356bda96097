"""The engine from the command line: what `--json` gives is stable, and a run that is not done says so."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import Done

Run = Callable[..., Done]
ON = ("--on", "2026-07-08", "--disease", "AFB")
pytestmark = pytest.mark.xdist_group("numba")


def test_hidden_gives_the_stable_keys(run: Run, ground: Path) -> None:
    done = run("hidden", "--ground", ground, *ON, "--json", "--batches", 4)
    answer = done.answer
    assert done.code == (0 if answer["diagnostics"]["converged"] else 1)
    rows = {row["apiary"]: row for row in answer["apiaries"]}
    assert set(rows) == {"C", "N", "E", "F", "Z", "M"}
    for row in rows.values():
        if row["infected_probability"] is not None:
            assert 0.0 <= row["low"] <= row["infected_probability"] <= row["high"] <= 1.0
        assert isinstance(row["reasons"], list)
    assert rows["C"]["state"] in ("found", "removed")
    assert {"mean", "low", "high"} <= answer["unseen"].keys()
    assert {"converged", "rhat_max", "ess_min", "mcse_max"} <= answer["diagnostics"].keys()
    source = next(row for row in answer["sources"] if row["apiary"] == "C")
    assert sum(share["share"] for share in source["from"]) == pytest.approx(1.0, abs=0.1)
    assert 0.0 <= source["unexplained_share"] <= 1.0
    assert all({"route", "share"} <= share.keys() for share in source["from"])
    assert answer["parameters"]


def test_near_same_keeper_and_moved_to_are_likelier_than_far(run: Run, ground: Path) -> None:
    answer = run("hidden", "--ground", ground, *ON, "--json", "--batches", 4).answer
    chance = {row["apiary"]: row["infected_probability"] for row in answer["apiaries"]}
    assert chance["M"] > chance["F"]  # a nucleus of two came from the case
    assert chance["N"] > chance["F"]  # one kilometre against four
    assert chance["Z"] > chance["E"] / 100


def test_same_seed_same_answer(run: Run, ground: Path) -> None:
    first = run("hidden", "--ground", ground, *ON, "--json", "--batches", 1, "--seed", 5).answer
    second = run("hidden", "--ground", ground, *ON, "--json", "--batches", 1, "--seed", 5).answer
    assert first == second


def test_allclear_gives_three_figures_with_targets(run: Run, ground: Path) -> None:
    answer = run("allclear", "--ground", ground, *ON, "--json", "--batches", 1).answer
    assert [row["name"] for row in answer["figures"]] == ["none_left", "free", "shown"]
    assert all(0.0 < row["target"] < 1.0 for row in answer["figures"])
    assert answer["binding"]
    assert not answer["is_enough"]
    assert {"figures", "legal", "binding", "would_help"} <= answer.keys()
    assert answer["would_help"]
    steps = [row["free"] for row in answer["would_help"]]
    assert steps == sorted(steps)


def test_rehearse_compares_strategies_with_paired_differences(run: Run, ground: Path, tmp_path: Path) -> None:
    file = tmp_path / "strategies.json"
    file.write_text(
        json.dumps([{"name": "none", "radius_m": 0, "inspectors": 0}, {"name": "wide", "radius_m": 5000}])
    )
    answer = run(
        "rehearse",
        "--ground",
        ground,
        *ON,
        "--strategies",
        file,
        "--days",
        120,
        "--futures",
        200,
        "--batches",
        1,
        "--json",
    ).answer
    none, wide = answer["strategies"]
    assert none["differences"] is None
    assert wide["differences"]["inspector_days"]["mean"] > 0
    assert wide["differences"]["infected"]["mean"] <= 0
    assert len(none["active_mean"]) == 120


def test_a_strategy_that_cannot_be_is_refused(run: Run, ground: Path, tmp_path: Path) -> None:
    file = tmp_path / "strategies.json"
    file.write_text('[{"name": "x", "colour": "red"}]')
    done = run("rehearse", "--ground", ground, *ON, "--strategies", file)
    assert done.code == 3
    assert "colour" in done.err
    file.write_text('[{"name": "x", "interval_days": 0}]')
    assert "interval_days" in run("rehearse", "--ground", ground, *ON, "--strategies", file).err
    file.write_text("{}")
    assert run("rehearse", "--ground", ground, *ON, "--strategies", file).code == 3
