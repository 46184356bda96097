"""The forward simulator and the sampler against the general stochastic epidemic: random removal, no place.

Sources: final sizes by the textbook recursion over (susceptible, infective), values of the project's epidemiology
reference, checks 95 and 96 (1/3, 1/6, 1/2 by hand); smallpox in Abakaliki, 30 removal times among 120 people (O'Neill &
Roberts 1999, JRSS A 162:121, times and estimates from memory; checks 67 and 68: rate of infection .00092, published about
.0009, rate of removal .096, published about .098, and with vague priors .00099 and .105 from separate code).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from broodsweep.constants import Disease
from broodsweep.spread import Settings, pin, priors_of
from broodsweep.spread.draws import collect
from broodsweep.spread.engine import sample
from broodsweep.spread.incubation import Curves
from broodsweep.spread.priors import Slot, middle
from broodsweep.spread.rehearsal import Stage, Starts, Strategy, rehearse
from broodsweep.spread.scene import Scene, world_of
from broodsweep.spread.start import new_state, put_parameters

NEVER = 1_000_000


def final_sizes(susceptible, infection, removal):
    """Return the chances of 0, 1 … further infections from one infective, by recursion."""
    chances = np.zeros((susceptible + 1, susceptible + 2))
    chances[susceptible, 1] = 1.0
    for left in range(susceptible, -1, -1):
        for ill in range(susceptible + 1 - left, 0, -1):
            to_infection = infection * left / (infection * left + removal)
            if left:
                chances[left - 1, ill + 1] += chances[left, ill] * to_infection
            chances[left, ill - 1] += chances[left, ill] * (1 - to_infection)
    return chances[::-1, 0]


EPIDEMICS = [(2, 1.0, 1.0), (3, 0.5, 1.0), (5, 0.3, 1.0)]


def test_recursion_gives_the_values_of_the_reference():
    assert final_sizes(*EPIDEMICS[0]) == pytest.approx([1 / 3, 1 / 6, 1 / 2], abs=1e-12)
    assert final_sizes(*EPIDEMICS[1]) == pytest.approx([0.4, 0.15, 0.155556, 0.294444], abs=1e-6)
    five = final_sizes(*EPIDEMICS[2])
    assert (five[0], five @ np.arange(6)) == pytest.approx((0.4, 1.932048), abs=1e-6)


@pytest.mark.parametrize(("susceptible", "infection", "removal"), EPIDEMICS)
def test_futures_end_with_the_sizes_of_the_general_epidemic(susceptible, infection, removal):
    """Reports remove at a constant rate, everybody meets everybody; a day is 1/400 of the mean time ill."""
    n, day, days, futures = susceptible + 1, 1 / 400, 4000, 1500
    stage = Stage(
        place_m=np.zeros((n, 2)), colonies=np.full(n, 5), keeper=np.arange(n), flight=np.ones(days),
        opening=np.ones(days), is_workday=np.zeros(days, bool), seen_day=np.full(n, -NEVER),
        found_day=np.full(n, -NEVER), moves=np.zeros((0, 4)),
    )  # fmt: skip
    rates = {
        "background": 0.0, "distance_rate": infection * day, "reach_m": 1e9, "shape": 0.0, "keeper_rate": 0.0,
        "move_rate": 0.0, "early_share": 1.0, "sensitivity": 0.8, "growth": 1 / 120, "report_rate": removal * day,
        "signs_shape": 1.0, "signs_scale": 1e-6,
    }  # fmt: skip
    starts = Starts(
        **{name: np.array([value]) for name, value in rates.items()}, pointers=np.array([0, 1]),
        apiary=np.array([0]), infected_day=np.array([-1]), signs_day=np.array([0]),
    )  # fmt: skip
    plan = Strategy(
        name="reports only", radius_m=0.0, inspectors=0.0, relapse_probability=0.0, clear_after_days=1
    )
    [got] = rehearse(stage, starts, [plan], futures=futures, seed=5)
    assert (got.left_at_end == 0).mean() > 0.995
    seen = np.bincount(got.infected - 1, minlength=n)
    expected = final_sizes(susceptible, infection, removal) * futures
    assert stats.chisquare(seen, expected).pvalue > 0.001


GAPS = "13 7 2 3 0 0 1 4 5 3 2 0 2 0 5 3 1 4 0 1 1 1 2 0 1 5 0 5 5"
PEOPLE, STEPS, BEFORE, BEHIND = 120, 5, 60, 400
"""Steps a day; days before the first removal, and behind the last: silent so long that nobody is left infected."""


def at_once(days):
    """Signs on the day of infection; any other day has a chance too small to matter, so that a chain can begin there."""
    chance = np.full(days + 1, 1e-30)
    chance[0] = 1.0
    return Curves.of(chance, days, 1.0)


def smallpox():
    """The epidemic as a scene: removals are reports, an infected person infects from the next step on until then."""
    removed_on = np.concatenate([[0], np.cumsum([int(gap) for gap in GAPS.split()])]) + BEFORE
    assert (len(removed_on), removed_on[-1] - BEFORE) == (30, 76)
    days, found = (removed_on[-1] + BEHIND) * STEPS, np.zeros(PEOPLE, np.int64)
    found[:30] = removed_on * STEPS
    is_found = np.arange(PEOPLE) < 30
    end = np.where(is_found, found, days)
    nothing, ones = np.zeros(PEOPLE), np.ones(PEOPLE)
    return Scene(
        days=int(days), east_m=nothing, north_m=nothing, precision_m=nothing, colonies=5 * ones, susceptible=ones,
        infectious=ones, owner=np.arange(PEOPLE), start=np.zeros(PEOPLE, np.int64),
        stop=np.where(is_found, found + 1, days), removed=end, still=np.full(PEOPLE, days), atom_weight=nothing,
        atom_hazard=nothing, reporting=ones, found_how=np.where(is_found, 2, 0), found_day=found,
        found_opened=5 * ones, found_present=5 * ones, flight=np.ones(days), looked=np.ones(days),
        curves=at_once(int(days)), cut_m=1000.0,
    )  # fmt: skip


def infection_and_removal(infection, removal, spread, seed):
    """Return draws of both rates a day, under log-normal priors with these medians."""
    w = world_of(smallpox())
    # A background so small that it explains the first infection, whenever that was, and no other.
    priors = pin(
        priors_of(Disease.AFB), background=1e-9, reach=1e9, far_share=0.0, same_keeper=0.0, moved_colony=0.0,
        infectiousness_before_signs=1.0, sensitivity=0.8,
    )  # fmt: skip
    state = new_state(w, 1, 0)
    put_parameters(w, state, middle(priors))
    per_case = state.theta[Slot.CONTACT] / state.theta[Slot.CASES]
    medians = {Slot.CASES: infection / STEPS / per_case, Slot.REPORT: removal / STEPS}
    priors = tuple(
        replace(row, first=medians[row.slot], second=spread) if row.slot in medians else row for row in priors
    )
    settings = Settings(
        warm_sweeps=4000, batch_sweeps=4000, least_batches=6, most_batches=6, updates=60, draws=8000
    )
    chains, near, far, check = sample(w, priors, seed, settings)
    assert check.rhat_max < 1.05
    theta = collect(chains, near, far, settings.draws).theta
    return theta[:, Slot.CONTACT] * STEPS, theta[:, Slot.REPORT] * STEPS


def under_gamma_priors(draws, medians, spread, gammas):
    """Return weights that put gamma priors (shape, rate) in the place of the log-normal ones."""
    log_weight = np.zeros(len(draws[0]))
    for values, median, (shape, rate) in zip(draws, medians, gammas, strict=True):
        log_weight += stats.gamma.logpdf(values, shape, scale=1 / rate)
        log_weight -= stats.lognorm.logpdf(values, spread, scale=median)
    weight = np.exp(log_weight - log_weight.max())
    assert weight.sum() ** 2 / (weight**2).sum() > 500
    return weight / weight.sum()


@pytest.mark.slow
def test_smallpox_with_informative_priors():
    medians, spread = (0.00095, 0.095), 0.35
    draws = infection_and_removal(*medians, spread, 3)
    weight = under_gamma_priors(draws, medians, spread, ((10, 1e4), (10, 1e2)))
    assert weight @ draws[0] == pytest.approx(0.00092, abs=5e-5)
    assert weight @ draws[1] == pytest.approx(0.096, abs=0.005)


@pytest.mark.slow
def test_smallpox_with_vague_priors():
    medians, spread = (0.001, 0.1), 1.0
    draws = infection_and_removal(*medians, spread, 4)
    weight = under_gamma_priors(draws, medians, spread, ((1, 0.001), (1, 0.001)))
    infection, removal = weight @ draws[0], weight @ draws[1]
    assert infection == pytest.approx(0.00099, rel=0.05)
    assert removal == pytest.approx(0.105, rel=0.05)
    assert weight @ (PEOPLE * draws[0] / draws[1]) == pytest.approx(1.17, rel=0.05)
    order = np.argsort(draws[1])
    low, high = np.interp([0.025, 0.975], np.cumsum(weight[order]), draws[1][order])
    assert (low, high) == pytest.approx((0.055, 0.179), rel=0.1)
