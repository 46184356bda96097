"""A place: a point with how precisely it is known."""

from __future__ import annotations

from dataclasses import dataclass, field

from broodsweep.errors import BroodsweepError
from broodsweep.words import Message


class PlaceError(BroodsweepError):
    """A place that cannot be read or written; the sentence says which part is wrong and shows a good one."""


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where something is, and how precisely that is known.

    The place is somewhere in a square of side ``precision_m`` whose centre is ``longitude``,
    ``latitude`` (WGS84). The sides lie along the axes of the grid ``epsg`` when ``easting`` and
    ``northing`` are there, else along the meridian and the parallel.

    Parameters
    ----------
    longitude, latitude
        Centre of the square, WGS84. [degree]
    precision_m
        Side of the square. [m]
    notation
        One of ``notation.NOTATIONS``.
    text
        What was read.
    easting, northing
        Centre of the square in the grid ``epsg``, in its unit; None for longitude and latitude.
    epsg
        The grid; 4326 for longitude and latitude.
    datum_accuracy_m
        Accuracy of the datum shift between the notation and WGS84; zero when none was made. It is not
        part of the square: see ``precision_with_datum_m`` and ``bounds.distance_bounds``. [m]
    datum_shift
        Name of the datum shift made, as PROJ gives it; empty when none was made.
    notes
        What the reader should know of how the text was understood, for the edge to show.
    """

    longitude: float
    latitude: float
    precision_m: float
    notation: str = "latitude_longitude"
    text: str = ""
    easting: float | None = None
    northing: float | None = None
    epsg: int = 4326
    datum_accuracy_m: float = 0.0
    datum_shift: str = ""
    notes: tuple[Message, ...] = field(default=(), compare=False)

    @property
    def centre(self) -> tuple[float, float]:
        """Longitude and latitude of the middle of the square, WGS84. [degree]"""
        return (self.longitude, self.latitude)

    @property
    def is_on_grid(self) -> bool:
        """Say whether the sides of the square lie along the axes of a plane grid."""
        return self.easting is not None and self.northing is not None

    @property
    def precision_with_datum_m(self) -> float:
        """Side of the square widened on every side by the accuracy of the datum shift. [m]"""
        return self.precision_m + 2 * self.datum_accuracy_m
