"""What a choice of visits costs: one objective for every engine and for the page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from broodsweep.rounds.model import Candidate, InspectorDay, Pin, Task
from broodsweep.rounds.plan import MINUTES_PER_HOUR, Cost, Round


def chosen_days(rounds: Iterable[Round]) -> dict[str, tuple[str, date]]:
    """Return who visits when, by apiary; of two who go together the first by name."""
    found: dict[str, tuple[str, date]] = {}
    for row in sorted(rounds, key=lambda row: (row.on, row.inspector)):
        for apiary in row.apiaries:
            found.setdefault(apiary, (row.inspector, row.on))
    return found


def cost_of(task: Task, rounds: Iterable[Round]) -> Cost:
    """Return what the rounds cost, parts and sum."""
    rounds = tuple(rounds)
    when = chosen_days(rounds)
    unseen = missed = broken = unmet = moved = 0.0
    for row in task.candidates:
        made = when.get(row.apiary)
        unseen += row.worth * (task.delay_days(made[1]) if made else task.prices.unvisited_days)
        missed += task.prices.missed_deadline * is_late(row, made, task)
        broken += task.prices.broken_appointment * (row.appointment_on is not None and made is None)
        unmet += task.prices.pinned * (row.apiary in task.pins and made is None)
        moved += move_price(task, row.apiary, made)
    return Cost(
        unseen=unseen,
        driving=task.prices.kilometre * sum(row.km for row in rounds),
        missed_deadlines=missed,
        broken_appointments=broken,
        unmet_pins=unmet,
        moved=moved,
        overtime=sum(overtime_price(task, row) for row in rounds),
    )


def overtime_price(task: Task, row: Round) -> float:
    """Return what the minutes beyond working hours cost."""
    return task.prices.overtime_hour * row.overtime_minutes / MINUTES_PER_HOUR


def is_late(row: Candidate, made: tuple[str, date] | None, task: Task) -> bool:
    """Say whether a deadline is missed; one that falls after the last planned day can still be met."""
    if row.deadline_on is None:
        return False
    if made is None:
        return row.deadline_on <= max(day.on for day in task.days)
    return made[1] > row.deadline_on


def move_price(task: Task, apiary: str, made: tuple[str, date] | None) -> float:
    """Return the price of moving an announced visit: whole for another day, half for another inspector."""
    told = task.announced.get(apiary)
    if told is None or made == told:
        return 0.0
    if made is None or made[1] != told[1]:
        return task.prices.moved
    return task.prices.moved / 2.0


def worth_of_visiting(task: Task, row: Candidate) -> float:
    """Return what leaving the visit out costs, beyond nothing else changing. [infected apiary-days]"""
    left_out = row.worth * task.prices.unvisited_days
    left_out += task.prices.missed_deadline * is_late(row, None, task)
    left_out += task.prices.broken_appointment * (row.appointment_on is not None)
    left_out += task.prices.pinned * (row.apiary in task.pins)
    return left_out + move_price(task, row.apiary, None)


def price_on(task: Task, row: Candidate, day: InspectorDay) -> float:
    """Return what a visit on that inspector's day costs, drives apart. [infected apiary-days]"""
    made = (day.inspector, day.on)
    price = row.worth * task.delay_days(day.on)
    price += task.prices.missed_deadline * is_late(row, made, task)
    return price + move_price(task, row.apiary, made)


def is_pinned_elsewhere(pins: Mapping[str, Pin], apiary: str, day: InspectorDay) -> bool:
    """Say whether the user fixed the visit to another inspector or day."""
    pin = pins.get(apiary)
    if pin is None:
        return False
    return pin.inspector not in (None, day.inspector) or pin.on not in (None, day.on)
