"""Reads the roads of an OpenStreetMap extract (PBF or XML) into a road net.

Roads for motor vehicles with speeds by class, the signed limit where it is lower; one-way roads and roundabouts;
gates cost a minute, bollards and blocks close; ferries with their duration and a wait for them. Ways and gates
tagged private are used: an authorised inspector drives up to the farm; what is tagged "no" is not.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from broodsweep.geo import distance_m
from broodsweep.rounds.constants import FERRY_SPEED, FERRY_WAIT, GATE_TIME, ROAD_SPEED
from broodsweep.rounds.errors import RoundsError
from broodsweep.rounds.roads import RoadNet

CLOSED_BARRIERS = frozenset(
    {
        "bollard",
        "block",
        "jersey_barrier",
        "cycle_barrier",
        "stile",
        "kissing_gate",
        "turnstile",
        "log",
        "debris",
    }
)
FREE_BARRIERS = frozenset({"cattle_grid", "entrance", "border_control", "height_restrictor", "kerb", "no"})
NO = frozenset({"no"})
KM_PER_MILE = 1.609344
_METRES_PER_KM = 1000.0
_MINUTES_PER_HOUR = 60.0
ROAD_SUFFIXES = (".osm.pbf", ".pbf", ".osm", ".osm.gz", ".osm.bz2")


@dataclass
class _Found:
    """Ways as they are read: pieces between points, with the time of each."""

    number: dict[int, int] = field(default_factory=dict)
    longitude: list[float] = field(default_factory=list)
    latitude: list[float] = field(default_factory=list)
    barrier: dict[int, str] = field(default_factory=dict)
    start: list[int] = field(default_factory=list)
    end: list[int] = field(default_factory=list)
    per_km: list[float] = field(default_factory=list)
    """Minutes a kilometre; not a number for a ferry, whose minutes are ``ferry``."""
    ferry: list[float] = field(default_factory=list)
    stops: list[bool] = field(default_factory=list)

    def point(self, ref: int, longitude: float, latitude: float) -> int:
        """Number of a point, new or known."""
        if ref not in self.number:
            self.number[ref] = len(self.longitude)
            self.longitude.append(longitude)
            self.latitude.append(latitude)
        return self.number[ref]

    def add(self, a: int, b: int, per_km: float, ferry: float, *, stops: bool) -> None:
        """Add a directed piece."""
        self.start.append(a)
        self.end.append(b)
        self.per_km.append(per_km)
        self.ferry.append(ferry)
        self.stops.append(stops)


def read_roads(path: Path) -> RoadNet:
    """Return the road net of an extract.

    Raises
    ------
    RoundsError
        If the file is not there, cannot be read or holds no road for motor vehicles.
    """
    if not path.is_file():
        raise RoundsError("rounds.roads_missing", file=str(path))
    found = _Found()
    try:
        _read(path, found)
    except (RuntimeError, ValueError, OSError) as error:
        raise RoundsError("rounds.roads_unreadable", file=str(path), reason=str(error)) from error
    if not any(found.stops):
        raise RoundsError("rounds.roads_none", file=str(path))
    return _as_net(found, path.name)


def _read(path: Path, found: _Found) -> None:
    import osmium

    wanted = osmium.filter.KeyFilter("highway", "route", "barrier")
    things: Any = osmium.FileProcessor(str(path)).with_locations().with_filter(wanted)
    for thing in things:
        if thing.is_node():
            if "barrier" in thing.tags:
                found.barrier[thing.id] = _barrier(thing.tags)
        elif thing.is_way():
            _way(thing, found)


def _barrier(tags: Any) -> str:
    """Say whether a barrier closes the road, costs time or nothing."""
    kind = tags["barrier"]
    passes = tags.get("motor_vehicle") or tags.get("vehicle") or tags.get("access")
    if passes in NO or (kind in CLOSED_BARRIERS and passes is None):
        return "closed"
    return "free" if kind in FREE_BARRIERS else "gate"


def _way(way: Any, found: _Found) -> None:
    tags = way.tags
    access = tags.get("motor_vehicle") or tags.get("motorcar") or tags.get("vehicle") or tags.get("access")
    if access in NO:
        return
    refs = [(node.ref, node.lon, node.lat) for node in way.nodes if node.location.valid()]
    if len(refs) < 2:  # noqa: PLR2004 - a line has two ends
        return
    if tags.get("route") == "ferry":
        if access is not None or tags.get("foot") != "only":
            _ferry(tags, refs, found)
        return
    kind = tags.get("highway", "").removesuffix("_link")
    if kind not in ROAD_SPEED or tags.get("area") == "yes":
        return
    _road(kind, tags, refs, found)


def _road(kind: str, tags: Any, refs: list[tuple[int, float, float]], found: _Found) -> None:
    speed = ROAD_SPEED[kind].value
    limit = _limit(tags.get("maxspeed", ""))
    per_km = _MINUTES_PER_HOUR / (min(speed, limit) if limit else speed)
    ahead, back = _directions(kind, tags)
    for (a, *a_at), (b, *b_at) in pairwise(refs):
        barriers = [found.barrier.get(a), found.barrier.get(b)]
        if "closed" in barriers:
            continue
        first, second = found.point(a, *a_at), found.point(b, *b_at)
        gate = GATE_TIME.value / 2.0 * barriers.count("gate")
        stops = kind != "motorway"
        if ahead:
            found.add(first, second, per_km, gate, stops=stops)
        if back:
            found.add(second, first, per_km, gate, stops=stops)


def _directions(kind: str, tags: Any) -> tuple[bool, bool]:
    given = tags.get("oneway", "")
    if given in ("-1", "reverse"):
        return False, True
    implied = kind == "motorway" or tags.get("junction") in ("roundabout", "circular")
    if given in ("yes", "1", "true") or (implied and given != "no"):
        return True, False
    return True, True


def _ferry(tags: Any, refs: list[tuple[int, float, float]], found: _Found) -> None:
    """A ferry is one piece from quay to quay: its duration and the wait for it; nothing is driven."""
    minutes = _duration(tags.get("duration", ""))
    lon, lat = np.array([row[1] for row in refs]), np.array([row[2] for row in refs])
    if minutes is None:
        length_km = float(np.sum(distance_m(lon[:-1], lat[:-1], lon[1:], lat[1:]))) / _METRES_PER_KM
        minutes = length_km / FERRY_SPEED.value * _MINUTES_PER_HOUR
    first, last = found.point(*refs[0]), found.point(*refs[-1])
    for a, b in ((first, last), (last, first)):
        found.add(a, b, 0.0, minutes + FERRY_WAIT.value, stops=False)


def _duration(text: str) -> float | None:
    """Minutes of a duration written as H:MM, H:MM:SS or minutes."""
    parts = text.split(":")
    try:
        numbers = [float(part) for part in parts]
    except ValueError:
        return None
    if len(numbers) == 1:
        return numbers[0]
    return numbers[0] * _MINUTES_PER_HOUR + numbers[1]


def _limit(text: str) -> float | None:
    """Signed limit in km/h; None when there is none that is a number above zero."""
    number, _, unit = text.strip().partition(" ")
    try:
        value = float(number)
    except ValueError:
        return None
    value *= KM_PER_MILE if unit.strip().lower() == "mph" else 1.0
    return value if value > 0.0 else None


def _as_net(found: _Found, name: str) -> RoadNet:
    lon, lat = np.array(found.longitude), np.array(found.latitude)
    start, end = np.array(found.start, dtype=np.int64), np.array(found.end, dtype=np.int64)
    per_km = np.array(found.per_km)
    km = np.asarray(distance_m(lon[start], lat[start], lon[end], lat[end])) / _METRES_PER_KM
    return RoadNet(
        longitude=lon,
        latitude=lat,
        start=start,
        end=end,
        minutes=km * per_km + np.array(found.ferry),
        km=np.where(per_km > 0.0, km, 0.0),
        is_stopping_place=np.array(found.stops, dtype=np.bool_),
        name=name,
    )
