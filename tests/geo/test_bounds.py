"""Smallest and largest distance of two squares, against dense sampling of their edges with pyproj's Geod."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pyproj import Geod
from scipy.optimize import minimize

from broodsweep.geo import Place, distance_between, distance_bounds, parse_place
from broodsweep.geo.datum import datum
from broodsweep.geo.square_letters import place_on_grid

GEOD = Geod(ellps="WGS84")
SIDES = st.sampled_from([0.001, 1.0, 10.0, 100.0, 1000.0, 1100.0, 5000.0, 10000.0])
GRIDS = st.sampled_from([27700, 32630, 32631, 3035, 0])


def square(longitude: float, latitude: float, side_m: float, epsg: int) -> Place:
    """A square with this centre along the axes of a grid; 0: along meridian and parallel."""
    if epsg == 0:
        return Place(longitude=longitude, latitude=latitude, precision_m=side_m)
    easting, northing = datum(epsg).from_wgs84(longitude, latitude)
    found = place_on_grid(
        epsg, float(easting), float(northing), precision_m=side_m, notation="projected", text=""
    )
    return replace(found, datum_accuracy_m=0.0)


def edge(place: Place, s: np.ndarray, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points of the square, s and t from -1 to 1, worked out apart from our own patches."""
    half = place.precision_m / 2
    if place.is_on_grid:
        return datum(place.epsg).to_wgs84(place.easting + s * half, place.northing + t * half)
    # a square of degrees: half a side in degrees as long as they are at its centre
    lon, lat, step = place.longitude, place.latitude, 1e-4
    east_m = GEOD.inv(lon - step, lat, lon + step, lat)[2] / (2 * step)
    north_m = GEOD.inv(lon, lat - step, lon, lat + step)[2] / (2 * step)
    return lon + s * half / east_m, lat + t * half / north_m


def edges(count: int) -> tuple[np.ndarray, np.ndarray]:
    x, one = np.linspace(-1, 1, count), np.ones(count)
    return np.concatenate([x, one, x, -one]), np.concatenate([-one, x, one, x])


def brute_force(a: Place, b: Place) -> tuple[float, float]:
    """Smallest and largest distance between points of the edges: sampled, then sampled finer round the best."""
    (lon_a, lat_a), (lon_b, lat_b) = edge(a, *edges(41)), edge(b, *edges(41))
    i, j = (index.ravel() for index in np.meshgrid(np.arange(len(lon_a)), np.arange(len(lon_b))))
    all_m = GEOD.inv(lon_a[i], lat_a[i], lon_b[j], lat_b[j])[2]
    best = [np.array(edges(41))[:, index[np.argmin(all_m)]] for index in (i, j)]
    nearest, width = float(all_m.min()), 0.06
    rng = np.random.default_rng(3)
    for _ in range(25):  # random search round the best pair, closing in
        tries = [np.clip(at[:, None] + rng.uniform(-width, width, (2, 400)), -1, 1) for at in best]
        found = GEOD.inv(*edge(a, *tries[0]), *edge(b, *tries[1]))[2]
        if found.min() < nearest:
            nearest = float(found.min())
            best = [points[:, np.argmin(found)] for points in tries]
        else:
            width *= 0.75
    start = np.concatenate(best)  # a random search creeps along two nearly parallel sides: finish by descent

    def gap(at: np.ndarray) -> float:
        return float(GEOD.inv(*edge(a, at[:1], at[1:2]), *edge(b, at[2:3], at[3:]))[2][0])

    found = minimize(
        gap, start, method="L-BFGS-B", bounds=[(-1, 1)] * 4, options={"eps": 1e-5, "ftol": 1e-15}
    )
    return min(nearest, float(found.fun)), float(all_m.max())


