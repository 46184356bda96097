"""Every kind of bad row is refused with its line, column, value, what was wrong and the way out."""

from __future__ import annotations

from datetime import date, datetime, time
from pathlib import Path

import openpyxl
import pytest
from shapely.geometry import box

from broodsweep import tables
from broodsweep.constants import Goods
from broodsweep.register import Apiary, Ground, Keeper
from broodsweep.words import render

APIARIES = "apiary,keeper,place,colonies,kept_since,left_on\n"
SOUND = "A1,K1,SK 123 456,4,2020-05-01,\n"
VISITS = "visit,apiary,visited_on,colonies_present,colonies_inspected,colonies_suspect,colonies_confirmed,disease\n"
TODAY = date(2026, 11, 25)


def read(folder: Path, files: dict[str, str], **options: object) -> tables.Reading:
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8", newline="")
    return tables.read_ground(folder, today=TODAY, **options)  # type: ignore[arg-type]


def keys(reading: tables.Reading) -> list[tuple[str, int | None, str | None, str, str]]:
    return [(c.file, c.line, c.column, c.value, c.what.key) for c in reading.all_complaints]


APIARY_FAULTS = {
    "duplicate": ("A1,,SK 123 457,3,,", "apiary", "A1", "tables.duplicate"),
    "31 February": ("A2,,SK 123 456,3,2024-02-31,", "kept_since", "2024-02-31", "register.no_such_day"),
    "slashes": ("A2,,SK 123 456,3,12/05/2024,", "kept_since", "12/05/2024", "register.not_a_day"),
    "day number": ("A2,,SK 123 456,3,45424,", "kept_since", "45424", "register.not_a_day"),
    "year 24": ("A2,,SK 123 456,3,0024-05-12,", "kept_since", "0024-05-12", "register.year_out_of_reach"),
    "negative": ("A2,,SK 123 456,-3,,", "colonies", "-3", "register.negative"),
    "half a colony": ("A2,,SK 123 456,3.5,,", "colonies", "3.5", "register.not_whole"),
    "word": ("A2,,SK 123 456,three,,", "colonies", "three", "register.not_a_number"),
    "thousands": ('A2,,SK 123 456,"1,200",,', "colonies", "1,200", "register.not_whole"),
    "blank colonies": ("A2,,SK 123 456,,,", "colonies", "", "register.blank"),
    "no place": ("A2,,,3,,", "place", "", "register.blank"),
    "blank key": (",,SK 123 456,3,,", "apiary", "", "register.blank"),
    "left early": (
        "A2,,SK 123 456,3,2024-05-01,2024-04-01",
        "left_on",
        "2024-04-01",
        "register.left_before_kept",
    ),
    "NUL": ("A\x002,,SK 123 456,3,,", "apiary", "A\x002", "register.control_characters"),
    "short": ("A2,,SK 123 456,3", None, "", "tables.row_too_short"),
    "long": ("A2,,SK 123 456,3,,,x", None, "", "tables.row_too_long"),
}


@pytest.mark.parametrize("case", APIARY_FAULTS)
def test_a_bad_apiary_is_refused_with_line_column_value_and_reason(tmp_path: Path, case: str) -> None:
    row, column, value, key = APIARY_FAULTS[case]
    reading = read(tmp_path, {"apiaries": APIARIES + SOUND + row + "\n"})
    assert keys(reading) == [("apiaries.csv", 3, column, value, key)]
    assert not reading.is_usable
    assert reading.ground == Ground()
    sentence = render(reading.all_complaints[0].sentence)
    assert sentence.startswith("apiaries.csv, line 3")
    says_all = key.startswith("geo.")  # these name the way out themselves
    assert says_all or render(reading.all_complaints[0].way_out) in sentence
    assert ".." not in sentence


@pytest.mark.parametrize("text", ["XX 123 456", "SK 12 3456", "95, 200", "nowhere", "TQ 12345 1"])
def test_a_place_that_cannot_be_read_or_lies_outside_the_grid_is_refused(tmp_path: Path, text: str) -> None:
    reading = read(tmp_path, {"apiaries": f'{APIARIES}A2,,"{text}",3,,\n'})
    complaint = reading.all_complaints[0]
    assert (complaint.line, complaint.column, complaint.value) == (2, "place", text)
    assert complaint.what.key.startswith("geo.")
    render(complaint.sentence)


def test_the_way_out_of_an_ambiguous_date_names_both_readings(tmp_path: Path) -> None:
    reading = read(
        tmp_path, {"apiaries": f"{APIARIES}A2,,SK 123 456,3,12/05/2024,\nA3,,SK 123 456,3,25.12.2024,\n"}
    )
    first, second = (render(c.way_out) for c in reading.all_complaints)
    assert "2024-05-12" in first
    assert "2024-12-05" in first
    assert "2024-12-25" in second


