"""The sampler where the answer is known in closed form, against fixture T3, and against the forward simulator.

Source of T3: the project's epidemiology reference, section 4.5 (full enumeration, eight decimals). The closed forms are
those of the model: P(infected by today) = 1 - exp(-background x susceptibility x days in season).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from broodsweep.constants import Disease
from broodsweep.spread import Settings, pin, priors_of
from broodsweep.spread.draws import collect, none_left
from broodsweep.spread.engine import sample
from broodsweep.spread.incubation import Curves, curves_of
from broodsweep.spread.priors import Slot, middle
from broodsweep.spread.rehearsal import Stage, Starts, Strategy, rehearse
from broodsweep.spread.scene import Scene, Visits, world_of
from broodsweep.spread.start import new_state, put_parameters

QUICK = Settings(
    chains=4, threads=1, warm_sweeps=600, batch_sweeps=2000, least_batches=2, most_batches=2, thin=4
)
MONTE_CARLO = 0.012


def plain_scene(n, days, **more):
    """Nothing but apiaries of one colony that are susceptible all the time; signs at once."""
    whole = {name: np.zeros(n, np.int64) for name in ("start", "found_how", "found_day")}
    nothing = {
        name: np.zeros(n)
        for name in ("precision_m", "atom_weight", "atom_hazard", "found_opened", "found_present")
    }
    ones, end = np.ones(n), np.full(n, days)
    return Scene(
        **{
            **whole, **nothing, "days": days, "east_m": 1000.0 * np.arange(n), "north_m": np.zeros(n), "colonies": ones,
            "susceptible": ones, "infectious": ones, "owner": np.arange(n), "stop": end, "removed": end, "still": end,
            "reporting": np.zeros(n), "flight": np.ones(days), "looked": np.ones(days),
            "curves": Curves.of(np.array([1.0]), days, 1.0), "step_m": 1.0, **more,
        }
    )  # fmt: skip


def knowing(scene, contact=0.0, **values):
    """Return priors that know every parameter; contact is the rate at no distance."""
    plain = {
        "background": 0.0, "secondary_apiaries": 1.0, "reach": 1500.0, "far_share": 0.0, "same_keeper": 0.0,
        "moved_colony": 0.0, "infectiousness_before_signs": 1.0, "report": 1e-9, "sensitivity": 0.8,
    }  # fmt: skip
    priors = pin(priors_of(Disease.AFB), **{**plain, **values})
    w = world_of(scene)
    state = new_state(w, 1, 0)
    put_parameters(w, state, middle(priors))
    return pin(priors, secondary_apiaries=max(contact, 1e-12) / state.theta[Slot.CONTACT])


def answer(scene, priors, seed=1, settings=QUICK):
    chains, near, far, _ = sample(world_of(scene), priors, seed, settings)
    return collect(chains, near, far, settings.draws), none_left(chains)[0]


def three(found_c):
    """A, B and C of the fixture; two days of spread, then a day on which every apiary is inspected."""
    is_found = np.array([True, False, found_c])
    clean = np.flatnonzero(~is_found)
    certain = np.array([50.0, 0.0, 0.0])
    ones = np.ones(len(clean))
    return plain_scene(
        3, 3, east_m=np.array([0.0, 1000.0, 0.0]), north_m=np.array([0.0, 0.0, 3000.0]), owner=np.array([1, 2, 1]),
        atom_hazard=certain, flight=np.array([1.0, 1.0, 0.0]), found_how=is_found.astype(np.int64),
        found_day=np.where(is_found, 2, 0), found_opened=np.ones(3), found_present=np.ones(3),
        visits=Visits(node=clean, day=np.full(len(clean), 2), opened=ones, present=ones,
                      kind=np.zeros(len(clean), np.int64)),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("found_c", "b", "c", "none"),
    [(False, 0.09641044, 0.12077307, 0.79578839), (True, 0.10740720, 0.0, 1 - 0.10740720)],
)
def test_hidden_chances_of_three_apiaries(found_c, b, c, none):
    scene = three(found_c)
    draws, none_shown = answer(scene, knowing(scene, 0.4, same_keeper=0.2, background=0.01))
    assert draws.chance[1] == pytest.approx(b, abs=MONTE_CARLO)
    assert draws.chance[2] == pytest.approx(c, abs=MONTE_CARLO)
    assert none_shown == pytest.approx(none, abs=MONTE_CARLO)


def test_without_contact_and_keepers_each_apiary_stands_alone():
    size = np.array([0.5, 1.0, 2.0, 1.0])
    flight = np.ones(100)
    flight[:30] = 0.0
    scene = plain_scene(4, 100, susceptible=size, flight=flight, owner=np.zeros(4, np.int64))
    draws, none = answer(scene, knowing(scene, background=2e-3))
    assert draws.chance == pytest.approx(-np.expm1(-2e-3 * size * 70), abs=MONTE_CARLO)
    assert none == pytest.approx(np.exp(-2e-3 * size.sum() * 70), abs=0.02)


def test_without_distance_only_the_keepers_own_are_nearer_to_a_case():
    """The kernel falls to nothing within metres: neighbours of other keepers have the background's chance."""
    owner = np.array([7, 7, 8, 9])
    found = np.array([True, False, False, False])
    scene = plain_scene(
        4, 60, owner=owner, found_how=np.where(found, 2, 0), found_day=np.where(found, 40, 0),
        reporting=found.astype(float), found_opened=np.ones(4), found_present=np.ones(4),
    )  # fmt: skip
    priors = knowing(scene, 0.5, reach=1.0, same_keeper=0.01, background=1e-3, report=0.05)
    draws, _ = answer(scene, priors)
    alone = -np.expm1(-1e-3 * 60)
    assert draws.chance[2:] == pytest.approx([alone, alone], abs=MONTE_CARLO)
    assert draws.chance[1] > alone + 0.1


