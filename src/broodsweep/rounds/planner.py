"""Makes the plan: the hand rule at once, the solver while there is time, every plan checked before it is shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from broodsweep.rounds.bound import Bound, lower_bound
from broodsweep.rounds.columns import prepare
from broodsweep.rounds.diving import dive
from broodsweep.rounds.drafting import Keeper, Shown, finished
from broodsweep.rounds.encode import encode
from broodsweep.rounds.explain import beside_bound, beside_hand
from broodsweep.rounds.hand import plan_by_hand
from broodsweep.rounds.model import Task
from broodsweep.rounds.pairs import choose_pairs
from broodsweep.rounds.plan import Plan, Round
from broodsweep.rounds.profiles import Fixed
from broodsweep.rounds.settle import settle
from broodsweep.rounds.solve import Effort, Orders, search
from broodsweep.words import say

FIRST_STAGE_SHARE = 0.2
"""Of the time or the iterations, spent before the visits for two are given their minute."""
SEARCH_SHARE, BOUND_SHARE = 0.5, 0.95
"""With a bound: until which share of the time is searched, and until which the bound is worked out."""
BOUND_STEPS = 60
"""Steps of the bound when iterations limit the search instead of time."""


def hand_plan(task: Task) -> Plan:
    """Return the plan of the hand rule, checked: the fall-back when no solver is wanted."""
    alone = plan_by_hand(task)
    pairs = choose_pairs(task, alone)
    rounds = settle(task, _with_pairs(_orders(alone), pairs), pairs)
    return finished(task, rounds, say("rounds.method_hand"))


def make_plan(
    task: Task,
    effort: Effort,
    *,
    shown: Shown | None = None,
    start: Orders | None = None,
    with_bound: bool = False,
    drafted: Shown | None = None,
) -> Plan:
    """Return the best plan found, checked by the independent checker; what an interrupt finds is kept.

    Parameters
    ----------
    task
        What is to be planned.
    effort
        How long to look.
    shown
        Called with every better plan, already checked; the first, by the hand rule, comes at once.
    start
        Orders to start from, for example the plan before a change; None starts from the hand rule.
    with_bound
        Also work out below what cost no plan can go, within the same time; the rounds found on the way go into the
        search.
    drafted
        Called with every draft before it is checked: for tests, never for people.

    Raises
    ------
    BrokenPlanError
        If even the plan of the hand rule breaks a hard rule: a fault of the tool.
    """
    by_hand = hand_plan(task)
    work = _Work(task, effort, Keeper(task, shown, drafted))
    work.best.offer(by_hand)
    bound: Bound | None = None
    try:
        work.search_from(start or _orders(by_hand.rounds), SEARCH_SHARE if with_bound else 1.0)
        if with_bound:
            bound = work.bound()
            work.put_together(bound)
            work.search_from(_orders(work.best.plan.rounds), 1.0)
    except KeyboardInterrupt:
        pass
    plan = replace(work.best.plan, measures=beside_hand(work.best.plan, by_hand))
    return replace(plan, measures=beside_bound(plan, bound.cost)) if bound else plan


class _Work:
    """One making of a plan: the task, the time, the visits for two and the best plan so far."""

    def __init__(self, task: Task, effort: Effort, best: Keeper) -> None:
        self._task, self._effort, self.best = task, effort, best
        self._pairs: dict[str, Fixed] | None = None

    def search_from(self, start: Orders, until: float) -> None:
        """Search until that share of the time, from these orders."""
        if self._pairs is None:
            self._pairs = self._choose_pairs(start)
        pairs = self._pairs
        found = search(
            encode(self._task, pairs),
            self._effort.part(until),
            start=start,
            improved=lambda orders: self.best.consider(orders, pairs),
        )
        for orders in found:
            self.best.consider(orders, pairs)

    def _choose_pairs(self, start: Orders) -> dict[str, Fixed]:
        """Give the visits for two their day, minute and inspectors, from a first plan without them."""
        if not any(row.needs_two for row in self._task.candidates):
            return {}
        first = search(encode(self._task), self._effort.part(FIRST_STAGE_SHARE), start=start)
        return choose_pairs(self._task, settle(self._task, first[0]))

    def bound(self) -> Bound:
        """Work out the bound until its share of the time."""
        is_timed = self._effort.iterations is None
        return lower_bound(
            self._task,
            start=self.best.plan.rounds,
            gone=(lambda: self._effort.gone() / BOUND_SHARE) if is_timed else None,
            steps=10_000 if is_timed else BOUND_STEPS,
            threads=len(self._effort.seeds),
            progress=self._effort.progress,
        )

    def put_together(self, bound: Bound) -> None:
        """Make a plan of the rounds that the bound was made from."""
        pairs = self._pairs or {}
        prepared = prepare(self._task)
        orders = dive(prepared, prepared.numbered(bound.columns))
        for key, order in orders.items():
            orders[key] = [name for name in order if not self._task.by_apiary[name].needs_two]
        self.best.consider(_with_pairs(orders, pairs), pairs, method=say("rounds.method_columns"))


def _orders(rounds: Sequence[Round]) -> dict[tuple[str, date], list[str]]:
    return {(row.inspector, row.on): list(row.apiaries) for row in rounds}


def _with_pairs(
    orders: Mapping[tuple[str, date], Sequence[str]], pairs: Mapping[str, Fixed]
) -> dict[tuple[str, date], list[str]]:
    found = {key: list(order) for key, order in orders.items()}
    for name, row in sorted(pairs.items(), key=lambda item: item[1].begin_minute):
        for inspector in row.inspectors:
            found.setdefault((inspector, row.on), []).append(name)
    return found
