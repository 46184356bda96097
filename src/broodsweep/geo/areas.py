"""Which plane grid people use where: for writing a place that came without one.

Rough outlines, good enough to choose a grid by; nothing else depends on them.
"""

from __future__ import annotations

from broodsweep.geo.constants import (
    BRITISH_EXTENT_M,
    BRITISH_GRID_EPSG,
    IRISH_TRANSVERSE_MERCATOR_EPSG,
)
from broodsweep.geo.datum import datum
from broodsweep.geo.square_letters import has_british_land
from broodsweep.geo.utm import is_polar, utm_epsg, zone_of

_IRELAND = (-10.8, 51.2, -5.35, 55.45)
_KINTYRE = (-5.95, 55.1)
"""East and north of here the box of Ireland holds Scotland."""
_FRANCE = (1.1, 51.05)
"""East and south of here the squares TR and TV hold France."""
_BRITAIN = (-9.0, 49.7, 2.1, 61.1)


def plane_grid_of(longitude: float, latitude: float) -> int:
    """Return the EPSG code of the usual plane grid at a place, 0 in the polar regions."""
    if is_in_ireland(longitude, latitude):
        return IRISH_TRANSVERSE_MERCATOR_EPSG
    if is_in_britain(longitude, latitude):
        return BRITISH_GRID_EPSG
    if is_polar(latitude):
        return 0
    return utm_epsg(zone_of(longitude, latitude), is_north=latitude >= 0)


def is_in_ireland(longitude: float, latitude: float) -> bool:
    """Say whether a place is in Ireland, roughly."""
    west, south, east, north = _IRELAND
    in_box = west <= longitude <= east and south <= latitude <= north
    return in_box and not (longitude > _KINTYRE[0] and latitude > _KINTYRE[1])


def is_in_britain(longitude: float, latitude: float) -> bool:
    """Say whether a place lies in a square of the National Grid that holds land of Great Britain, roughly."""
    west, south, east, north = _BRITAIN
    if not (west <= longitude <= east and south <= latitude <= north):
        return False
    if longitude > _FRANCE[0] and latitude < _FRANCE[1]:
        return False
    easting, northing = datum(BRITISH_GRID_EPSG).from_wgs84(longitude, latitude)
    in_grid = 0 <= easting < BRITISH_EXTENT_M[0] and 0 <= northing < BRITISH_EXTENT_M[1]
    return in_grid and has_british_land(float(easting), float(northing))
