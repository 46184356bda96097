"""Rounds as columns of a linear programme: what each day allows, and what a round is worth."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import pairwise

import numpy as np
from scipy.sparse import csc_array

from broodsweep.rounds.allowed import why_not
from broodsweep.rounds.cost import price_on, worth_of_visiting
from broodsweep.rounds.model import WHOLE_DAY, Candidate, InspectorDay, Task
from broodsweep.rounds.plan import Round
from broodsweep.rounds.pricing import is_metric, near_neighbours
from broodsweep.units import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, kw_only=True)
class Column:
    """A round of one day as numbers: the day, the order of apiaries, what it saves against leaving all out."""

    day: int
    order: tuple[int, ...]
    value: float


@dataclass(frozen=True, kw_only=True, eq=False)
class DayPrices:
    """One inspector's day for the pricing, see `pricing.best_rounds`."""

    number: int
    day: InspectorDay
    gain: FloatArray
    early: IntArray
    late: IntArray
    out: IntArray
    out_price: FloatArray
    back: IntArray
    back_price: FloatArray
    first: int
    last: int


@dataclass(frozen=True, kw_only=True, eq=False)
class Prepared:
    """The task as arrays over the apiaries that some day can visit."""

    names: tuple[str, ...]
    days: tuple[DayPrices, ...]
    minutes: IntArray
    price: FloatArray
    closed: BoolArray
    service: IntArray
    trans: IntArray
    is_metric: bool

    @cached_property
    def groups(self) -> tuple[tuple[DayPrices, ...], ...]:
        """Days of the same date whose clocks start together."""
        found: dict[tuple[date, int], list[DayPrices]] = {}
        for row in self.days:
            found.setdefault((row.day.on, row.first), []).append(row)
        return tuple(tuple(rows) for rows in found.values())

    def column(self, day: int, order: Sequence[int]) -> Column | None:
        """Return a round with its value; None when it cannot be driven."""
        row = self.days[day]
        value = row.gain[list(set(order))].sum() - row.out_price[order[0]] - row.back_price[order[-1]]
        value -= sum(self.price[a, b] for a, b in pairwise(order))
        if not np.isfinite(value):
            return None
        return Column(day=day, order=tuple(order), value=float(value))

    def as_columns(self, rounds: Iterable[Round]) -> Iterator[Column]:
        """Give the rounds of a plan as columns."""
        known = set(self.names)
        drivable = [
            ((row.inspector, row.on), [name for name in row.apiaries if name in known]) for row in rounds
        ]
        yield from self.numbered((key, order) for key, order in drivable if order)

    def numbered(self, rounds: Iterable[tuple[tuple[str, date], Sequence[str]]]) -> tuple[Column, ...]:
        """Return rounds given as inspector, day and apiaries as columns; what cannot be driven is left out."""
        number = {name: place for place, name in enumerate(self.names)}
        place = {row.day.key: row.number for row in self.days}
        found = [self.column(place[key], [number[name] for name in order]) for key, order in rounds]
        return tuple(column for column in found if column is not None)

    def named(self, column: Column) -> tuple[tuple[str, date], tuple[str, ...]]:
        """Return a column as inspector, day and apiaries, each apiary once."""
        names = tuple(dict.fromkeys(self.names[stop] for stop in column.order))
        return self.days[column.day].day.key, names


def incidence(prepared: Prepared, columns: Sequence[Column]) -> csc_array:
    """Return which apiary and which day (rows, days last) each round (column) takes."""
    index: list[int] = []
    pointer = [0]
    for column in columns:
        index += [*sorted(set(column.order)), len(prepared.names) + column.day]
        pointer.append(len(index))
    shape = (len(prepared.names) + len(prepared.days), len(columns))
    return csc_array((np.ones(len(index)), index, pointer), shape=shape)


