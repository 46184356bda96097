"""The sampler against every explanation of tiny populations, weighed by an independent day-by-day likelihood.

Outside source: none but arithmetic. `every_explanation` below shares no code with the product: it walks through the days
and multiplies chances, over all combinations of days of infection and of signs. Tolerance: the Monte-Carlo error of the
runs (about 0.002 at these lengths) times three.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from broodsweep.spread.incubation import Curves
from broodsweep.spread.likelihood import log_target
from broodsweep.spread.running import SHARES, chances, latent, set_weights
from broodsweep.spread.scene import Moves, Scene, Visits, world_of
from broodsweep.spread.settings import Kernel
from broodsweep.spread.start import infect_found, new_state, put_days, put_parameters

THETA = {
    "background": 0.004, "contact": 0.12, "reach": 1200.0, "keeper": 0.05, "move": 0.6, "silent": 0.4,
    "report": 0.08, "sensitivity": 0.7,
}  # fmt: skip
SIGNS = np.array([0.1, 0.25, 0.25, 0.15, 0.1])
FALSE_SUSPICION, STANDSTILL_LEAVES, OUTSIDE = 0.03, 0.2, 0.01


def vector():
    theta = np.zeros(10)
    theta[[0, 9, 2, 4, 5, 6, 7, 8]] = list(THETA.values())
    return theta


def small_scene(seed, nodes=3, days=7):
    """Invent a tiny population with everything in it: visits, a move, a keeper's pair, late starts, a finding."""
    rng = np.random.default_rng(seed)
    colonies = rng.integers(2, 7, nodes).astype(float)
    start, stop = np.zeros(nodes, np.int64), np.full(nodes, days)
    removed, still = stop.copy(), stop.copy()
    found_how, found_day = np.zeros(nodes, np.int64), np.zeros(nodes, np.int64)
    atom_weight, atom_hazard = np.full(nodes, 20.0), np.zeros(nodes)
    if seed % 4:
        found_how[0], found_day[0] = 1 + seed % 2, days - 2
        still[0] = days - 2
        removed[0] = days - 1 if seed % 3 == 0 else days
        stop[0] = max(removed[0], days - 1)
    if seed % 2:
        start[nodes - 1], atom_weight[nodes - 1], atom_hazard[nodes - 1] = 2, 0.0, 0.2
    if seed % 5 == 0:
        stop[1] = removed[1] = days - 2
    visit_node = np.array([1, 1, nodes - 1])
    visit_day = np.array([days - 4, days - 3, days - 1])
    flight = np.ones(days)
    flight[3] = 0.0
    looked = np.where(flight > 0, 1.0, 0.3)
    return Scene(
        days=days,
        east_m=rng.uniform(0, 2500, nodes),
        north_m=rng.uniform(0, 2500, nodes),
        precision_m=np.full(nodes, 100.0),
        colonies=colonies,
        susceptible=np.sqrt(colonies / 5),
        infectious=np.ones(nodes),
        owner=np.array([0, 1, 0, 2])[:nodes],
        start=start,
        stop=stop,
        removed=removed,
        still=still,
        atom_weight=atom_weight,
        atom_hazard=atom_hazard,
        reporting=np.array([1.0, 0.5, 1.0, 1.0])[:nodes],
        found_how=found_how,
        found_day=found_day,
        found_opened=colonies,
        found_present=colonies,
        flight=flight,
        looked=looked,
        curves=Curves.of(SIGNS, days, 0.3),
        visits=Visits(
            node=visit_node,
            day=visit_day,
            opened=np.ceil(colonies[visit_node] * 0.6),
            present=colonies[visit_node],
            kind=np.array([0, seed % 3 == 1, 0]).astype(np.int64),
        ),
        moves=Moves(
            source=np.array([0, 1, -1]),
            target=np.array([1, nodes - 1, 1]),
            day=np.array([4, 3, 2]),
            weight=np.array([1.0, 0.6, 2.0]),
        ),
        kernel=Kernel.EXPONENTIAL,
        step_m=1.0,
        growth_per_day=1 / 6,
    )


def possible_days(scene, j):
    """List every (infected, signs) of a node; None for never infected."""
    last = scene.found_day[j] if scene.found_how[j] else scene.days
    states = [] if scene.found_how[j] else [(None, None)]
    starts = [] if scene.atom_weight[j] + scene.atom_hazard[j] == 0 else [scene.start[j] - 1]
    for e in starts + list(range(scene.start[j], scene.stop[j])):
        for c in range(max(e, scene.start[j]), scene.days + 1):
            if not scene.found_how[j] or (e <= last and c <= last):
                states.append((e, c))
    return states


