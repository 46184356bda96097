"""The land of Skarnsey: coast, hills, lakes, woods and heath, from seeded noise on a fine raster."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter, map_coordinates
from shapely.geometry.base import BaseGeometry

from broodsweep.demo.constants import CELL_M, CENTRE_EASTING_M, CENTRE_NORTHING_M, HEIGHT_M, WIDTH_M
from broodsweep.demo.contours import region
from broodsweep.units import FloatArray

COLUMNS, ROWS = int(WIDTH_M / CELL_M), int(HEIGHT_M / CELL_M)
EASTINGS_M: FloatArray = np.asarray(
    CENTRE_EASTING_M + (np.arange(COLUMNS) - (COLUMNS - 1) / 2) * CELL_M, dtype=np.float64
)
NORTHINGS_M: FloatArray = np.asarray(
    CENTRE_NORTHING_M + (np.arange(ROWS) - (ROWS - 1) / 2) * CELL_M, dtype=np.float64
)
ISLETS = ((13_900.0, 10_600.0, 1_450.0), (-15_900.0, -9_600.0, 850.0))
"""Offset from the centre and radius of the two islets: the first has people and a ferry. [m]"""
BAYS = ((-3_500.0, -10_800.0, 2_500.0), (14_200.0, 1_500.0, 2_200.0), (1_500.0, 12_000.0, 1_700.0))
"""Offset from the centre and width of the three wide bays. [m]"""
HEATH_FROM_M = 118.0
"""Height above which heath grows. [m]"""


@dataclass(frozen=True, kw_only=True)
class Terrain:
    """Coast and cover as polygons in the National Grid, height as a raster.

    ``height_m`` has shape (rows, columns), row 0 in the south; negative under the sea. [m]
    """

    main: BaseGeometry
    islets: tuple[BaseGeometry, BaseGeometry]
    lakes: BaseGeometry
    woods: BaseGeometry
    heath: BaseGeometry
    height_m: FloatArray

    @property
    def land(self) -> BaseGeometry:
        """The main island and the islets, lakes not cut out."""
        return shapely.union_all([self.main, *self.islets])

    @property
    def dry(self) -> BaseGeometry:
        """The land without its lakes."""
        return shapely.difference(self.land, self.lakes)

    def height_at(self, points_m: FloatArray) -> FloatArray:
        """Return the height at points of shape (n, 2). [m]"""
        columns = (points_m[:, 0] - EASTINGS_M[0]) / CELL_M
        rows = (points_m[:, 1] - NORTHINGS_M[0]) / CELL_M
        return np.asarray(map_coordinates(self.height_m, [rows, columns], order=1, mode="nearest"))


def make_terrain(rng: np.random.Generator) -> Terrain:
    """Return the land of the island.

    Parameters
    ----------
    rng
        Source of the noise.
    """
    east, north = np.meshgrid(EASTINGS_M - CENTRE_EASTING_M, NORTHINGS_M - CENTRE_NORTHING_M)
    shape_field = _main_field(rng, east, north)
    main = _largest(region(shape_field, 0.0, EASTINGS_M, NORTHINGS_M))
    islets = tuple(_islet(rng, east, north, *place).difference(main.buffer(500.0)) for place in ISLETS)
    land = shapely.union_all([main, *islets])
    inland_m = _distance_inland(land)
    height = _height(rng, shape_field, inland_m, east, north)
    lakes = _lakes(rng, main, east, north, inland_m)
    woods = _cover(rng, 560.0, 0.78, height, inland_m, most_m=HEATH_FROM_M * 1.15)
    heath_field = np.where(inland_m > 0, height - HEATH_FROM_M + 22 * _noise(rng, 700.0), -1.0)
    heath = _tidy(region(heath_field, 0.0, EASTINGS_M, NORTHINGS_M), 60_000.0)
    inner = land.buffer(-60.0).difference(lakes.buffer(30.0))
    woods = _tidy(woods.intersection(inner), 25_000.0)
    return Terrain(
        main=main,
        islets=(_largest(islets[0]), _largest(islets[1])),
        lakes=lakes,
        woods=woods,
        heath=_tidy(heath.intersection(inner).difference(woods), 40_000.0),
        height_m=height,
    )


def _noise(rng: np.random.Generator, scale_m: float) -> FloatArray:
    """Smooth noise of mean 0 and standard deviation 1 with features of about ``scale_m``."""
    field = gaussian_filter(rng.standard_normal((ROWS, COLUMNS)), scale_m / CELL_M, mode="reflect")
    return np.asarray((field - field.mean()) / field.std())


def _main_field(rng: np.random.Generator, east: FloatArray, north: FloatArray) -> FloatArray:
    """Positive on the main island: an oval bent and eaten by noise of falling size."""
    bend = 2_600.0 * _noise(rng, 3_400.0)
    x = (east + bend) / 14_600.0
    y = (north + 2_300.0 * _noise(rng, 2_800.0) + 0.14 * east) / 11_000.0
    field = 1.0 - (np.abs(x) ** 2.3 + np.abs(y) ** 2.3)
    field += 0.22 * _noise(rng, 2_000.0) + 0.17 * _noise(rng, 850.0)
    field += 0.075 * _noise(rng, 380.0) + 0.030 * _noise(rng, 170.0)
    field -= (np.maximum(np.abs(north) - 10_800.0, 0.0) / 1_700.0) ** 2  # stays off the edge of the sheet
    for centre_x, centre_y, deep_m in BAYS:
        field -= 1.5 * np.exp(-(((east - centre_x) ** 2 + (north - centre_y) ** 2) / (2 * deep_m**2)))
    return np.asarray(field, dtype=np.float64)


def _islet(
    rng: np.random.Generator, east: FloatArray, north: FloatArray, at_x: float, at_y: float, radius_m: float
) -> BaseGeometry:
    away = np.hypot((east - at_x) * 0.85, north - at_y + 0.3 * (east - at_x))
    field = 1.0 - away / radius_m + 0.22 * _noise(rng, 600.0) + 0.06 * _noise(rng, 200.0)
    field = np.where(away > 2.2 * radius_m, -1.0, field)
    return _largest(region(field, 0.0, EASTINGS_M, NORTHINGS_M))


def _distance_inland(land: BaseGeometry) -> FloatArray:
    """Metres from the coast, negative at sea, at every cell."""
    grid = shapely.points(*np.meshgrid(EASTINGS_M, NORTHINGS_M))
    coast = shapely.boundary(land).simplify(60.0)
    shapely.prepare(coast)
    shapely.prepare(land)
    away = shapely.distance(grid, coast)
    return np.asarray(np.where(shapely.contains(land, grid), away, -away))


def _height(
    rng: np.random.Generator, field: FloatArray, inland_m: FloatArray, east: FloatArray, north: FloatArray
) -> FloatArray:
    """Low shores, a western ridge and a few rounded hills. [m]"""
    ridge = np.exp(-(((east + 4_200.0 + 0.5 * north) / 3_300.0) ** 2) - ((north - 1_200.0) / 7_500.0) ** 2)
    second = np.exp(-(((east - 6_500.0) / 2_700.0) ** 2) - ((north + 3_000.0) / 2_600.0) ** 2)
    rough = 0.5 * _noise(rng, 1_500.0) + 0.25 * _noise(rng, 650.0)
    rise = 1.0 - np.exp(-np.maximum(inland_m, 0.0) / 1_500.0)
    high = rise * (26.0 + 175.0 * ridge + 115.0 * second + 30.0 * rough * (0.5 + ridge + second))
    return np.where(inland_m > 0, np.maximum(high, 0.5), np.maximum(inland_m / 40.0, -60.0))


def _lakes(
    rng: np.random.Generator, main: BaseGeometry, east: FloatArray, north: FloatArray, inland_m: FloatArray
) -> BaseGeometry:
    wobble = _noise(rng, 750.0)
    found = []
    for at_x, at_y, long_m, turn in ((2_300.0, 2_700.0, 1_650.0, 0.7), (-8_300.0, -1_900.0, 1_150.0, -0.5)):
        x = (east - at_x) * np.cos(turn) + (north - at_y) * np.sin(turn)
        y = -(east - at_x) * np.sin(turn) + (north - at_y) * np.cos(turn)
        field = 1.0 - np.hypot(x / long_m, y / (0.42 * long_m)) + 0.22 * wobble
        field = np.where((inland_m < 500.0) | (np.hypot(x, y) > 1.7 * long_m), -1.0, field)
        found.append(_largest(region(field, 0.0, EASTINGS_M, NORTHINGS_M)))
    return shapely.intersection(shapely.union_all(found), main.buffer(-300.0))


def _cover(
    rng: np.random.Generator,
    scale_m: float,
    above: float,
    height: FloatArray,
    inland_m: FloatArray,
    *,
    most_m: float,
) -> BaseGeometry:
    field = _noise(rng, scale_m) + 0.45 * _noise(rng, 300.0) - above
    field += 0.5 * np.exp(-(((height - 70.0) / 45.0) ** 2)) - 0.25
    field = np.where((inland_m < 150.0) | (height > most_m), -1.0, field)
    return region(field, 0.0, EASTINGS_M, NORTHINGS_M)


def _parts(shape: BaseGeometry) -> list[BaseGeometry]:
    return [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area > 0]


def _largest(shape: BaseGeometry) -> BaseGeometry:
    """The largest part, holes filled: the land has no unplanned ponds."""
    biggest = max(_parts(shape), key=lambda part: part.area)
    return shapely.Polygon(biggest.exterior).simplify(8.0)


def _tidy(shape: BaseGeometry, least_m2: float) -> BaseGeometry:
    """Drop crumbs and pinholes and thin out the outline."""
    kept = []
    for part in _parts(shape.buffer(0.0)):
        if part.area >= least_m2:
            holes = [hole for hole in part.interiors if shapely.Polygon(hole).area >= least_m2]
            kept.append(shapely.Polygon(part.exterior, holes).simplify(14.0))
    return shapely.union_all(kept)
