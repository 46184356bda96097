"""Makes the whole island: land, people, three seasons, tables and truth, from one seed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from broodsweep.demo.basemap import make_basemap
from broodsweep.demo.constants import DEFAULT_SEED, DEMO_DAY
from broodsweep.demo.ground import make_ground, make_labels
from broodsweep.demo.history import make_history
from broodsweep.demo.inspections import make_officers
from broodsweep.demo.names import ISLAND
from broodsweep.demo.osm import OsmNode, OsmWay, as_osm
from broodsweep.demo.outbreaks import make_outbreaks
from broodsweep.demo.population import make_population
from broodsweep.demo.roads import make_roads
from broodsweep.demo.settlements import place_farms, place_villages
from broodsweep.demo.terrain import make_terrain
from broodsweep.demo.trade import make_moves
from broodsweep.demo.truth import Rows, apiary_rows, infection_rows
from broodsweep.outbreak import Outbreak
from broodsweep.register import Ground


@dataclass(frozen=True, kw_only=True)
class Island:
    """Skarnsey on its demo day: what the register knows, the map, and the truth kept aside."""

    name: str
    seed: int
    demo_on: date
    ground: Ground
    outbreaks: tuple[Outbreak, ...]
    basemap: dict[str, dict[str, Any]]
    osm_nodes: tuple[OsmNode, ...]
    osm_ways: tuple[OsmWay, ...]
    true_apiaries: Rows
    true_infections: Rows


def make_island(seed: int = DEFAULT_SEED) -> Island:
    """Return the island; the same seed gives the same island.

    Parameters
    ----------
    seed
        Any whole number >= 0. Each step draws from a stream of its own.

    Raises
    ------
    ValueError
        If the seed is negative, or makes no outbreaks that are worth showing.
    """
    if seed < 0:
        raise ValueError(f"Expected seed >= 0, got {seed}.")

    def stream(step: int) -> np.random.Generator:
        return np.random.default_rng([seed, step])

    terrain = make_terrain(stream(0))
    villages = place_villages(stream(1), terrain)
    farms_m = place_farms(stream(2), terrain, villages)
    roads = make_roads(stream(3), terrain, villages, farms_m)
    people = make_population(stream(4), terrain, villages, roads, farms_m)
    moves = make_moves(stream(5), people, terrain)
    officers = make_officers(stream(6), villages)
    history = make_history(seed, people, officers, moves)
    labels = make_labels(stream(7), people)
    nodes, ways = as_osm(roads, villages)
    return Island(
        name=ISLAND,
        seed=seed,
        demo_on=DEMO_DAY,
        ground=make_ground(stream(8), people, officers, history, labels, terrain.dry),
        outbreaks=make_outbreaks(history.efb, history.afb, officers, labels),
        basemap=make_basemap(terrain, villages, roads),
        osm_nodes=nodes,
        osm_ways=ways,
        true_apiaries=apiary_rows(people, labels),
        true_infections=infection_rows(people, history, labels),
    )
