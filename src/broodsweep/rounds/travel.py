"""How far and how long between places: a table that says which road it was made from and what it cannot reach."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from broodsweep.geo import distance_m
from broodsweep.rounds.constants import DETOUR_FACTOR, DISTANCE_EXTRA_TIME, DRIVE_SPEED
from broodsweep.units import BoolArray, FloatArray, IntArray
from broodsweep.words import Message, say

METRES_PER_KM = 1000.0
MINUTES_PER_HOUR = 60.0


@dataclass(frozen=True, kw_only=True, eq=False)
class TravelTable:
    """Minutes and kilometres between named places.

    Parameters
    ----------
    names
        The places, each once.
    points
        Longitude and latitude of each place. [degree]
    minutes
        Travel time from row to column, parking and walking included, shape (n, n). [min]
    km
        Road distance from row to column, shape (n, n). [km]
    is_reachable
        Whether there is a way from row to column, shape (n, n); where not, minutes and km mean nothing.
    method
        From what the table was made, in words.
    off_road
        Places that no usable road reaches, with the reason.
    """

    names: tuple[str, ...]
    points: tuple[tuple[float, float], ...]
    minutes: IntArray
    km: FloatArray
    is_reachable: BoolArray
    method: Message
    off_road: Mapping[str, Message] = field(default_factory=dict)

    def __post_init__(self) -> None:
        shape = (len(self.names), len(self.names))
        for name in ("minutes", "km", "is_reachable"):
            if getattr(self, name).shape != shape:
                raise ValueError(f"Expected {name} of shape {shape}, got {getattr(self, name).shape}.")
        if len(set(self.names)) != len(self.names) or len(self.points) != len(self.names):
            raise ValueError("Expected each name once, with its point.")

    @cached_property
    def index(self) -> dict[str, int]:
        """Row and column of each place."""
        return {name: number for number, name in enumerate(self.names)}

    def minutes_between(self, start: str, end: str) -> int | None:
        """Return the minutes from one place to another; None when there is no way."""
        row, column = self.index[start], self.index[end]
        return int(self.minutes[row, column]) if self.is_reachable[row, column] else None

    def km_between(self, start: str, end: str) -> float | None:
        """Return the kilometres from one place to another; None when there is no way."""
        row, column = self.index[start], self.index[end]
        return float(self.km[row, column]) if self.is_reachable[row, column] else None


def travel_by_distance(
    points: Mapping[str, tuple[float, float]],
    *,
    detour: float = DETOUR_FACTOR.value,
    speed_km_per_hour: float = DRIVE_SPEED.value,
    extra_minutes: float = DISTANCE_EXTRA_TIME.value,
) -> TravelTable:
    """Return a table by geodesic distance times a detour factor: for when there is no road file.

    It takes every place for reachable: water is not known here.

    Parameters
    ----------
    points
        Longitude and latitude by name. [degree]
    detour
        Road over geodesic distance.
    speed_km_per_hour, extra_minutes
        Driving time is distance over speed plus the extra minutes of each drive.
    """
    spots = np.array(list(points.values()), dtype=np.float64).reshape(len(points), 2)
    start, end = np.broadcast_arrays(spots[:, None, :], spots[None, :, :])
    apart = distance_m(start[..., 0], start[..., 1], end[..., 0], end[..., 1])
    km = detour * np.asarray(apart) / METRES_PER_KM
    np.fill_diagonal(km, 0.0)
    minutes = np.ceil(km / speed_km_per_hour * MINUTES_PER_HOUR + extra_minutes).astype(np.int64)
    minutes[km == 0.0] = 0
    return TravelTable(
        names=tuple(points),
        points=tuple((float(lon), float(lat)) for lon, lat in spots),
        minutes=minutes,
        km=km,
        is_reachable=np.ones(km.shape, dtype=np.bool_),
        method=say("rounds.by_distance", detour=detour, speed=speed_km_per_hour),
    )