def visited(sensitivity, day=60):
    scene = plain_scene(
        3, 100,
        visits=Visits(node=np.array([1]), day=np.array([day]), opened=np.ones(1), present=np.ones(1),
                      kind=np.zeros(1, np.int64)),
    )  # fmt: skip
    draws, _ = answer(scene, knowing(scene, background=4e-3, sensitivity=sensitivity))
    return draws.chance


def test_after_a_perfect_look_only_what_came_since_is_left():
    """The visit comes before the day's infections, and what is infected on a day shows on it: 40 days are left."""
    chance = visited(1.0)
    alone = -np.expm1(-4e-3 * 100)
    assert chance[[0, 2]] == pytest.approx([alone, alone], abs=MONTE_CARLO)
    assert chance[1] == pytest.approx(-np.expm1(-4e-3 * 40), abs=MONTE_CARLO)


def test_a_useless_look_and_a_poor_one_give_the_closed_form():
    alone = -np.expm1(-4e-3 * 100)
    assert visited(1e-9) == pytest.approx([alone] * 3, abs=MONTE_CARLO)
    # Infected by the visit and overlooked with chance 1/2, or infected since.
    before, none = -np.expm1(-4e-3 * 60), np.exp(-4e-3 * 100)
    odds = 0.5 * before + np.exp(-4e-3 * 60) * -np.expm1(-4e-3 * 40)
    assert visited(0.5)[1] == pytest.approx(odds / (odds + none), abs=MONTE_CARLO)


@pytest.mark.slow
def test_without_evidence_the_sampler_is_the_forward_simulator():
    """Same district, same parameters, nothing seen: chance of nobody infected, mean and spread of their number."""
    n, days, rng = 30, 150, np.random.default_rng(8)
    at, keeper, colonies = rng.uniform(0, 4000, (n, 2)), rng.integers(0, 15, n), np.full(n, 5)
    flight = np.ones(days)
    flight[50:80] = 0.0
    scene = plain_scene(
        n, days, east_m=at[:, 0], north_m=at[:, 1], owner=keeper, colonies=colonies.astype(float), flight=flight,
        curves=curves_of(Disease.AFB, days),
    )  # fmt: skip
    truth = {"background": 3e-4, "same_keeper": 0.004, "infectiousness_before_signs": 0.3, "reach": 1000.0}
    settings = replace(QUICK, batch_sweeps=6000)
    draws, none = answer(scene, knowing(scene, 0.006, **truth), settings=settings)
    stage = Stage(
        place_m=at, colonies=colonies, keeper=keeper, flight=flight, opening=np.ones(days),
        is_workday=np.zeros(days, bool), seen_day=np.full(n, -(10**6)), found_day=np.full(n, -(10**6)),
        moves=np.zeros((0, 4)),
    )  # fmt: skip
    rates = {
        "background": 3e-4, "distance_rate": 0.006, "reach_m": 1000.0, "shape": 0.0, "keeper_rate": 0.004,
        "move_rate": 0.0, "early_share": 0.3, "sensitivity": 0.8, "growth": 1 / 120, "report_rate": 0.0,
        "signs_shape": 1.5, "signs_scale": 60.0,
    }  # fmt: skip
    none_yet = np.zeros(0, np.int64)
    starts = Starts(
        **{name: np.array([value]) for name, value in rates.items()}, pointers=np.array([0, 0]), apiary=none_yet,
        infected_day=none_yet, signs_day=none_yet,
    )  # fmt: skip
    [got] = rehearse(
        stage, starts, [Strategy(name="idle", radius_m=0.0, inspectors=0.0)], futures=6000, seed=4
    )
    assert none == pytest.approx((got.infected == 0).mean(), abs=0.03)
    assert draws.chance.sum() == pytest.approx(got.infected.mean(), rel=0.08)
    assert draws.unseen.std() == pytest.approx(got.infected.std(), rel=0.12)


def test_futures_of_three_apiaries_infect_as_many_as_enumeration_says():
    """Four steps without any control: 2.26906079 of three are ever infected (fixture T3, strategy "none")."""
    n, days, futures = 3, 4, 20_000
    stage = Stage(
        place_m=np.array([[0.0, 0.0], [1000.0, 0.0], [0.0, 3000.0]]), colonies=np.full(n, 5),
        keeper=np.array([1, 2, 1]), flight=np.ones(days), opening=np.ones(days), is_workday=np.zeros(days, bool),
        seen_day=np.full(n, -(10**6)), found_day=np.full(n, -(10**6)), moves=np.zeros((0, 4)),
    )  # fmt: skip
    rates = {
        "background": 0.01, "distance_rate": 0.4, "reach_m": 1500.0, "shape": 0.0, "keeper_rate": 0.2, "move_rate": 0.0,
        "early_share": 1.0, "sensitivity": 0.8, "growth": 1 / 120, "report_rate": 0.0, "signs_shape": 1.0,
        "signs_scale": 1e-6,
    }  # fmt: skip
    starts = Starts(
        **{name: np.array([value]) for name, value in rates.items()}, pointers=np.array([0, 1]),
        apiary=np.array([0]), infected_day=np.array([-1]), signs_day=np.array([-1]),
    )  # fmt: skip
    idle = Strategy(name="none", radius_m=0.0, inspectors=0.0)
    [got] = rehearse(stage, starts, [idle], futures=futures, seed=9)
    error = got.infected.std() / np.sqrt(futures)
    assert got.infected.mean() == pytest.approx(2.26906079, abs=4 * error)
