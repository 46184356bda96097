"""Loading: skipping bad rows, mending them, mapped columns, what would change, what a missing column leaves."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from broodsweep import tables
from broodsweep.errors import RefusedError
from broodsweep.register import Ground
from broodsweep.words import render

BAD = {
    "apiaries.csv": "Apiary,Vet,Place,Colonies\nA1,Dr X,SK 123 456,4\nA2,=Y,SK 123 456,-4\nA3,,nowhere,2\n",
    "moves.csv": "moved_on,from_apiary,to_apiary,goods\n2024-05-01,A1,A2,nuclei\n2024-05-01,A1,,honey\n",
}


def write(folder: Path, files: dict[str, str]) -> Path:
    folder.mkdir(exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def test_nothing_is_usable_until_all_is_sound_and_skipping_takes_the_rest(tmp_path: Path) -> None:
    folder = write(tmp_path / "g", BAD)
    reading = tables.read_ground(folder)
    assert reading.ground == Ground()
    with pytest.raises(RefusedError, match="Nothing was loaded"):
        tables.plan(reading, Ground())
    skipped = tables.read_ground(folder, skip_bad=True)
    assert [row.apiary for row in skipped.ground.apiaries] == ["A1"]
    assert [row.to_apiary for row in skipped.ground.moves] == [None]
    assert [(c.file, c.line, c.what.key) for c in skipped.all_complaints][-1] == (
        "moves.csv",
        2,
        "register.apiary_refused",
    )


def test_refused_rows_are_written_with_reasons_and_read_again_when_mended(tmp_path: Path) -> None:
    folder = write(tmp_path / "g", BAD)
    skipped = tables.read_ground(folder, skip_bad=True)
    apiaries, moves = tables.write_refused(skipped, tmp_path / "refused")
    text = apiaries.read_text(encoding="utf-8")
    assert text.splitlines()[0] == "Apiary,Vet,Place,Colonies,refused_because,refused_from"
    assert "apiaries.csv, line 3" in text
    assert moves.name == "moves.csv"
    apiaries.write_text(text.replace("-4", "4").replace("nowhere", "SK 111 222"), encoding="utf-8")
    mended = tables.read_ground(tmp_path / "refused", base=skipped.ground)
    assert not mended.all_complaints
    assert [row.apiary for row in mended.ground.apiaries] == ["A2", "A3"]
    assert mended.ground.apiaries[0].extra == (("Vet", "=Y"),)
    assert [column.column for column in mended.unknown_columns] == ["Vet"]


def test_refused_rows_of_several_tables_go_into_files_beside_each_other(tmp_path: Path) -> None:
    reading = tables.read_ground(write(tmp_path / "g", BAD), skip_bad=True)
    paths = tables.write_refused(reading, tmp_path / "bad.csv")
    assert [path.name for path in paths] == ["bad-apiaries.csv", "bad-moves.csv"]


def test_a_bad_file_is_never_skipped(tmp_path: Path) -> None:
    folder = write(tmp_path / "g", {**BAD, "lots.csv": "lot,expires_on\nL,2027-01-01\n"})
    assert not tables.read_ground(folder, skip_bad=True).is_usable


def test_columns_are_suggested_mapped_once_and_kept_as_json(tmp_path: Path) -> None:
    header = ["Site no", "Owner", "Lat", "Long", "Hives", "Remarks", "Colour"]
    suggested = tables.suggest_mapping("apiaries", header)
    assert suggested == {
        "Site no": "apiary",
        "Owner": "keeper",
        "Lat": "latitude",
        "Long": "longitude",
        "Hives": "colonies",
        "Remarks": "notes",
    }
    mapping = json.loads(json.dumps({"apiaries": {**suggested, "Colour": ""}}))
    text = ",".join(header) + "\n7,K1,52.51234,-1.21234,3,by the gate,blue\n"
    reading = tables.read_ground(write(tmp_path / "g", {"apiaries.csv": text}), mapping=mapping)
    (row,) = reading.ground.apiaries
    assert (row.apiary, row.keeper, row.colonies, row.notes, row.extra) == ("7", "K1", 3, "by the gate", ())
    bad = tables.read_ground(
        write(tmp_path / "h", {"apiaries.csv": text.replace(",3,", ",x,")}), mapping=mapping
    )
    assert bad.all_complaints[0].column == "Hives"


def test_a_misspelt_column_is_kept_and_the_near_one_suggested(tmp_path: Path) -> None:
    text = "apiary,place,colonies,kept_sinse\nA1,SK 123 456,4,2020-01-01\n"
    reading = tables.read_ground(write(tmp_path / "g", {"apiaries.csv": text}))
    assert [(c.column, c.suggestion) for c in reading.unknown_columns] == [("kept_sinse", "kept_since")]
    assert reading.ground.apiaries[0].extra == (("kept_sinse", "2020-01-01"),)


def test_a_plan_tells_new_changed_field_by_field_and_the_same(tmp_path: Path) -> None:
    head = "apiary,place,colonies,notes\n"
    first = "A1,SK 123 456,4,gate\nA2,SK 123 457,5,hill\nA3,SK 123 458,6,\n"
    base = tables.read_ground(write(tmp_path / "a", {"apiaries.csv": head + first})).ground
    second = "A1,SK 123 456,4,gate\nA2,SK 123 457,7,\nA4,SK 123 459,6,\n"
    reading = tables.read_ground(write(tmp_path / "b", {"apiaries.csv": head + second}), base=base)
    plan = tables.plan(reading, base)
    apiaries = next(table for table in plan.tables if table.table == "apiaries")
    assert [row.apiary for row in apiaries.new] == ["A4"]  # type: ignore[union-attr]
    assert [(c.field, c.before, c.after) for c in apiaries.changed[0].fields] == [
        ("colonies", 5, 7),
        ("notes", "hill", None),
    ]
    assert apiaries.same == 1
    assert len(apiaries.rows) == 2


def test_a_missing_column_leaves_what_is_there_and_a_blank_cell_empties_it(tmp_path: Path) -> None:
    full = "apiary,place,colonies,notes,kept_since,Vet\nA1,SK 123 456,4,gate,2020-01-01,X\n"
    base = tables.read_ground(write(tmp_path / "a", {"apiaries.csv": full})).ground
    without = write(tmp_path / "b", {"apiaries.csv": "apiary,place,colonies\nA1,SK 123 456,4\n"})
    assert tables.plan(tables.read_ground(without, base=base), base).is_empty
    assert tables.plan(tables.read_ground(without), base).is_empty
    blank = write(tmp_path / "c", {"apiaries.csv": full.replace("gate", "").replace(",X", ",")})
    (change,) = tables.plan(tables.read_ground(blank, base=base), base).tables[1].changed
    assert [(c.field, c.after) for c in change.fields] == [("notes", None), ("extra", ())]


def test_a_rule_holds_for_the_row_as_it_will_be(tmp_path: Path) -> None:
    full = "apiary,place,colonies,kept_since\nA1,SK 123 456,4,2020-01-01\n"
    base = tables.read_ground(write(tmp_path / "a", {"apiaries.csv": full})).ground
    left = write(
        tmp_path / "b", {"apiaries.csv": "apiary,place,colonies,left_on\nA1,SK 123 456,4,2019-01-01\n"}
    )
    reading = tables.read_ground(left, base=base)
    assert [c.what.key for c in reading.all_complaints] == ["register.left_before_kept"]


def test_every_sentence_of_the_tables_can_be_rendered(tmp_path: Path) -> None:
    reading = tables.read_ground(write(tmp_path / "g", BAD), today=date(2024, 1, 1), skip_bad=True)
    for message in (*reading.notes, *(c.sentence for c in (*reading.all_complaints, *reading.warnings))):
        assert render(message)
        assert render(message, "en-XA")
