"""The tables of the island: counts, places on land, sound rows, nothing leaked, the same for the same seed."""

from __future__ import annotations

import csv
import filecmp
import json
import re
from collections import Counter
from datetime import date
from pathlib import Path

import pytest
import shapely

from broodsweep.demo import DEMO_DAY, Island, make_island, write_island
from broodsweep.errors import TroubleError
from broodsweep.geo import parse_place
from broodsweep.register import faults_of, likely_duplicates
from broodsweep.tables.reader import read_ground

REAL_PLACES = {
    "grimsby", "whitby", "skegness", "inverness", "berwick", "lerwick", "keswick", "alnwick", "wick", "stromness",
    "holy island", "lindisfarne", "sheerness", "skye", "orkney", "shetland", "foula", "sandwick", "scarborough", "derby",
    "rugby", "ormsby", "selby", "kirkby", "hunstanton", "cromer", "dungeness", "fair isle", "sumburgh", "whitehaven",
    "milford haven", "peterhead", "flamborough", "staithes", "quenby", "thirsk", "ripon", "skerries", "norwich",
}  # fmt: skip


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="session")
def land(folder: Path) -> shapely.Geometry:
    layer = json.loads((folder / "basemap" / "land.geojson").read_text(encoding="utf-8"))
    return shapely.union_all([shapely.from_geojson(json.dumps(one["geometry"])) for one in layer["features"]])


