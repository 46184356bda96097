"""From orders of visits to legal rounds: times, breaks, what does not fit dropped and put where it does."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from broodsweep.rounds.allowed import why_not
from broodsweep.rounds.cost import overtime_price, price_on, worth_of_visiting
from broodsweep.rounds.hand import insertions
from broodsweep.rounds.model import InspectorDay, Task
from broodsweep.rounds.plan import Round
from broodsweep.rounds.profiles import Fixed
from broodsweep.rounds.timetable import timetable

Rounds = dict[tuple[str, date], Round]
_LEAST_GAIN = 1e-9


def settle(
    task: Task,
    orders: Mapping[tuple[str, date], Sequence[str]],
    pairs: Mapping[str, Fixed] | None = None,
) -> tuple[Round, ...]:
    """Return legal rounds that follow the orders as far as times, breaks and rules allow.

    What breaks a rule is dropped, the cheapest loss first, and what is not worth its overtime; then every visit left
    out is put where it gains most, and each round is put in order of rising worth where that costs little.
    """
    pairs = pairs or {}
    fixed = {name: row.begin_minute for name, row in pairs.items()}
    rounds: Rounds = {}
    for day in task.days:
        made = _shed(task, day, list(orders.get(day.key, ())), fixed)
        if made is not None:
            rounds[day.key] = made
    _both_or_neither(task, rounds, pairs, fixed)
    _trim(task, rounds, fixed)
    _fill(task, rounds, fixed)
    for key, row in rounds.items():
        rounds[key] = rising(task, task.by_day[key], row, fixed)
    return tuple(rounds[key] for key in sorted(rounds, key=lambda key: (key[1], key[0])))


def _shed(task: Task, day: InspectorDay, order: list[str], fixed: Mapping[str, int]) -> Round | None:
    """Drop visits, the cheapest loss first, until the round is legal."""
    order = [name for name in order if name in fixed or why_not(task, task.by_apiary[name], day) is None]
    while order:
        made = timetable(task, day, order, fixed=fixed)
        if made is not None:
            return made
        tries = [
            (_loss(task, name, day), timetable(task, day, rest, fixed=fixed), rest)
            for number, name in enumerate(order)
            if (rest := [*order[:number], *order[number + 1 :]])
        ]
        legal = [row for row in tries if row[1] is not None]
        if legal:
            return min(legal, key=lambda row: row[0])[1]
        order = min(tries, key=lambda row: row[0])[2] if tries else []
    return None


def _loss(task: Task, name: str, day: InspectorDay) -> float:
    row = task.by_apiary[name]
    return worth_of_visiting(task, row) - price_on(task, row, day)


def _both_or_neither(
    task: Task, rounds: Rounds, pairs: Mapping[str, Fixed], fixed: Mapping[str, int]
) -> None:
    """Take a visit for two out of both rounds when one of them could not keep it."""
    for name, row in pairs.items():
        keys = [(inspector, row.on) for inspector in row.inspectors]
        has = [key for key in keys if key in rounds and name in rounds[key].apiaries]
        if len(has) == 1:
            key = has[0]
            rest = [other for other in rounds[key].apiaries if other != name]
            made = _shed(task, task.by_day[key], rest, fixed)
            if made is None:
                del rounds[key]
            else:
                rounds[key] = made


def _price(task: Task, row: Round | None) -> float:
    """What driving a round costs, overtime included."""
    return 0.0 if row is None else task.prices.kilometre * row.km + overtime_price(task, row)


def _trim(task: Task, rounds: Rounds, fixed: Mapping[str, int]) -> None:
    """Take out of rounds with overtime what brings less than the overtime costs, the least worth its while first."""
    for key in [key for key, row in rounds.items() if row.overtime_minutes]:
        day, row = task.by_day[key], rounds[key]
        while row.overtime_minutes:
            tries = []
            for number, name in enumerate(row.apiaries):
                if name in fixed or name in task.pins or task.by_apiary[name].needs_two:
                    continue
                rest = [*row.apiaries[:number], *row.apiaries[number + 1 :]]
                made = timetable(task, day, rest, fixed=fixed) if rest else None
                if made is not None or not rest:
                    tries.append((_price(task, row) - _price(task, made) - _loss(task, name, day), made))
            best = max(tries, key=lambda one: one[0], default=None)
            if best is None or best[0] <= _LEAST_GAIN:
                break
            if best[1] is None:
                del rounds[key]
                break
            row = rounds[key] = best[1]


def _fill(task: Task, rounds: Rounds, fixed: Mapping[str, int]) -> None:
    """Put each visit that is left out where it gains most, the most costly to leave out first."""
    planned = {name for row in rounds.values() for name in row.apiaries}
    left = [row for row in task.candidates if row.apiary not in planned and not row.needs_two]
    for row in sorted(left, key=lambda row: (-worth_of_visiting(task, row), row.apiary)):
        best: tuple[float, tuple[str, date], Round] | None = None
        for day in task.days:
            if why_not(task, row, day) is not None or not _has_room(day, rounds, row.service_minutes):
                continue
            before = rounds.get(day.key)
            for order in insertions(task, before.apiaries if before else (), row.apiary):
                made = timetable(task, day, order, fixed=fixed)
                if made is None:
                    continue
                gain = _loss(task, row.apiary, day) - _price(task, made) + _price(task, before)
                if gain > _LEAST_GAIN and (best is None or gain > best[0]):
                    best = (gain, day.key, made)
        if best is not None:
            rounds[best[1]] = best[2]


def _has_room(day: InspectorDay, rounds: Rounds, minutes: int) -> bool:
    """Say whether the hours left between the visits of that day could hold another of that length at all."""
    row = rounds.get(day.key)
    if row is None or day.opening is None:
        return True
    busy = sum(stop.leave_minute - stop.begin_minute for stop in row.stops)
    return busy + minutes <= day.opening.length_minutes


RISING_KM = 3.0
"""Kilometres a round may grow by to go from low to high worth (project choice: costs little)."""


def rising(task: Task, day: InspectorDay, made: Round, fixed: Mapping[str, int]) -> Round:
    """Return the round in order of rising worth as far as that costs little.

    Of neighbours in the order that fall in worth, those are swapped whose swap is legal; the whole may
    grow by ``RISING_KM``. The cost of the plan is dearer by those kilometres at most.
    """
    best, changed = made, True
    while changed:
        changed = False
        order = list(best.apiaries)
        for number in range(len(order) - 1):
            first, second = task.by_apiary[order[number]], task.by_apiary[order[number + 1]]
            if first.worth <= second.worth or first.status > second.status:
                continue
            swapped = [*order[:number], order[number + 1], order[number], *order[number + 2 :]]
            row = timetable(task, day, swapped, fixed=fixed)
            is_near = row is not None and row.km <= made.km + RISING_KM
            if row is not None and is_near and row.back_minute <= max(best.back_minute, day.work.end_minute):
                best, changed = row, True
                break
    return best
