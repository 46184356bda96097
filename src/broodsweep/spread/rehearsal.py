"""Rehearse: thousands of futures of an outbreak under strategies that the user composes.

Exact event-driven simulation of the same daily model as the inference; every strategy meets the same luck, so that
differences between strategies are sharp (common random numbers).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Literal, Protocol

import numpy as np

from broodsweep.spread.constants import (
    CUT_M,
    INFECTIOUSNESS_EXPONENT,
    REFERENCE_COLONIES,
    SECOND_SCALE_M,
    SUSCEPTIBILITY_EXPONENT,
)
from broodsweep.units import AnyArray, FloatArray, IntArray

Order = Literal["distance", "rule", "random"]
ORDERS: tuple[Order, ...] = ("distance", "rule", "random")
SHORTEST_INTERVAL = 2
REFERENCE_STEP_M = 50.0
CHUNK = 100
"""Futures that one task runs: the answer does not depend on it."""


@dataclass(frozen=True, kw_only=True)
class Strategy:
    """What is done in a future; every number can be set by the user.

    Parameters
    ----------
    name
        What the strategy is called in the table.
    radius_m
        Every apiary this near to a case is visited, and every other of its keeper near enough to be known; 0 sweeps
        only the keeper's own. [m]
    order
        Order of the visits: ``distance`` from the case, ``rule`` (the documented score), ``random``.
    inspectors
        People who inspect on a working day.
    minutes_a_day
        Minutes each has for visits on such a day. [min] Default: 10:00-17:00, the opening hours assumed elsewhere.
    rounds
        1 visits each apiary of the ring once, 2 visits it again after ``interval_days``.
    interval_days
        Days from clearance to re-inspection, and between the rounds. [d]
    clear_after_days
        Days from confirmation to clearance, at least 1. [d]
    clearance
        ``destroy`` burns the sick colonies; ``treat`` keeps them.
    relapse_probability
        Chance that infection stays behind after a clearance.
    movement_stop
        Whether moves to and from every apiary in the ring stop; the case itself always stands still.
    share_opened
        Share of the colonies opened on a visit.
    """

    name: str
    radius_m: float = 3000.0
    order: Order = "rule"
    inspectors: float = 6.0
    minutes_a_day: float = 420.0
    rounds: int = 1
    interval_days: int = 42
    clear_after_days: int = 3
    clearance: Literal["destroy", "treat"] = "destroy"
    relapse_probability: float = 0.05
    movement_stop: bool = False
    share_opened: float = 1.0
    minutes_a_visit: float = 55.0
    minutes_a_colony: float = 12.0
    minutes_a_clearance: float = 420.0

    def __post_init__(self) -> None:
        if self.radius_m < 0 or self.inspectors < 0 or self.minutes_a_day < 0:
            raise ValueError("Expected radius_m, inspectors and minutes_a_day >= 0.")
        if self.interval_days < SHORTEST_INTERVAL or self.clear_after_days < 1 or self.rounds not in (1, 2):
            raise ValueError("Expected interval_days >= 2, clear_after_days >= 1, and rounds 1 or 2.")
        if self.order not in ORDERS or not 0.0 < self.share_opened <= 1.0:
            raise ValueError(f"Expected an order of {ORDERS} and 0 < share_opened <= 1.")
        if not 0.0 <= self.relapse_probability < 1.0:
            raise ValueError(f"Expected 0 <= relapse_probability < 1, got {self.relapse_probability}.")


@dataclass(frozen=True, kw_only=True)
class Stage:
    """The district and its calendar as plain arrays, apiaries in one fixed order.

    Parameters
    ----------
    place_m
        Easting and northing, shape (n, 2). [m]
    colonies
        Colonies, shape (n,).
    keeper
        Number of the keeper, shape (n,); equal numbers are the same keeper.
    flight
        How much bees spread infection on each day of the horizon, shape (days,); 0 in winter.
    opening
        How much keepers look into their hives on each day, shape (days,).
    is_workday
        Days on which inspectors may open hives, shape (days,).
    seen_day, found_day
        Day of the last visit since the outbreak began, and day of confirmation; both negative or 0, shape (n,), -NEVER
        where there was none.
    moves
        Expected moves: day, from, to, weight, shape (moves, 4).
    blur_m2
        Mean square offset of the true place from the given one, shape (n,); None when places are points. [m2]
    reporting
        How readily the keeper reports signs against an ordinary one, shape (n,); None for all ordinary.
    is_registered
        Whether inspectors know the apiary, shape (n,); None for all known. Unknown ones are not infected anew.
    cut_m
        Contacts by distance are cut beyond this. [m]
    """

    place_m: FloatArray
    colonies: IntArray
    keeper: IntArray
    flight: FloatArray
    opening: FloatArray
    is_workday: AnyArray
    seen_day: IntArray
    found_day: IntArray
    moves: FloatArray
    blur_m2: FloatArray | None = None
    reporting: FloatArray | None = None
    is_registered: AnyArray | None = None
    cut_m: float = CUT_M.value
    susceptibility_power: float = SUSCEPTIBILITY_EXPONENT.value
    infectiousness_power: float = INFECTIOUSNESS_EXPONENT.value


@dataclass(frozen=True, kw_only=True)
class Starts:
    """Draws of the posterior: parameters (one number a draw) and who is infected, since when, with signs since when.

    ``pointers`` has shape (draws + 1,) and cuts ``apiary``, ``infected_day`` and ``signs_day`` by draw; days count from
    the first day of the futures, which is day 0.
    """

    background: FloatArray
    distance_rate: FloatArray
    reach_m: FloatArray
    shape: FloatArray
    keeper_rate: FloatArray
    move_rate: FloatArray
    early_share: FloatArray
    sensitivity: FloatArray
    growth: FloatArray
    report_rate: FloatArray
    signs_shape: FloatArray
    signs_scale: FloatArray
    pointers: IntArray
    apiary: IntArray
    infected_day: IntArray
    signs_day: IntArray
    kernel: int = 0
    second_m: float = SECOND_SCALE_M.value


@dataclass(frozen=True, kw_only=True)
class Futures:
    """What came of one strategy.

    Arrays have shape (futures,); ``released_day`` is NaN where the horizon came first. ``active_mean`` and
    ``over_probability`` have shape (days,).
    """

    strategy: Strategy
    infected: IntArray
    confirmed: IntArray
    destroyed: IntArray
    inspector_days: FloatArray
    released_day: FloatArray
    left_at_end: IntArray
    active_mean: FloatArray
    over_probability: FloatArray


class Client(Protocol):
    """What is needed of a cluster: Dask's client has it."""

    def submit(self, function: Callable[..., Any], /, *arguments: Any, **more: Any) -> Any:
        """Run a function elsewhere and return something with ``result()``."""
        ...


