"""A first picture in a moment: one step from the found apiaries, parameters at the middle of their priors.

It orders apiaries and shows where to look. It is not calibrated and is always marked as a first picture.
"""

from __future__ import annotations

from datetime import date

import numpy as np

from broodsweep.constants import Disease
from broodsweep.register import Ground
from broodsweep.spread import constants
from broodsweep.spread.data import Setup, setup_of
from broodsweep.spread.priors import Slot, middle, priors_of
from broodsweep.spread.settings import Settings
from broodsweep.units import FloatArray

_INFECTED_BEFORE_DAYS = 150
"""Days for which a found apiary is taken to have been infected before it was found: incubation and reporting."""


def first_look(
    ground: Ground, disease: Disease, on: date, settings: Settings | None = None
) -> dict[str, float]:
    """Return a rough figure for every apiary that is not found, by name; never shown as a probability."""
    settings = settings or Settings(unregistered=False)
    setup = setup_of(ground, disease, on, settings)
    figures = one_step(setup)
    return {
        row.apiary: float(figures[setup.now[number]])
        for number, row in enumerate(ground.apiaries)
        if setup.now[number] >= 0 and setup.scene.found_how[setup.now[number]] == 0
    }


def one_step(setup: Setup) -> FloatArray:
    """Return 1 - exp(-pressure of the found apiaries) for every node, times what clean visits leave."""
    scene, theta = setup.scene, middle(priors_of(setup.disease))
    flown = np.concatenate([[0.0], np.cumsum(scene.flight)])
    density = scene.density_per_m2 or 1e-7
    scale = density * constants.CONTACT_DAYS.value * 2 * np.pi * theta[Slot.REACH] ** 2
    contact = theta[Slot.CASES] / scale
    pressure = theta[Slot.BACKGROUND] * (flown[scene.stop] - flown[scene.start] + scene.atom_weight)
    given_by: dict[int, float] = {}
    for j in np.flatnonzero(scene.found_how > 0):
        begin = max(0, int(scene.found_day[j]) - _INFECTED_BEFORE_DAYS)
        given = flown[scene.removed[j]] - flown[min(begin, int(scene.removed[j]))]
        given_by[int(j)] = given
        blur = (scene.precision_m**2 + scene.precision_m[j] ** 2) / 6
        away = np.sqrt((scene.east_m - scene.east_m[j]) ** 2 + (scene.north_m - scene.north_m[j]) ** 2 + blur)
        near = contact * np.exp(-away / theta[Slot.REACH])
        pressure = pressure + given * (near + theta[Slot.KEEPER] * (scene.owner == scene.owner[j]))
    pressure = pressure * scene.susceptible
    moves = scene.moves
    for k in np.flatnonzero(np.isin(moves.source, list(given_by))):
        found = int(scene.found_day[moves.source[k]])
        if found - _INFECTED_BEFORE_DAYS <= moves.day[k] <= found:
            pressure[moves.target[k]] += theta[Slot.MOVE] * moves.weight[k]
    return np.asarray(-np.expm1(-pressure - scene.atom_hazard) * _left(setup, theta[Slot.SENSITIVITY]))


def _left(setup: Setup, sensitivity: float) -> FloatArray:
    """Share that clean visits leave: each hides what had signs by then, about half after three months."""
    left = np.ones(setup.scene.nodes)
    visits = setup.scene.visits
    today = setup.scene.days - 1
    half = constants.SIGNS_SHAPE_AFB.value * constants.SIGNS_SCALE_AFB.value
    share = np.minimum(1.0, visits.opened / visits.present)
    np.multiply.at(left, visits.node, 1.0 - sensitivity * share * np.exp(-(today - visits.day) / half) * 0.7)
    return left
