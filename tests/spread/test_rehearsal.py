"""Futures: the fast simulator follows the daily model, and the same luck meets every strategy."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from broodsweep.spread import rehearsal
from broodsweep.spread.rehearsal import Stage, Starts, Strategy

NEVER = 1_000_000
IDLE = Strategy(name="idle", radius_m=0.0, inspectors=0.0)


def stage(count: int = 60, days: int = 120, *, side_m: float = 6000.0, seed: int = 3, **more: Any) -> Stage:
    rng = np.random.default_rng(seed)
    plain = {
        "place_m": rng.uniform(0, side_m, (count, 2)),
        "colonies": rng.integers(1, 12, count),
        "keeper": rng.integers(0, count // 2, count),
        "flight": np.ones(days),
        "opening": np.ones(days),
        "is_workday": np.ones(days, dtype=bool),
        "seen_day": np.full(count, -NEVER),
        "found_day": np.full(count, -NEVER),
        "moves": np.zeros((0, 4)),
    }
    return Stage(**{**plain, **more})


def starts(ill: list[int], *, draws: int = 1, since: int = -30, signs: int = -1, **rates: float) -> Starts:
    plain = {
        "background": 0.0,
        "distance_rate": 0.004,
        "reach_m": 1200.0,
        "shape": 0.1,
        "keeper_rate": 0.002,
        "move_rate": 0.3,
        "early_share": 0.3,
        "sensitivity": 0.8,
        "growth": 1 / 120,
        "report_rate": 0.0,
        "signs_shape": 1.5,
        "signs_scale": 60.0,
    }
    return Starts(
        **{name: np.full(draws, rates.get(name, value)) for name, value in plain.items()},
        pointers=np.arange(draws + 1) * len(ill),
        apiary=np.array(ill * draws, dtype=np.int64),
        infected_day=np.full(len(ill) * draws, since),
        signs_day=np.full(len(ill) * draws, signs),
    )


def live_by_hand(scene: Stage, begin: Starts, futures: int, seed: int) -> np.ndarray:
    """The daily model as a plain loop over every pair and day: chance 1 - exp(-pressure)."""
    rng = np.random.default_rng(seed)
    count, days = len(scene.colonies), len(scene.flight)
    offset = scene.place_m[:, None] - scene.place_m[None]
    distance = np.hypot(offset[..., 0], offset[..., 1])
    pair = begin.distance_rate[0] * np.exp(-distance / begin.reach_m[0]) * (distance <= scene.cut_m)
    pair = pair + begin.keeper_rate[0] * (scene.keeper[:, None] == scene.keeper[None])
    np.fill_diagonal(pair, 0.0)
    takes = (scene.colonies / 5.0) ** scene.susceptibility_power
    sizes = np.empty(futures)
    for number in range(futures):
        infected, signs = np.full(count, NEVER), np.full(count, NEVER)
        infected[begin.apiary], signs[begin.apiary] = begin.infected_day, begin.signs_day
        for day in range(days):
            strength = np.where(infected < day, np.where(signs <= day, 1.0, begin.early_share[0]), 0.0)
            pressure = takes * (begin.background[0] + strength @ pair) * scene.flight[day]
            new = (infected == NEVER) & (rng.random(count) < -np.expm1(-pressure))
            infected[new] = day
            wait = rng.gamma(begin.signs_shape[0], begin.signs_scale[0], new.sum())
            signs[new] = day + 1 + wait.astype(int)
        sizes[number] = (infected < NEVER).sum()
    return sizes


def test_futures_follow_the_daily_model_in_distribution() -> None:
    scene, begin = stage(), starts([0, 7], background=2e-5)
    ours = rehearsal.rehearse(scene, begin, [IDLE], futures=2000, seed=11)[0].infected
    theirs = live_by_hand(scene, begin, 600, seed=12)
    assert stats.ks_2samp(ours, theirs).pvalue > 0.01
    error = math.sqrt(ours.var() / 2000 + theirs.var() / 600)
    assert abs(ours.mean() - theirs.mean()) < 3.5 * error


def test_parameter_draws_with_different_kernels_are_each_followed() -> None:
    scene = stage()
    narrow, wide = starts([0], reach_m=400.0), starts([0], reach_m=3000.0)
    both = replace(
        starts([0], draws=2),
        reach_m=np.array([400.0, 3000.0]),
    )
    mixed = rehearsal.rehearse(scene, both, [IDLE], futures=4000, seed=5)[0].infected
    for part, alone in ((mixed[0::2], narrow), (mixed[1::2], wide)):
        single = rehearsal.rehearse(scene, alone, [IDLE], futures=2000, seed=6)[0].infected
        error = math.sqrt(part.var() / 2000 + single.var() / 2000)
        assert abs(part.mean() - single.mean()) < 3.5 * error


def test_background_alone_is_poisson() -> None:
    scene = stage(400, 100)
    begin = starts([], background=1e-4, distance_rate=0.0, keeper_rate=0.0)
    got = rehearsal.rehearse(scene, begin, [IDLE], futures=3000, seed=2)[0].infected
    expected = 1e-4 * 100 * np.sqrt(scene.colonies / 5.0)
    mean = float((-np.expm1(-expected)).sum())
    assert got.mean() == pytest.approx(mean, abs=4 * math.sqrt(mean / 3000))
    assert got.var() == pytest.approx(mean, rel=0.12)


def test_nothing_spreads_while_bees_do_not_fly() -> None:
    scene = stage(flight=np.zeros(120))
    got = rehearsal.rehearse(scene, starts([0]), [IDLE], futures=200, seed=2)[0]
    assert (got.infected == 1).all()


def test_same_seed_same_answer_on_one_thread_and_on_many() -> None:
    scene, begin = stage(), starts([0, 7], report_rate=1 / 100)
    plans = [Strategy(name="a"), Strategy(name="b", radius_m=5000.0, order="distance")]
    one = rehearsal.rehearse(scene, begin, plans, futures=450, seed=3, workers=1)
    many = rehearsal.rehearse(scene, begin, plans, futures=450, seed=3, workers=4)
    for left, right in zip(one, many, strict=True):
        assert np.array_equal(left.infected, right.infected)
        assert np.array_equal(left.inspector_days, right.inspector_days)
        assert np.array_equal(left.over_probability, right.over_probability)


def test_strategies_meet_the_same_luck() -> None:
    scene, begin = stage(), starts([0, 7], report_rate=1 / 60)
    plans = [Strategy(name="a", radius_m=0.0), Strategy(name="b", radius_m=3000.0)]
    idle, swept = rehearsal.rehearse(scene, begin, plans, futures=1500, seed=3)
    paired = (swept.infected - idle.infected).std()
    unpaired = math.sqrt(swept.infected.var() + idle.infected.var())
    assert paired < 0.8 * unpaired
    assert swept.infected.mean() < idle.infected.mean()


def test_destruction_ends_infection_and_counts_colonies() -> None:
    begin = starts([0], signs=-10, distance_rate=0.0, keeper_rate=0.0)
    found = np.full(60, -NEVER)
    found[0] = -2
    scene = stage(found_day=found)
    sure = Strategy(name="burn", relapse_probability=0.0, clear_after_days=1, radius_m=0.0)
    got = rehearsal.rehearse(
        scene, begin, [sure, replace(sure, name="treat", clearance="treat")], futures=50, seed=1
    )
    assert (got[0].left_at_end == 0).all()
    assert (got[0].destroyed >= 1).all()
    assert (got[1].destroyed == 0).all()
    assert (got[0].released_day == 1 + 42).all()
    assert got[0].over_probability[-1] == 1.0
    assert got[0].active_mean[0] == 0.0 or got[0].active_mean[2] == 0.0


def test_relapse_is_found_at_reinspection_and_cleared_again() -> None:
    begin = starts([0], signs=-10, distance_rate=0.0, keeper_rate=0.0, signs_scale=1.0)
    found = np.full(60, -NEVER)
    found[0] = 0
    scene = stage(
        days=400, found_day=found, flight=np.ones(400), opening=np.ones(400), is_workday=np.ones(400, bool)
    )
    plan = Strategy(name="burn", relapse_probability=0.5, radius_m=0.0)
    got = rehearsal.rehearse(scene, begin, [plan], futures=600, seed=1)[0]
    assert got.confirmed.mean() > 1.3
    assert (got.infected == 1).all()


def test_a_sweep_visits_the_ring_and_no_more_than_its_inspectors_can() -> None:
    found = np.full(60, -NEVER)
    found[0] = 0
    scene = stage(found_day=found)
    begin = starts([0], signs=0, distance_rate=0.0, keeper_rate=0.0)
    wide = Strategy(
        name="wide", radius_m=20_000.0, inspectors=1.0, minutes_a_clearance=0.0, relapse_probability=0.0
    )
    few = replace(wide, name="few", inspectors=0.05)
    got_wide, got_few = rehearsal.rehearse(scene, begin, [wide, few], futures=5, seed=1)
    minutes = 55.0 * 60 + 12.0 * scene.colonies.sum()  # 59 in the ring and the re-inspection of the case
    assert got_wide.inspector_days == pytest.approx(minutes / 420.0, rel=1e-9)
    assert (got_few.inspector_days < got_wide.inspector_days).all()
    assert np.isnan(got_few.released_day).all()


def test_moves_carry_infection_unless_the_source_stands_still() -> None:
    moves = np.array([[10.0, 0.0, 5.0, 50.0]])
    begin = starts([0], distance_rate=0.0, keeper_rate=0.0, move_rate=1.0)
    free = rehearsal.rehearse(stage(moves=moves), begin, [IDLE], futures=100, seed=1)[0]
    assert (free.infected == 2).all()
    found = np.full(60, -NEVER)
    found[0] = 0
    held = rehearsal.rehearse(stage(moves=moves, found_day=found), begin, [IDLE], futures=100, seed=1)[0]
    assert (held.infected == 1).all()


def test_a_small_calendar_is_made_larger_and_the_answer_is_whole() -> None:
    scene, begin = stage(120, 60, side_m=3000.0), starts([0], distance_rate=0.5)
    got = rehearsal.rehearse(scene, begin, [IDLE], futures=3, seed=1)[0]
    assert (got.infected == 120).all()


def test_bad_strategies_are_refused() -> None:
    with pytest.raises(ValueError, match="interval_days"):
        Strategy(name="x", interval_days=0)
    with pytest.raises(ValueError, match="at least one strategy"):
        rehearsal.rehearse(stage(), starts([0]), [])


@pytest.mark.filterwarnings("ignore")
@pytest.mark.xdist_group("dask")
def test_the_same_answer_on_a_cluster_of_two_workers() -> None:
    from distributed import Client, LocalCluster

    scene, begin = stage(), starts([0, 7], report_rate=1 / 100)
    plans = [Strategy(name="a"), Strategy(name="b", radius_m=5000.0)]
    here = rehearsal.rehearse(scene, begin, plans, futures=250, seed=3)
    cluster = LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None)
    with cluster, Client(cluster) as client:
        there = rehearsal.rehearse(scene, begin, plans, futures=250, seed=3, client=client)
    for left, right in zip(here, there, strict=True):
        assert np.array_equal(left.infected, right.infected)
        assert np.array_equal(left.released_day, right.released_day, equal_nan=True)
        assert np.array_equal(left.active_mean, right.active_mean)