def chance_of_none(tau, present, opened, sensitivity, growth):
    sick = 1 + (present - 1) * (1 - np.exp(-growth * tau))
    return (1 - sensitivity * opened / present) ** sick


def own_record(scene, j, state):
    """Chance of the apiary's own record, by walking through its days."""
    e, c = state
    chance = 1.0
    if e is None:
        e = c = 10**6
    else:
        after = np.array([1 - SIGNS[:k].sum() for k in range(40)])
        if e < scene.start[j]:
            mean = sum(1 - SIGNS[: k + 1].sum() for k in range(len(SIGNS))) or 1e-9
            left = [0.7 * (1 - SIGNS[: k + 1].sum()) / mean for k in range(len(SIGNS))] + [0.0] * 40
            left[0] += 0.3
            wait = c - scene.start[j]
            chance *= left[wait] if c < scene.days else 1 - sum(left[:wait])
        else:
            wait = c - e
            chance *= (SIGNS[wait] if wait < len(SIGNS) else 0.0) if c < scene.days else after[wait]
    v = scene.visits
    for k in np.flatnonzero(v.node == j):
        none = 1.0
        if v.day[k] >= c:
            none = chance_of_none(
                v.day[k] - c, v.present[k], v.opened[k], THETA["sensitivity"], scene.growth_per_day
            )
        chance *= none if v.kind[k] == 0 else 1 - none + none * FALSE_SUSPICION
    for t in range(scene.days):
        if scene.found_how[j] and t == scene.found_day[j]:
            if scene.found_how[j] == 1:
                return chance * (
                    1 - chance_of_none(t - c, scene.found_present[j], scene.found_opened[j], THETA["sensitivity"],
                                       scene.growth_per_day)
                )  # fmt: skip
            return chance * -np.expm1(-THETA["report"] * scene.reporting[j] * scene.looked[t])
        if c <= t < scene.stop[j]:
            chance *= np.exp(-THETA["report"] * scene.reporting[j] * scene.looked[t])
    return chance


def every_explanation(scene):
    """Return all explanations with their normalised weights, by a loop over days."""
    lists = [possible_days(scene, j) for j in range(scene.nodes)]
    records = [np.array([own_record(scene, j, s) for s in lists[j]]) for j in range(scene.nodes)]
    pick = np.array(list(itertools.product(*[range(len(one)) for one in lists])))
    never = 10**6
    e, c = (
        np.stack(
            [
                np.array([never if s[part] is None else s[part] for s in lists[j]])[pick[:, j]]
                for j in range(scene.nodes)
            ],
            axis=1,
        )
        for part in (0, 1)
    )
    weight = np.prod([records[j][pick[:, j]] for j in range(scene.nodes)], axis=0)
    for j in range(scene.nodes):
        hazard = THETA["background"] * scene.susceptible[j] * scene.atom_weight[j] + scene.atom_hazard[j]
        weight = weight * np.where(e[:, j] < scene.start[j], -np.expm1(-hazard), np.exp(-hazard))
    for t in range(scene.days):
        given = np.where((t > e) & (t < scene.removed), np.where(t < c, THETA["silent"], 1.0), 0.0)
        by_keeper = given * np.where(t >= scene.still, STANDSTILL_LEAVES, 1.0)
        for j in range(scene.nodes):
            if not scene.start[j] <= t < scene.stop[j]:
                continue
            rate = np.full(len(e), THETA["background"])
            for i in range(scene.nodes):
                if i != j:
                    d = np.sqrt(
                        (scene.east_m[i] - scene.east_m[j]) ** 2
                        + (scene.north_m[i] - scene.north_m[j]) ** 2
                        + 2 * 100.0**2 / 6
                    )
                    rate = rate + THETA["contact"] * np.exp(-d / THETA["reach"]) * given[:, i]
                    if scene.owner[i] == scene.owner[j]:
                        rate = rate + THETA["keeper"] * by_keeper[:, i]
            rate = rate * scene.susceptible[j] * scene.flight[t]
            for m in np.flatnonzero((scene.moves.target == j) & (scene.moves.day == t)):
                source = scene.moves.source[m]
                carried = OUTSIDE if source < 0 else by_keeper[:, source]
                rate = rate + THETA["move"] * scene.moves.weight[m] * carried
            weight = weight * np.where(
                e[:, j] == t, -np.expm1(-rate), np.where(e[:, j] > t, np.exp(-rate), 1.0)
            )
    return e, c, weight


