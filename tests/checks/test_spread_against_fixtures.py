"""The likelihood against fixtures computed elsewhere, and against a textbook's measles households.

Sources: `T3` and `E12` of the project's epidemiology reference, section 4 (full enumeration and an independent code,
given to eight decimals; tolerance 1e-7); Reed-Frost fit to the Providence measles households (Bailey 1975, from memory;
the arithmetic of 575/729 proves it): chains 34/25/36/239 of households of three, checks 65 and 66.

The continuous-time versions of both fixtures are in `test_spread_against_published_times.py`, epidemics with unknown
removal in `test_spread_against_general_epidemics.py`.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize

from broodsweep.spread.incubation import Curves
from broodsweep.spread.likelihood import log_target
from broodsweep.spread.scene import Scene, world_of
from broodsweep.spread.start import new_state, put_days, put_parameters
from broodsweep.spread.tracing import pressures_on

E12 = """0.0,0.0,1,0,40;0.8,0.3,2,12,55;1.5,-0.4,1,9,40;2.2,1.9,3,31,70;3.0,0.2,4,;0.4,1.6,2,26,55;-1.2,0.9,5,;
4.5,3.8,1,38,60;5.1,-2.0,6,;-2.6,-1.7,5,;1.1,3.3,3,47,70;6.4,4.4,7,"""
CERTAIN = 50.0
"""Hazard of the index case at the start: 1 - exp(-50) is 1."""


def bare_scene(east_km, north_km, owner, days, removed, index, **more):
    n = len(east_km)
    whole = {name: np.zeros(n, np.int64) for name in ("start", "found_how", "found_day")} | {
        name: np.zeros(n)
        for name in ("precision_m", "atom_weight", "reporting", "found_opened", "found_present")
    }
    hazard = np.zeros(n)
    hazard[index] = CERTAIN
    return Scene(
        days=days, east_m=np.array(east_km) * 1000.0, north_m=np.array(north_km) * 1000.0, colonies=np.full(n, 5.0),
        susceptible=np.ones(n), infectious=np.ones(n), owner=np.array(owner), stop=np.full(n, days),
        removed=np.array(removed), still=np.full(n, days), atom_hazard=hazard, flight=np.ones(days),
        looked=np.ones(days), curves=Curves.of(np.array([1.0]), days, 1.0), cut_m=20_000.0, step_m=0.2, **whole, **more,
    )  # fmt: skip


def parameters(contact, reach_km, keeper, background):
    theta = np.zeros(10)
    theta[[9, 2, 4, 0, 6, 8]] = contact, reach_km * 1000.0, keeper, background, 1.0, 0.8
    return theta


def log_of(w, state, theta, infected):
    """Log likelihood of days of infection (None: never); signs from the first day on, so that incubation adds nothing."""
    put_parameters(w, state, theta)
    nodes = np.array([j for j, day in enumerate(infected) if day is not None])
    days = np.array([infected[j] for j in nodes])
    put_days(w, state, nodes, days, np.maximum(days, 0))
    return log_target(w, state)


def e12():
    rows = [row.strip().split(",") for row in E12.split(";")]
    infected = [int(row[3]) - 1 if row[3] else None for row in rows]
    removed = [int(row[4]) if row[3] else 80 for row in rows]
    scene = bare_scene(
        [float(r[0]) for r in rows], [float(r[1]) for r in rows], [int(r[2]) for r in rows], 80, removed, 0
    )
    w = world_of(scene)
    return w, new_state(w, 1, 0), infected


@pytest.mark.parametrize(
    ("theta", "expected"),
    [
        ((0.02, 1.5, 0.01, 0.0005), -27.73257299),
        ((0.05, 1.0, 0.02, 0.001), -26.79169327),
        ((0.01, 3.0, 0.005, 0.0001), -29.48242701),
        ((0.02, 1.5, 0.0, 0.0005), -29.89496563),
    ],
)
def test_twelve_apiaries_day_by_day(theta, expected):
    w, state, infected = e12()
    assert log_of(w, state, parameters(*theta), infected) == pytest.approx(expected, abs=1e-7)


def test_sources_of_the_twelve_apiaries():
    w, state, infected = e12()
    log_of(w, state, parameters(0.02, 1.5, 0.01, 0.0005), infected)
    source, route, value = pressures_on(w, state, 7)
    assert value.sum() == pytest.approx(0.02584170, abs=1e-8)
    share = {(int(s), int(r)): v / value.sum() for s, r, v in zip(source, route, value, strict=True)}
    assert share[0, 1] == pytest.approx(0.386971, abs=1e-6)
    assert share[2, 1] == pytest.approx(0.386971, abs=1e-6)
    assert share[3, 0] == pytest.approx(0.105915, abs=1e-6)
    assert share[-1, 0] == pytest.approx(0.019349, abs=1e-6)


def three():
    w = world_of(bare_scene([0, 1, 0], [0, 0, 3], [1, 2, 1], 2, [2, 2, 2], 0))
    return w, new_state(w, 1, 0), parameters(0.4, 1.5, 0.2, 0.01)


def test_states_of_three_apiaries_after_two_steps():
    w, state, theta = three()
    total = {}
    for b in (None, 0, 1):
        for c in (None, 0, 1):
            key = ("B" if b is not None else "") + ("C" if c is not None else "")
            total[key] = total.get(key, 0.0) + np.exp(log_of(w, state, theta, [-1, b, c]))
    assert total[""] == pytest.approx(0.38327523, abs=1e-7)
    assert total["C"] == pytest.approx(0.25960118, abs=1e-7)
    assert total["B"] == pytest.approx(0.20093234, abs=1e-7)
    assert total["BC"] == pytest.approx(0.15619124, abs=1e-7)
    seen = {"": 1.0, "B": 0.2, "C": 0.2, "BC": 0.04}
    marginal = 0.8 * sum(total[key] * seen[key] for key in seen)
    assert marginal == pytest.approx(0.38530367, abs=1e-7)
    assert 0.8 * (total["B"] * 0.2 + total["BC"] * 0.04) / marginal == pytest.approx(0.09641044, abs=1e-7)


def test_paths_of_three_apiaries():
    w, state, theta = three()
    # Index case: its own start has log chance 0 to 1e-21.
    assert log_of(w, state, theta, [-1, 0, 1]) == pytest.approx(-3.22004083, abs=1e-7)
    assert log_of(w, state, theta, [-1, 0, None]) == pytest.approx(-2.21801549, abs=1e-7)


def test_reed_frost_fit_to_measles_households():
    """An infective of one generation meets each of its household with chance p; households of three, one index case."""
    contact = None

    def chances(rate):
        """Chance of the chains 1, 1-1, 1-1-1 and 1-2: infectious on one day only (removed two days after)."""
        result = []
        for infected, ways in (([-1, None, None], 1), ([-1, 0, None], 2), ([-1, 0, 1], 2), ([-1, 0, 0], 1)):
            removed = [1 if day == -1 else 4 if day is None else day + 2 for day in infected]
            w = world_of(bare_scene([0, 0, 0], [0, 0, 0], [0, 1, 2], 4, removed, 0))
            result.append(
                ways * np.exp(log_of(w, new_state(w, 1, 0), parameters(rate, 1.0, 0.0, 0.0), infected))
            )
        return np.array(result)

    counts = np.array([34, 25, 36, 239])
    assert chances(0.7).sum() == pytest.approx(1.0, abs=1e-9)
    fit = optimize.minimize_scalar(
        lambda rate: -float(counts @ np.log(chances(rate))),
        bounds=(0.5, 4.0),
        method="bounded",
        options={"xatol": 1e-9},
    )
    contact = float(fit.x)
    assert np.exp(-contact) == pytest.approx(1 - 575 / 729, abs=1e-6)
    assert 334 * chances(contact) == pytest.approx([14.905, 23.513, 87.791, 207.791], abs=1e-3)
