"""Why a visit was left out and what would make it fit; what a plan comes to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date

from broodsweep.rounds.allowed import why_not
from broodsweep.rounds.cost import chosen_days, is_late
from broodsweep.rounds.model import Candidate, Task
from broodsweep.rounds.plan import Cost, Measures, Plan, Round, Unplanned
from broodsweep.words import Message, say

MINUTES_PER_HOUR = 60.0


def unplanned_of(task: Task, rounds: Iterable[Round]) -> tuple[Unplanned, ...]:
    """Return the visits left out, the most worth first, each with why and what would help."""
    planned = {name for row in rounds for name in row.apiaries}
    left = [row for row in task.candidates if row.apiary not in planned]
    return tuple(
        Unplanned(apiary=row.apiary, why=_why(task, row), would_help=_help(task, row))
        for row in sorted(left, key=lambda row: (-row.worth, row.apiary))
    )


def _why(task: Task, row: Candidate) -> tuple[Message, ...]:
    """The reasons of the days, the most frequent first; when a day could hold it, that others came first."""
    reasons = [why_not(task, row, day) for day in task.days]
    possible = sum(reason is None for reason in reasons)
    if row.needs_two and not _has_two(task, row):
        return (say("rounds.no_two"),)
    if possible:
        return (say("rounds.others_first", count=possible),)
    return _most_frequent(reason for reason in reasons if reason is not None)


def _most_frequent(reasons: Iterable[Message], most: int = 2) -> tuple[Message, ...]:
    kinds: Counter[str] = Counter()
    first: dict[str, Message] = {}
    for reason in reasons:
        kinds[reason.key] += 1
        first.setdefault(reason.key, reason)
    return tuple(first[key] for key, _ in kinds.most_common(most))


def _has_two(task: Task, row: Candidate) -> bool:
    able: Counter[date] = Counter(day.on for day in task.days if why_not(task, row, day) is None)
    return any(count > 1 for count in able.values())


def _help(task: Task, row: Candidate) -> tuple[Message, ...]:
    """What would make it fit: judged by the rules that stand in the way, not by trying."""
    reasons = [reason for day in task.days if (reason := why_not(task, row, day)) is not None]
    if row.needs_two and not _has_two(task, row):
        return (say("rounds.help_second"),)
    if len(reasons) < len(task.days):
        return (say("rounds.help_day"),)
    keys = {reason.key for reason in reasons}
    found = []
    if "rounds.too_long" in keys:
        found.append(say("rounds.help_window" if row.window or row.day_windows else "rounds.help_hours"))
    if "rounds.too_far" in keys:
        found.append(say("rounds.help_start"))
    if keys & {"rounds.not_reachable", "rounds.off_road", "rounds.no_ferry"}:
        found.append(say("rounds.help_road"))
    if "rounds.not_appointment" in keys or "rounds.not_that_day" in keys:
        found.append(say("rounds.help_other_day"))
    if "rounds.not_opening" in keys:
        found.append(say("rounds.help_weather"))
    if "rounds.not_skilled" in keys or "rounds.not_inspector" in keys:
        found.append(say("rounds.help_inspector"))
    if "rounds.not_pinned" in keys:
        found.append(say("rounds.help_unpin"))
    return tuple(found)


def measures_of(task: Task, rounds: Sequence[Round], cost: Cost) -> Measures:
    """Return what the rounds come to; a visit by two counts once."""
    when = chosen_days(rounds)
    told = {name: made for name, made in task.announced.items() if name in task.by_apiary}
    return Measures(
        visits=len(when),
        left_out=len(task.candidates) - len(when),
        km=sum(row.km for row in rounds),
        hours=sum(row.hours for row in rounds),
        overtime_hours=sum(row.overtime_minutes for row in rounds) / MINUTES_PER_HOUR,
        unseen_infected_days=cost.unseen,
        missed_deadlines=sum(is_late(row, when.get(row.apiary), task) for row in task.candidates),
        cost=cost.total,
        moved_visits=sum(when.get(name) != made for name, made in told.items()) if told else None,
        announced_visits=len(told) if told else None,
        inevitable_moves=sum(not _can_stay(task, name, made) for name, made in told.items())
        if told
        else None,
    )


def _can_stay(task: Task, apiary: str, made: tuple[str, date]) -> bool:
    """Say whether an announced visit could still be made by that inspector on that day."""
    day = task.by_day.get(made)
    return day is not None and why_not(task, task.by_apiary[apiary], day) is None


def beside_hand(plan: Plan, by_hand: Plan) -> Measures | None:
    """Return the plan's measures with those of the plan by hand beside them."""
    if plan.measures is None or by_hand.measures is None:
        return plan.measures
    return Measures(
        **{
            **vars(plan.measures),
            "by_hand_unseen_infected_days": by_hand.measures.unseen_infected_days,
            "by_hand_km": by_hand.measures.km,
            "by_hand_visits": by_hand.measures.visits,
            "by_hand_cost": by_hand.measures.cost,
        }
    )


def beside_bound(plan: Plan, bound: float) -> Measures | None:
    """Return the plan's measures with a cost that no plan can go below, and how far above it this plan is."""
    if plan.measures is None:
        return None
    within = plan.measures.cost / bound - 1.0 if bound > 0.0 else None
    return Measures(**{**vars(plan.measures), "bound": bound, "within_share": within})
