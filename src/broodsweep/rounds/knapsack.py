"""A loose bound by time alone, in a tenth of a second."""

from __future__ import annotations

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csc_array

from broodsweep.rounds.columns import Prepared
from broodsweep.units import FloatArray


def knapsack_bound(prepared: Prepared) -> tuple[float, FloatArray]:
    """Return what all days together earn at most by time alone, and prices of the apiaries at that.

    Every visit takes its service and its quickest way in from anywhere; every inspector's day has its hours. Loose, in
    a tenth of a second: shown while the bound is worked out, and where its prices begin.
    """
    way = np.where(prepared.closed, np.inf, prepared.minutes.astype(np.float64))
    np.fill_diagonal(way, np.inf)
    km = np.where(prepared.closed, np.inf, prepared.price)
    np.fill_diagonal(km, np.inf)
    value: list[float] = []
    rows: list[int] = []
    cols: list[int] = []
    time: list[float] = []
    apiaries = len(prepared.names)
    for day in prepared.days:
        enter = np.minimum(way.min(axis=0, initial=np.inf), day.out)
        price = np.minimum(km.min(axis=0, initial=np.inf), day.out_price)
        for place in np.flatnonzero(np.isfinite(day.gain) & np.isfinite(price)):
            number = len(value)
            value.append(day.gain[place] - price[place])
            rows += [int(place), apiaries + day.number]
            cols += [number, number]
            time += [1.0, float(prepared.service[place] + enter[place])]
    if not value:
        return 0.0, np.zeros(apiaries)
    room = [float(day.last - day.first) for day in prepared.days]
    matrix = csc_array((time, (rows, cols)), shape=(apiaries + len(room), len(value)))
    limit = np.array([1.0] * apiaries + room)
    found = linprog(-np.array(value), A_ub=matrix, b_ub=limit, bounds=(0.0, 1.0), method="highs")
    prices = np.maximum(0.0, -found.ineqlin.marginals[:apiaries])
    return float(-found.fun), prices
