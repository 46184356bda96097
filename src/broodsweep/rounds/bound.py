"""A cost that no plan can go below, by column generation, and the rounds found on the way.

Apiaries get prices. For given prices every inspector's day earns at most its best round; what all apiaries' prices
come to plus the best rounds of all days is at least what any plan earns: a bound, valid after every step
(Lagrange). The prices come from a linear programme over the rounds found so far.

What is left out of the rules makes the bound lower, never too high: visits for two need one inspector only,
breaks only shorten a day whose hours are long enough for that to be certain, and far-apart returns to one apiary
are let through (`pricing`).

References
----------
Desaulniers, Desrosiers, Solomon (eds) 2005, Column Generation, chapter 1.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np
from scipy.optimize import linprog

from broodsweep.rounds.ahead import completions
from broodsweep.rounds.columns import Column, DayPrices, Prepared, incidence, prepare
from broodsweep.rounds.cost import worth_of_visiting
from broodsweep.rounds.knapsack import knapsack_bound
from broodsweep.rounds.model import Task
from broodsweep.rounds.plan import Round
from broodsweep.rounds.pricing import best_rounds
from broodsweep.units import FloatArray, IntArray

SMOOTHING = 0.8
"""Share of the best prices so far kept in the next (Wentges): calms the prices."""
FEW_NEW = 0.5
"""New rounds a day, below which looking quickly gives way to looking exactly, which the bound needs."""
MOST_MISSED = 4
"""Times in turn that nothing new is found before the linear programme's own prices are asked."""
ROUNDS_A_DAY = 6
FEW_SUCCESSORS = 40
"""Apiaries tried after each when looking quickly."""
QUICK_SLACK = 0.3
"""How far below the best a quick look goes, in best gains: enough for several good rounds a day."""
MOST_ACTIVE = 2500
"""Rounds in the linear programme; of more, those farthest from worth their while are set aside until prices ask."""
_CLOSE = 1e-6
_SAFETY = 1e-9


@dataclass(frozen=True, kw_only=True)
class Bound:
    """A lower bound on the cost of any plan.

    ``is_tight`` says that the prices have settled: more time would not raise it. ``columns`` are rounds that look good
    at the last prices, as inspector, day and order of apiaries.
    """

    cost: float
    steps: int
    is_tight: bool
    columns: tuple[tuple[tuple[str, date], tuple[str, ...]], ...]


