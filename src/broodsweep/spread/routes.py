"""Where each found infection came from: shares by source and route, averaged over the draws.

In a draw, the chance that the infection of j on its day came from one source by one route is that term of the pressure
on j over the whole pressure (a Poisson process of contacts, thinned); the average over draws is the posterior share.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import timedelta

import numpy as np

from broodsweep.spread.answer import Share, Sources
from broodsweep.spread.arrays import State, World
from broodsweep.spread.data import Setup
from broodsweep.spread.draws import Draws
from broodsweep.spread.start import put_days, put_parameters
from broodsweep.spread.tracing import pressures_on
from broodsweep.words import say

NEAR, KEEPER, MOVE = 0, 1, 2
_ROUTES = ("distance", "same_keeper", "move")
_MOST_DRAWS = 400
_MOST_SOURCES = 12
_LEAST_SHARE = 0.01
_UNEXPLAINED = 0.5
"""Share of background, start, outside and unregistered together beyond which a note is given."""


def sources_of(setup: Setup, w: World, st: State, draws: Draws) -> tuple[Sources, ...]:
    """Return the sources of every found apiary; ``st`` is a state to work in."""
    targets = np.flatnonzero(w.node["found_how"] > 0)
    if len(targets) == 0:
        return ()
    every = max(1, len(draws) // _MOST_DRAWS)
    shares: list[dict[tuple[int, int], float]] = [defaultdict(float) for _ in targets]
    days: list[list[int]] = [[] for _ in targets]
    used = range(0, len(draws), every)
    for d in used:
        part = slice(draws.first[d], draws.first[d + 1])
        put_parameters(w, st, draws.theta[d])
        put_days(w, st, draws.node[part], draws.days[part, 0], draws.days[part, 1])
        for t, j in enumerate(targets):
            days[t].append(int(st.life["infected"][j]))
            source, route, value = pressures_on(w, st, int(j))
            whole = float(value.sum())
            for one, by, term in zip(source, route, value, strict=True):
                if term > 0.0:
                    shares[t][int(one), int(by)] += float(term) / whole
    return tuple(
        _sources(setup, w, int(j), shares[t], np.array(days[t]), len(used)) for t, j in enumerate(targets)
    )


def _sources(
    setup: Setup, w: World, j: int, shares: dict[tuple[int, int], float], days: np.ndarray, draws: int
) -> Sources:
    named: dict[tuple[str, str], float] = defaultdict(float)
    cells: dict[int, float] = defaultdict(float)
    for (source, route), summed in shares.items():
        value = summed / draws
        if source == -1:
            named["background", "background"] += value
        elif source == -2:  # noqa: PLR2004 - the code of `tracing`
            named["start", "start"] += value
        elif source == -3:  # noqa: PLR2004
            named["outside", "outside"] += value
        elif setup.apiary_of[source] < 0:
            cells[source] += value
        else:
            named[setup.ground.apiaries[setup.apiary_of[source]].apiary, _ROUTES[route]] += value
    rows = [Share(source=one, route=route, share=value) for (one, route), value in named.items()]
    if cells:
        rows.append(_area(setup, w, cells))
    rows.sort(key=lambda row: (-row.share, row.source, row.route))
    unexplained = sum(
        row.share for row in rows if row.route in ("background", "start", "outside", "unregistered")
    )
    day = [
        setup.first + timedelta(days=int(q)) for q in np.quantile(days, [0.5, 0.05, 0.95], method="nearest")
    ]
    return Sources(
        apiary=setup.ground.apiaries[setup.apiary_of[j]].apiary,
        infected_on=day[0],
        infected_low_on=day[1],
        infected_high_on=day[2],
        shares=tuple(row for row in rows[:_MOST_SOURCES] if row.share >= _LEAST_SHARE),
        unexplained_share=unexplained,
        note=say("spread.note_unexplained", unexplained_share=unexplained)
        if unexplained > _UNEXPLAINED
        else None,
    )


def _area(setup: Setup, w: World, cells: dict[int, float]) -> Share:
    """One share for all unregistered apiaries, with the circle that holds most of them."""
    nodes = np.array(list(cells))
    weight = np.array([cells[node] for node in nodes])
    east, north = (
        np.average(w.node["east"][nodes], weights=weight),
        np.average(w.node["north"][nodes], weights=weight),
    )
    away = np.hypot(w.node["east"][nodes] - east, w.node["north"][nodes] - north)
    longitude, latitude = setup.to_degrees(float(east), float(north))
    return Share(
        source="unregistered",
        route="unregistered",
        share=float(weight.sum()),
        longitude=longitude,
        latitude=latitude,
        radius_m=float(np.sqrt(np.average(away**2, weights=weight)) + setup.cells.side_m / 2),
    )
