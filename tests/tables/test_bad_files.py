"""Files that are no proper tables: each a clear message with the way out, or read as they were meant."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from broodsweep import tables
from broodsweep.errors import NotFoundError
from broodsweep.words import render

ROW = "A1,Müller,SK 123 456,4\n"
TEXT = "apiary,keeper,place,colonies\n" + ROW


def read(folder: Path, data: bytes, name: str = "apiaries.csv", **options: object) -> tables.Reading:
    path = folder / name
    path.write_bytes(data)
    return tables.read_ground(path, **options)  # type: ignore[arg-type]


def complaint(reading: tables.Reading) -> tuple[str, int | None]:
    (one,) = reading.all_complaints
    assert not reading.is_usable
    render(one.sentence)
    return one.what.key, one.line


@pytest.mark.parametrize("data", [b"", b"\n\n", b"\xef\xbb\xbf", b"  \r\n"])
def test_an_empty_file_is_named_empty(tmp_path: Path, data: bytes) -> None:
    assert complaint(read(tmp_path, data)) == ("tables.empty_file", None)


def test_a_file_with_a_header_only_is_sound_and_noted(tmp_path: Path) -> None:
    reading = read(tmp_path, b"apiary,place,colonies\n")
    assert reading.is_sound
    assert [note.key for note in reading.notes] == ["tables.note_header_only"]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_unicode_is_read_with_or_without_its_mark(tmp_path: Path, encoding: str) -> None:
    reading = read(tmp_path, TEXT.encode(encoding))
    assert [row.keeper for row in reading.ground.apiaries] == ["Müller"]


@pytest.mark.parametrize("padding", [0, 5_000])
def test_old_western_text_is_refused_with_its_line_and_how_it_would_read(
    tmp_path: Path, padding: int
) -> None:
    rows = "".join(f"B{n},Hay,SK 123 456,4\n" for n in range(padding))
    data = ("apiary,keeper,place,colonies\n" + rows + ROW).encode("latin-1")
    reading = read(tmp_path, data)
    assert complaint(reading) == ("tables.not_utf8", padding + 2)
    assert "Müller" in render(reading.complaints[0].way_out)
    assert "cp1252" in render(reading.complaints[0].way_out)
    again = read(tmp_path, data, encoding="cp1252")
    assert again.ground.apiaries[-1].keeper == "Müller"


def test_an_unknown_encoding_is_named(tmp_path: Path) -> None:
    assert complaint(read(tmp_path, TEXT.encode(), encoding="utf-9"))[0] == "tables.unknown_encoding"


@pytest.mark.parametrize("mark", [";", "\t", "|"])
def test_other_separators_are_found_and_noted(tmp_path: Path, mark: str) -> None:
    data = f"apiary{mark}longitude{mark}latitude{mark}colonies\nA1{mark}-1,234{mark}52,5678{mark}4\n".encode()
    reading = read(tmp_path, data)
    assert not reading.all_complaints
    place = reading.ground.apiaries[0].place
    assert (place.longitude, place.latitude) == (-1.234, 52.5678)
    assert "tables.note_delimiter" in [note.key for note in reading.notes]


def test_a_decimal_comma_in_quotes_is_read_in_a_comma_file(tmp_path: Path) -> None:
    reading = read(tmp_path, b'apiary,longitude,latitude,colonies\nA1,"-1,234","52,5678",4\n')
    assert reading.ground.apiaries[0].place.longitude == -1.234


def test_a_file_that_states_its_separator_is_believed(tmp_path: Path) -> None:
    reading = read(tmp_path, b"sep=;\r\napiary;place;colonies\r\nA1;SK 123 456;-4\r\n")
    assert complaint(reading) == ("register.negative", 3)


@pytest.mark.parametrize(
    ("data", "key"),
    [
        (b"apiary:place:colonies\nA1:SK 123 456:4\n", "tables.odd_delimiter"),
        (b"some words about bees\nmore words\n", "tables.one_column"),
    ],
)
def test_a_file_of_one_column_says_that_the_separator_is_wrong(tmp_path: Path, data: bytes, key: str) -> None:
    assert complaint(read(tmp_path, data)) == (key, 1)


def test_a_table_of_one_column_is_possible(tmp_path: Path) -> None:
    reading = read(tmp_path, b"keeper\nK1\n\nK2\n", "keepers.csv")
    assert [row.keeper for row in reading.ground.keepers] == ["K1", "K2"]


def test_headers_are_matched_whatever_their_case_and_blanks(tmp_path: Path) -> None:
    reading = read(tmp_path, b" APIARY ,Place,  Colonies,Kept since,Left-on\nA1,SK 123 456,4,2020-01-01,\n")
    assert reading.ground.apiaries[0].kept_since is not None
    assert not reading.unknown_columns


def test_a_missing_column_names_what_is_there_and_what_may_be_meant(tmp_path: Path) -> None:
    reading = read(tmp_path, b"site,lattitude,lon,hives\nA1,52.5,-1.2,4\n")
    assert complaint(reading) == ("tables.missing_columns", 1)
    way_out = render(reading.complaints[0].way_out)
    assert "site → apiary" in way_out
    assert "lattitude → latitude" in way_out
    assert "hives → colonies" in way_out


def test_a_column_twice_is_refused(tmp_path: Path) -> None:
    for header in ("apiary,place,colonies,Colonies", "apiary,place,colonies,x,x"):
        width = header.count(",") + 1
        reading = read(tmp_path, f"{header}\n{','.join(['1'] * width)}\n".encode())
        assert complaint(reading)[0] == "tables.column_twice"


def test_line_numbers_stay_right_after_line_breaks_inside_cells(tmp_path: Path) -> None:
    text = 'apiary,place,colonies,notes\nA1,SK 123 456,4,"by the gate\n\nthen left"\n\nA2,SK 123 456,-4,\n'
    reading = read(tmp_path, text.encode())
    assert complaint(reading) == ("register.negative", 6)
    good = read(tmp_path, text.replace("-4", "4").encode())
    assert good.ground.apiaries[0].notes == "by the gate\n\nthen left"


@pytest.mark.parametrize(
    ("row", "key"),
    [('A2,"SK 123 456,4\nA3,,\n', "tables.open_quote"), ('A2,"SK" 123,4\n', "tables.bad_quote")],
)
def test_a_broken_quotation_is_refused_with_the_line_where_it_begins(
    tmp_path: Path, row: str, key: str
) -> None:
    reading = read(tmp_path, f"apiary,place,colonies\nA1,SK 123 456,4\n{row}".encode())
    assert complaint(reading) == (key, 3)


def test_an_open_quotation_in_a_large_file_does_not_swallow_it(tmp_path: Path) -> None:
    rows = "A,SK 123 456,4\n" * 20_000
    reading = read(tmp_path, f'apiary,place,colonies\nA1,"SK,4\n{rows}'.encode())
    assert complaint(reading) == ("tables.huge_cell", 2)


@pytest.mark.slow
def test_a_file_of_200_megabytes_that_is_no_table_is_refused_early(tmp_path: Path) -> None:
    """One endless cell, and four million rows that are all bad: both are given up early."""
    cell, rows = tmp_path / "keepers.csv", tmp_path / "lots.csv"
    with cell.open("wb") as file:
        file.write(b"keeper,name\nK,")
        for _ in range(200):
            file.write(b"a" * 1_000_000)
    assert complaint(tables.read_ground(cell)) == ("tables.huge_cell", 2)
    with rows.open("wb") as file:
        file.write(b"lot,kit,expires_on\n")
        for _ in range(200):
            file.write(b"L,k," + b"never\nL,k," * 100_000 + b"never\n")
    reading = tables.read_ground(rows)
    assert not reading.is_usable
    assert "tables.many_refused" in {row.what.key for row in reading.all_complaints}


@pytest.mark.parametrize(
    ("name", "start"), [("is_workbook", b"PK\x03\x04"), ("is_old_workbook", b"\xd0\xcf\x11\xe0")]
)
def test_a_workbook_named_csv_is_recognised(tmp_path: Path, name: str, start: bytes) -> None:
    assert complaint(read(tmp_path, start + bytes(range(256))))[0] == f"tables.{name}"


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("ground.xlsx", "tables.no_workbook"),
        ("ground.gpkg", "tables.no_geopackage"),
        ("apiaries.geojson", "tables.no_json"),
    ],
)
def test_a_file_that_is_not_what_its_name_says_is_refused(tmp_path: Path, name: str, key: str) -> None:
    assert complaint(read(tmp_path, b"this is no such file", name))[0] == key


@pytest.mark.parametrize(
    "data", [[], {}, {"type": "FeatureCollection"}, {"type": "FeatureCollection", "features": [1]}]
)
def test_json_that_is_no_geojson_is_refused(tmp_path: Path, data: object) -> None:
    assert complaint(read(tmp_path, json.dumps(data).encode(), "apiaries.geojson"))[0] == "tables.no_geojson"


def test_a_feature_that_is_no_point_is_refused_by_its_number(tmp_path: Path) -> None:
    line = {"type": "LineString", "coordinates": [[0, 1], [2, 3]]}
    features = [
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [-1, 52]},
            "properties": {"apiary": "A1", "colonies": 2},
        },
        {"type": "Feature", "geometry": line, "properties": {"apiary": "A2", "colonies": 2}},
    ]
    data = json.dumps({"type": "FeatureCollection", "features": features}).encode()
    assert complaint(read(tmp_path, data, "apiaries.geojson")) == ("tables.no_point", 2)


def test_nothing_there_and_nothing_of_ours_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="nothing at"):
        tables.read_ground(tmp_path / "nowhere")
    (tmp_path / "letters.csv").write_text("a,b\n")
    with pytest.raises(NotFoundError, match="no table in"):
        tables.read_ground(tmp_path)
    with pytest.raises(NotFoundError, match="which table"):
        tables.read_ground(tmp_path / "letters.csv")


def test_a_file_of_another_name_is_read_as_the_table_that_is_said(tmp_path: Path) -> None:
    reading = read(tmp_path, TEXT.encode(), "export 2026.csv", table="apiaries")
    assert len(reading.ground.apiaries) == 1


def test_files_of_a_folder_that_are_not_tables_are_noted(tmp_path: Path) -> None:
    (tmp_path / "readme.md").write_text("hello")
    (tmp_path / "moved.csv").write_text("a,b\n1,2\n")
    (tmp_path / "apiaries.csv").write_text(TEXT, encoding="utf-8")
    (tmp_path / "apiaries.geojson").write_text('{"type": "FeatureCollection", "features": []}')
    reading = tables.read_ground(tmp_path)
    assert reading.is_sound
    assert sorted(note.key for note in reading.notes if not note.key.endswith("bare_keepers")) == [
        "tables.note_no_table",
        "tables.note_table_twice",
    ]


def test_very_many_bad_rows_stop_the_reading(tmp_path: Path) -> None:
    rows = "".join(f"A{n},SK 123 456,-1\n" for n in range(10_500))
    reading = read(tmp_path, f"apiary,place,colonies\n{rows}".encode())
    assert reading.complaints[0].what.key == "tables.many_refused"
    assert len(reading.refused) == 10_000


def test_progress_rises_to_one_and_what_it_raises_stops_the_reading(tmp_path: Path) -> None:
    rows = "".join(f"A{n},SK 123 456,1\n" for n in range(20_000))
    seen: list[float] = []
    read(tmp_path, f"apiary,place,colonies\n{rows}".encode(), progress=seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
    assert len(seen) > 5

    def stop(share: float) -> None:
        if share > 0.5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        read(tmp_path, f"apiary,place,colonies\n{rows}".encode(), progress=stop)
