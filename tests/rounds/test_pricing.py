"""The best round of a day at given prices: against trying every order."""

from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np
import pytest

from broodsweep.rounds.ahead import completions
from broodsweep.rounds.pricing import best_rounds, near_neighbours

DAY = (0, 200)
HOPEFUL = 1e9
"""More than anything can earn: nothing is cut off."""


def day_of(seed: int, count: int = 7) -> dict[str, np.ndarray]:
    """Return arrays of a day with uneven roads, closed ways and hours."""
    rng = np.random.default_rng(seed)
    minutes = rng.integers(5, 60, (count, count))
    early = rng.integers(0, 90, count)
    return {
        "gain": rng.uniform(0.0, 1.0, count),
        "minutes": minutes,
        "price": 0.004 * minutes,
        "closed": rng.random((count, count)) < 0.1,
        "early": early,
        "late": early + rng.integers(20, 110, count),
        "service": rng.integers(10, 50, count),
        "out": rng.integers(0, 40, count),
        "out_price": rng.uniform(0.0, 0.2, count),
        "back": rng.integers(0, 40, count),
        "back_price": rng.uniform(0.0, 0.2, count),
    }


def earned(day: dict[str, np.ndarray], order: tuple[int, ...]) -> float:
    """Return what an order of visits earns; minus infinity when it cannot be driven."""
    clock = DAY[0] + day["out"][order[0]]
    worth = -day["out_price"][order[0]]
    for before, here in pairwise((-1, *order)):
        if before >= 0:
            if day["closed"][before, here]:
                return -np.inf
            clock += day["minutes"][before, here]
            worth -= day["price"][before, here]
        clock = max(clock, day["early"][here])
        if clock > day["late"][here]:
            return -np.inf
        clock += day["service"][here]
        worth += day["gain"][here]
    if clock + day["back"][order[-1]] > DAY[1]:
        return -np.inf
    return float(worth - day["back_price"][order[-1]])


def priced(day: dict[str, np.ndarray], *, is_cut: bool) -> tuple[float, list[tuple[int, ...]]]:
    """Return best value and rounds, with hopeless beginnings cut off or not."""
    count = len(day["gain"])
    trans = near_neighbours(day["minutes"].copy())[1]
    shared = [day[name] for name in ("gain", "minutes", "price", "closed", "early", "late", "service")]
    ahead = completions(*shared, day["back"], day["back_price"], *DAY, trans)
    if not is_cut:
        ahead = (np.full_like(ahead[0], HOPEFUL), ahead[1], np.full_like(ahead[2], HOPEFUL))
    ends = [day[name] for name in ("out", "out_price", "back", "back_price")]
    everyone = np.ascontiguousarray(np.broadcast_to(np.arange(count), (count, count)))
    value, rows, _ = best_rounds(*shared, *ends, *DAY, trans, everyone, *ahead, 3, 0.0, 0.0, True)
    return float(value), [tuple(int(stop) for stop in row if stop >= 0) for row in rows]


@pytest.mark.parametrize("seed", range(40))
def test_the_best_round_is_that_of_trying_every_order(seed: int) -> None:
    """Up to ten apiaries everyone remembers everyone: the value is exactly that of the best real round."""
    day = day_of(seed)
    orders = [order for size in range(1, 6) for order in permutations(range(7), size)]
    best = max([0.0, *(earned(day, order) for order in orders)])
    value, rows = priced(day, is_cut=True)
    assert value == pytest.approx(best, abs=1e-9)
    assert earned(day, rows[0]) == pytest.approx(best, abs=1e-9)


@pytest.mark.parametrize("seed", range(40))
def test_cutting_off_hopeless_beginnings_never_loses_value(seed: int) -> None:
    """Thirty apiaries, of which each label remembers ten: what the cut must not go below is the uncut value."""
    day = day_of(seed, 30)
    assert priced(day, is_cut=True)[0] == pytest.approx(priced(day, is_cut=False)[0], abs=1e-9)
