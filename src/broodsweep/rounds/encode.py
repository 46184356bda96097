"""The task in the solver's terms, and its routes back: one client an apiary, one vehicle an inspector's day.

Earlier is better: the matrix of a day carries, on every arc that enters an apiary, the cost of waiting until that
day; leaving the apiary out forgoes a prize of what leaving it out costs. So skipping and delaying are exact and
nothing is copied. What a day forbids is an arc that costs more than any prize. From worse to better (hygiene) is
an arc with the wash on it, or a forbidden one: one rule on arcs gives "diseased last" for the whole route.

Opening hours hold for visits, working hours for drives: the vehicle's clock runs over the opening hours, and
the first and last drive take only what of them lies inside.

All numbers are integers; one unit is 1/10000 of an infected apiary-day.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pyvrp

from broodsweep.rounds.allowed import why_not
from broodsweep.rounds.cost import price_on, worth_of_visiting
from broodsweep.rounds.model import WHOLE_DAY, Candidate, InspectorDay, Task, Window
from broodsweep.units import IntArray

SCALE = 10_000
FORBIDDEN_DISTANCE = 10_000_000
FORBIDDEN_DURATION = 100_000
"""Above any prize and any day, and small enough not to overflow the solver's sums."""
MOST_PROFILE_BYTES = 256_000_000
"""Above it the mild price for changing only the inspector of an announced visit is left to chance."""


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


@dataclass(frozen=True, kw_only=True, eq=False)
class Encoded:
    """The task as the solver's data, with the way back; ``apart`` holds the minutes between clients."""

    data: pyvrp.ProblemData
    apart: IntArray
    days: tuple[InspectorDay, ...]
    clients: tuple[Client, ...]

    def orders(self, solution: pyvrp.Solution) -> dict[tuple[str, date], list[str]]:
        """Return the order of apiaries of every inspector's day in a solution."""
        found: dict[tuple[str, date], list[str]] = {}
        for route in solution.routes():
            names = [self.clients[part.idx].row.apiary for part in route if part.is_client()]
            if names:
                found[self.days[route.vehicle_type()].key] = names
        return found

    def solution(self, orders: Mapping[tuple[str, date], Sequence[str]]) -> pyvrp.Solution:
        """Return orders of apiaries as a solution to start from."""
        routes = []
        for vehicle, day in enumerate(self.days):
            number = {
                (client.row.apiary, client.inspector): n
                for n, client in reversed(list(enumerate(self.clients)))
                if client.is_for(day.on)
            }
            named = [
                number.get((name, None), number.get((name, day.inspector)))
                for name in orders.get(day.key, ())
            ]
            visits = [n for n in named if n is not None]
            if visits:
                routes.append(pyvrp.Route(self.data, visits, vehicle))
        return pyvrp.Solution(self.data, routes)


def encode(task: Task, pairs: Mapping[str, Fixed] | None = None) -> Encoded | None:
    """Return the task in the solver's terms; None when nothing can be visited.

    Parameters
    ----------
    task
        What is to be planned. Visits for two are left out unless ``pairs`` says when and by whom.
    pairs
        Visits for two with their day, minute and inspectors.
    """
    pairs = pairs or {}
    days = tuple(day for day in task.days if day.opening is not None)
    clients = tuple(_clients(task, pairs, days))
    if not clients:
        return None
    places = sorted({(day.inspector, place) for day in days for place in (day.start, day.end)})
    column = {place: number for number, place in enumerate(places)}
    names = [place for _, place in places] + [client.row.apiary for client in clients]
    roads = _Roads(task, names)
    groups = _groups(clients)
    depots = [pyvrp.Depot(location=number) for number in range(len(places))]
    profiles = _Profiles(task, days, clients, roads, column)
    vehicles = [
        pyvrp.VehicleType(
            num_available=1,
            start_depot=column[(day.inspector, day.start)],
            end_depot=column[(day.inspector, day.end)],
            tw_early=vehicle_window(day)[0],
            tw_late=vehicle_window(day)[1],
            profile=profiles.number(day),
        )
        for day in days
    ]
    data = pyvrp.ProblemData(
        [pyvrp.Location(*_spot(task, name)) for name in names],
        [_as_client(task, client, len(places) + n, days, groups) for n, client in enumerate(clients)],
        depots,
        vehicles,
        profiles.distances,
        profiles.durations,
        [pyvrp.ClientGroup(members, required=False) for members in groups.values()],
    )
    apart = np.where(roads.is_none, FORBIDDEN_DURATION, roads.minutes)[len(places) :, len(places) :]
    return Encoded(data=data, apart=apart, days=days, clients=clients)