def make_scene(stage: Stage, starts: Starts, radius_m: float) -> tuple[Any, float]:
    """Return the arrays that the futures run on, and the sum of susceptibilities for the background.

    Contacts are aimed by the largest rates of all draws; what a draw needs less is refused when it happens.
    """
    from broodsweep.spread.alias import build_alias
    from broodsweep.spread.future_calendar import Scene

    count = len(stage.colonies)
    known = np.ones(count, dtype=np.bool_) if stage.is_registered is None else stage.is_registered
    sizes = np.maximum(stage.colonies, 1) / REFERENCE_COLONIES.value
    susceptibility = sizes**stage.susceptibility_power * known
    infectiousness = sizes**stage.infectiousness_power
    pointers, target, distance_m, same = contacts_of(stage, max(stage.cut_m, radius_m))
    reference = _reference(starts, distance_m, stage.cut_m) + float(starts.keeper_rate.max()) * same
    keep, other, totals = np.empty(len(target)), np.empty(len(target), np.int64), np.empty(count)
    build_alias(pointers, reference * susceptibility[target], keep, other, totals)
    spark_keep, spark_other, spark_total = np.empty(count), np.empty(count, np.int64), np.empty(1)
    build_alias(np.array([0, count]), susceptibility, spark_keep, spark_other, spark_total)
    days = len(stage.flight)
    moves = (
        stage.moves[np.argsort(stage.moves[:, 0], kind="stable")] if len(stage.moves) else np.zeros((0, 4))
    )
    scene = Scene(
        pointers=pointers,
        target=target,
        distance_m=distance_m,
        same_keeper=same,
        keep=keep,
        other=other,
        totals=totals,
        spark_keep=spark_keep,
        spark_other=spark_other,
        susceptibility=susceptibility,
        infectiousness=infectiousness,
        colonies=stage.colonies.astype(np.int64),
        flight=stage.flight,
        flight_until=np.concatenate([[0.0], np.cumsum(stage.flight)]),
        opening_until=np.concatenate([[0.0], np.cumsum(stage.opening)]),
        is_workday=np.asarray(stage.is_workday, dtype=np.bool_),
        move_pointers=np.searchsorted(moves[:, 0], np.arange(days + 1)),
        move_from=moves[:, 1].astype(np.int64),
        move_to=moves[:, 2].astype(np.int64),
        move_weight=moves[:, 3].copy(),
        seen_day=stage.seen_day.astype(np.int64),
        found_day=stage.found_day.astype(np.int64),
        reference=reference,
        reporting=np.ones(count) if stage.reporting is None else stage.reporting,
        is_registered=known,
        cut_m=stage.cut_m,
    )
    return scene, float(spark_total[0])


