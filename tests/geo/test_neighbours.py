"""Who is near, against a loop over all with pyproj's Geod."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Geod

from broodsweep.geo import Neighbours

GEOD = Geod(ellps="WGS84")


def points(
    count: int, seed: int, *, around: tuple[float, float] = (-1.5, 53.0)
) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    return around[0] + rng.normal(0, 0.1, count), around[1] + rng.normal(0, 0.06, count)


@pytest.mark.parametrize("around", [(-1.5, 53.0), (179.99, -17.0), (20.0, 80.0)])
def test_within_finds_whom_the_loop_finds(around: tuple[float, float]) -> None:
    longitude, latitude = points(300, 1, around=around)
    near = Neighbours(longitude, latitude)
    for radius_m in (0.0, 100.0, 3000.0, 50_000.0):
        index, distance_m = near.within(longitude[7], latitude[7], radius_m)
        expected = [
            i
            for i in range(300)
            if GEOD.inv(longitude[7], latitude[7], longitude[i], latitude[i])[2] <= radius_m
        ]
        assert sorted(index) == expected
        assert np.all(np.diff(distance_m) >= 0)


def test_pairs_are_those_of_the_loop() -> None:
    longitude, latitude = points(120, 2)
    first, second, distance_m = Neighbours(longitude, latitude).pairs(5000.0)
    i, j = np.triu_indices(120, 1)
    all_m = GEOD.inv(longitude[i], latitude[i], longitude[j], latitude[j])[2]
    close = all_m <= 5000.0
    assert list(zip(first, second, strict=True)) == list(zip(i[close], j[close], strict=True))
    np.testing.assert_allclose(distance_m, all_m[close], atol=1e-4)


def test_nearest_are_the_nearest() -> None:
    longitude, latitude = points(200, 3)
    near = Neighbours(longitude, latitude)
    index, distance_m = near.nearest(-1.5, 53.0, 5)
    all_m = GEOD.inv(np.full(200, -1.5), np.full(200, 53.0), longitude, latitude)[2]
    assert list(index) == list(np.argsort(all_m)[:5])
    np.testing.assert_allclose(distance_m, np.sort(all_m)[:5], atol=1e-4)
    assert len(near.nearest(-1.5, 53.0, 500)[0]) == 200


def test_nobody_and_bad_radius() -> None:
    none = Neighbours(np.empty(0), np.empty(0))
    assert (
        len(none.within(0.0, 0.0, 10.0)[0]) == len(none.nearest(0.0, 0.0)[0]) == len(none.pairs(10.0)[0]) == 0
    )
    for bad in (-1.0, float("nan")):
        with pytest.raises(ValueError, match="radius_m"):
            none.within(0.0, 0.0, bad)
        with pytest.raises(ValueError, match="radius_m"):
            none.pairs(bad)
