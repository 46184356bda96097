"""Rings: in, out, cannot tell; against brute force over every place."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from broodsweep.geo import Answer, Place, Places, distance_bounds, parse_place, ring
from broodsweep.geo.datum import datum
from broodsweep.geo.square_letters import place_on_grid


def scattered(count: int, seed: int, *, spread_m: float = 8000.0) -> list[Place]:
    """Places of many notations and sides round one point of the National Grid."""
    rng = np.random.default_rng(seed)
    places = []
    for _ in range(count):
        side = float(rng.choice([1, 10, 100, 1000, 2000, 10000], p=[0.1, 0.2, 0.4, 0.2, 0.07, 0.03]))
        easting, northing = (float(v) for v in rng.normal((450000, 350000), spread_m))
        place = place_on_grid(27700, easting, northing, precision_m=side, notation="british_grid", text="")
        kind = rng.integers(4)
        if kind == 1:
            place = Place(longitude=place.longitude, latitude=place.latitude, precision_m=side)
        elif kind == 2:
            east, north = datum(32630).from_wgs84(*place.centre)
            place = place_on_grid(32630, float(east), float(north), precision_m=side, notation="utm", text="")
        elif kind == 3 and rng.random() < 0.3:
            east, north = datum(3857).from_wgs84(*place.centre)
            place = place_on_grid(
                3857, float(east), float(north), precision_m=side, notation="projected", text=""
            )
        places.append(place)
    return places


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("centre_side", [1.0, 100.0, 1000.0, 10000.0])
def test_ring_answers_like_the_bounds_of_every_pair(seed: int, centre_side: float) -> None:
    places = scattered(150, seed)
    centre = place_on_grid(
        27700, 450000.0, 350000.0, precision_m=centre_side, notation="british_grid", text=""
    )
    radii = (3000.0, 5000.0, 10000.0)
    found = ring(centre, Places(places), radii)
    for number, place in enumerate(places):
        nearest, farthest = distance_bounds(centre, place)
        for radius, answer in zip(radii, found.answer(number), strict=True):
            if min(abs(nearest - radius), abs(farthest - radius)) > 0.002:
                assert answer == (
                    Answer.IN
                    if farthest <= radius
                    else Answer.OUT
                    if nearest > radius
                    else Answer.CANNOT_TELL
                )
        if number in found.index:
            assert (found.nearest_m[number], found.farthest_m[number]) == pytest.approx(
                (nearest, farthest), abs=0.002
            )
        else:
            assert nearest > max(radii) - 0.002
            assert np.isnan(found.nearest_m[number])


def test_a_square_astride_the_line_cannot_be_told() -> None:
    centre = parse_place("SK 50000 50000")
    places = Places([parse_place(text) for text in ("SK 528 500", "SK 529 500", "SK 530 500", "SK 5 5")])
    found = ring(centre, places, [3000.0, 50_000.0])
    assert found.answer(0) == (Answer.IN, Answer.IN)
    assert found.answer(1) == (Answer.CANNOT_TELL, Answer.IN)
    assert found.answer(2) == (Answer.OUT, Answer.IN)
    assert found.answer(3) == (Answer.CANNOT_TELL, Answer.IN)
    assert found.answers.tolist()[0] == ["in", "in"]
    assert found.to_sweep(0).tolist() == [0, 1, 3]
    assert found.of(Answer.IN).tolist() == [0]
    assert found.of(Answer.OUT).tolist() == [2]


def test_radius_itself_is_in_and_nearest_beyond_it_is_out() -> None:
    centre = parse_place("SK 50000 50000")
    places = Places([parse_place("SK 53000 50000")])
    wide = ring(centre, places, [1e6])
    farthest, nearest = float(wide.farthest_m[0]), float(wide.nearest_m[0])
    assert ring(centre, places, [farthest]).answer(0) == (Answer.IN,)
    assert ring(centre, places, [np.nextafter(farthest, 0)]).answer(0) == (Answer.CANNOT_TELL,)
    assert ring(centre, places, [nearest]).answer(0) == (Answer.CANNOT_TELL,)
    assert ring(centre, places, [np.nextafter(nearest, 0)]).answer(0) == (Answer.OUT,)


def test_the_case_itself_is_in_when_the_ring_is_wider_than_its_square() -> None:
    centre = parse_place("SK 500 500")
    assert ring(centre, Places([centre]), [3000.0]).answer(0) == (Answer.IN,)
    assert ring(centre, Places([centre]), [100.0]).answer(0) == (Answer.CANNOT_TELL,)


def test_within_measures_more_and_infinity_measures_all() -> None:
    centre = parse_place("SK 500 500")
    places = Places([*scattered(50, 1), parse_place("O 159 346"), parse_place("37.95 S 144.42 E")])
    near = ring(centre, places, [1000.0])
    wider = ring(centre, places, [1000.0], within_m=5000.0)
    every = ring(centre, places, [1000.0], within_m=float("inf"))
    assert set(near.index) < set(wider.index) < set(every.index) == set(range(len(places)))
    assert np.all(np.isfinite(every.nearest_m))
    assert np.array_equal(near.codes, every.codes)
    assert np.array_equal(near.codes, wider.codes)


def test_no_places_and_bad_radii() -> None:
    centre = parse_place("SK 500 500")
    empty = ring(centre, Places([]), [3000.0])
    assert empty.codes.shape == (0, 1)
    for radii in ([], [0.0], [-1.0], [float("nan")], [3000.0, float("nan")]):
        with pytest.raises(ValueError, match="radii_m"):
            ring(centre, Places([centre]), radii)


def test_grid_whose_metre_is_not_a_metre_is_still_found() -> None:
    # EPSG:4087: degrees of longitude are all as long as on the equator; EPSG:6933 squeezes the north
    centre = parse_place("69.0 N 20.0 E")
    for epsg in (4087, 6933, 3857):
        for bearing in np.arange(0, 360, 15):
            from broodsweep.geo import travel

            longitude, latitude, _ = travel(20.0, 69.0, bearing, 3500.0)
            east, north = datum(epsg).from_wgs84(longitude, latitude)
            place = place_on_grid(
                epsg, float(east), float(north), precision_m=1000.0, notation="projected", text=""
            )
            small = Place(**{**vars(centre), "precision_m": 1.0})
            nearest, farthest = distance_bounds(small, place)
            found = ring(small, Places([place]), [3000.0])
            expected = Answer.IN if farthest <= 3000 else Answer.OUT if nearest > 3000 else Answer.CANNOT_TELL
            assert found.answer(0) == (expected,)


def test_places_keep_their_order_and_can_be_asked_by_threads() -> None:
    places = scattered(400, 9)
    several = Places(places)
    assert list(several) == places
    assert several[3] == places[3]
    centres = places[:40]
    expected = [ring(centre, Places(places), [3000.0, 5000.0]).codes for centre in centres]
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda centre: ring(centre, several, [3000.0, 5000.0]).codes, centres))
    assert all(np.array_equal(a, b) for a, b in zip(expected, found, strict=True))


def test_preparing_changes_no_answer() -> None:
    places = Places(scattered(200, 5))
    before = ring(places[0], places, [3000.0])
    places.prepare()
    after = ring(places[0], places, [3000.0])
    assert np.array_equal(before.codes, after.codes)
    assert np.array_equal(before.nearest_m, after.nearest_m, equal_nan=True)