def test_a_spreadsheets_day_number_in_text_is_explained(tmp_path: Path) -> None:
    reading = read(tmp_path, {"apiaries": f"{APIARIES}A2,,SK 123 456,3,45424,\n"})
    assert "2024-05-12" in render(reading.all_complaints[0].way_out)


def test_every_error_of_a_folder_comes_at_once(tmp_path: Path) -> None:
    reading = read(
        tmp_path,
        {
            "apiaries": f"{APIARIES}A1,,SK 123 456,-3,2024-02-31,\nA2,,nowhere,2,,\n",
            "moves": "moved_on,from_apiary,to_apiary,goods\n2024-13-01,,A2,nuclei\n2024-05-01,,,colonies\n",
            "lots": "lot,kit,expires_on\nL1,,2027-01-01\n",
        },
    )
    assert [(c.file, c.line, c.column) for c in reading.all_complaints] == [
        ("apiaries.csv", 2, "colonies"),
        ("apiaries.csv", 2, "kept_since"),
        ("apiaries.csv", 3, "place"),
        ("moves.csv", 2, "moved_on"),
        ("moves.csv", 3, "from_apiary"),
        ("lots.csv", 2, "kit"),
    ]


MOVES = "moved_on,from_apiary,to_apiary,goods,quantity\n"
MOVE_FAULTS = {
    "no ends": ("2024-05-01,,,colonies,1", "from_apiary", "register.move_without_ends"),
    "to itself": ("2024-05-01,A1,A1,colonies,1", "to_apiary", "register.move_to_itself"),
    "unknown": ("2024-05-01,A1,A7,colonies,1", "to_apiary", "register.unknown_apiary"),
    "goods": ("2024-05-01,A1,,nuclie,1", "goods", "register.unknown_word"),
    "negative": ("2024-05-01,A1,,honey,-2", "quantity", "register.negative"),
    "comma": ('2024-05-01,A1,,honey,"1,200"', "quantity", "register.comma_ambiguous"),
}


@pytest.mark.parametrize("case", MOVE_FAULTS)
def test_a_bad_move_is_refused(tmp_path: Path, case: str) -> None:
    row, column, key = MOVE_FAULTS[case]
    reading = read(tmp_path, {"apiaries": APIARIES + SOUND, "moves": f"{MOVES}{row}\n"})
    assert [(c.line, c.column, c.what.key) for c in reading.all_complaints] == [(2, column, key)]


def test_an_unknown_word_is_met_with_the_near_one_and_the_list(tmp_path: Path) -> None:
    reading = read(tmp_path, {"apiaries": APIARIES + SOUND, "moves": f"{MOVES}2024-05-01,A1,,nuclie,\n"})
    way_out = render(reading.all_complaints[0].way_out)
    assert "nuclei?" in way_out
    assert all(goods.value in way_out for goods in Goods)


def test_goods_are_read_whatever_their_case_and_blanks(tmp_path: Path) -> None:
    reading = read(tmp_path, {"apiaries": APIARIES + SOUND, "moves": f"{MOVES}2024-05-01,A1,,Brood comb,2\n"})
    assert reading.ground.moves[0].goods is Goods.BROOD_COMB


def test_a_move_may_name_an_apiary_of_the_register(tmp_path: Path) -> None:
    files = {"moves": f"{MOVES}2024-05-01,A9,,colonies,1\n"}
    assert keys(read(tmp_path, files))[0][-1] == "register.unknown_apiary"
    known = read(tmp_path, {"apiaries": APIARIES + SOUND.replace("A1", "A9")}).ground
    (tmp_path / "apiaries.csv").unlink()
    assert read(tmp_path, files, base=known).is_sound


def test_an_unknown_apiary_is_met_with_the_near_one(tmp_path: Path) -> None:
    apiaries = APIARIES + SOUND.replace("A1", "SKN-014")
    reading = read(tmp_path, {"apiaries": apiaries, "moves": f"{MOVES}2024-05-01,SKN-O14,,colonies,1\n"})
    assert "SKN-014" in render(reading.all_complaints[0].way_out)


def test_the_same_move_twice_is_counted_once_with_a_warning(tmp_path: Path) -> None:
    row = "2024-05-01,A1,,colonies,1\n"
    reading = read(tmp_path, {"apiaries": APIARIES + SOUND, "moves": MOVES + row + row})
    assert len(reading.ground.moves) == 1
    assert [(w.line, w.what.key) for w in reading.warnings] == [(3, "tables.same_row")]