def test_numbers_are_as_promised(island: Island, folder: Path) -> None:
    truth = rows(folder / "truth" / "apiaries.csv")
    registered = Counter(row["registered"] for row in truth)
    assert registered == {"yes": 360, "no": 60}
    assert len(island.ground.keepers) == 260
    assert len(island.ground.apiaries) == 362  # 360, two of them a second time under another keeper
    assert len(island.ground.inspectors) == 6
    per_keeper = Counter(Counter(row.keeper for row in island.ground.apiaries).values())
    assert per_keeper[1] + per_keeper[2] > 0.85 * sum(per_keeper.values())
    assert max(per_keeper) >= 6
    colonies = sorted(row.colonies for row in island.ground.apiaries)
    assert colonies[0] >= 1
    assert 30 <= colonies[-1] <= 62
    assert sum(colonies) / len(colonies) > 1.2 * colonies[len(colonies) // 2]  # skewed


def test_goods_move_within_into_and_out_of_the_island(island: Island) -> None:
    moves = island.ground.moves
    assert {move.moved_on.year for move in moves} == {2024, 2025, 2026}
    assert any(move.from_apiary is None for move in moves)
    assert any(move.to_apiary is None for move in moves)
    assert len({move.goods for move in moves}) == 8


def test_every_place_lies_on_the_land(island: Island, folder: Path, land: shapely.Geometry) -> None:
    for apiary in island.ground.apiaries:
        assert shapely.contains_xy(land, apiary.place.longitude, apiary.place.latitude), apiary
    for row in rows(folder / "truth" / "apiaries.csv"):
        assert shapely.contains_xy(land, float(row["longitude"]), float(row["latitude"])), row


def test_a_registered_square_holds_the_true_place(island: Island, folder: Path) -> None:
    true = {row["apiary"]: row for row in rows(folder / "truth" / "apiaries.csv")}
    checked = 0
    for apiary in island.ground.apiaries:
        if apiary.place.easting is None or apiary.apiary not in true:
            continue
        half = apiary.place.precision_m / 2 + 0.51  # the truth is written to the metre
        assert abs(apiary.place.easting - float(true[apiary.apiary]["easting"])) <= half
        assert abs((apiary.place.northing or 0) - float(true[apiary.apiary]["northing"])) <= half
        checked += 1
    assert checked > 250


def test_places_are_written_with_mixed_precision(folder: Path) -> None:
    written = rows(folder / "ground" / "apiaries.csv")
    figures = Counter(sum(map(str.isdigit, row["place"])) for row in written if row["place"].startswith("OV"))
    assert {4, 6, 8, 10} == set(figures)
    assert figures[6] + figures[8] > 0.6 * len(written)
    assert any(not row["place"] and row["longitude"] and row["latitude"] for row in written)
    assert any(row["place"].endswith("E") for row in written)
    for row in written:
        if row["place"]:
            assert parse_place(row["place"]).precision_m > 0


def test_one_lone_apiary_stands_where_no_road_leads(island: Island) -> None:
    name = "Pellaskerry"
    shape = next(one for one in island.basemap["land"]["features"] if one["properties"]["name"] == name)
    islet = shapely.from_geojson(json.dumps(shape["geometry"]))
    inside = [
        row
        for row in island.true_apiaries
        if shapely.contains_xy(islet, float(row["longitude"]), float(row["latitude"]))
    ]
    assert len(inside) == 1
    assert not any(shapely.contains_xy(islet, node.longitude, node.latitude) for node in island.osm_nodes)


def test_tables_are_read_back_without_a_complaint_and_unchanged(
    island: Island, folder: Path, land: shapely.Geometry
) -> None:
    reading = read_ground(folder / "ground", today=DEMO_DAY, land=land)
    assert reading.is_sound, [str(one) for one in reading.all_complaints][:5]
    assert not reading.unknown_columns
    ground = reading.ground
    for table in ("keepers", "moves", "visits", "removals", "lots", "inspectors"):
        assert set(getattr(ground, table)) == set(getattr(island.ground, table)), table
    for read, made in zip(ground.apiaries, island.ground.apiaries, strict=True):
        assert (read.apiary, read.keeper, read.colonies, read.kept_since, read.left_on, read.notes) == (
            made.apiary, made.keeper, made.colonies, made.kept_since, made.left_on, made.notes,
        )  # fmt: skip
        assert read.place.longitude == pytest.approx(made.place.longitude, abs=1e-12)
        assert read.place.latitude == pytest.approx(made.place.latitude, abs=1e-12)
        # the tables keep millimetres
        assert read.place.precision_m == pytest.approx(made.place.precision_m, abs=5e-4)


def test_every_row_is_valid_and_points_to_rows_that_exist(island: Island) -> None:
    ground = island.ground
    apiaries = {row.apiary: row for row in ground.apiaries}
    keepers = {row.keeper for row in ground.keepers}
    inspectors = {row.inspector: row for row in ground.inspectors}
    for table in (
        ground.keepers,
        ground.apiaries,
        ground.moves,
        ground.visits,
        ground.removals,
        ground.inspectors,
    ):
        assert not [fault for row in table for fault in faults_of(row)]
    assert all(row.keeper in keepers for row in ground.apiaries)
    assert all({row.from_apiary, row.to_apiary} - {None} <= set(apiaries) for row in ground.moves)
    for visit in ground.visits:
        assert apiaries[visit.apiary].is_kept_on(visit.visited_on), visit
        assert visit.visited_on.isoweekday() in inspectors[visit.inspector or ""].works, visit
        assert visit.visited_on < DEMO_DAY
    for move in ground.moves:
        for end in {move.from_apiary, move.to_apiary} - {None}:
            assert apiaries[str(end)].is_kept_on(move.moved_on), move


def test_the_register_has_its_usual_blemishes(island: Island) -> None:
    ground = island.ground
    doubles = {
        row["also_registered_as"]: row["apiary"] for row in island.true_apiaries if row["also_registered_as"]
    }
    assert len(doubles) == 2
    offered = {frozenset(pair) for pair in _pairs(likely_duplicates(ground))}
    assert {frozenset(pair) for pair in doubles.items()} <= offered
    assert any(row.phone is None for row in ground.keepers)
    assert any(row.left_on is not None and row.left_on.year == 2025 for row in ground.apiaries)
    ends = [lot.expires_on for lot in ground.lots]
    assert any(end < DEMO_DAY for end in ends)
    assert any(0 < (end - DEMO_DAY).days < 30 for end in ends)


def _pairs(found: object) -> list[tuple[str, str]]:
    return [(pair.first, pair.second) for pair in found]  # type: ignore[attr-defined]


def test_nothing_in_the_ground_leaks_the_truth(island: Island, folder: Path) -> None:
    hidden = {row["apiary"] for row in island.true_apiaries if row["registered"] == "no"}
    outside = [
        *(folder / "ground").iterdir(),
        *(folder / "basemap").iterdir(),
        folder / "outbreaks.json",
        folder / "roads.osm",
    ]
    for path in outside:
        words = set(re.findall(r"\b[UN]\d\d\b", path.read_text(encoding="utf-8")))
        assert not words & hidden, path


def test_names_differ_and_mean_no_real_place(island: Island) -> None:
    villages = [one["properties"]["name"] for one in island.basemap["places"]["features"]]
    assert len(set(villages)) == len(villages)
    assert not {name.casefold() for name in [*villages, island.name]} & REAL_PLACES
    people = [row.name for row in island.ground.keepers] + [row.name for row in island.ground.inspectors]
    assert len(set(people)) == len(people)
    for keeper in island.ground.keepers:
        # numbers 01632 960000-960999 are kept free for drama (Ofcom); .example is kept free by RFC 2606
        assert keeper.phone is None or re.fullmatch(r"01632 960\d{3}", keeper.phone)
        assert keeper.email is None or keeper.email.endswith(".example")


def test_same_seed_gives_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    write_island(make_island(7), tmp_path)
    names = sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())
    assert names == sorted(str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*") if path.is_file())
    _, different, missing = filecmp.cmpfiles(folder, tmp_path, names, shallow=False)
    assert (different, missing) == ([], [])


def test_another_seed_gives_another_island(island: Island) -> None:
    other = make_island(8)
    assert other.basemap["land"] != island.basemap["land"]
    assert len(other.true_apiaries) == 420


def test_a_negative_seed_is_refused() -> None:
    with pytest.raises(ValueError, match="seed >= 0"):
        make_island(-1)


def test_a_folder_that_cannot_be_written_is_said_so(island: Island, tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    with pytest.raises(TroubleError, match="could not be written"):
        write_island(island, blocked)


def test_demo_day_is_in_the_season() -> None:
    assert date(2026, 7, 8) == DEMO_DAY