@given(
    st.floats(-5, 1),
    st.floats(50, 58),
    SIDES,
    GRIDS,
    SIDES,
    GRIDS,
    st.floats(0, 360),
    st.floats(0.0, 20000.0),
)
@settings(max_examples=60, deadline=None)
@example(-1.0, 57.0, 10000.0, 0, 10000.0, 0, 0.0, 3000.0)
@example(-1.0, 57.0, 10000.0, 0, 10000.0, 27700, 0.0, 3000.0)
@example(0.9, 51.0, 10000.0, 27700, 10000.0, 27700, 90.0, 3000.0)
@example(0.9, 51.0, 10000.0, 32631, 10000.0, 27700, 45.0, 10.0)
@example(0.9, 51.0, 1000.0, 3035, 1000.0, 27700, 12.0, 700.0)
def test_bounds_are_those_of_dense_sampling(
    longitude: float,
    latitude: float,
    side_a: float,
    grid_a: int,
    side_b: float,
    grid_b: int,
    azimuth: float,
    gap_m: float,
) -> None:
    a = square(longitude, latitude, side_a, grid_a)
    apart = gap_m + 0.75 * (side_a + side_b)  # never overlapping
    b = square(*GEOD.fwd(longitude, latitude, azimuth, apart)[:2], side_b, grid_b)
    nearest, farthest = distance_bounds(a, b)
    sampled_nearest, sampled_farthest = brute_force(a, b)
    assert nearest <= sampled_nearest + 0.001  # no sampled pair is nearer than our bound
    assert nearest == pytest.approx(
        sampled_nearest, abs=0.02
    )  # random search stops within a centimetre or two
    assert farthest >= sampled_farthest - 0.001
    assert farthest == pytest.approx(sampled_farthest, abs=0.001)


@given(st.floats(-5, 1), st.floats(50, 58), SIDES, SIDES, GRIDS, st.floats(0, 360), st.floats(0, 1))
@settings(deadline=None)
def test_overlapping_squares_may_be_nothing_apart(
    longitude: float, latitude: float, side_a: float, side_b: float, grid: int, azimuth: float, share: float
) -> None:
    a = square(longitude, latitude, side_a, grid)
    # centres nearer than half the wider side along any direction: inscribed circles overlap
    apart = share * 0.49 * (side_a + side_b)
    b = square(*GEOD.fwd(longitude, latitude, azimuth, apart)[:2], side_b, 27700)
    nearest, farthest = distance_bounds(a, b)
    assert nearest == pytest.approx(0.0, abs=0.001)
    assert farthest >= distance_between(a, b) - 0.001


def test_squares_crossing_like_a_star_overlap_though_no_corner_is_inside_the_other() -> None:
    # far off its central meridian the axes of a UTM-like grid stand at a wide angle to the meridian
    a = square(100.0, 70.0, 1000.0, 0)
    b = square(100.0, 70.0, 1000.0, 3413)  # polar stereographic, axes turned by 145 degrees here
    assert distance_bounds(a, b)[0] == 0.0


def test_neighbouring_squares_of_a_grid_touch() -> None:
    nearest, farthest = distance_bounds(parse_place("TG 514 131"), parse_place("TG 515 131"))
    assert nearest == pytest.approx(0.0, abs=1e-4)
    assert farthest == pytest.approx(math.hypot(200, 100), rel=1e-3)


def test_points_have_equal_bounds() -> None:
    a, b = square(1.0, 52.0, 0.001, 0), square(1.1, 52.1, 0.001, 0)
    nearest, farthest = distance_bounds(a, b)
    assert nearest == pytest.approx(distance_between(a, b), abs=0.002)
    assert farthest == pytest.approx(distance_between(a, b), abs=0.002)


@given(st.floats(-170, 170), st.floats(-80, 80), st.floats(-170, 170), st.floats(-80, 80))
def test_bounds_hold_the_distance_of_the_centres_however_far(
    lon1: float, lat1: float, lon2: float, lat2: float
) -> None:
    a, b = square(lon1, lat1, 1000.0, 0), square(lon2, lat2, 100.0, 0)
    nearest, farthest = distance_bounds(a, b)
    centre = distance_between(a, b)
    assert nearest <= centre + 1e-6
    assert farthest >= centre - 1e-6 or centre > 19_900_000  # antipodes: nothing is farther
    assert farthest - nearest < 2 * 1100 * math.sqrt(2)


def test_bounds_do_not_depend_on_the_order() -> None:
    a, b = parse_place("TG 51 13"), parse_place("52.6576 N 1.7 E")
    assert distance_bounds(a, b) == pytest.approx(distance_bounds(b, a), abs=1e-4)


def test_datum_accuracy_widens_the_bounds_only_between_different_shifts() -> None:
    british, other = parse_place("TG 514 131"), parse_place("TG 554 131")
    satellite = replace(other, datum_shift="", datum_accuracy_m=0.0)
    exact = distance_bounds(british, other)
    widened = distance_bounds(british, satellite)
    accuracy = british.datum_accuracy_m
    assert accuracy > 0
    assert widened == pytest.approx((exact[0] - accuracy, exact[1] + accuracy), abs=1e-6)
    far_grid = replace(other, datum_shift="another", datum_accuracy_m=1.0)
    assert distance_bounds(british, far_grid)[1] == pytest.approx(exact[1] + accuracy + 1.0, abs=1e-6)