def _reference(starts: Starts, distance_m: FloatArray, cut_m: float) -> FloatArray:
    """Return, for each contact, a rate that no draw exceeds: the largest at the near end of its step of distance."""
    from broodsweep.spread.kernels import fall

    steps = np.arange(int(cut_m / REFERENCE_STEP_M) + 2) * REFERENCE_STEP_M
    largest = np.zeros(len(steps))
    for rate, reach, shape in set(zip(starts.distance_rate, starts.reach_m, starts.shape, strict=True)):
        line = [rate * fall(starts.kernel, step, reach, shape, starts.second_m) for step in steps]
        largest = np.maximum(largest, line)
    nearest = np.minimum(distance_m / REFERENCE_STEP_M, len(steps) - 1).astype(np.int64)
    return np.asarray(np.where(distance_m <= cut_m, largest[nearest], 0.0))


def contacts_of(stage: Stage, reach_m: float) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
    """Return who may infect whom: by distance up to ``reach_m``, and every pair of one keeper's apiaries.

    Returns
    -------
    Row starts (n + 1,), targets, distances [m] and 1 where the keeper is the same, each (contacts,), rows in order.
    """
    from scipy.spatial import cKDTree

    count = len(stage.colonies)
    near = cKDTree(stage.place_m).query_pairs(reach_m, output_type="ndarray")
    kin = _same_keeper_pairs(stage.keeper)
    pairs = np.concatenate([near, kin]) if len(kin) else near
    low, high = pairs.min(axis=1, initial=count), pairs.max(axis=1, initial=-1)
    order = np.unique(low * count + high)
    low, high = order // count, order % count
    source, target = np.concatenate([low, high]), np.concatenate([high, low])
    by_source = np.lexsort((target, source))
    source, target = source[by_source], target[by_source]
    pointers = np.searchsorted(source, np.arange(count + 1))
    offset = stage.place_m[source] - stage.place_m[target]
    blur = np.zeros(count) if stage.blur_m2 is None else stage.blur_m2
    distance_m = np.sqrt((offset**2).sum(axis=1) + blur[source] + blur[target])
    same = (stage.keeper[source] == stage.keeper[target]).astype(np.float64)
    return pointers.astype(np.int64), target.astype(np.int64), distance_m, same


def _same_keeper_pairs(keeper: IntArray) -> IntArray:
    order = np.argsort(keeper, kind="stable")
    cuts = np.flatnonzero(np.diff(keeper[order])) + 1
    pairs = [
        np.stack([group[a] for a in np.triu_indices(len(group), 1)], axis=1)
        for group in np.split(order, cuts)
        if len(group) > 1
    ]
    return np.concatenate(pairs) if pairs else np.empty((0, 2), dtype=np.int64)


def plan_of(strategy: Strategy) -> Any:
    """Return the strategy as the numbers that the futures read."""
    from broodsweep.spread.future_calendar import Plan

    return Plan(
        radius_m=strategy.radius_m,
        order=ORDERS.index(strategy.order),
        minutes_a_day=strategy.inspectors * strategy.minutes_a_day,
        rounds=strategy.rounds,
        interval=strategy.interval_days,
        clear_after=strategy.clear_after_days,
        relapse=strategy.relapse_probability,
        destroys=int(strategy.clearance == "destroy"),
        stops_moves=int(strategy.movement_stop),
        share_opened=strategy.share_opened,
        minutes_a_visit=strategy.minutes_a_visit,
        minutes_a_colony=strategy.minutes_a_colony,
        minutes_a_clearance=strategy.minutes_a_clearance,
    )


def _run_chunk(
    scene: Any, draws: Any, plan: Any, seed: int, first: int, last: int, spark_total: float
) -> tuple[FloatArray, IntArray, IntArray]:
    """Run some futures in memory of their own; a calendar that proves too small is made larger and they run again."""
    from broodsweep.spread.futures import run_futures

    size = 50_000
    while True:
        outcomes = np.zeros((last - first, 6))
        active, over = np.zeros(len(scene.flight), np.int64), np.zeros(len(scene.flight), np.int64)
        state = _state_for(len(scene.colonies), len(scene.flight), size)
        if not run_futures(scene, draws, plan, state, seed, first, last, spark_total, outcomes, active, over):
            return outcomes, active, over
        size *= 4


