"""The matrices of the solver: roads, what entering an apiary costs on a day, washes, first and last drives.

Inspectors of one day share their matrices where they may visit the same apiaries. Where sharing by sameness alone
would take too much memory, all inspectors of a day share theirs, and who may not visit an apiary is told by load:
each kind of exclusion is a dimension, in which the excluded apiaries deliver something and the inspectors they are
closed to can carry nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from broodsweep.rounds.allowed import why_not
from broodsweep.rounds.cost import price_on
from broodsweep.rounds.model import WHOLE_DAY, Candidate, InspectorDay, Task, Window
from broodsweep.units import BoolArray, IntArray

SCALE = 10_000
FORBIDDEN_DISTANCE = 10_000_000
FORBIDDEN_DURATION = 100_000
"""Above any prize and any day, and small enough not to overflow the solver's sums."""
MOST_PROFILE_BYTES = 128_000_000
"""Memory of the matrices above which all inspectors of a day share theirs. The mild price for changing only the
inspector of an announced visit, and a wash at home, are then left out of the search (not of the plan)."""
MOST_EXCLUSIONS = 24
"""Kinds of exclusion told by load; what goes beyond is put right when the plan is settled."""
EXCLUDED_LOAD = 100
"""Load of an apiary that is closed to an inspector: at the solver's first price of a unit dearer than most visits."""


@dataclass(frozen=True, kw_only=True)
class Fixed:
    """A visit that two make together: on this day, at this minute, by these two."""

    on: date
    begin_minute: int
    inspectors: tuple[str, str]


@dataclass(frozen=True, kw_only=True)
class Client:
    """One client of the solver: an apiary; of a visit for two, one of its two halves.

    Where the keeper's hours differ by day, or a day has several, each stretch is a client of its own in a group of
    which one is visited; ``days`` are those of its stretch, ``room``.
    """

    row: Candidate
    inspector: str | None = None
    fixed: Fixed | None = None
    room: Window | None = None
    days: frozenset[date] | None = None

    def is_for(self, on: date) -> bool:
        """Say whether this client stands for the visit on that day."""
        return self.days is None or on in self.days


def vehicle_window(day: InspectorDay) -> tuple[int, int]:
    """Return the first and last minute in which a visit may go on, the break taken off the end."""
    opening = day.opening or WHOLE_DAY
    early = max(opening.start_minute, day.work.start_minute)
    late = min(opening.end_minute, day.latest_minute) - break_minutes(day)
    return early, max(early, late)


def break_minutes(day: InspectorDay) -> int:
    """Minutes that are kept free for a break: none on a day too short to need one."""
    room = day.latest_minute - day.work.start_minute
    return day.break_minutes if room > day.break_after_minutes else 0


class Roads:
    """Minutes and priced kilometres between the solver's locations."""

    def __init__(self, task: Task, names: Sequence[str]) -> None:
        rows = np.array([task.travel.index[name] for name in names])
        pick = np.ix_(rows, rows)
        self.minutes: IntArray = task.travel.minutes[pick].astype(np.int64)
        km = np.where(task.travel.is_reachable[pick], task.travel.km[pick], 0.0)
        self.price: IntArray = np.rint(SCALE * task.prices.kilometre * km).astype(np.int64)
        self.is_none = ~task.travel.is_reachable[pick]


