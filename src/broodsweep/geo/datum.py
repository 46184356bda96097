"""Grids to WGS84 and back, always by the same operation for a grid, whose name and accuracy are kept.

PROJ left alone picks an operation point by point, so that two places of one grid may be shifted
differently. Here each code has one operation: the best that is available on this machine. With PROJ's
shift grids installed (OSTN15 for Great Britain) that is the official one; without them a Helmert shift.
"""

from __future__ import annotations

import threading
import warnings
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError
from pyproj.transformer import TransformerGroup

from broodsweep.geo.constants import OSGB36_HELMERT_BOUND, WGS84_EPSG
from broodsweep.geo.place import PlaceError
from broodsweep.units import FloatArray

_CACHE_SIZE = 256
_MEASURED_BOUND_M = {"OSGB36 to WGS 84 (6)": OSGB36_HELMERT_BOUND.value}
"""Where we measured more than PROJ states, ours is used."""

_lock = threading.Lock()


@dataclass(frozen=True, kw_only=True)
class Datum:
    """How coordinates of one EPSG code get to WGS84.

    ``accuracy_m`` is zero and ``shift`` empty when the code is on WGS84 already. ``unit_m`` is the length of the unit of the
    plane axes. [m] ``bounds`` is west, south, east, north of the area of use. [degree]
    """

    epsg: int
    transformer: Any
    shift: str
    accuracy_m: float
    is_geographic: bool
    unit_m: float
    bounds: tuple[float, float, float, float]

    def to_wgs84(self, x: Any, y: Any) -> tuple[Any, Any]:
        """Return longitude and latitude for (easting, northing) or (longitude, latitude) of this code."""
        longitude, latitude = self.transformer.transform(x, y)
        return longitude, latitude

    def from_wgs84(self, longitude: Any, latitude: Any) -> tuple[Any, Any]:
        """Return (easting, northing), or (longitude, latitude) of this code, for WGS84 degrees."""
        x, y = self.transformer.transform(longitude, latitude, direction="INVERSE")
        return x, y


@lru_cache(maxsize=_CACHE_SIZE)
def datum(epsg: int) -> Datum:
    """Return how an EPSG code gets to WGS84; cached, safe to call from several threads.

    Raises
    ------
    PlaceError
        If the code is unknown, is neither a plane grid nor latitude and longitude, or has no known way to WGS84.
    """
    try:
        crs = CRS.from_epsg(epsg)
    except CRSError as error:
        raise PlaceError("geo.unknown_epsg", code=str(epsg)) from error
    if not (crs.is_projected or crs.is_geographic) or len(crs.axis_info) != 2:  # noqa: PLR2004
        raise PlaceError("geo.epsg_is_no_plane", code=str(epsg), name=crs.name)
    transformer = _best_transformer(epsg)
    shift, accuracy_m = _shift(transformer, epsg)
    area = crs.area_of_use
    return Datum(
        epsg=epsg,
        transformer=transformer,
        shift=shift,
        accuracy_m=accuracy_m,
        is_geographic=bool(crs.is_geographic),
        unit_m=float(crs.axis_info[0].unit_conversion_factor) if crs.is_projected else 1.0,
        bounds=area.bounds if area else (-180.0, -90.0, 180.0, 90.0),
    )


def _best_transformer(epsg: int) -> Transformer:
    # PROJ warns when a better operation would need a grid that is not here: we state the accuracy instead.
    with _lock, warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        found = TransformerGroup(epsg, WGS84_EPSG, always_xy=True, allow_ballpark=False).transformers
    if not found:
        raise PlaceError("geo.no_way_to_wgs84", code=str(epsg))
    return found[0]


def _shift(transformer: Transformer, epsg: int) -> tuple[str, float]:
    steps = [part.strip() for part in str(transformer.description).split(" + ")]
    names = [part for part in steps if " to WGS 84" in part]
    if not names:
        return "", 0.0
    name = names[0].removeprefix("Inverse of ")
    stated = float(transformer.accuracy)
    if stated < 0 and name not in _MEASURED_BOUND_M:
        raise PlaceError("geo.no_way_to_wgs84", code=str(epsg))
    return name, max(stated, _MEASURED_BOUND_M.get(name, 0.0))


def grid_to_wgs84(epsg: int, easting: FloatArray, northing: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return longitude and latitude of many points of one grid, shape as given. [degree]"""
    longitude, latitude = datum(epsg).to_wgs84(easting, northing)
    return longitude, latitude
