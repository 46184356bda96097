"""What a visit is worth: the expected fall in unseen infected apiary-days over the coming weeks.

For an apiary infected in a draw, a visit today of all its colonies finds it with a chance that follows from the days
it has had signs. What is avoided then is its own infected days until it would have been reported, and those of the
apiaries that it would have infected, to the first generation:

    found x integral over t to the horizon of S(t) [1 + r (horizon - t)],   S(t) = exp(-report x t with signs),

r its new infections a day. The value of a visit is the chance that it is infected times the mean of this over the draws
in which it is. Values of different apiaries add up: a draw's finding of one takes nothing from finding another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from broodsweep.spread import constants
from broodsweep.spread.arrays import State, World
from broodsweep.spread.engine import Hidden
from broodsweep.spread.kernels import row_sum
from broodsweep.spread.likelihood import new_table
from broodsweep.spread.observation import overlooked
from broodsweep.spread.priors import Slot
from broodsweep.spread.season import by_day
from broodsweep.spread.start import new_state
from broodsweep.units import FloatArray

_MOST_DRAWS = 400
_SHRINK = 10.0
"""Draws' worth of the common mean that each apiary's own mean is drawn to: project choice."""


@dataclass(frozen=True, kw_only=True)
class Worth:
    """Worth of visiting one apiary today: days avoided, chance to find it infected, chance that it is infected."""

    apiary: str
    days_avoided: float
    found_probability: float
    infected_probability: float


def worth(
    hidden: Hidden, *, opened_share: float = 1.0, weight: FloatArray | None = None
) -> tuple[Worth, ...]:
    """Return the worth of a visit today to every apiary that may be infected, greatest first.

    Parameters
    ----------
    hidden
        A finished run.
    opened_share
        Share of the colonies that the visit opens.
    weight
        Weights of the draws after new visits, from `reweight`; equal without.

    Raises
    ------
    ValueError
        If ``opened_share`` is not above 0 and at most 1.
    """
    if not 0.0 < opened_share <= 1.0:
        raise ValueError(f"Expected 0 < opened_share <= 1, got {opened_share}.")
    draws, w, setup = hidden.draws, hidden.world, hidden.setup
    even = np.full(len(draws), 1.0 / len(draws)) if weight is None else weight
    found, avoided, share = _by_node(hidden, opened_share, even)
    common = (avoided.sum() / max(share.sum(), 1e-12), found.sum() / max(share.sum(), 1e-12))
    extra = _SHRINK / max(len(draws), 1)
    chance = draws.chance.copy()
    if weight is not None:
        chance[draws.near] = even.astype(np.float32) @ draws.rows
    rows = []
    for line, node in zip(hidden.answer.apiaries, setup.now, strict=True):
        if line.probability is None or w.node["found_how"][node] > 0:
            continue
        p = float(chance[node])
        days = (avoided[node] + extra * common[0]) / (share[node] + extra)
        seen = (found[node] + extra * common[1]) / (share[node] + extra)
        rows.append(
            Worth(
                apiary=line.apiary,
                days_avoided=p * float(days),
                found_probability=p * float(seen),
                infected_probability=p,
            )
        )
    return tuple(sorted(rows, key=lambda row: (-row.days_avoided, row.apiary)))


def worth_of_set(hidden: Hidden, apiaries: Sequence[str], *, opened_share: float = 1.0) -> float:
    """Return the expected fall in unseen infected apiary-days from visiting a set of apiaries today."""
    wanted = set(apiaries)
    return sum(row.days_avoided for row in worth(hidden, opened_share=opened_share) if row.apiary in wanted)


def best_visits(hidden: Hidden, count: int, *, hours: dict[str, float] | None = None) -> tuple[Worth, ...]:
    """Return the visits that avoid most, or most an hour when the hours of each are given."""
    rows = worth(hidden)
    if hours:
        rows = tuple(sorted(rows, key=lambda row: -row.days_avoided / max(hours.get(row.apiary, 1.0), 1e-9)))
    return rows[:count]


def _by_node(
    hidden: Hidden, opened_share: float, even: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Weighted sums over the draws, node by node: found by a visit, days avoided, infected."""
    draws, w, setup = hidden.draws, hidden.world, hidden.setup
    n = len(w.node)
    found, avoided, share = np.zeros(n), np.zeros(n), np.zeros(n)
    work = new_state(w, 0, 0)
    work.theta[:] = np.median(draws.theta, axis=0)
    new_table(w, work)
    horizon = int(constants.WORTH_DAYS.value)
    first = setup.on + timedelta(days=1)
    south = bool(setup.ground.apiaries) and setup.ground.apiaries[0].place.latitude < 0
    flight = by_day(constants.FLIGHT_BY_MONTH, first, horizon, south)
    looked = by_day(constants.OPENED_BY_MONTH, first, horizon, south)
    step = max(1, -(-len(draws) // _MOST_DRAWS))
    used = np.zeros(len(draws), dtype=np.bool_)
    used[::step] = True
    scale = 1.0 / max(float(even[used].sum()), 1e-300)
    is_open = (w.node["found_how"] == 0) & (w.node["stop"] == w.days)
    looked_so_far, ahead = np.cumsum(looked), np.arange(horizon, 0, -1)
    draw_of = draws.draw_of
    for entry in np.flatnonzero(used[draw_of] & is_open[draws.node]):
        draw, node, signs = int(draw_of[entry]), int(draws.node[entry]), int(draws.days[entry, 1])
        share[node] += even[draw] * scale
        if signs >= w.days:
            continue
        theta, row = draws.theta[draw], w.node[node]
        colonies = float(row["colonies"])
        opened = max(1.0, colonies * opened_share)
        age = float(w.days - 1 - signs)
        seen = 1.0 - overlooked(w.growth, w.mending, float(theta[Slot.SENSITIVITY]), age, colonies, opened)
        stays = np.exp(-theta[Slot.REPORT] * row["reporting"] * looked_so_far)
        days = float((stays * (1.0 + _new_a_day(w, work, node, theta) * flight * ahead)).sum())
        found[node] += even[draw] * scale * seen
        avoided[node] += even[draw] * scale * seen * days
    return found, avoided, share


def _new_a_day(w: World, work: State, node: int, theta: FloatArray) -> float:
    """New infections a day in season by one apiary with signs."""
    near = theta[Slot.CONTACT] * row_sum(w, work, node)
    own = theta[Slot.KEEPER] * w.node["owner_sum"][node]
    return float(w.node["infectious"][node] * (near + own))
