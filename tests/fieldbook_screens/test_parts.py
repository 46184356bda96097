"""What the screens work out on the phone agrees with the desk, and with the outside."""

from __future__ import annotations

import random
import re
from datetime import date, timedelta
from typing import Any

from pyproj import Geod

from broodsweep.desk.surroundings import season_of
from broodsweep.desk.weighing import kit_test
from broodsweep.diagnosis import constants as c
from tests.fieldbook_core.conftest import Ask

WGS84 = Geod(ellps="WGS84")
"""Karney's geodesics in pyproj: the outside that the phone's sphere is held to."""
SPHERE_SHARE = 0.006
"""As in field/src/fieldbook/parts/place.ts: what the phone allows its sphere to be off."""
HALF_DIAGONAL = 0.5**0.5


def pairs(count: int, precision_m: float = 100.0) -> list[list[dict[str, float]]]:
    """Two places up to some 12 km apart, anywhere where people keep bees."""
    rng = random.Random(6)
    made = []
    for _ in range(count):
        longitude, latitude = rng.uniform(-180, 180), rng.uniform(-55, 68)
        further, along, _ = WGS84.fwd(longitude, latitude, rng.uniform(0, 360), rng.uniform(1, 12_000))
        made.append(
            [
                {"longitude": longitude, "latitude": latitude, "precision_m": precision_m},
                {"longitude": further, "latitude": along, "precision_m": precision_m},
            ]
        )
    return made


def apart(pair: list[dict[str, float]]) -> tuple[float, float]:
    a, b = pair
    bearing, _, between = WGS84.inv(a["longitude"], a["latitude"], b["longitude"], b["latitude"])
    return between, bearing % 360


def test_distances_are_as_near_to_the_ellipsoid_as_is_said(parts: Ask) -> None:
    given = pairs(2000)
    for pair, (between, bearing) in zip(given, parts("distance", pairs=given), strict=True):
        wanted, turned = apart(pair)
        assert abs(between - wanted) <= SPHERE_SHARE * wanted + 0.01
        assert abs((bearing - turned + 180) % 360 - 180) < 0.5


def test_a_ring_is_never_surer_on_the_phone_than_the_ellipsoid_allows(parts: Ask) -> None:
    given = pairs(2000)
    answers = parts("ring", pairs=given, radius=3000)
    for pair, answer in zip(given, answers, strict=True):
        between, _ = apart(pair)
        loose = 200 * HALF_DIAGONAL
        assert answer != "in" or between + loose <= 3000
        assert answer != "out" or between - loose > 3000
    assert {"in", "out", "cannot_tell"} == set(answers)


def test_a_fix_is_far_only_beyond_its_own_and_the_squares_looseness(parts: Ask) -> None:
    square = {"longitude": 0.4, "latitude": 54.8, "precision_m": 100.0}
    longitude, latitude, _ = WGS84.fwd(0.4, 54.8, 90, 500)
    fix = {"longitude": longitude, "latitude": latitude, "accuracy_m": 30.0}
    assert abs(parts("gap", fix=fix, square=square) - (500 - 30 - 100 * HALF_DIAGONAL)) < 3
    assert parts("gap", fix={**fix, "accuracy_m": 600.0}, square=square) == 0


def test_a_typed_place_is_read_latitude_first_or_not_at_all(parts: Ask) -> None:
    texts = [
        "54.8123, 0.4211",
        "geo:-33.5,151.2;u=20",
        " 54.8123 -0.5 ",
        "north of the barn",
        "95, 10",
        "10,190",
        "",
    ]
    read = parts("place", texts=texts)
    assert read[:3] == [
        {"longitude": 0.4211, "latitude": 54.8123},
        {"longitude": 151.2, "latitude": -33.5},
        {"longitude": -0.5, "latitude": 54.8123},
    ]
    assert read[3:] == [None] * 4


def test_a_typed_label_needs_its_end_a_second_time_and_may_not_be_used_twice(parts: Ask) -> None:
    rows: list[list[Any]] = [
        ["lab-0041 22", "122", []],
        ["LAB-004122", "122", []],
        ["LAB-004122", "221", []],
        ["LAB-004122", "122", ["LAB-004122"]],
        ["x", "x", []],
        ["LAB 41;DROP", "ROP", []],
    ]
    assert parts("label", rows=rows) == [None, None, "again", "used", "form", "form"]


def test_the_season_is_that_of_the_desk(parts: Ask) -> None:
    days = [date(2026, 1, 1) + timedelta(days=11 * step) for step in range(34)]
    rows = [[day.isoformat(), latitude] for day in days for latitude in (54.8, -33.0, None)]
    wanted = [season_of(day, latitude) for day in days for latitude in (54.8, -33.0, None)]
    assert parts("season", rows=rows) == wanted


def test_a_device_is_read_in_the_minutes_of_the_model(parts: Ask) -> None:
    early, ready, late = (
        60 * row.value for row in (c.READ_NOT_BEFORE_MIN, c.READ_AFTER_MIN, c.READ_NOT_AFTER_MIN)
    )
    seconds = [0, early - 1, early, ready - 1, ready, late, late + 1]
    assert parts("flow", seconds=seconds) == ["early", "early", "soon", "soon", "now", "now", "late"]


def test_kits_are_read_from_the_registers_words_as_at_the_desk(parts: Ask) -> None:
    kits = [
        "AFB field kit", "Field test, European foulbrood", "lateral_flow_efb", "LAMP for AFB", "american AND european",
        "gloves", "",
    ]  # fmt: skip
    assert parts("kits", kits=kits) == [kit_test(kit) for kit in kits]


def test_keys_of_found_apiaries_have_the_form_of_the_contract_and_do_not_meet(parts: Ask) -> None:
    keys = parts("keys", count=5000)
    assert all(re.fullmatch(r"F[0-9A-Z]{8}", key) for key in keys)
    assert len(set(keys)) == len(keys)


def test_the_way_through_a_visit_asks_what_is_missing_and_always_the_keeper(parts: Ask) -> None:
    fresh = parts("steps", visit={})
    assert fresh["next"]["place"] == "weather"
    assert fresh["states"] == {
        "place": "open", "weather": "open", "colonies": "open", "keeper": "optional",
        "washing": "open", "notes": "optional", "sign": "open",
    }  # fmt: skip
    weather = {"temperature_c": 18, "wind": "light", "rain": "none", "are_flying": True}
    done = parts("steps", visit={"weather": weather, "present": 2, "cleaned": {"what": ["hands"], "how": ""}})
    assert (done["next"]["weather"], done["next"]["colonies"], done["next"]["keeper"]) == (
        "colonies",
        "keeper",
        "sign",
    )
    assert done["states"]["colonies"] == "begun"
    assert done["tally"]["unlooked"] == 2