@dataclass
class _Master:
    """The linear programme over the rounds found so far; what is far from worth its while is set aside."""

    prepared: Prepared
    columns: list[Column] = field(default_factory=list)
    seen: set[tuple[int, frozenset[int]]] = field(default_factory=set)
    active: list[int] = field(default_factory=list)

    def add(self, column: Column) -> bool:
        """Take a round in; False when one of that day to the same apiaries, no worse, is there already."""
        key = (column.day, frozenset(column.order))
        if key in self.seen:
            return False
        self.seen.add(key)
        self.active.append(len(self.columns))
        self.columns.append(column)
        return True

    def solve(self) -> tuple[float, FloatArray, FloatArray]:
        """Return value, prices of the apiaries and of the days."""
        apiaries = len(self.prepared.names)
        if not self.columns:
            return 0.0, np.zeros(apiaries), np.zeros(len(self.prepared.days))
        matrix = incidence(self.prepared, self.columns)
        value = np.array([column.value for column in self.columns])
        while True:
            picked = np.array(self.active, dtype=np.int64)
            limits = np.ones(matrix.shape[0])
            found = linprog(-value[picked], A_ub=matrix[:, picked], b_ub=limits, method="highs-ds")
            prices = np.maximum(0.0, -found.ineqlin.marginals)
            gap = value - matrix.T @ prices
            missed = np.setdiff1d(np.flatnonzero(gap > _CLOSE), picked)
            if not len(missed):
                break
            self.active += missed.tolist()
        if len(self.active) > MOST_ACTIVE:
            kept = picked[np.argsort(-gap[picked], kind="stable")[: MOST_ACTIVE // 2]]
            self.active = sorted(kept.tolist())
        return -found.fun, prices[:apiaries], prices[apiaries:]


def lower_bound(
    task: Task,
    *,
    start: Sequence[Round] = (),
    gone: Callable[[], float] | None = None,
    steps: int = 200,
    threads: int = 2,
    progress: Callable[[float], None] | None = None,
) -> Bound:
    """Return a cost that no plan of the task can go below.

    Parameters
    ----------
    task
        What is planned.
    start
        Rounds of a plan to begin the prices from; any plan does.
    gone
        Returns the share of the time that is over; None: no limit of time.
    steps
        Most steps.
    threads
        Days that are priced at the same time.
    progress
        Called after each step with the share of the time that is over.
    """
    prepared = prepare(task)
    base = sum(worth_of_visiting(task, row) for row in task.candidates)
    if not prepared.names or not prepared.days:
        return Bound(cost=base, steps=0, is_tight=True, columns=())
    master = _Master(prepared)
    for column in prepared.as_columns(start):
        master.add(column)
    quick, centre = knapsack_bound(prepared)
    state = _State(best=base - quick, centre=centre)
    with ThreadPoolExecutor(max_workers=threads) as pool:
        while state.step < steps and not state.is_done and (gone is None or gone() < 1.0):
            _step(pool, prepared, master, state, base)
            if progress is not None and gone is not None:
                progress(gone())
    return Bound(
        cost=max(0.0, state.best - _SAFETY),
        steps=state.step,
        is_tight=state.is_done,
        columns=tuple(prepared.named(column) for column in master.columns),
    )


@dataclass
class _State:
    """Where the prices stand: the best bound, its prices, and how often in turn nothing new was found."""

    best: float
    centre: FloatArray
    step: int = 0
    missed: int = 0
    is_exact: bool = False
    is_done: bool = False


def _step(pool: ThreadPoolExecutor, prepared: Prepared, master: _Master, state: _State, base: float) -> None:
    """Ask for better rounds at prices between the linear programme's and the best so far."""
    state.step += 1
    total, prices, day_prices = master.solve()
    if base - total - state.best <= _CLOSE * max(1.0, abs(state.best)):
        state.is_done = True
        return
    share = SMOOTHING * 0.5**state.missed if state.missed < MOST_MISSED else 0.0
    asked = share * state.centre + (1.0 - share) * prices
    value, columns = _ask(pool, prepared, asked, is_exact=state.is_exact)
    added = 0
    for column in columns:
        paid = prices[list(set(column.order))].sum() + day_prices[column.day]
        added += master.add(column) and column.value - paid > _CLOSE
    if not state.is_exact:
        state.is_exact = added < FEW_NEW * len(prepared.days)
        return
    reached = base - float(asked.sum()) - value
    if reached > state.best:
        state.best, state.centre = reached, asked
    state.is_done = not added and share == 0.0
    state.missed = 0 if added else state.missed + 1


def _ask(
    pool: ThreadPoolExecutor, prepared: Prepared, prices: FloatArray, *, is_exact: bool
) -> tuple[float, list[Column]]:
    """Return what all days earn at most at these prices (if exact), and good rounds of each."""
    value, columns = 0.0, []
    work = pool.map(lambda group: _price_group(prepared, group, prices, is_exact=is_exact), prepared.groups)
    for top, found in work:
        value += top
        columns += found
    return value, columns


def _price_group(
    prepared: Prepared, days: Sequence[DayPrices], prices: FloatArray, *, is_exact: bool
) -> tuple[float, list[Column]]:
    """Best rounds of days that share their visits: only over apiaries that are worth a visit at these prices."""
    gain = np.max([day.gain for day in days], axis=0) - prices
    use = np.flatnonzero((gain > 0.0) if prepared.is_metric else np.isfinite(gain))
    if not len(use):
        return 0.0, []
    value, columns = 0.0, []
    ahead = _ahead(prepared, days, gain, use)
    everyone = np.ascontiguousarray(np.broadcast_to(np.arange(len(use)), (len(use), len(use))))
    for day in days:
        ask = _Ask(prepared, day, prices, use, ahead)
        slack = QUICK_SLACK * max(0.0, float(ask.gain.max()))
        top, rounds = ask.best(0.0, slack, _nearest(ask, FEW_SUCCESSORS), is_exact=False)
        if is_exact:
            top, better = ask.best(top, 0.0, everyone, is_exact=True)
            rounds = [*better, *rounds]
        value += max(0.0, top)
        made = [prepared.column(day.number, row) for row in rounds]
        columns += [column for column in made if column is not None]
    return value, columns


def _ahead(
    prepared: Prepared, days: Sequence[DayPrices], gain: FloatArray, use: IntArray
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Return what can still be earned, whoever of the days it is: everyone at the most hopeful of them."""
    pick = np.ix_(use, use)
    return completions(
        gain[use],
        prepared.minutes[pick],
        prepared.price[pick],
        prepared.closed[pick],
        np.min([day.early[use] for day in days], axis=0),
        np.max([day.late[use] for day in days], axis=0),
        prepared.service[use],
        np.min([day.back[use] for day in days], axis=0),
        np.min([day.back_price[use] for day in days], axis=0),
        days[0].first,
        max(day.last for day in days),
        np.ascontiguousarray(prepared.trans[pick]),
    )


class _Ask:
    """The arrays of one day at some prices, cut to the apiaries worth a visit."""

    def __init__(
        self,
        prepared: Prepared,
        day: DayPrices,
        prices: FloatArray,
        use: IntArray,
        ahead: tuple[FloatArray, IntArray, FloatArray],
    ) -> None:
        pick = np.ix_(use, use)
        self.use, self.gain, self.service = use, (day.gain - prices)[use], prepared.service[use]
        self._ahead = ahead
        self.minutes, self.price = prepared.minutes[pick], prepared.price[pick]
        self._ends: tuple[Any, ...] = (
            day.out[use],
            day.out_price[use],
            day.back[use],
            day.back_price[use],
            day.first,
            day.last,
        )
        self._hours = (day.early[use], day.late[use], self.service)
        self._closed = prepared.closed[pick]
        self._trans = np.ascontiguousarray(prepared.trans[pick])

    def best(
        self, known: float, slack: float, successors: IntArray, *, is_exact: bool
    ) -> tuple[float, list[tuple[int, ...]]]:
        """Return the best value and the best rounds, see `pricing.best_rounds`."""
        arrays: list[Any] = [self.gain, self.minutes, self.price, self._closed, *self._hours, *self._ends]
        arrays += [self._trans, successors, *self._ahead, ROUNDS_A_DAY, known, slack, is_exact]
        top, rounds, _ = best_rounds(*arrays)
        return float(top), [tuple(int(self.use[stop]) for stop in row if stop >= 0) for row in rounds]


def _nearest(ask: _Ask, most: int) -> IntArray:
    """Apiaries tried after each when looking quickly: those that earn most for the time they take."""
    count = len(ask.use)
    if count <= most:
        return np.ascontiguousarray(np.broadcast_to(np.arange(count), (count, count)))
    rate = (ask.gain[None, :] - ask.price) / np.maximum(1, ask.minutes + ask.service[None, :])
    return np.ascontiguousarray(np.argpartition(-rate, most, axis=1)[:, :most].astype(np.int64))
