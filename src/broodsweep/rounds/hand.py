"""The hand rule: what a sensible person does with a list and a map, in a tenth of a second.

Day by day, inspector by inspector: first what is agreed or due that day, then always the nearest of the most
urgent that are left (those with at least half the worth of the most urgent one), suspect and diseased apiaries
last. It is the fall-back when no solver runs, the start of the solver, and what a plan is compared with.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from broodsweep.rounds.allowed import why_not
from broodsweep.rounds.model import Candidate, InspectorDay, Task
from broodsweep.rounds.plan import Round
from broodsweep.rounds.timetable import timetable

RING_SHARE = 0.5
"""Of the most urgent visit's worth: who is as urgent as this is taken by nearness."""
MOST_LOOKS = 40
"""Nearest visits that are tried before the day is called full."""


def plan_by_hand(task: Task) -> tuple[Round, ...]:
    """Return legal rounds by the hand rule; visits for two are left to `pairs`."""
    left = {row.apiary: row for row in task.candidates if not row.needs_two}
    rounds = []
    for day in sorted(task.days, key=lambda row: (row.on, row.inspector)):
        made = _one_day(task, day, left)
        if made is not None:
            rounds.append(made)
            for apiary in made.apiaries:
                del left[apiary]
    return tuple(rounds)


def _one_day(task: Task, day: InspectorDay, left: dict[str, Candidate]) -> Round | None:
    able = [row for row in left.values() if why_not(task, row, day) is None]
    order: list[str] = []
    for row in sorted(able, key=lambda row: (_pressing_until(row), row.apiary)):
        if _is_pressing(task, row, day):
            order = insert_cheapest(task, day, order, row.apiary) or order
    pool = {row.apiary: row for row in able if row.apiary not in order}
    done = not pool
    while not done:
        order, done = _append_nearest(task, day, order, pool)
    return timetable(task, day, order) if order else None


def _pressing_until(row: Candidate) -> date:
    return row.appointment_on or row.deadline_on or date.max


def _is_pressing(task: Task, row: Candidate, day: InspectorDay) -> bool:
    """Say whether the visit is agreed for that day, fixed to it, or due within two days of it."""
    if row.appointment_on == day.on or row.apiary in task.pins:
        return True
    return row.deadline_on is not None and (row.deadline_on - day.on).days <= 1


def _append_nearest(
    task: Task,
    day: InspectorDay,
    order: list[str],
    pool: dict[str, Candidate],
) -> tuple[list[str], bool]:
    """Add the nearest urgent visit that fits; say True when none fits."""
    rows = list(pool.values())
    if not rows:
        return order, True
    best = max(row.worth for row in rows)
    here = order[-1] if order else day.start
    near = sorted(
        rows,
        key=lambda row: (
            row.worth < RING_SHARE * best,
            task.travel.minutes_between(here, row.apiary) or 0,
            row.apiary,
        ),
    )
    for row in near[:MOST_LOOKS]:
        grown = _append(task, day, order, row)
        if grown is not None:
            del pool[row.apiary]
            return grown, False
    return order, True


def _append(task: Task, day: InspectorDay, order: list[str], row: Candidate) -> list[str] | None:
    """Put the visit last, or before what must come last for hygiene."""
    cut = len(order)
    while cut and task.by_apiary[order[cut - 1]].status > row.status:
        cut -= 1
    grown = [*order[:cut], row.apiary, *order[cut:]]
    return grown if timetable(task, day, grown) is not None else None


def insert_cheapest(
    task: Task, day: InspectorDay, order: Sequence[str], apiary: str, fixed: dict[str, int] | None = None
) -> list[str] | None:
    """Return the order with the visit where it adds the fewest kilometres, or None when it fits nowhere."""
    best: tuple[float, list[str]] | None = None
    for grown in insertions(task, order, apiary):
        row = timetable(task, day, grown, fixed=fixed)
        if row is not None and (best is None or row.km < best[0]):
            best = (row.km, grown)
    return best[1] if best else None


def insertions(task: Task, order: Sequence[str], apiary: str) -> Iterable[list[str]]:
    """Give the order with the visit at every place."""
    for place in range(len(order) + 1):
        yield [*order[:place], apiary, *order[place:]]
