"""Files of every earlier schema are brought to the newest; what fails leaves the file as it was."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from broodsweep.errors import TroubleError
from broodsweep.store import open_store, restore, verify, verify_file
from broodsweep.store.migrations import MIGRATIONS, Migration


def schema_of(path):
    with closing(sqlite3.connect(path)) as raw:
        return set(raw.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL"))


def records_of(path):
    with closing(sqlite3.connect(path)) as raw:
        return raw.execute("SELECT version, name, at FROM migrations ORDER BY version").fetchall()


def test_versions_are_numbered_without_a_gap():
    assert [migration.version for migration in MIGRATIONS] == list(range(1, len(MIGRATIONS) + 1))


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS)))
def test_a_file_of_each_earlier_schema_is_brought_up(path, now, fill, tmp_path, version):
    with open_store(path, now=now, migrations=MIGRATIONS[:version]) as old:
        fill(old)
        before = old.record()
    assert [row[0] for row in records_of(path)] == list(range(1, version + 1))
    with open_store(path, now=now) as store:
        assert store.record() == before
        assert verify(store).is_sound
    assert [row[0] for row in records_of(path)] == [migration.version for migration in MIGRATIONS]
    assert {row[2] for row in records_of(path)} == {"2026-05-04T09:30:00.000000Z"}
    with open_store(tmp_path / "fresh.sqlite", now=now):
        pass
    assert schema_of(path) == schema_of(tmp_path / "fresh.sqlite"), "as if made today"


def test_a_copy_is_made_before(path, now, fill):
    with open_store(path, now=now, migrations=MIGRATIONS[:1]) as old:
        fill(old)
        before = old.record()
    with open_store(path, now=now):
        pass
    copy = path.with_name(f"store.before-schema-{MIGRATIONS[-1].version}-20260504T093000.sqlite")
    verdict = verify_file(copy, now=now)
    assert verdict.is_sound
    assert (verdict.schema_version, verdict.version) == (1, before.version)
    assert verdict.check("schema").is_warning
    restore(copy, path, now=now)
    with open_store(path, now=now, migrations=MIGRATIONS[:1]) as old:
        assert old.record() == before


def test_an_up_to_date_file_is_not_copied(store, path, now):
    store.close()
    with open_store(path, now=now):
        pass
    assert not list(path.parent.glob("*before-schema*"))


def test_a_failing_migration_rolls_back_itself_and_keeps_those_before(path, now, fill):
    with open_store(path, now=now, migrations=MIGRATIONS[:1]) as old:
        fill(old)

    def fail(connection):
        connection.exec_driver_sql("CREATE TABLE half (x INTEGER) STRICT")
        connection.exec_driver_sql("DELETE FROM settings")
        raise RuntimeError("a mistake in the step")

    with pytest.raises(RuntimeError, match="mistake"):
        open_store(
            path, now=now, migrations=(*MIGRATIONS, Migration(MIGRATIONS[-1].version + 1, "failing", fail))
        )
    assert [row[0] for row in records_of(path)] == [migration.version for migration in MIGRATIONS]
    with open_store(path, now=now) as store:
        assert store.settings() == {"rulebook": "common-practice"}
        assert verify(store).is_sound


def test_a_file_in_use_is_not_migrated_under_another_desk(path, now):
    with (
        open_store(path, now=now, migrations=MIGRATIONS[:1]),
        pytest.raises(TroubleError, match=r"older schema 1.*another desk has it open"),
    ):
        open_store(path, now=now)
    assert [row[0] for row in records_of(path)] == [1]
    with open_store(path, now=now):
        pass


def test_history_of_a_row_uses_the_index_of_schema_2(store, path):
    with closing(sqlite3.connect(path)) as raw:
        plan = raw.execute(
            "EXPLAIN QUERY PLAN SELECT * FROM journal WHERE seq > 0 AND table_name = 'a' AND key = 'b' ORDER BY seq"
        ).fetchall()
    assert "journal_by_row" in plan[0][3]
