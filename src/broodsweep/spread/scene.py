"""Plain arrays of one question, and the compiled world made from them.

`data` makes a scene from the tables; tests make theirs by hand.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from broodsweep.spread import constants
from broodsweep.spread.arrays import MOVE, NODE, ROW, VISIT, World
from broodsweep.spread.distances import Rows, rows_within
from broodsweep.spread.incubation import Curves
from broodsweep.spread.settings import Kernel
from broodsweep.units import AnyArray, FloatArray, IntArray


@dataclass(frozen=True, kw_only=True)
class Moves:
    """Dated moves between nodes; a source of -1 is outside the register. Shape (moves,)."""

    source: IntArray
    target: IntArray
    day: IntArray
    weight: FloatArray

    @classmethod
    def none(cls) -> Moves:
        """Return no moves."""
        nothing = np.zeros(0, dtype=np.int64)
        return cls(source=nothing, target=nothing, day=nothing, weight=np.zeros(0))


@dataclass(frozen=True, kw_only=True)
class Visits:
    """Visits before any finding, that saw no signs (0) or an open suspicion (1). Shape (visits,)."""

    node: IntArray
    day: IntArray
    opened: FloatArray
    present: FloatArray
    kind: IntArray

    @classmethod
    def none(cls) -> Visits:
        """Return no visits."""
        nothing = np.zeros(0, dtype=np.int64)
        return cls(node=nothing, day=nothing, opened=np.zeros(0), present=np.zeros(0), kind=nothing)


@dataclass(frozen=True, kw_only=True)
class Scene:
    """Everything a run needs, node by node; names as in `arrays.World`, shape (nodes,) unless said.

    ``density_per_m2`` is the summed susceptibility per square metre where the cases are.
    """

    days: int
    east_m: FloatArray
    north_m: FloatArray
    precision_m: FloatArray
    colonies: FloatArray
    susceptible: FloatArray
    infectious: FloatArray
    owner: IntArray
    start: IntArray
    stop: IntArray
    removed: IntArray
    still: IntArray
    atom_weight: FloatArray
    atom_hazard: FloatArray
    reporting: FloatArray
    found_how: IntArray
    found_day: IntArray
    found_opened: FloatArray
    found_present: FloatArray
    flight: FloatArray
    looked: FloatArray
    curves: Curves
    visits: Visits = field(default_factory=Visits.none)
    moves: Moves = field(default_factory=Moves.none)
    kernel: Kernel = Kernel.EXPONENTIAL
    cut_m: float = constants.CUT_M.value
    step_m: float = constants.KERNEL_STEP_M.value
    growth_per_day: float = 1.0 / constants.WITHIN_APIARY_DAYS.value
    mending_days: float = 0.0
    density_per_m2: float | None = None

    @property
    def nodes(self) -> int:
        """How many nodes there are."""
        return len(self.east_m)


def grouped(keys: IntArray, groups: int) -> tuple[IntArray, IntArray]:
    """Return where each group starts and the items in order of group (stable)."""
    order = np.argsort(keys, kind="stable")
    start = np.zeros(groups + 1, dtype=np.int64)
    np.cumsum(np.bincount(keys, minlength=groups)[:groups], out=start[1:])
    return start, order


def _cumulative(a_day: FloatArray) -> FloatArray:
    return np.concatenate([[0.0], np.cumsum(a_day)])


def world_of(scene: Scene) -> World:
    """Return the compiled world of a scene: neighbour rows, sums by keeper, moves and visits by node."""
    n = scene.nodes
    from broodsweep.spread.picking import fill_swap_sums

    rows = rows_within(scene.east_m, scene.north_m, scene.precision_m, scene.cut_m)
    owner = np.unique(scene.owner, return_inverse=True)[1].astype(np.int64).reshape(n)
    owner_start, owner_node = grouped(owner, int(owner.max(initial=-1)) + 1)
    node = _nodes(scene, owner, len(owner_start) - 1)
    special_start, special_node = _special_rows(rows, owner, owner_start, owner_node, node["is_special"])
    known = np.flatnonzero(scene.moves.source >= 0)
    out_start, by_source = grouped(scene.moves.source[known], n)
    into_start, by_target = grouped(scene.moves.target, n)
    visit_start, by_node = grouped(scene.visits.node, n)
    for name, start in (
        ("row", rows.start), ("special", special_start), ("out", out_start), ("into", into_start),
        ("visit", visit_start),
    ):  # fmt: skip
        node[f"{name}_first"], node[f"{name}_last"] = start[:-1], start[1:]
    node["own_first"], node["own_last"] = owner_start[owner], owner_start[owner + 1]
    visits = scene.visits
    looked, curves = _cumulative(scene.looked), scene.curves
    world = World(
        days=scene.days,
        node=node,
        flown=_cumulative(scene.flight),
        season=np.stack([np.append(scene.flight, 0.0), np.append(scene.looked, 0.0), looked]),
        curve=np.stack(
            [curves.log_signs, curves.log_unsigned, curves.log_signs_start, curves.log_unsigned_start]
        ),
        row=_columns(
            ROW,
            len(rows.node),
            node=rows.node,
            weight=np.where(node["is_special"], 0.0, node["susceptible"])[rows.node],
            distance=rows.distance_m,
        ),
        special_node=special_node,
        owner_node=owner_node,
        out=_moves(scene.moves, scene.moves.target, known[by_source]),
        into=_moves(scene.moves, scene.moves.source, by_target),
        visit=_columns(
            VISIT,
            len(by_node),
            day=visits.day[by_node],
            opened=visits.opened[by_node],
            present=visits.present[by_node],
            kind=visits.kind[by_node],
        ),
        growth=scene.growth_per_day,
        mending=scene.mending_days,
        suspicion=constants.FALSE_SUSPICION.value,
        standstill_leaves=constants.STANDSTILL_LEAVES.value,
        outside=constants.OUTSIDE_PREVALENCE.value,
        cut=scene.cut_m,
        step=scene.step_m,
        kernel=int(scene.kernel),
        second_scale=constants.SECOND_SCALE_M.value,
        contact_scale=_contact_scale(scene),
    )
    fill_swap_sums(world)
    return world


def _columns(shape: Any, size: int, /, **columns: AnyArray) -> AnyArray:
    table = np.zeros(size, dtype=shape)
    for name, values in columns.items():
        table[name] = values
    return table


def _rounded(values: FloatArray) -> FloatArray:
    return values.astype(np.float32).astype(np.float64)


def _moves(moves: Moves, other: IntArray, which: IntArray) -> AnyArray:
    return _columns(MOVE, len(which), node=other[which], day=moves.day[which], weight=moves.weight[which])


def _nodes(scene: Scene, owner: IntArray, owners: int) -> AnyArray:
    special = (scene.start > 0) | (scene.stop < scene.days)
    ordinary = np.where(special, 0.0, _rounded(scene.susceptible))
    sums = np.bincount(owner, weights=ordinary, minlength=owners)[owner] - ordinary
    alone = np.bincount(owner, weights=~special, minlength=owners)[owner] - ~special <= 0
    same = (
        "infectious", "start", "stop", "removed", "still", "atom_weight", "atom_hazard", "found_how",
        "found_day", "found_opened", "found_present", "reporting", "colonies",
    )  # fmt: skip
    return _columns(
        NODE,
        scene.nodes,
        east=scene.east_m,
        north=scene.north_m,
        blur=scene.precision_m**2 / 6.0,
        owner=owner,
        # In single precision, as in the rows, so that sums over rows and single terms agree to the last bit.
        susceptible=_rounded(scene.susceptible),
        # Subtraction must not leave dust where nothing is.
        owner_sum=np.where(alone, 0.0, np.maximum(sums, 0.0)),
        is_special=special,
        **{name: getattr(scene, name) for name in same},
    )


def _contact_scale(scene: Scene) -> float:
    density = scene.density_per_m2
    if density is None:
        width = np.ptp(scene.east_m) if scene.nodes else 0.0
        height = np.ptp(scene.north_m) if scene.nodes else 0.0
        area = max(width * height, np.pi * constants.DENSITY_RADIUS_M.value**2)
        density = float(scene.susceptible.sum()) / area
    return max(density, 1e-12) * constants.CONTACT_DAYS.value


def _special_rows(
    rows: Rows, owner: IntArray, owner_start: IntArray, owner_node: IntArray, special: FloatArray
) -> tuple[IntArray, IntArray]:
    """Return for every node its special neighbours, by distance or by keeper, each once."""
    n = len(owner)
    pairs: list[IntArray] = []
    for s in np.flatnonzero(special):
        near = rows.node[rows.start[s] : rows.start[s + 1]]
        own = owner_node[owner_start[owner[s]] : owner_start[owner[s] + 1]]
        both = np.union1d(near, own).astype(np.int64)
        both = both[both != s]
        pairs.append(np.stack([both, np.full(len(both), s)]))
    if not pairs:
        return np.zeros(n + 1, dtype=np.int64), np.zeros(0, dtype=np.int64)
    joined = np.concatenate(pairs, axis=1)
    start, order = grouped(joined[0], n)
    return start, joined[1][order]