class Profiles:
    """The matrices of all days, and who is kept from what by load where inspectors of a day share theirs.

    ``loads`` holds what each client delivers and ``room`` what each inspector's day can carry, by kind of exclusion.
    """

    def __init__(
        self,
        task: Task,
        days: Sequence[InspectorDay],
        clients: Sequence[Client],
        roads: Roads,
        column: Mapping[tuple[str, str], int],
    ) -> None:
        self._task, self._clients, self._roads, self._column = task, clients, roads, column
        self.distances: list[Any] = []
        self.durations: list[Any] = []
        self.loads: list[list[int]] = [[] for _ in clients]
        self.room: dict[tuple[str, date], list[int]] = {day.key: [] for day in days}
        self._key_of: dict[tuple[str, date], int] = {}
        self._is_shared = False
        entering = {day.key: self._entering(day) for day in days}
        groups = self._same(days, entering)
        self._is_shared = 16 * len(roads.minutes) ** 2 * len(groups) > MOST_PROFILE_BYTES
        if self._is_shared:
            entering = self._shared(days, {day.key: self._entering(day, mild=False) for day in days})
            groups = self._same(days, entering)
        for number, group in enumerate(groups):
            self._build(group, entering[group[0].key])
            for day in group:
                self._key_of[day.key] = number

    def number(self, day: InspectorDay) -> int:
        """Profile of an inspector's day."""
        return self._key_of[day.key]

    def _same(
        self, days: Sequence[InspectorDay], entering: Mapping[tuple[str, date], IntArray]
    ) -> list[list[InspectorDay]]:
        """Days that differ in nothing that the matrices hold but their homes."""
        groups: dict[tuple[date, bytes, str], list[InspectorDay]] = {}
        for day in days:
            own = day.inspector if self._task.hygiene.wash_at_home and not self._is_shared else ""
            groups.setdefault((day.on, entering[day.key].tobytes(), own), []).append(day)
        return list(groups.values())

    def _shared(
        self, days: Sequence[InspectorDay], entering: Mapping[tuple[str, date], IntArray]
    ) -> dict[tuple[str, date], IntArray]:
        """Give all inspectors of a day the same prices; what only some may not visit is told by load."""
        common: dict[date, IntArray] = {}
        for day in days:
            before = common.get(day.on, entering[day.key])
            common[day.on] = np.maximum(before, entering[day.key])
        shut = {day.key: (entering[day.key] < 0) & (common[day.on] >= 0) for day in days}
        ever: dict[str, BoolArray] = {}
        for day in days:
            ever[day.inspector] = ever.get(day.inspector, shut[day.key]) | shut[day.key]
        kinds = {}
        for day in days:  # one kind an inspector where that keeps nobody from what they may visit
            always = ever[day.inspector]
            kinds[day.key] = (always if (entering[day.key][always] < 0).all() else shut[day.key]).tobytes()
        counted = Counter(kind for kind in kinds.values() if any(kind))
        for kind, _ in counted.most_common(MOST_EXCLUSIONS):
            closed = np.frombuffer(kind, dtype=np.bool_)
            for load, is_closed in zip(self.loads, closed, strict=True):
                load.append(EXCLUDED_LOAD * bool(is_closed))
            for key, own in kinds.items():
                self.room[key].append(0 if own == kind else EXCLUDED_LOAD * len(closed))
        return {day.key: common[day.on] for day in days}

    def _entering(self, day: InspectorDay, *, mild: bool = True) -> IntArray:
        """Price of entering each client on that day; -1 where it may not be."""
        prices = np.full(len(self._clients), -1, dtype=np.int64)
        for number, client in enumerate(self._clients):
            if client.fixed is not None:
                if client.fixed.on == day.on and client.inspector == day.inspector:
                    prices[number] = round(SCALE * price_on(self._task, client.row, day) / 2)
            elif client.is_for(day.on) and why_not(self._task, client.row, day) is None:
                price = price_on(self._task, client.row, day)
                told = self._task.announced.get(client.row.apiary)
                if not mild and told is not None and told[1] == day.on and told[0] != day.inspector:
                    price -= self._task.prices.moved / 2.0
                prices[number] = round(SCALE * price)
        return prices

    def _build(self, group: Sequence[InspectorDay], entering: IntArray) -> None:
        first = len(self._roads.minutes) - len(self._clients)
        cost, time = self._roads.price.copy(), self._roads.minutes.copy()
        self._add_hygiene(group[0], cost, time, first)
        cost[:, first:] += np.maximum(entering, 0)
        closed = self._roads.is_none.copy()
        closed[:, first:] |= entering < 0
        closed |= cost >= FORBIDDEN_DISTANCE
        for day in group:
            self._add_ends(day, cost, time, closed, first)
        cost[closed], time[closed] = FORBIDDEN_DISTANCE, FORBIDDEN_DURATION
        np.fill_diagonal(cost, 0)
        np.fill_diagonal(time, 0)
        self.distances.append(cost)
        self.durations.append(time)

    def _add_hygiene(self, day: InspectorDay, cost: IntArray, time: IntArray, first: int) -> None:
        status = np.array([int(client.row.status) for client in self._clients])
        worse = status[:, None] > status[None, :]
        wash = self._task.hygiene.decontamination_minutes
        inner = (slice(first, None), slice(first, None))
        if wash is None or (self._task.hygiene.wash_at_home and self._is_shared):
            cost[inner][worse] = FORBIDDEN_DISTANCE
            return
        if self._task.hygiene.wash_at_home:
            home = self._column[(day.inspector, day.end)]
            via = self._roads.minutes[first:, home, None] + self._roads.minutes[None, home, first:]
            price = self._roads.price[first:, home, None] + self._roads.price[None, home, first:]
            no_way = self._roads.is_none[first:, home, None] | self._roads.is_none[None, home, first:]
            cost[inner][worse], time[inner][worse] = price[worse], via[worse]
            cost[inner][worse & no_way] = FORBIDDEN_DISTANCE
        time[inner][worse] += wash

    def _add_ends(
        self, day: InspectorDay, cost: IntArray, time: IntArray, closed: IntArray, first: int
    ) -> None:
        """First and last drive: only what lies inside the opening hours counts on the vehicle's clock."""
        start, end = self._column[(day.inspector, day.start)], self._column[(day.inspector, day.end)]
        early, _ = vehicle_window(day)
        opening = day.opening or WHOLE_DAY
        slack = day.latest_minute - min(opening.end_minute, day.latest_minute)
        out, back = self._roads.minutes[start, first:].copy(), self._roads.minutes[first:, end].copy()
        wash = self._task.hygiene.decontamination_minutes
        soiled = np.array([day.soiled > client.row.status for client in self._clients], dtype=np.bool_)
        if day.most_commute_minutes is not None:
            closed[start, first:] |= out > day.most_commute_minutes
            closed[first:, end] |= back > day.most_commute_minutes
        out[soiled] += wash or 0
        if wash is None:
            closed[start, first:] |= soiled
        time[start, first:] = np.maximum(0, day.work.start_minute + out - early)
        time[first:, end] = np.maximum(0, back - slack)
