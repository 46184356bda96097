"""From a finished run to futures: the draws of the posterior become the starts, the district becomes the stage."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from broodsweep.spread.arrays import NOT_FOUND
from broodsweep.spread.constants import (
    FLIGHT_BY_MONTH,
    OPENED_BY_MONTH,
    SECOND_SCALE_M,
    SIGNS_SCALE_AFB,
    SIGNS_SCALE_EFB,
    SIGNS_SHAPE_AFB,
    SIGNS_SHAPE_EFB,
    WITHIN_APIARY_DAYS,
)
from broodsweep.spread.engine import Hidden
from broodsweep.spread.priors import Slot
from broodsweep.spread.rehearsal import Stage, Starts
from broodsweep.spread.season import by_day
from broodsweep.units import AnyArray, FloatArray, IntArray

NEVER = 1_000_000
"""Stands for "never" among days, as in `futures`."""
YEAR_DAYS = 365
WEEKEND = 5
LEAST_OPENED = 0.25
"""Share of summer's opening below which inspectors do not open hives (project choice: March to October)."""


@dataclass(frozen=True, kw_only=True)
class Opening:
    """What futures begin from; ``names`` are the apiaries in the order of the stage, None for an unregistered site."""

    stage: Stage
    starts: Starts
    names: tuple[str | None, ...]


def open_futures(found: Hidden, days: int, *, draws: int = 200, opened_on: date | None = None) -> Opening:
    """Return stage and starts for so many days after the day of a run.

    Parameters
    ----------
    found
        The run.
    days
        Days that the futures last; day 0 is the day after the run's.
    draws
        Draws of the posterior to start from, evenly taken.
    opened_on
        Day since which a visit counts as swept; the first finding without it.
    """
    nodes = _nodes_today(found)
    position = np.full(len(found.world.node), -1, dtype=np.int64)
    position[nodes] = np.arange(len(nodes))
    chosen = np.unique(np.linspace(0, len(found.draws) - 1, min(draws, len(found.draws))).astype(np.int64))
    return Opening(
        stage=_stage(found, nodes, position, days, opened_on),
        starts=_starts(found, chosen, position),
        names=tuple(_name(found, node) for node in nodes),
    )


def _nodes_today(found: Hidden) -> IntArray:
    """Nodes that stand today: every apiary's life of today, and every cell for unregistered ones."""
    apiaries = found.setup.now[found.setup.now >= 0]
    cells = np.flatnonzero(found.setup.apiary_of < 0)
    return np.concatenate([apiaries, cells]).astype(np.int64)


def _name(found: Hidden, node: int) -> str | None:
    number = int(found.setup.apiary_of[node])
    return found.setup.ground.apiaries[number].apiary if number >= 0 else None


def _stage(found: Hidden, nodes: IntArray, position: IntArray, days: int, opened_on: date | None) -> Stage:
    node = found.world.node[nodes]
    start_on = found.answer.on + timedelta(days=1)
    south = float(np.mean([row.place.latitude for row in found.setup.ground.apiaries])) < 0.0
    opening = by_day(OPENED_BY_MONTH, start_on, days, south)
    weekday = np.array([(start_on + timedelta(days=day)).weekday() for day in range(days)])
    seen, found_day = _past(found, nodes, opened_on)
    return Stage(
        place_m=np.stack([node["east"], node["north"]], axis=1).astype(np.float64),
        blur_m2=node["blur"].astype(np.float64),
        colonies=np.maximum(node["colonies"], 1).astype(np.int64),
        keeper=_keepers(node["owner"]),
        flight=by_day(FLIGHT_BY_MONTH, start_on, days, south),
        opening=opening,
        is_workday=(weekday < WEEKEND) & (opening >= LEAST_OPENED),
        seen_day=seen,
        found_day=found_day,
        moves=_expected_moves(found, position, days),
        reporting=node["reporting"].astype(np.float64),
        is_registered=found.setup.apiary_of[nodes] >= 0,
        cut_m=float(found.world.cut),
    )


