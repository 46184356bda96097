"""Ring query over 60,000 clustered apiaries: ours, a loop with pyproj's Geod, a buffer join in a projected grid.

All three answer for rings of 3 and 5 km round a case. Ours says in, out or cannot tell for squares. The loop measures
centre to centre with ``Geod.inv``, one apiary at a time, and knows no squares: it does less. The join is
what a GeoPandas user writes (GeoPandas itself is not installed; it calls the same shapely): a buffer round
the case in the National Grid, ``STRtree.query`` with ``intersects``; plane distances, points only.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import numpy as np
import shapely
from pyproj import Geod

from broodsweep.geo import Place, Places, ring
from broodsweep.geo.datum import datum
from broodsweep.geo.geodesy import GEOD

APIARIES = 60_000
QUERIES = 200
LOOPS = 5
RADII_M = (3000.0, 5000.0)
GOAL_MS, GOAL_RATIO = 5.0, 50.0


def apiaries(seed: int = 11) -> list[Place]:
    """Clustered apiaries of an invented land laid over the National Grid: 400 villages, squares of 10 m to 1 km."""
    rng = np.random.default_rng(seed)
    village = rng.integers(0, 400, APIARIES)
    easting = rng.uniform(200e3, 600e3, 400)[village] + rng.normal(0, 6000, APIARIES)
    northing = rng.uniform(100e3, 800e3, 400)[village] + rng.normal(0, 6000, APIARIES)
    side = rng.choice([10.0, 100.0, 1000.0], APIARIES, p=[0.3, 0.6, 0.1])
    way = datum(27700)
    longitude, latitude = way.to_wgs84(easting, northing)
    return [
        Place(
            longitude=lon,
            latitude=lat,
            precision_m=width,
            notation="british_grid",
            easting=east,
            northing=north,
            epsg=27700,
            datum_accuracy_m=way.accuracy_m,
            datum_shift=way.shift,
        )
        for lon, lat, width, east, north in zip(
            longitude.tolist(),
            latitude.tolist(),
            side.tolist(),
            easting.tolist(),
            northing.tolist(),
            strict=True,
        )
    ]


def geod_loop(centre: Place, places: list[Place], geod: Geod = GEOD) -> list[tuple[bool, ...]]:
    """What a user would write first: one ``Geod.inv`` an apiary."""
    answers = []
    for place in places:
        apart = geod.inv(centre.longitude, centre.latitude, place.longitude, place.latitude)[2]
        answers.append(tuple(apart <= radius for radius in RADII_M))
    return answers


def _timed_ms(work: Callable[[int], object], numbers: list[int]) -> list[float]:
    times = []
    for number in numbers:
        start = time.perf_counter()
        work(number)
        times.append((time.perf_counter() - start) * 1e3)
    return times


def rows() -> list[dict[str, str]]:
    """Return the rows of the table."""
    places = apiaries()
    numbers = np.random.default_rng(12).integers(0, APIARIES, QUERIES).tolist()
    start = time.perf_counter()
    several = Places(places)
    build_ms = (time.perf_counter() - start) * 1e3
    start = time.perf_counter()
    ring(places[numbers[0]], several, RADII_M)
    first_ms = (time.perf_counter() - start) * 1e3
    fresh = _timed_ms(lambda i: ring(places[i], several, RADII_M), numbers[1:])
    start = time.perf_counter()
    several.prepare()
    prepare_ms = (time.perf_counter() - start) * 1e3
    ours = _timed_ms(lambda i: ring(places[i], several, RADII_M), numbers)
    ours_ms = statistics.median(ours)

    loop_ms = statistics.median(_timed_ms(lambda i: geod_loop(places[i], places), numbers[:LOOPS]))
    vector_ms = statistics.median(
        _timed_ms(
            lambda i: GEOD.inv(
                np.full(APIARIES, several.longitude[i]),
                np.full(APIARIES, several.latitude[i]),
                several.longitude,
                several.latitude,
            ),
            numbers[:20],
        )
    )
    points = shapely.points([(place.easting, place.northing) for place in places])
    tree = shapely.STRtree(points)
    tree.query(points[0].buffer(1.0))
    join_ms = statistics.median(
        _timed_ms(
            lambda i: [
                tree.query(points[i].buffer(r, quad_segs=32), predicate="intersects") for r in RADII_M
            ],
            numbers,
        )
    )
    bounds = _timed_ms(lambda i: ring(places[i], several, RADII_M).nearest_m, numbers)
    swept = [len(ring(places[i], several, RADII_M).to_sweep(1)) for i in numbers]
    what = f"ring 3 and 5 km over {APIARIES:,} apiaries"
    spread = f"{ours_ms:.2f} ms (95 %: {np.percentile(ours, 95):.2f})"
    return [
        {
            "what": f"{what}; median of {QUERIES}, {int(np.median(swept))} swept; Geod loop in Python",
            "ours": spread,
            "other": f"{loop_ms:.0f} ms",
            "ratio": f"{loop_ms / ours_ms:.0f}",
            "goal": f"< {GOAL_MS:.0f} ms, > {GOAL_RATIO:.0f} x the loop",
        },
        {
            "what": f"{what}; Geod over whole arrays, centres only",
            "ours": spread,
            "other": f"{vector_ms:.1f} ms",
            "ratio": f"{vector_ms / ours_ms:.1f}",
        },
        {
            "what": f"{what}; shapely STRtree on a buffer, plane points (no squares, no geodesics)",
            "ours": spread,
            "other": f"{join_ms:.2f} ms",
            "ratio": f"{join_ms / ours_ms:.2f}",
        },
        {
            "what": f"{what}; squares worked out as they are met, median",
            "ours": f"{statistics.median(fresh):.2f} ms",
        },
        {
            "what": f"{what}; with the exact bounds of all in the rings, median",
            "ours": f"{statistics.median(bounds):.2f} ms",
            "other": f"{loop_ms:.0f} ms",
            "ratio": f"{loop_ms / statistics.median(bounds):.0f}",
        },
        {
            "what": f"building {APIARIES:,} places / first ring (tree, import of scipy) / working out all squares",
            "ours": f"{build_ms:.0f} / {first_ms:.0f} / {prepare_ms:.0f} ms",
        },
    ]
