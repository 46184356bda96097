"""Moves of bees, comb and equipment as dated links between nodes, weighted by what was moved."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

import numpy as np

from broodsweep.register import Ground, Move
from broodsweep.spread import constants
from broodsweep.spread.scene import Moves
from broodsweep.units import FloatArray, IntArray


def weight_of(move: Move) -> float:
    """Return the weight of a move against one colony: goods by kind, pieces with diminishing returns.

    Pieces of one load share one fate (the same source colonies), so they count as their square root, up to a limit.
    """
    pieces = constants.UNKNOWN_QUANTITY.value if move.quantity is None else float(move.quantity)
    if pieces <= 0:
        return 0.0
    if move.goods not in constants.PIECED_GOODS:
        pieces = 1.0
    risk = constants.GOODS_RISK[move.goods].value
    return float(risk * np.sqrt(min(pieces, constants.MOST_PIECES.value**2)))


def moves_of(ground: Ground, at: IntArray, table: FloatArray, first: date, on: date, days: int) -> Moves:
    """Return the moves within the horizon between the lives that stood on the day.

    Parameters
    ----------
    at
        Number of the apiary of each node.
    table
        Columns of the nodes: 1 is the start, 2 the stop.
    """
    lives: dict[str, list[int]] = defaultdict(list)
    for node, number in enumerate(at):
        lives[ground.apiaries[number].apiary].append(node)

    def node_on(apiary: str | None, day: int) -> int:
        standing = [n for n in lives.get(apiary or "", ()) if table[n, 1] <= day < table[n, 2]]
        return standing[-1] if standing else -1

    rows = []
    for move in ground.moves:
        day = (move.moved_on - first).days
        if not 0 <= day < days or move.moved_on > on or move.from_apiary == move.to_apiary:
            continue
        target = node_on(move.to_apiary, day)
        weight = weight_of(move)
        if target < 0 or weight <= 0.0:
            continue
        source = node_on(move.from_apiary, day)
        if source != target:
            rows.append((source, target, day, weight))
    found = np.array(rows, dtype=float).reshape(-1, 4)
    return Moves(
        source=found[:, 0].astype(np.int64),
        target=found[:, 1].astype(np.int64),
        day=found[:, 2].astype(np.int64),
        weight=found[:, 3],
    )
