"""Drafts of plans: settled, checked, the best kept; each visit for two with whom it is made."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from broodsweep.rounds.checker import broken_rules, refuse_broken
from broodsweep.rounds.cost import chosen_days, cost_of
from broodsweep.rounds.explain import measures_of, unplanned_of
from broodsweep.rounds.model import Task
from broodsweep.rounds.plan import Plan, PlannedStop, Round
from broodsweep.rounds.profiles import Fixed
from broodsweep.rounds.settle import settle
from broodsweep.rounds.solve import Orders
from broodsweep.words import Message, say

Shown = Callable[[Plan], None]
SEARCHED = say("rounds.method_solver")


class Keeper:
    """Holds the best legal plan and shows each better one."""

    def __init__(self, task: Task, shown: Shown | None, drafted: Shown | None) -> None:
        self._task, self._shown, self._drafted = task, shown, drafted
        self._plan: Plan | None = None

    @property
    def plan(self) -> Plan:
        """Best plan so far.

        Raises
        ------
        ValueError
            If none was offered.
        """
        if self._plan is None:
            raise ValueError("Expected a plan to have been offered, got none.")
        return self._plan

    def offer(self, plan: Plan) -> None:
        """Keep a legal plan when it is better."""
        if self._plan is None or plan.cost.total < self._plan.cost.total:
            self._plan = plan
            if self._shown is not None:
                self._shown(plan)

    def consider(self, orders: Orders, pairs: Mapping[str, Fixed], *, method: Message = SEARCHED) -> None:
        """Settle orders into a plan and keep it when it is legal and better."""
        rounds = settle(self._task, orders, pairs)
        plan = draft(self._task, rounds, method)
        if self._drafted is not None:
            self._drafted(plan)
        if not broken_rules(self._task, plan):
            self.offer(plan)


def finished(task: Task, rounds: Sequence[Round], method: Message) -> Plan:
    """Return the rounds as a plan that breaks no hard rule, or raise."""
    return refuse_broken(task, draft(task, rounds, method))


def draft(task: Task, rounds: Sequence[Round], method: Message) -> Plan:
    """Return the rounds as a plan, not yet checked."""
    rounds = _with_partners(task, rounds)
    cost = cost_of(task, rounds)
    return Plan(
        rounds=rounds,
        unplanned=unplanned_of(task, rounds),
        cost=cost,
        method=method,
        travel_method=task.travel.method,
        measures=measures_of(task, rounds, cost),
        chosen=chosen_days(rounds),
    )


def _with_partners(task: Task, rounds: Sequence[Round]) -> tuple[Round, ...]:
    """Write beside each visit for two with whom it is made."""
    who: dict[str, list[str]] = {}
    for row in rounds:
        for stop in row.stops:
            if task.by_apiary[stop.apiary].needs_two:
                who.setdefault(stop.apiary, []).append(row.inspector)
    if not who:
        return tuple(rounds)
    return tuple(
        replace(row, stops=tuple(_with_partner(stop, row.inspector, who) for stop in row.stops))
        for row in rounds
    )


def _with_partner(stop: PlannedStop, inspector: str, who: Mapping[str, list[str]]) -> PlannedStop:
    other = next((name for name in who.get(stop.apiary, ()) if name != inspector), None)
    return replace(stop, together_with=other) if other else stop
