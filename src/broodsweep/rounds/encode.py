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

import numpy as np
import pyvrp

from broodsweep.rounds.allowed import why_not
from broodsweep.rounds.cost import worth_of_visiting
from broodsweep.rounds.model import WHOLE_DAY, Candidate, InspectorDay, Task, Window
from broodsweep.rounds.profiles import (
    FORBIDDEN_DURATION,
    SCALE,
    Client,
    Fixed,
    Profiles,
    Roads,
    break_minutes,
    vehicle_window,
)
from broodsweep.units import IntArray


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
    roads = Roads(task, names)
    groups = _groups(clients)
    depots = [pyvrp.Depot(location=number) for number in range(len(places))]
    profiles = Profiles(task, days, clients, roads, column)
    vehicles = [
        pyvrp.VehicleType(
            num_available=1,
            start_depot=column[(day.inspector, day.start)],
            end_depot=column[(day.inspector, day.end)],
            tw_early=vehicle_window(day)[0],
            tw_late=vehicle_window(day)[1],
            profile=profiles.number(day),
            capacity=profiles.room[day.key],
        )
        for day in days
    ]
    data = pyvrp.ProblemData(
        [pyvrp.Location(*_spot(task, name)) for name in names],
        [
            _as_client(task, client, len(places) + n, days, groups, profiles.loads[n])
            for n, client in enumerate(clients)
        ],
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


def _as_client(
    task: Task,
    client: Client,
    location: int,
    days: Sequence[InspectorDay],
    groups: Mapping[str, Sequence[int]],
    load: list[int],
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
        delivery=load,
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