def _state_for(count: int, days: int, size: int) -> Any:
    from broodsweep.spread.future_calendar import FULL, NEVER, SLOTS, State

    def whole(value: int = 0) -> IntArray:
        return np.full(count, value, dtype=np.int64)

    return State(
        ill=whole(-1),
        infected_day=whole(),
        signs_day=whole(),
        removed_day=whole(NEVER),
        found=whole(NEVER),
        queued=whole(-1),
        rank=np.zeros(count),
        errand=whole(),
        seen=whole(-1),
        visits=whole(),
        illnesses=whole(),
        standing=whole(-1),
        head=np.full(days, -1, dtype=np.int64),
        following=np.empty(size, dtype=np.int64),
        kind=np.empty(size, dtype=np.int64),
        first=np.empty(size, dtype=np.int64),
        second=np.empty(size, dtype=np.int64),
        unit=np.empty(size),
        heap_rank=np.empty(size),
        heap_apiary=np.empty(size, dtype=np.int64),
        counts=np.zeros(FULL + 2, dtype=np.int64),
        slots=np.zeros(SLOTS, dtype=np.uint64),
        sums=np.zeros(2),
    )


def rehearse(
    stage: Stage,
    starts: Starts,
    strategies: Sequence[Strategy],
    *,
    futures: int = 1000,
    seed: int = 1,
    client: Client | None = None,
    workers: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> tuple[Futures, ...]:
    """Return what came of each strategy, in the order given.

    Parameters
    ----------
    stage, starts
        The district, and the posterior to start from.
    strategies
        What to compare.
    futures
        Futures of each strategy; future k of every strategy meets the same luck.
    seed
        The same seed gives the same answer, on however many threads or machines.
    client
        A cluster's client (Dask's, for example); None runs on this machine's cores.
    workers
        Threads to use without a client; None takes all cores.
    progress
        Called with the share done.

    Raises
    ------
    ValueError
        If there is no strategy or no future.
    """
    if not strategies or futures < 1:
        raise ValueError(
            f"Expected at least one strategy and one future, got {len(strategies)} and {futures}."
        )
    scene, spark_total = make_scene(stage, starts, max(row.radius_m for row in strategies))
    draws = _draws_of(starts)
    chunks = [(first, min(first + CHUNK, futures)) for first in range(0, futures, CHUNK)]
    tasks = [(plan_of(row), first, last) for row in strategies for first, last in chunks]
    calls = [(scene, draws, plan, seed, first, last, spark_total) for plan, first, last in tasks]
    results = list(_spread_out(calls, client, workers, progress))
    size = len(chunks)
    return tuple(
        _gather(row, results[number * size : (number + 1) * size]) for number, row in enumerate(strategies)
    )


def _draws_of(starts: Starts) -> Any:
    from broodsweep.spread.future_calendar import Draws

    return Draws(**{name: getattr(starts, name) for name in Draws._fields})


def _spread_out(
    calls: list[tuple[Any, ...]],
    client: Client | None,
    workers: int | None,
    progress: Callable[[float], None] | None,
) -> Iterable[tuple[FloatArray, IntArray, IntArray]]:
    if client is not None:
        waiting = [client.submit(_run_chunk, *call, pure=False) for call in calls]
        yield from _in_order(waiting, progress)
        return
    with ThreadPoolExecutor(workers or os.cpu_count()) as pool:
        local: list[Future[Any]] = [pool.submit(_run_chunk, *call) for call in calls]
        try:
            yield from _in_order(local, progress)
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise


def _in_order(waiting: Sequence[Any], progress: Callable[[float], None] | None) -> Iterable[Any]:
    for number, task in enumerate(waiting, start=1):
        yield task.result()
        if progress is not None:
            progress(number / len(waiting))


def _gather(strategy: Strategy, parts: Sequence[tuple[FloatArray, IntArray, IntArray]]) -> Futures:
    from broodsweep.spread.future_calendar import NEVER

    outcomes = np.concatenate([part[0] for part in parts])
    count = len(outcomes)
    released = outcomes[:, 4].copy()
    released[released >= NEVER] = np.nan
    return Futures(
        strategy=strategy,
        infected=outcomes[:, 0].astype(np.int64),
        confirmed=outcomes[:, 1].astype(np.int64),
        destroyed=outcomes[:, 2].astype(np.int64),
        inspector_days=outcomes[:, 3] / strategy.minutes_a_day,
        released_day=released,
        left_at_end=outcomes[:, 5].astype(np.int64),
        active_mean=np.sum([part[1] for part in parts], axis=0) / count,
        over_probability=np.sum([part[2] for part in parts], axis=0) / count,
    )
