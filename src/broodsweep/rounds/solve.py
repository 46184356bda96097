"""The solver behind our own interface: several seeds at once, the best so far kept, stopped when told.

Iterated local search with late acceptance of PyVRP over the encoded task. Every seed runs in a thread of its own
(the search holds no interpreter lock); one starts from the plan given, the others from random ones. With a limit of
iterations the same seeds give the same plan.

References
----------
Wouda, Lan, Kool 2024, PyVRP: a high-performance VRP solver package, INFORMS J Comput 36(4).
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np
import pyvrp
from pyvrp.search import (
    OPERATORS,
    LocalSearch,
    PerturbationManager,
    PerturbationParams,
)
from pyvrp.stop import StoppingCriterion

from broodsweep.rounds.encode import Encoded
from broodsweep.units import IntArray

Orders = Mapping[tuple[str, date], Sequence[str]]
Improved = Callable[[Orders], None]
_LOOK_SECONDS = 0.5
MINUTE_PENALTY = 500.0
"""First price of a minute too late, in the solver's units: of the size of what a minute of visits is worth. The
solver's own start, some hundred times that, keeps it among legal plans for tens of thousands of steps."""
MOST_SHAKEN = 8
"""Most visits moved at random before each descent."""
HISTORY = 100
"""Steps back that a worse plan is compared with."""
NEAR = 60
"""Clients tried beside each."""


def _no_limit() -> float:
    """No time is over: iterations alone limit the search."""
    return 0.0


def _nothing(share: float) -> None:
    """Tell nobody."""


@dataclass(frozen=True, kw_only=True)
class Effort:
    """How long to look: until the time is over or each seed has done its iterations.

    Parameters
    ----------
    iterations
        Steps of each seed; None: no limit.
    seeds
        One search each, at the same time.
    gone
        Returns the share of the time that is over; it holds the clock, which this room has not. Asked often, from
        several threads.
    until
        Share at which to stop.
    progress
        Called with that share twice a second in the caller's thread; raising KeyboardInterrupt from it keeps the
        best plan so far.
    """

    iterations: int | None = None
    seeds: tuple[int, ...] = (1, 2)
    gone: Callable[[], float] = field(default=_no_limit)
    until: float = 1.0
    progress: Callable[[float], None] = field(default=_nothing)

    def __post_init__(self) -> None:
        if not self.seeds:
            raise ValueError("Expected at least one seed, got none.")
        if self.iterations is None and self.gone is _no_limit:
            raise ValueError("Expected a limit of iterations or of time, got neither.")

    def part(self, share: float) -> Effort:
        """Return the effort up to a share of this one."""
        steps = None if self.iterations is None else max(1, int(share * self.iterations))
        return replace(self, iterations=steps, until=share * self.until)


class _Watch(pyvrp.IteratedLocalSearchCallbacks):
    """Hands every better legal solution over."""

    def __init__(self, found: Callable[[pyvrp.Solution], None]) -> None:
        self._found = found

    def on_best(self, best: pyvrp.Solution) -> None:
        if best.is_feasible():
            self._found(best)


class _Stop:
    """Stopping criterion of one seed."""

    def __init__(self, effort: Effort, halted: threading.Event) -> None:
        self._effort, self._halted, self._done = effort, halted, 0

    def __call__(self, best_cost: int) -> bool:
        if self._halted.is_set() or self._done == self._effort.iterations:
            return True
        self._done += 1
        return self._effort.gone() >= self._effort.until


@dataclass
class _Best:
    """Best of all seeds so far."""

    solution: pyvrp.Solution | None = None
    value: float = float("inf")
    lock: threading.Lock = field(default_factory=threading.Lock)

    def take(self) -> pyvrp.Solution | None:
        """Return the best when it is newer than the one taken last."""
        with self.lock:
            solution, self.solution = self.solution, None
            return solution


