"""The commands on the store: load, open, record, export, back up, restore, examine."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path

import icalendar
import openpyxl
import pyogrio
import pytest
from tests.cli.conftest import Done

Run = Callable[..., Done]


def read_csv(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def loaded(run: Run, ground: Path) -> Run:
    assert run("load", ground).code == 0
    return run


@pytest.fixture
def opened(loaded: Run) -> Run:
    done = loaded(
        "open", "AFB", "C", "--day", "2026-07-01", "--confirmed", "--evidence", "sample 7", "--json"
    )
    assert done.answer["outbreak"] == "AFB-2026-1"
    return loaded


def test_loading_twice_changes_nothing(run: Run, ground: Path) -> None:
    first = run("load", ground, "--json").answer
    assert first["loaded"]
    assert first["tables"]["apiaries"] == {"new": 6, "changed": 0, "same": 0}
    second = run("load", ground, "--json").answer
    assert second["tables"]["apiaries"] == {"new": 0, "changed": 0, "same": 6}


def test_a_dry_run_shows_and_changes_nothing(run: Run, ground: Path) -> None:
    assert run("load", ground, "--dry-run", "--json").answer["tables"]["apiaries"]["new"] == 6
    assert run("load", ground, "--json").answer["tables"]["apiaries"]["new"] == 6


def test_all_errors_are_told_at_once_and_nothing_is_loaded(run: Run, ground: Path) -> None:
    with (ground / "apiaries.csv").open("a") as file:
        file.write("G,,OV 5,3\nH,,OV 500 500,-2\n")
    done = run("load", ground, "--json")
    assert done.code == 3
    refused = done.answer["refused"]
    assert {(row["line"], row["column"]) for row in refused} == {(8, "place"), (9, "colonies")}
    assert all(row["file"] and row["problem"] and row["way_out"] for row in refused)
    assert run("ring", "--at", "OV 500 500", "--json").answer["apiaries"] == []


def test_skip_bad_loads_the_rest_and_writes_the_refused_rows(run: Run, ground: Path, tmp_path: Path) -> None:
    with (ground / "apiaries.csv").open("a") as file:
        file.write("H,,OV 500 500,-2\n")
    out = tmp_path / "refused.csv"
    done = run("load", ground, "--skip-bad", "--refused", out, "--json")
    assert done.code == 1
    assert done.answer["tables"]["apiaries"]["new"] == 6
    rows = read_csv(out)
    assert rows[0]["apiary"] == "H"
    mended = out.read_text(encoding="utf-8").replace("-2", "2", 1)
    (tmp_path / "apiaries.csv").write_text(mended, encoding="utf-8")
    assert run("load", tmp_path / "apiaries.csv", "--json").answer["tables"]["apiaries"]["new"] == 1


def test_a_column_mapped_once_is_remembered(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "apiaries.csv"
    file.write_text("apiary,place,Voelker\nP,OV 500 500,7\n")
    refused = run("load", file)
    assert refused.code == 3
    assert "--column apiaries.colonies=" in refused.out
    assert run("load", file, "--column", "apiaries.colonies=Voelker").code == 0
    assert run("load", file, "--json").answer["tables"]["apiaries"]["same"] == 1


def test_measures_are_recorded_and_impossible_steps_refused(opened: Run) -> None:
    early = opened("record", "AFB-2026-1", "C", "released", "--day", "2026-07-02")
    assert early.code == 3
    assert "not" in early.err
    assert opened("record", "AFB-2026-1", "C", "colonies_destroyed", "--day", "2026-07-03").code == 0
    lines = {row["key"]: row for row in opened("due", "--on", "2026-07-08", "--all", "--json").answer["due"]}
    assert lines["clearance"]["state"] == "done"
    assert lines["reinspection"]["due_on"] == "2026-08-14"


def test_the_store_can_be_looked_at_by_another_rulebook(opened: Run) -> None:
    """Scotland has no zone in law; Switzerland closes 2 km (TSV art. 271)."""
    own = opened("due", "--on", "2026-07-08", "--json").answer
    other = opened("due", "--on", "2026-07-08", "--rulebook", "switzerland", "--json").answer
    assert "zone_examined" not in {row["key"] for row in own["due"]}
    assert "zone_examined" in {row["key"] for row in other["due"]}
    assert {row["key"] for row in opened("due", "--on", "2026-07-08", "--json").answer["due"]} == {
        row["key"] for row in own["due"]
    }
    assert opened("due", "--rulebook", "atlantis").code == 3


def test_a_case_of_another_disease_does_not_join(opened: Run) -> None:
    done = opened("open", "EFB", "N", "--day", "2026-07-02", "--outbreak", "AFB-2026-1")
    assert done.code == 3
    assert "is of American foulbrood, not of European foulbrood" in done.err


def test_exports_are_read_back_by_other_programs(opened: Run, tmp_path: Path) -> None:
    for what, name in (
        ("tables", "tables.xlsx"),
        ("tables", "tables.gpkg"),
        ("sweep", "sweep.csv"),
        ("sweep", "sweep.geojson"),
        ("due", "due.xlsx"),
        ("rings", "rings.geojson"),
        ("calendar", "due.ics"),
    ):
        assert opened("export", what, tmp_path / name, "--on", "2026-07-08").code == 0, name
    assert openpyxl.load_workbook(tmp_path / "tables.xlsx").sheetnames[:2] == ["keepers", "apiaries"]
    assert pyogrio.raw.read(tmp_path / "tables.gpkg", layer="apiaries")[3]
    assert len(read_csv(tmp_path / "sweep.csv")) == 5
    for name in ("sweep.geojson", "rings.geojson"):
        features = json.loads((tmp_path / name).read_text())
        assert features["type"] == "FeatureCollection"
        assert "crs" not in features
        assert len(pyogrio.raw.read(tmp_path / name)[2]) == len(features["features"])
    calendar = icalendar.Calendar.from_ical((tmp_path / "due.ics").read_bytes())
    assert list(calendar.walk("VEVENT"))


def test_exported_tables_load_again_without_a_change(opened: Run, tmp_path: Path) -> None:
    assert opened("export", "tables", tmp_path / "out").code == 0
    assert opened("export", "tables", tmp_path / "out.gpkg").code == 0
    for source in (tmp_path / "out", tmp_path / "out.gpkg"):
        tables = opened("load", source, "--json").answer["tables"]
        assert all(row["new"] == row["changed"] == 0 for row in tables.values())


def test_a_public_export_names_nobody(opened: Run, tmp_path: Path) -> None:
    assert opened("export", "tables", tmp_path / "public", "--public").code == 0
    text = "".join(path.read_text() for path in (tmp_path / "public").glob("*.csv"))
    assert "Brask" not in text
    assert "01000" not in text
    assert not (tmp_path / "public/keepers.csv").exists()


def test_what_cannot_be_exported_is_said_with_what_can(opened: Run, tmp_path: Path) -> None:
    assert "tables, sweep" in opened("export", "honey", tmp_path / "x.csv").err
    assert ".xlsx" in opened("export", "due", tmp_path / "x.pdf").err


def test_backup_restore_and_doctor(opened: Run, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite"
    assert opened("backup", copy).code == 0
    assert opened("record", "AFB-2026-1", "C", "colonies_destroyed", "--day", "2026-07-03").code == 0
    assert opened("restore", copy).code == 0
    lines = {row["key"]: row for row in opened("due", "--on", "2026-07-08", "--all", "--json").answer["due"]}
    assert lines["clearance"]["state"] != "done"
    verdict = opened("doctor", "--json")
    assert verdict.code == 0
    assert verdict.answer["is_sound"]


def test_doctor_finds_a_changed_journal(opened: Run, tmp_path: Path) -> None:
    import sqlite3

    path = tmp_path / "home/broodsweep.sqlite"
    with sqlite3.connect(path) as connection:
        triggers = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("UPDATE journal SET who = 'somebody else' WHERE seq = 3")
    connection.close()
    done = opened("doctor", "--json")
    assert done.code == 1
    assert not done.answer["is_sound"]
    assert done.answer["first_broken_seq"] == 3


def test_without_a_store_the_way_out_is_shown(run: Run) -> None:
    done = run("due")
    assert done.code == 3
    assert "broodsweep load" in done.err