def exact_figures(scene):
    e, _, weight = every_explanation(scene)
    weight = weight / weight.sum()
    today = (scene.found_how == 0) & (scene.stop == scene.days)
    inside = (e < 10**6) & today
    return weight @ inside, float(weight @ (inside.sum(1) == 0))


def sampled_figures(scene, shares, moves, seed, weights=None):
    w = world_of(scene)
    state = new_state(w, seed, 0)
    put_parameters(w, state, vector())
    infect_found(w, state, np.random.default_rng(seed))
    values = np.ones(scene.nodes) if weights is None else np.asarray(weights, float)
    set_weights(state, np.where(w.node["found_how"] > 0, -1.0, values), 0.0)
    shares = np.array(shares, float)
    today = (scene.found_how == 0) & (scene.stop == scene.days)
    counted, smooth, none, steps = np.zeros(scene.nodes), np.zeros(scene.nodes), 0.0, moves // 12
    nodes, once = np.arange(scene.nodes), np.zeros(scene.nodes)
    latent(w, state, 2000, shares)
    for _ in range(steps):
        latent(w, state, 12, shares)
        inside = (state.life["place"] >= 0) & today
        counted += inside
        none += not inside.any()
        chances(w, state, nodes, once)
        smooth += once
    return counted / steps, smooth / steps, none / steps


def test_log_target_is_the_day_loop_for_every_kind_of_record():
    for seed in range(1, 7):
        scene = small_scene(seed)
        w = world_of(scene)
        state = new_state(w, 1, 0)
        put_parameters(w, state, vector())
        e, c, weight = every_explanation(scene)
        rng = np.random.default_rng(seed)
        for k in rng.choice(np.flatnonzero(weight > 0), 60):
            nodes = np.flatnonzero(e[k] < 10**6)
            put_days(w, state, nodes, e[k][nodes], c[k][nodes])
            assert log_target(w, state) == pytest.approx(np.log(weight[k]), abs=2e-6)


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5])
def test_all_moves_together_give_the_exact_chances(seed):
    scene = small_scene(seed)
    exact, exact_none = exact_figures(scene)
    counted, smooth, none = sampled_figures(scene, SHARES, 1_500_000, seed)
    assert np.abs(counted - exact).max() < 0.007
    assert np.abs(smooth - exact).max() < 0.007
    assert none == pytest.approx(exact_none, abs=0.007)


@pytest.mark.parametrize(
    "shares",
    [
        pytest.param((0.46, 0.46, 0.04, 0.04, 0, 0), id="add and remove"),
        pytest.param((0.15, 0.15, 0.7, 0, 0, 0), id="redraw"),
        pytest.param((0.15, 0.15, 0, 0.7, 0, 0), id="walk"),
        pytest.param((0.13, 0.13, 0.02, 0.02, 0.7, 0), id="swap with a neighbour"),
        pytest.param((0.13, 0.13, 0.02, 0.02, 0, 0.7), id="swap within a keeper's apiaries"),
        pytest.param((0.1, 0.1, 0.04, 0.04, 0, 0, 0.36, 0.36), id="branch in and out"),
        pytest.param((0, 0, 0.04, 0.04, 0, 0, 0.46, 0.46), id="branch in and out alone"),
    ],
)
def test_each_move_with_add_and_remove_gives_the_exact_chances(shares):
    scene = small_scene(3)
    exact, exact_none = exact_figures(scene)
    counted, smooth, none = sampled_figures(scene, shares, 1_500_000, 11, weights=[1.0, 0.3, 2.0])
    assert np.abs(counted - exact).max() < 0.007
    assert np.abs(smooth - exact).max() < 0.006
    assert none == pytest.approx(exact_none, abs=0.007)


def test_branches_give_the_exact_chances_where_nothing_was_found():
    scene = small_scene(4, nodes=4, days=5)
    exact, exact_none = exact_figures(scene)
    shares = (0, 0, 0.1, 0.1, 0, 0, 0.4, 0.4)
    counted, smooth, none = sampled_figures(scene, shares, 1_500_000, 12, weights=[1.0, 0.3, 2.0, 0.7])
    assert np.abs(counted - exact).max() < 0.007
    assert np.abs(smooth - exact).max() < 0.007
    assert none == pytest.approx(exact_none, abs=0.007)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(20, 28))
def test_more_populations_of_four(seed):
    scene = small_scene(seed, nodes=4, days=5)
    exact, exact_none = exact_figures(scene)
    counted, smooth, none = sampled_figures(scene, SHARES, 6_000_000, seed)
    assert np.abs(counted - exact).max() < 0.006
    assert np.abs(smooth - exact).max() < 0.007
    assert none == pytest.approx(exact_none, abs=0.007)
