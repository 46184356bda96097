"""Caches against a rebuild from nothing, and the limits and invariances of the model."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from broodsweep.constants import Disease
from broodsweep.spread import Kernel
from broodsweep.spread.change import make, weigh
from broodsweep.spread.incubation import curves_of
from broodsweep.spread.kernels import fall
from broodsweep.spread.likelihood import log_target, rebuild
from broodsweep.spread.observation import missed
from broodsweep.spread.scene import Moves, Scene, Visits, world_of
from broodsweep.spread.start import infect_found, new_state, put_days, put_parameters

THETA = np.array([1e-3, 1.0, 1200.0, 0.1, 0.002, 0.3, 0.3, 0.01, 0.8, 0.0])


def random_scene(rng, n=40, days=200):
    """Everything at once: late starts, leavers, findings, visits, moves, owners, coarse places."""
    colonies = rng.integers(1, 15, n).astype(float)
    start, stop = np.zeros(n, np.int64), np.full(n, days)
    start[rng.random(n) < 0.15] = 30
    stop[rng.random(n) < 0.1] = days - 40
    how, day = np.zeros(n, np.int64), np.zeros(n, np.int64)
    found = rng.choice(np.flatnonzero((start == 0) & (stop == days)), 3, replace=False)
    how[found], day[found] = rng.integers(1, 3, 3), rng.integers(days - 80, days, 3)
    removed, still = stop.copy(), np.full(n, days)
    removed[found] = np.minimum(days, day[found] + rng.integers(0, 30, 3))
    still[found] = day[found]
    stop[found] = np.maximum(removed[found], day[found] + 1)
    node, when = rng.integers(0, n, 60), rng.integers(0, days, 60)
    keep = (when < stop[node]) & (when >= start[node]) & ~((how[node] > 0) & (when >= day[node]))
    node, when = node[keep], when[keep]
    source, target = rng.integers(-1, n, 30), rng.integers(0, n, 30)
    flight = np.ones(days)
    flight[40:70] = 0.0
    hazard = np.zeros(n)
    hazard[:2] = 0.05
    return Scene(
        days=days, east_m=rng.uniform(0, 5000, n), north_m=rng.uniform(0, 5000, n),
        precision_m=rng.choice([0.0, 100.0, 1000.0], n), colonies=colonies, susceptible=np.sqrt(colonies / 5),
        infectious=np.ones(n), owner=rng.integers(0, n // 2, n), start=start, stop=stop, removed=removed, still=still,
        atom_weight=np.where(start == 0, 100.0, 0.0), atom_hazard=hazard, reporting=np.ones(n), found_how=how,
        found_day=day, found_opened=colonies, found_present=colonies, flight=flight, looked=np.where(flight > 0, 1.0, 0.05),
        curves=curves_of(Disease.AFB, days),
        visits=Visits(node=node, day=when, opened=np.ceil(colonies[node] * 0.7), present=colonies[node],
                      kind=(rng.random(len(node)) < 0.1).astype(np.int64)),
        moves=Moves(source=source[source != target], target=target[source != target],
                    day=rng.integers(0, days, 30)[source != target], weight=rng.uniform(0.1, 2, 30)[source != target]),
        kernel=Kernel.MIXED,
    )  # fmt: skip


def started(scene, rng):
    w = world_of(scene)
    state = new_state(w, 1, 0)
    put_parameters(w, state, THETA)
    infect_found(w, state, rng)
    return w, state


def any_days(w, rng):
    infected = int(rng.integers(-1, w.days))
    return infected, min(w.days, infected + int(rng.integers(0, 90)))


@pytest.mark.parametrize("seed", [3, 4])
def test_caches_stay_equal_to_a_rebuild_through_thousands_of_changes(seed):
    rng = np.random.default_rng(seed)
    w, state = started(random_scene(rng), rng)
    before, worst, done = log_target(w, state), 0.0, 0
    for step in range(1500):
        j = int(rng.integers(40))
        is_out = state.life["place"][j] >= 0 and w.node["found_how"][j] == 0 and rng.random() < 0.4
        days = (w.days, w.days) if is_out else any_days(w, rng)
        change = weigh(w, state, j, *days)
        if not np.isfinite(change):
            continue
        make(w, state, j, *days)
        done += 1
        before += change
        if step % 10 == 0:
            cached = log_target(w, state)
            rebuild(w, state)
            fresh = log_target(w, state)
            worst = max(worst, abs(cached - fresh), abs(before - fresh))
            before = fresh
    assert done > 500
    assert worst < 1e-9


def some_state(scene, rng, order=None):
    """The same explanation in a scene, its nodes perhaps in another order."""
    w = world_of(scene)
    state = new_state(w, 1, 0)
    put_parameters(w, state, THETA)
    infected = np.array([5, 60, 90, 110, 20])
    nodes = np.array([1, 3, 7, 11, 13])
    nodes = nodes if order is None else np.argsort(order)[nodes]
    put_days(w, state, nodes, infected, infected + 10)
    return log_target(w, state)


def plain(rng):
    scene = random_scene(rng)
    nothing = np.zeros(40, np.int64)
    return replace(
        scene,
        found_how=nothing,
        start=nothing,
        stop=np.full(40, 200),
        removed=np.full(40, 200),
        still=np.full(40, 200),
    )


def test_order_of_apiaries_does_not_matter():
    rng = np.random.default_rng(5)
    scene = plain(rng)
    order = rng.permutation(40)
    back = np.argsort(order)
    names = ["east_m", "north_m", "precision_m", "colonies", "susceptible", "infectious", "owner", "start", "stop", "removed", "still", "atom_weight", "atom_hazard", "reporting", "found_how", "found_day", "found_opened", "found_present"]  # fmt: skip
    moves, visits = scene.moves, scene.visits
    other = replace(
        scene,
        **{name: getattr(scene, name)[order] for name in names},
        moves=replace(
            moves, source=np.where(moves.source < 0, -1, back[moves.source]), target=back[moves.target]
        ),
        visits=replace(visits, node=back[visits.node]),
    )
    assert some_state(other, rng, order) == pytest.approx(some_state(scene, rng), abs=1e-9)


def test_moving_and_turning_the_map_does_not_matter():
    rng = np.random.default_rng(6)
    scene = plain(rng)
    turn = 0.7
    east = scene.east_m * np.cos(turn) - scene.north_m * np.sin(turn) + 300_000
    north = scene.east_m * np.sin(turn) + scene.north_m * np.cos(turn) - 40_000
    assert some_state(replace(scene, east_m=east, north_m=north), rng) == pytest.approx(
        some_state(scene, rng), abs=1e-6
    )


def test_changing_the_unit_of_length_with_the_reach_does_not_matter():
    rng = np.random.default_rng(7)
    scene = replace(plain(rng), kernel=Kernel.POWER)

    def target(factor):
        wide = replace(scene, east_m=scene.east_m * factor, north_m=scene.north_m * factor,
                       precision_m=scene.precision_m * factor, cut_m=scene.cut_m * factor, step_m=scene.step_m * factor)  # fmt: skip
        w = world_of(wide)
        state = new_state(w, 1, 0)
        theta = THETA.copy()
        theta[[2, 3, 9]] = 1200.0 * factor, 3.0, 0.01
        put_parameters(w, state, theta)
        put_days(w, state, np.array([1, 3, 7]), np.array([5, 60, 90]), np.array([50, 80, 120]))
        return log_target(w, state)

    assert target(1.609344) == pytest.approx(target(1.0), abs=1e-8)


@pytest.mark.parametrize("kernel", list(Kernel))
def test_every_kernel_is_one_at_home_and_falls(kernel):
    values = [
        fall(int(kernel), d, 1000.0, 0.3 if kernel is Kernel.MIXED else 3.0, 5000.0)
        for d in (0, 500, 1500, 4000)
    ]
    assert values[0] == 1.0
    assert all(a > b > 0 for a, b in pairwise(values))


def test_chance_to_miss_is_exact_where_colonies_are_counted_without_replacement():
    # Check values 16 to 21 of the reference: exact hypergeometric and MacDiarmid's form.
    assert 1 - missed(1.0, 12, 12, 0.7) == pytest.approx(0.7, abs=1e-12)
    assert 1 - missed(2.0, 20, 10, 0.8) == pytest.approx(0.64, abs=1e-12)
    assert 1 - missed(5.0, 100, 45, 0.8) == pytest.approx(1 - (1 - 0.45 * 0.8) ** 5, abs=1e-12)
    # Se f = 0.96 * 19 / 20 > 0.9: the hypergeometric sum, here by hand for two diseased of twenty.
    one_left_out, none_left_out = 2 / 20, 18 / 20
    by_hand = one_left_out * (1 - 0.96) + none_left_out * (1 - 0.96) ** 2
    assert missed(2.0, 20, 19, 0.96) == pytest.approx(by_hand, abs=1e-12)


def test_without_flight_nobody_is_infected():
    rng = np.random.default_rng(8)
    w, state = started(random_scene(rng), rng)
    assert weigh(w, state, 20, 50, 60) == -np.inf or w.node["start"][20] > 50


def test_useless_inspections_change_nothing_and_a_clean_one_never_raises():
    rng = np.random.default_rng(9)
    scene = plain(rng)
    theta = THETA.copy()
    theta[8] = 0.0
    w, bare = world_of(scene), world_of(replace(scene, visits=Visits.none()))
    values = []
    for world in (w, bare):
        state = new_state(world, 1, 0)
        put_parameters(world, state, theta)
        put_days(world, state, np.array([1, 3]), np.array([5, 60]), np.array([50, 80]))
        values.append(
            weigh(world, state, 9, 40 - 1, 50)
            if not (scene.visits.kind[scene.visits.node == 9] == 1).any()
            else 0.0
        )
    assert values[0] == pytest.approx(values[1], abs=1e-12)