def prepare(task: Task) -> Prepared:
    """Return the task as arrays."""
    days = [day for day in task.days if day.opening is not None]
    rows = [row for row in task.candidates if any(why_not(task, row, day) is None for day in days)]
    names = tuple(row.apiary for row in rows)
    pick = np.array([task.travel.index[name] for name in names], dtype=np.int64)
    minutes, price, closed = _between(task, rows, pick)
    near = near_neighbours(minutes.copy())[1] if names else np.zeros((0, 0, 1), dtype=np.int64)
    return Prepared(
        names=names,
        days=tuple(_day(task, number, day, rows, pick) for number, day in enumerate(days)),
        minutes=minutes,
        price=price,
        closed=closed,
        service=np.array([row.service_minutes for row in rows], dtype=np.int64),
        trans=near,
        is_metric=bool(is_metric(minutes, price, closed)) if names else True,
    )


def _between(task: Task, rows: Sequence[Candidate], pick: IntArray) -> tuple[IntArray, FloatArray, BoolArray]:
    grid = np.ix_(pick, pick)
    minutes = task.travel.minutes[grid].astype(np.int64)
    closed = ~task.travel.is_reachable[grid]
    price = task.prices.kilometre * np.where(closed, 0.0, task.travel.km[grid])
    status = np.array([int(row.status) for row in rows], dtype=np.int64)
    worse = status[:, None] > status[None, :]
    wash = task.hygiene.decontamination_minutes
    if wash is None:
        closed = closed | worse
    else:  # the way home for the wash, where that is the rule, is left out: the bound gets lower, not wrong
        minutes = minutes + np.where(worse, wash, 0)
    return np.ascontiguousarray(minutes), np.ascontiguousarray(price), np.ascontiguousarray(closed)


def clock_window(day: InspectorDay) -> tuple[int, int, int]:
    """Return first and last minute of visits for the bound, and by how much windows open earlier.

    The break is taken off the end only where every legal round then still fits when all after the break (or the
    whole round, when it is too short to need one) is moved earlier by the break's length.
    """
    opening = day.opening or WHOLE_DAY
    first = max(opening.start_minute, day.work.start_minute)
    last = min(opening.end_minute, day.latest_minute)
    rest = day.break_minutes
    needed = first + day.break_after_minutes + rest
    if last >= needed and day.latest_minute >= needed and last >= day.break_between.end_minute:
        return first, last - rest, rest
    return first, last, 0


def _day(task: Task, number: int, day: InspectorDay, rows: Sequence[Candidate], pick: IntArray) -> DayPrices:
    first, last, rest = clock_window(day)
    opening = day.opening or WHOLE_DAY
    gain = np.full(len(rows), -np.inf)
    early, late = np.full(len(rows), first, dtype=np.int64), np.full(len(rows), last, dtype=np.int64)
    for place, row in enumerate(rows):
        if why_not(task, row, day) is None:
            gain[place] = worth_of_visiting(task, row) - price_on(task, row, day)
        room = row.window or opening
        early[place] = max(first, room.start_minute - rest)
        late[place] = min(last, room.end_minute) - row.service_minutes
        pin = task.pins.get(row.apiary)
        if pin is not None and pin.begin_minute is not None:
            early[place] = max(first, pin.begin_minute - rest)
            late[place] = min(late[place], pin.begin_minute)
    start, end = task.travel.index[day.start], task.travel.index[day.end]
    out, back = task.travel.minutes[start, pick], task.travel.minutes[pick, end]
    soiled = np.array([day.soiled > row.status for row in rows], dtype=np.bool_)
    wash = task.hygiene.decontamination_minutes or 0
    slack = day.latest_minute - min(opening.end_minute, day.latest_minute)
    way = task.travel.is_reachable
    price = task.prices.kilometre
    return DayPrices(
        number=number,
        day=day,
        gain=gain,
        early=early,
        late=late,
        out=np.maximum(0, day.work.start_minute + out + np.where(soiled, wash, 0) - first).astype(np.int64),
        out_price=np.where(way[start, pick], price * task.travel.km[start, pick], np.inf),
        back=np.maximum(0, back - slack).astype(np.int64),
        back_price=np.where(way[pick, end], price * task.travel.km[pick, end], np.inf),
        first=first,
        last=max(first, last),
    )
