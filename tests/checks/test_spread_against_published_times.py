"""The likelihood in continuous time against outbreaks whose times are known, and the daily model against it.

Sources: fixtures `T3` and `E12` of the project's epidemiology reference, section 4.5 (independent code, eight decimals);
measles in Hagelloch 1861, Debian package r-cran-surveillance 1.20.3, `hagelloch.df`, fitted by Meyer, Held & Höhle 2017,
J Stat Softw 77(11) (estimates, standard errors and log likelihood printed there; reference checks 60 to 64). The data
are read from the installed package and are no part of this project.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from tests.checks.r_data import data_file, load
from tests.checks.test_spread_against_fixtures import E12, bare_scene, log_of, parameters

from broodsweep.spread.continuous import Rates, Times, fit, rates_of
from broodsweep.spread.scene import world_of
from broodsweep.spread.start import new_state

NEVER = np.inf
ROWS = [row.strip().split(",") for row in E12.split(";")]
E12_CONTINUOUS = [
    ((0.02, 1.5, 0.01, 0.0005), -27.80299493),
    ((0.05, 1.0, 0.02, 0.001), -26.90680066),
    ((0.01, 3.0, 0.005, 0.0001), -29.53768853),
    ((0.02, 1.5, 0.0, 0.0005), -29.94031167),
]


def by_place(east_km, north_km, owner, reach_km):
    """Return the kernel and same-keeper matrices."""
    at, owner = np.stack([east_km, north_km], axis=1), np.array(owner)
    away = np.sqrt(((at[:, None] - at[None]) ** 2).sum(2))
    return np.stack([np.exp(-away / reach_km), (owner[:, None] == owner[None]).astype(float)])


def twelve(reach_km, constants=1):
    infected = np.array([float(row[3]) if row[3] else NEVER for row in ROWS])
    removed = np.array([float(row[4]) if row[3] else NEVER for row in ROWS])
    # The index case is infected at 0, so it is taken as given from just behind that.
    times = Times(infected=infected, removed=removed, start=1e-12, end=80.0)
    places = [[float(row[k]) for row in ROWS] for k in (0, 1)]
    return rates_of(times, by_place(*places, [row[2] for row in ROWS], reach_km), np.ones((constants, 12)))


@pytest.mark.parametrize(("theta", "expected"), E12_CONTINUOUS)
def test_twelve_apiaries_in_continuous_time(theta, expected):
    contact, reach, keeper, background = theta
    got = twelve(reach).log_likelihood(np.array([contact, keeper, background]))
    assert got == pytest.approx(expected, abs=1e-7)


@pytest.mark.parametrize(
    ("infected", "removed_a", "expected"),
    [((0.0, 0.7, 1.6), NEVER, -3.31496416), ((0.0, 0.7, NEVER), 1.0, -2.02346162)],
)
def test_three_apiaries_in_continuous_time(infected, removed_a, expected):
    times = Times(
        infected=np.array(infected), removed=np.array([removed_a, NEVER, NEVER]), start=1e-12, end=2.0
    )
    rates = rates_of(times, by_place([0, 1, 0], [0, 0, 3], [1, 2, 1], 1.5), np.ones((1, 3)))
    assert rates.log_likelihood(np.array([0.4, 0.2, 0.01])) == pytest.approx(expected, abs=1e-7)


def twelve_by_steps(theta, steps):
    """Log likelihood of the daily model with so many steps a day: densities a day, as in continuous time."""
    infected = [int(row[3]) * steps - 1 if row[3] else None for row in ROWS]
    removed = [int(row[4]) * steps if row[3] else 80 * steps for row in ROWS]
    places = [[float(row[k]) for row in ROWS] for k in (0, 1)]
    w = world_of(bare_scene(*places, [int(row[2]) for row in ROWS], 80 * steps, removed, 0))
    contact, reach, keeper, background = theta
    a_step = parameters(contact / steps, reach, keeper / steps, background / steps)
    later = sum(day is not None for day in infected) - 1
    return log_of(w, new_state(w, 1, 0), a_step, infected) + later * np.log(steps)


@pytest.mark.parametrize(("theta", "expected"), E12_CONTINUOUS)
def test_daily_model_comes_to_continuous_time_as_its_steps_shrink(theta, expected):
    coarse, fine = twelve_by_steps(theta, 10), twelve_by_steps(theta, 40)
    assert abs(fine - expected) < 0.3 * abs(coarse - expected)
    # The error falls with the step: what it would be at none is a quarter of the fall farther.
    assert fine + (fine - coarse) / 3 == pytest.approx(expected, abs=2e-5)


def test_slope_and_curvature_are_those_of_the_likelihood():
    rates, theta, step = twelve(1.5), np.array([0.02, 0.01, 0.0005]), 1e-6
    for k in range(3):
        aside = step * theta[k] * np.eye(3)[k]
        slope = (rates.log_likelihood(theta + aside) - rates.log_likelihood(theta - aside)) / (2 * aside[k])
        assert rates.score(theta)[k] == pytest.approx(slope, rel=1e-5)
        curve = (rates.score(theta - aside) - rates.score(theta + aside)) / (2 * aside[k])
        assert rates.information(theta)[k] == pytest.approx(curve, rel=1e-5)


def test_the_maximum_is_one_and_its_slope_is_level():
    rates = twelve(1.5, constants=0)
    best = fit(rates, np.array([0.02, 0.01]))
    again = fit(rates, np.array([0.5, 0.3]))
    assert best.theta == pytest.approx(again.theta, rel=1e-6)
    assert rates.score(best.theta) * best.theta == pytest.approx(np.zeros(2), abs=1e-5)


def test_a_maximum_at_nothing_is_said():
    # The twelve apiaries are explained best without any background.
    with pytest.raises(ValueError, match="inside positive"):
        fit(twelve(1.5), np.array([0.02, 0.01, 0.0005]))


def test_what_cannot_be_is_refused():
    with pytest.raises(ValueError, match="behind its infection"):
        Times(infected=np.array([3.0]), removed=np.array([2.0]), start=0.0, end=9.0)
    with pytest.raises(ValueError, match="start < end"):
        Times(infected=np.array([3.0]), removed=np.array([4.0]), start=9.0, end=9.0)
    times = Times(infected=np.array([0.0, 1.0]), removed=np.array([4.0, 4.0]), start=0.5, end=9.0)
    with pytest.raises(ValueError, match="Expected pairs"):
        rates_of(times, np.ones((1, 3, 3)), np.ones((1, 2)))
    rates = Rates(at_infection=np.array([[1.0, 0.0]]), exposure=np.array([2.0, 3.0]))
    assert rates.log_likelihood(np.array([0.0, 1.0])) == -np.inf
    with pytest.raises(ValueError, match="positive start"):
        fit(rates, np.array([0.0, 1.0]))


@dataclass
class Measles:
    """Children of one village: when each was infectious, school class, house."""

    infected: np.ndarray
    removed: np.ndarray
    school_class: np.ndarray
    east: np.ndarray
    north: np.ndarray


@cache
def measles():
    table = load(data_file("surveillance", "hagelloch.RData"))["hagelloch.df"]
    infected, removed, school_class, east, north = (
        table[name].values for name in ("tI", "tR", "CL", "x.loc", "y.loc")
    )
    return Measles(infected, removed, school_class, east, north)


def measles_rates():
    m = measles()
    same = (m.east[:, None] == m.east) & (m.north[:, None] == m.north)
    both = [(m.school_class[:, None] == k) & (m.school_class == k) for k in (2, 3)]
    times = Times(infected=m.infected, removed=m.removed, start=0.0, end=float(m.removed.max()))
    return rates_of(times, np.stack([same, *both, ~same]).astype(float), np.ones((1, len(same))))


PUBLISHED = np.array([0.026868, 0.023892, 0.002932, 0.000831, np.exp(-7.362644)])
PUBLISHED_ERRORS = (0.006113, 0.005026, 0.000755, 0.000142, 0.887989)
"""Household, class 1, class 2, other household, background; the last one's error is of its logarithm."""