def search(
    encoded: Encoded | None, effort: Effort, *, start: Orders | None = None, improved: Improved | None = None
) -> tuple[Orders, ...]:
    """Return the best orders of visits of each seed, best first.

    Parameters
    ----------
    encoded
        The task in the solver's terms; None when nothing can be visited.
    effort
        How long and with which seeds.
    start
        Orders that the first seed starts from.
    improved
        Called in the caller's thread with the best orders so far, at most twice a second.

    Raises
    ------
    KeyboardInterrupt
        When the user interrupts; what was reported to ``improved`` is not lost.
    """
    if encoded is None:
        return ({},)
    halted, best = threading.Event(), _Best()
    evaluator = pyvrp.CostEvaluator([], 0, 0)

    def found(solution: pyvrp.Solution) -> None:
        value = evaluator.penalised_cost(solution)
        with best.lock:
            if value < best.value:
                best.value, best.solution = value, solution

    def run(place: int, seed: int) -> pyvrp.Solution:
        given = encoded.solution(start) if start and place == 0 else None
        stop, watch = _Stop(effort, halted), _Watch(found)
        return climb(encoded.data, encoded.apart, seed, stop, given=given, watch=watch)

    with ThreadPoolExecutor(max_workers=len(effort.seeds)) as pool:
        runs = [pool.submit(run, place, seed) for place, seed in enumerate(effort.seeds)]
        try:
            while wait(runs, timeout=_LOOK_SECONDS).not_done:
                effort.progress(effort.gone())
                better = best.take()
                if improved is not None and better is not None:
                    improved(encoded.orders(better))
        except BaseException:
            halted.set()
            raise
    ended = [
        (evaluator.penalised_cost(row), place)
        for place, row in enumerate(future.result() for future in runs)
        if row.is_feasible()
    ]
    solutions = [future.result() for future in runs]
    return tuple(encoded.orders(solutions[place]) for _, place in sorted(ended)) or ({},)


def climb(
    data: pyvrp.ProblemData,
    apart: IntArray,
    seed: int,
    stop: StoppingCriterion,
    *,
    given: pyvrp.Solution | None = None,
    watch: pyvrp.IteratedLocalSearchCallbacks | None = None,
) -> pyvrp.Solution:
    """Return the best solution of one search; its settings were chosen by measurement on the benchmark's districts.

    Parameters
    ----------
    data
        A routing problem.
    apart
        How far clients are from one another, shape (clients, clients).
    seed
        Seed of the search.
    stop
        Called before each step with the best cost; True ends the search.
    given
        Solution to start from; None: a random one.
    watch
        Told of every better solution.
    """
    rng = pyvrp.RandomNumberGenerator(seed=seed)
    shake = PerturbationManager(PerturbationParams(1, MOST_SHAKEN))
    local = LocalSearch(data, rng, _neighbours(apart), shake)
    for operator in OPERATORS:
        if operator.supports(data):
            local.add_operator(operator(data))
    loads = [MINUTE_PENALTY] * data.num_load_dimensions
    penalties = pyvrp.PenaltyManager((loads, MINUTE_PENALTY, MINUTE_PENALTY), pyvrp.PenaltyParams())
    if given is None:
        scattered = pyvrp.Solution.make_random(data, rng)
        given = local(scattered, penalties.max_cost_evaluator(), exhaustive=True)
    settings = pyvrp.IteratedLocalSearchParams(
        history_length=HISTORY, callbacks=watch or pyvrp.IteratedLocalSearchCallbacks()
    )
    search = pyvrp.IteratedLocalSearch(data, penalties, local, given, settings)
    return search.run(stop, collect_stats=False, display=False).best


def _neighbours(apart: IntArray) -> dict[pyvrp.Activity, list[pyvrp.Activity]]:
    """Return the clients tried beside each client: the nearest on the road, whenever they may be visited."""
    count = len(apart)
    part = [pyvrp.Activity(pyvrp.ActivityType.CLIENT, number) for number in range(count)]
    order = np.argsort(apart + apart.T, axis=1, kind="stable")
    return {
        part[number]: [part[other] for other in order[number] if other != number][:NEAR]
        for number in range(count)
    }
