"""Apiaries that lie off the land, when an outline of the land is given."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from broodsweep.register.model import Apiary
from broodsweep.register.spots import METRES_A_DEGREE


def off_land(apiaries: Sequence[Apiary], land: Any) -> list[int]:
    """Return the positions of apiaries whose whole square lies off the land.

    Parameters
    ----------
    apiaries
        The apiaries.
    land
        Outline in longitude and latitude (shapely polygon or several). Small islands may be missing from it,
        so the answer is for a warning, not for refusing.
    """
    import shapely

    if not apiaries:
        return []
    shapely.prepare(land)
    lon = np.array([row.place.longitude for row in apiaries])
    lat = np.array([row.place.latitude for row in apiaries])
    half = np.array([row.place.precision_m for row in apiaries]) / 2 / METRES_A_DEGREE
    off = np.flatnonzero(~shapely.contains_xy(land, lon, lat))
    wide = half[off] / np.maximum(1e-9, np.cos(np.radians(lat[off])))
    boxes = shapely.box(lon[off] - wide, lat[off] - half[off], lon[off] + wide, lat[off] + half[off])
    return [int(index) for index in off[~shapely.intersects(land, boxes)]]