@pytest.mark.slow
def test_measles_data_are_those_of_the_paper():
    m = measles()
    assert (len(m.infected), (m.infected > 0).sum()) == (188, 187)
    assert len({*zip(m.east, m.north, strict=True)}) == 56
    assert [int((m.school_class == k).sum()) for k in (1, 2, 3)] == [90, 30, 68]
    assert (m.removed - m.infected).mean() == pytest.approx(7.933, abs=5e-4)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("theta", "expected", "tolerance"),
    [
        ((0.03, 0.02, 0.003, 0.001, np.exp(-7.0)), -621.40050816, 1e-6),
        ((0, 0, 0, 0, np.exp(-4.0)), -849.80194927, 1e-6),
        (tuple(PUBLISHED), -619.43276, 1e-4),
    ],
)
def test_measles_likelihood(theta, expected, tolerance):
    assert measles_rates().log_likelihood(np.array(theta)) == pytest.approx(expected, abs=tolerance)


@pytest.mark.slow
def test_measles_fit_is_the_published_one():
    """Our maximum is never below theirs, by less than a millionth, and no estimate differs by 1/300 of its error."""
    rates = measles_rates()
    best = fit(rates, np.array([0.03, 0.02, 0.003, 0.001, np.exp(-7.0)]))
    gain = best.log_likelihood - rates.log_likelihood(PUBLISHED)
    assert 0 <= gain < 1e-6 * abs(best.log_likelihood)
    assert best.log_likelihood == pytest.approx(-619.43276, abs=1e-4)
    errors = np.append(best.error[:4], best.log_error[4])
    assert errors == pytest.approx(np.array(PUBLISHED_ERRORS), abs=3e-5)
    apart = np.append(best.theta[:4] - PUBLISHED[:4], np.log(best.theta[4] / PUBLISHED[4]))
    assert np.abs(apart / errors).max() < 1 / 300


@pytest.mark.slow
def test_daily_model_comes_to_the_measles_likelihood():
    """Household and other household only, which are our keeper and contact routes; 188 children, steps of minutes."""
    m, household, other, background = measles(), 0.03, 0.001, np.exp(-7.0)
    house = np.unique(np.stack([m.east, m.north]), axis=1, return_inverse=True)[1]
    expected = measles_rates().log_likelihood(np.array([household, 0.0, 0.0, other, background]))
    got = []
    for steps in (25, 100):
        days = int(np.ceil(m.removed.max() * steps))
        infected = [int(np.floor(t * steps)) if t > 0 else -1 for t in m.infected]
        removed = [max(round(t * steps), day + 2) for t, day in zip(m.removed, infected, strict=True)]
        index = int(np.argmin(m.infected))
        w = world_of(bare_scene(m.east / 1000, m.north / 1000, house, days, np.minimum(removed, days), index))
        theta = parameters(other / steps, 1e6, (household - other) / steps, background / steps)
        got.append(log_of(w, new_state(w, 1, 0), theta, infected) + 187 * np.log(steps))
    assert abs(got[1] - expected) < 0.06
    assert abs(got[1] - expected) < 0.5 * abs(got[0] - expected)
