"""Makes the plan: the hand rule at once, the solver while there is time, every plan checked before it is shown."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from broodsweep.rounds.checker import broken_rules, refuse_broken
from broodsweep.rounds.cost import chosen_days, cost_of
from broodsweep.rounds.encode import Fixed, encode
from broodsweep.rounds.explain import beside_hand, measures_of, unplanned_of
from broodsweep.rounds.hand import plan_by_hand
from broodsweep.rounds.model import Task
from broodsweep.rounds.pairs import choose_pairs
from broodsweep.rounds.plan import Plan, PlannedStop, Round
from broodsweep.rounds.settle import settle
from broodsweep.rounds.solve import Effort, Orders, search
from broodsweep.words import Message, say

Shown = Callable[[Plan], None]
FIRST_STAGE_SHARE = 0.3
"""Of the time or the iterations, spent before the visits for two are given their minute."""


def hand_plan(task: Task) -> Plan:
    """Return the plan of the hand rule, checked: the fall-back when no solver is wanted."""
    alone = plan_by_hand(task)
    pairs = choose_pairs(task, alone)
    rounds = settle(task, _with_pairs(_orders(alone), pairs), pairs)
    return _finished(task, rounds, say("rounds.method_hand"))


def make_plan(
    task: Task,
    effort: Effort,
    *,
    shown: Shown | None = None,
    start: Orders | None = None,
    drafted: Shown | None = None,
) -> Plan:
    """Return the best plan found, checked by the independent checker.

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
    drafted
        Called with every draft before it is checked: for tests, never for people.

    Raises
    ------
    BrokenPlanError
        If even the plan of the hand rule breaks a hard rule: a fault of the tool.
    """
    best = _Keeper(task, shown, drafted)
    by_hand = hand_plan(task)
    best.offer(by_hand)
    pairs = choose_pairs(task, by_hand.rounds)
    if any(row.needs_two for row in task.candidates):
        first = search(encode(task), effort.part(FIRST_STAGE_SHARE), start=start or _orders(by_hand.rounds))
        pairs = choose_pairs(task, settle(task, first[0]))
    encoded = encode(task, pairs)
    from_here = start or _orders(by_hand.rounds)
    try:
        found = search(
            encoded,
            effort,
            start=from_here,
            improved=lambda orders: best.consider(orders, pairs),
        )
    except KeyboardInterrupt:
        found = ()
    for orders in found:
        best.consider(orders, pairs)
    return replace(best.plan, measures=beside_hand(best.plan, by_hand))


class _Keeper:
    """Holds the best legal plan and shows each better one."""

    def __init__(self, task: Task, shown: Shown | None, drafted: Shown | None) -> None:
        self._task, self._shown, self._drafted = task, shown, drafted
        self._plan: Plan | None = None

    @property
    def plan(self) -> Plan:
        """Best plan so far.

        Raises
        ------
        BrokenPlanError
            If none was offered.
        """
        if self._plan is None:
            raise AssertionError("Expected a plan to have been offered.")
        return self._plan

    def offer(self, plan: Plan) -> None:
        """Keep a legal plan when it is better."""
        if self._plan is None or plan.cost.total < self._plan.cost.total:
            self._plan = plan
            if self._shown is not None:
                self._shown(plan)

    def consider(self, orders: Orders, pairs: Mapping[str, Fixed]) -> None:
        """Settle orders into a plan and keep it when it is legal and better."""
        rounds = settle(self._task, orders, pairs)
        plan = _draft(self._task, rounds, say("rounds.method_solver"))
        if self._drafted is not None:
            self._drafted(plan)
        if not broken_rules(self._task, plan):
            self.offer(plan)


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


def _finished(task: Task, rounds: Sequence[Round], method: Message) -> Plan:
    return refuse_broken(task, _draft(task, rounds, method))


def _draft(task: Task, rounds: Sequence[Round], method: Message) -> Plan:
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