def test_a_removal_that_contradicts_another_is_refused(tmp_path: Path) -> None:
    removals = "apiary,removed_on,disease,colonies,how\nA1,2024-05-01,AFB,2,destroyed\nA1,2024-05-01,afb,3,destroyed\n"
    reading = read(tmp_path, {"apiaries": APIARIES + SOUND, "removals": removals})
    assert [(c.line, c.what.key) for c in reading.all_complaints] == [(3, "tables.contradicts")]


VISIT_FAULTS = {
    "more confirmed than inspected": (
        "V1,A1,2024-05-01,9,2,,3,AFB",
        "colonies_confirmed",
        "register.more_than",
    ),
    "more suspect than inspected": ("V1,A1,2024-05-01,9,2,3,0,", "colonies_suspect", "register.more_than"),
    "more inspected than present": ("V1,A1,2024-05-01,9,10,,0,", "colonies_inspected", "register.more_than"),
    "confirmed what": ("V1,A1,2024-05-01,9,2,,1,", "disease", "register.confirmed_without_disease"),
    "no such disease": ("V1,A1,2024-05-01,9,2,,1,XFB", "disease", "register.unknown_word"),
    "unknown apiary": ("V1,A8,2024-05-01,9,2,,0,", "apiary", "register.unknown_apiary"),
}


@pytest.mark.parametrize("case", VISIT_FAULTS)
def test_a_bad_visit_is_refused(tmp_path: Path, case: str) -> None:
    row, column, key = VISIT_FAULTS[case]
    reading = read(tmp_path, {"apiaries": APIARIES + SOUND, "visits": f"{VISITS}{row}\n"})
    assert [(c.line, c.column, c.what.key) for c in reading.all_complaints] == [(2, column, key)]


def test_a_day_after_today_is_a_warning_and_taken(tmp_path: Path) -> None:
    reading = read(tmp_path, {"apiaries": APIARIES + SOUND, "visits": f"{VISITS}V1,A1,2027-05-01,9,2,,0,\n"})
    assert reading.is_sound
    assert [(w.file, w.line, w.column, w.what.key) for w in reading.warnings] == [
        ("visits.csv", 2, "visited_on", "register.after_today")
    ]


COORDINATES = "apiary,place,longitude,latitude,colonies\n"


def test_place_and_coordinates_that_disagree_are_refused(tmp_path: Path) -> None:
    reading = read(
        tmp_path,
        {"apiaries": f"{COORDINATES}A1,TQ 123 456,-0.3934,51.1990,2\nA2,TQ 123 456,-0.3934,51.3,2\n"},
    )
    assert keys(reading) == [("apiaries.csv", 3, "place", "TQ 123 456", "register.places_disagree")]


def test_coordinates_the_wrong_way_round_are_refused_with_the_hint(tmp_path: Path) -> None:
    rows = "".join(f"A{n},,-1.{n}000,52.{n}000,2\n" for n in range(1, 5))
    reading = read(tmp_path, {"apiaries": f"{COORDINATES}{rows}B1,,52.2000,-1.2000,2\nB2,,52.2,-110.2,2\n"})
    assert [(c.line, c.what.key, c.way_out.key) for c in reading.all_complaints] == [
        (6, "register.swapped", "register.swapped_way_out"),
        (7, "register.latitude_out_of_range", "register.swapped_way_out"),
    ]


def test_only_one_of_two_coordinates_is_refused(tmp_path: Path) -> None:
    reading = read(tmp_path, {"apiaries": f"{COORDINATES}A1,,-1.2,,2\n"})
    assert keys(reading) == [("apiaries.csv", 2, "latitude", "", "register.blank")]


def test_a_place_in_the_sea_is_a_warning_unless_its_square_touches_land(tmp_path: Path) -> None:
    land = box(-2, 51, -1, 52)
    text = "apiary,longitude,latitude,precision_m,colonies\nin,-1.5,51.5,10,2\nsea,-0.9,51.5,10,2\nshore,-0.99,51.5,2000,2\n"
    reading = read(tmp_path, {"apiaries": text}, land=land)
    assert reading.is_sound
    assert [(w.line, w.what.key) for w in reading.warnings] == [(3, "register.off_land")]


def test_decimals_tell_the_precision_of_coordinates(tmp_path: Path) -> None:
    text = "apiary,longitude,latitude,precision_m,colonies\nA,-1.5,51.12,,2\nB,-1.5,51.1234567,,2\nC,-1.5,51.1,30,2\n"
    reading = read(tmp_path, {"apiaries": text})
    coarse, fine, stated = (row.place.precision_m for row in reading.ground.apiaries)
    assert coarse == pytest.approx(1111, rel=0.01)
    assert fine == 10
    assert stated == 30