def _clients(task: Task, pairs: Mapping[str, Fixed], days: Sequence[InspectorDay]) -> list[Client]:
    found = []
    for row in task.candidates:
        if not row.needs_two:
            found += _stretches(row, [day for day in days if why_not(task, row, day) is None])
        elif row.apiary in pairs:
            fixed = pairs[row.apiary]
            found += [Client(row=row, inspector=name, fixed=fixed) for name in fixed.inspectors]
    return found


def _stretches(row: Candidate, days: Sequence[InspectorDay]) -> list[Client]:
    """Return a client for each stretch of the keeper's hours; one where they are the same on every day."""
    on_days: dict[Window | None, set[date]] = {}
    for on in sorted({day.on for day in days}):
        for window in row.windows_on(on) or (None,):
            on_days.setdefault(window, set()).add(on)
    if len(on_days) == 1:
        return [Client(row=row, room=next(iter(on_days)))]
    return [Client(row=row, room=window, days=frozenset(own)) for window, own in on_days.items()]


def _groups(clients: Sequence[Client]) -> dict[str, list[int]]:
    """Return the clients that stand for the same visit, by apiary, where there are several."""
    found: dict[str, list[int]] = {}
    for number, client in enumerate(clients):
        if client.days is not None:
            found.setdefault(client.row.apiary, []).append(number)
    return found


def _spot(task: Task, name: str) -> tuple[int, int]:
    """Place in millionths of a degree; the solver only draws with it."""
    longitude, latitude = task.travel.points[task.travel.index[name]]
    return round(longitude * 1e6), round(latitude * 1e6)


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


def _as_client(
    task: Task,
    client: Client,
    location: int,
    days: Sequence[InspectorDay],
    groups: Mapping[str, Sequence[int]],
) -> pyvrp.Client:
    row = client.row
    room = client.room or WHOLE_DAY
    begin = task.pins[row.apiary].begin_minute if row.apiary in task.pins else None
    begin = client.fixed.begin_minute if client.fixed else begin
    early, late = room.start_minute, room.end_minute - row.service_minutes
    if begin is not None:
        early = late = begin
    elif client.room is not None:
        late = _room_for_break(early, late, days)
    share = 0.5 if client.fixed else 1.0
    prize = round(SCALE * share * (worth_of_visiting(task, row)))
    if client.fixed:
        prize += round(SCALE * task.prices.pinned)
    return pyvrp.Client(
        location=location,
        service_duration=row.service_minutes,
        tw_early=early,
        tw_late=max(early, late),
        prize=prize,
        required=False,
        group=list(groups).index(row.apiary) if row.apiary in groups else None,
        name=row.apiary,
    )


def _room_for_break(early: int, late: int, days: Sequence[InspectorDay]) -> int:
    """Last begin of a visit with keeper's hours that leaves room for a break before it, where there is room."""
    rest = max((break_minutes(day) for day in days), default=0)
    opens = min((day.break_between.start_minute for day in days), default=0)
    return late - rest if late - rest >= early and late > opens else late


class _Roads:
    """Minutes and priced kilometres between the solver's locations."""

    def __init__(self, task: Task, names: Sequence[str]) -> None:
        rows = np.array([task.travel.index[name] for name in names])
        pick = np.ix_(rows, rows)
        self.minutes: IntArray = task.travel.minutes[pick].astype(np.int64)
        km = np.where(task.travel.is_reachable[pick], task.travel.km[pick], 0.0)
        self.price: IntArray = np.rint(SCALE * task.prices.kilometre * km).astype(np.int64)
        self.is_none = ~task.travel.is_reachable[pick]


class _Profiles:
    """The matrices, one a day where inspectors do not differ in what they may visit."""

    def __init__(
        self,
        task: Task,
        days: Sequence[InspectorDay],
        clients: Sequence[Client],
        roads: _Roads,
        column: Mapping[tuple[str, str], int],
    ) -> None:
        self._task, self._clients, self._roads, self._column = task, clients, roads, column
        self.distances: list[Any] = []
        self.durations: list[Any] = []
        self._key_of: dict[tuple[str, date], int] = {}
        entering = {day.key: self._entering(day) for day in days}
        per_profile = 16 * len(roads.minutes) ** 2
        kinds = {(day.on, entering[day.key].tobytes()) for day in days}
        if len(kinds) * per_profile > MOST_PROFILE_BYTES and task.announced:
            entering = {day.key: self._entering(day, mild=False) for day in days}
        groups: dict[tuple[date, bytes, str], list[InspectorDay]] = {}
        for day in days:
            own = day.inspector if task.hygiene.wash_at_home else ""
            groups.setdefault((day.on, entering[day.key].tobytes(), own), []).append(day)
        for number, group in enumerate(groups.values()):
            self._build(group, entering[group[0].key])
            for day in group:
                self._key_of[day.key] = number

    def number(self, day: InspectorDay) -> int:
        """Profile of an inspector's day."""
        return self._key_of[day.key]

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
        if wash is None:
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
