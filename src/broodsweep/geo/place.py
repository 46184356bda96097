"""A place: a point with how precisely it is known."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where something is, and how precisely that is known.

    The place is somewhere in a square of side ``precision_m`` whose centre is ``longitude``,
    ``latitude`` (WGS84). The sides lie along the axes of the grid ``epsg`` when the notation is a
    grid, else along the meridian and the parallel. ``easting`` and ``northing`` are the centre of the square in that grid
    (None for longitude and latitude).

    ``datum_accuracy_m`` is the accuracy of the datum shift between the notation and WGS84, zero when none was made.
    """

    longitude: float
    latitude: float
    precision_m: float
    notation: str = "decimal"
    text: str = ""
    easting: float | None = None
    northing: float | None = None
    epsg: int = 4326
    datum_accuracy_m: float = 0.0