def test_a_stated_precision_widens_a_grid_square_and_never_narrows_it(tmp_path: Path) -> None:
    text = "apiary,place,precision_m,colonies\nA,SK 123 456,500,2\nB,SK 123 456,10,2\n"
    reading = read(tmp_path, {"apiaries": text})
    assert [row.place.precision_m for row in reading.ground.apiaries] == [500, 100]


def test_a_keeper_whom_only_an_apiary_names_is_entered_bare(tmp_path: Path) -> None:
    reading = read(tmp_path, {"apiaries": APIARIES + SOUND})
    assert reading.ground.keepers == (Keeper(keeper="K1"),)
    assert [note.key for note in reading.notes] == ["tables.note_bare_keepers"]


INSPECTORS = "inspector,home,works,day_start,day_end\n"


@pytest.mark.parametrize(
    ("works", "days"),
    [
        ("Mon-Fri", {1, 2, 3, 4, 5}),
        ("1,2,3", {1, 2, 3}),
        ("Mo Tu", {1, 2}),
        ("monday, Wednesday & fri", {1, 3, 5}),
        ("Sat to Mon", {6, 7, 1}),
        ("12345", {1, 2, 3, 4, 5}),
        ("Thur; Tues", {2, 4}),
        ("Mon – Wed, Sa", {1, 2, 3, 6}),
        ("", {1, 2, 3, 4, 5}),
    ],
)
def test_working_days_are_read_as_people_write_them(tmp_path: Path, works: str, days: set[int]) -> None:
    reading = read(tmp_path, {"inspectors": f'{INSPECTORS}I1,SK 123 456,"{works}",8.30,5 pm\n'})
    (row,) = reading.ground.inspectors
    assert row.works == days
    assert (row.day_start, row.day_end) == (time(8, 30), time(17))


@pytest.mark.parametrize(
    ("cells", "column", "key"),
    [
        ("Monkday,,", "works", "register.not_weekdays"),
        ("1-9,,", "works", "register.not_weekdays"),
        ("T,,", "works", "register.not_weekdays"),
        (",25:00,", "day_start", "register.not_a_time"),
        (",early,", "day_start", "register.not_a_time"),
        (",18:00,17:00", "day_end", "register.day_ends_before_start"),
    ],
)
def test_a_bad_inspector_is_refused(tmp_path: Path, cells: str, column: str, key: str) -> None:
    reading = read(tmp_path, {"inspectors": f"{INSPECTORS}I1,SK 123 456,{cells}\n"})
    assert [(c.line, c.column, c.what.key) for c in reading.all_complaints] == [(2, column, key)]


def test_a_lot_without_a_count_is_of_unknown_size(tmp_path: Path) -> None:
    reading = read(
        tmp_path, {"lots": "lot,kit,expires_on,count\nL1,AFB kit,2024-01-01,\nL2,AFB kit,2027-01-01,x\n"}
    )
    assert keys(reading) == [("lots.csv", 3, "count", "x", "register.not_a_number")]


def test_real_dates_times_and_day_numbers_of_a_workbook_are_read(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    page = book.active
    page.title = "Apiaries"
    page.append(["Apiary", "Longitude", "Latitude", "Colonies", "Kept since", "Left on"])
    page.append([7, -1.25, 52.5, 3.0, datetime(2024, 5, 12), 45424 + 366])
    people = book.create_sheet("inspectors")
    people.append(["inspector", "home", "works", "day_start", "day_end"])
    people.append(["I1", "SK 123 456", 123, time(8, 30), 0.75])
    book.save(tmp_path / "ground.xlsx")
    reading = tables.read_ground(tmp_path / "ground.xlsx")
    assert not reading.all_complaints
    row = reading.ground.apiaries[0]
    assert isinstance(row, Apiary)
    assert (row.apiary, row.colonies, row.kept_since, row.left_on) == (
        "7",
        3,
        date(2024, 5, 12),
        date(2025, 5, 13),
    )
    person = reading.ground.inspectors[0]
    assert (person.works, person.day_start, person.day_end) == ({1, 2, 3}, time(8, 30), time(18))


def test_bad_rows_of_a_workbook_name_the_row_of_the_sheet(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    page = book.active
    page.title = "apiaries"
    page.append(["apiary", "place", "colonies"])
    page.append([])
    page.append(["A1", "SK 123 456", -1])
    page.append(["A2", "SK 123 456", 1, "stray"])
    book.save(tmp_path / "ground.xlsx")
    reading = tables.read_ground(tmp_path / "ground.xlsx")
    assert keys(reading) == [
        ("ground.xlsx:apiaries", 3, "colonies", "-1", "register.negative"),
        ("ground.xlsx:apiaries", 4, None, "", "tables.cell_beyond_header"),
    ]