def _keepers(owner: AnyArray) -> IntArray:
    """Number the keepers; those without one are each their own."""
    keeper = owner.astype(np.int64).copy()
    alone = keeper < 0
    keeper[alone] = keeper.max(initial=0) + 1 + np.arange(int(alone.sum()))
    return keeper


def _past(found: Hidden, nodes: IntArray, opened_on: date | None) -> tuple[IntArray, IntArray]:
    """Return, for each node, the day of its last visit since the outbreak began and of its finding, or -NEVER."""
    ground, on = found.setup.ground, found.answer.on
    findings = [
        visit.visited_on for visit in ground.visits if visit.colonies_confirmed and visit.visited_on <= on
    ]
    since = opened_on or min(findings, default=on)
    last: dict[str, date] = {}
    for visit in ground.visits:
        if since <= visit.visited_on <= on:
            last[visit.apiary] = max(visit.visited_on, last.get(visit.apiary, visit.visited_on))
    seen, found_day = np.full(len(nodes), -NEVER), np.full(len(nodes), -NEVER)
    for place, node in enumerate(nodes):
        name = _name(found, node)
        if name in last:
            seen[place] = (last[name] - on).days - 1
        row = found.world.node[node]
        if row["found_how"] != NOT_FOUND:
            found_day[place] = int(row["found_day"]) - found.world.days
    return seen, found_day


def _expected_moves(found: Hidden, position: IntArray, days: int) -> FloatArray:
    """Repeat the last year's recorded moves a year on: the trade goes on as it went."""
    world = found.world
    rows = []
    for node in np.flatnonzero(position >= 0):
        for number in range(int(world.node[node]["out_first"]), int(world.node[node]["out_last"])):
            move = world.out[number]
            day = int(move["day"]) - world.days + YEAR_DAYS
            there = int(position[move["node"]]) if move["node"] >= 0 else -1
            if 0 <= day < days and there >= 0:
                rows.append((float(day), float(position[node]), float(there), float(move["weight"])))
    return np.array(rows, dtype=np.float64).reshape(-1, 4)


def _starts(found: Hidden, chosen: IntArray, position: IntArray) -> Starts:
    draws, days = found.draws, found.world.days
    theta = draws.theta[chosen]
    apiary, infected, signs, counts = [], [], [], []
    for draw in chosen:
        rows = slice(int(draws.first[draw]), int(draws.first[draw + 1]))
        node = draws.node[rows]
        here = (position[node] >= 0) & (found.world.node[node]["removed"] >= days)
        apiary.append(position[node[here]])
        infected.append(draws.days[rows][here, 0] - days)
        late = draws.days[rows][here, 1]
        signs.append(np.where(late >= days, -NEVER, late - days))
        counts.append(int(here.sum()))
    american = found.answer.disease == "AFB"
    whole = np.ones(len(chosen))
    return Starts(
        background=theta[:, Slot.BACKGROUND],
        distance_rate=theta[:, Slot.CONTACT],
        reach_m=theta[:, Slot.REACH],
        shape=theta[:, Slot.SHAPE],
        keeper_rate=theta[:, Slot.KEEPER],
        move_rate=theta[:, Slot.MOVE],
        early_share=theta[:, Slot.SILENT],
        sensitivity=theta[:, Slot.SENSITIVITY],
        growth=whole / WITHIN_APIARY_DAYS.value,
        report_rate=theta[:, Slot.REPORT],
        signs_shape=whole * (SIGNS_SHAPE_AFB if american else SIGNS_SHAPE_EFB).value,
        signs_scale=whole * (SIGNS_SCALE_AFB if american else SIGNS_SCALE_EFB).value,
        pointers=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
        apiary=np.concatenate(apiary).astype(np.int64),
        infected_day=np.concatenate(infected).astype(np.int64),
        signs_day=np.concatenate(signs).astype(np.int64),
        kernel=int(found.world.kernel),
        second_m=SECOND_SCALE_M.value,
    )
