"""What `open_store` makes, opens and refuses; each refusal says what is wrong and the way out."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import create_engine, inspect

from broodsweep.errors import NotFoundError, TroubleError
from broodsweep.register import Keeper
from broodsweep.store import backup, open_store, verify
from broodsweep.store.migrations import MIGRATIONS
from broodsweep.store.schema import METADATA


def test_reopened_store_has_everything(store, path, now):
    ground, outbreaks, version = store.ground(), store.outbreaks(), store.version()
    store.close()
    with open_store(path, now=now, create=False) as again:
        assert (again.ground(), again.outbreaks(), again.version()) == (ground, outbreaks, version)
        assert again.notice is None
        assert not again.is_read_only


def test_settings_of_every_connection(store):
    """SQLite's manual: PRAGMA synchronous 2 = FULL, a commit in WAL mode is then synced before it returns."""
    with store.engine.connect() as connection:
        asked = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout", "application_id")
        }
    assert asked == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "busy_timeout": 5000,
        "application_id": int.from_bytes(b"BrDS", "big"),
    }


def test_commit_syncs_the_log_before_the_work_ends(path, tmp_path):
    """Seen from outside, by strace: fdatasync on the write-ahead log comes before the acknowledgement."""
    if shutil.which("strace") is None:
        pytest.skip("strace is not installed")
    trace = tmp_path / "trace"
    script = Path(__file__).with_name("numbered_desk.py")
    command = ["strace", "-f", "-y", "-e", "trace=fdatasync,fsync,write", "-o", str(trace)]
    ran = subprocess.run(
        [*command, sys.executable, str(script), str(path), "2"],
        check=False,
        capture_output=True,
        text=True,
        timeout=60,
    )
    if "Operation not permitted" in ran.stderr or not trace.exists():
        pytest.skip("this machine does not let strace look")
    lines = trace.read_text().splitlines()
    first, second = (
        next(at for at, line in enumerate(lines) if "write(1" in line and f'"{ack}' in line) for ack in (0, 1)
    )
    between = lines[first:second]
    assert any("sync(" in line and "store.sqlite-wal" in line for line in between), between


def test_tables_are_strict_and_as_the_statements_expect(store, path):
    engine = create_engine(f"sqlite:///{path}")
    kept = inspect(engine)
    for table in METADATA.tables.values():
        there = {column["name"]: str(column["type"]) for column in kept.get_columns(table.name)}
        assert list(there) == [column.name for column in table.columns], table.name
        for column in table.columns:
            wanted = {"INTEGER": "INTEGER", "DOUBLE": "REAL", "TEXT": "TEXT"}[str(column.type)]
            assert there[column.name] == wanted, (table.name, column.name)
    engine.dispose()
    with closing(sqlite3.connect(path)) as raw:
        tables = [row for row in raw.execute("PRAGMA table_list") if not row[1].startswith("sqlite_")]
        assert {row[1] for row in tables} == set(METADATA.tables)
        assert all(row[5] == 1 for row in tables), "STRICT"


def test_places_and_links_are_indexed(store, path):
    with closing(sqlite3.connect(path)) as raw:
        for table, column in [("apiaries", "longitude"), ("moves", "from_apiary"), ("visits", "apiary")]:
            plan = raw.execute(f"EXPLAIN QUERY PLAN SELECT * FROM {table} WHERE {column} = 'x'").fetchall()
            assert "INDEX" in plan[0][3], plan


@pytest.mark.parametrize("table", ["journal", "events"])
@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE {t} SET who = 'x'",
        "DELETE FROM {t}",
        "INSERT OR REPLACE INTO {t} SELECT * FROM {t} LIMIT 1",
    ],
)
def test_journal_and_events_are_append_only_even_by_hand(store, path, table, statement):
    with closing(sqlite3.connect(path)) as raw, pytest.raises(sqlite3.DatabaseError, match="append-only"):
        raw.execute(statement.format(t=table))


def test_missing_file_or_folder(path, now, tmp_path):
    with pytest.raises(NotFoundError, match="There is no store"):
        open_store(path, now=now, create=False)
    assert not path.exists()
    with pytest.raises(TroubleError, match="Make the folder first"):
        open_store(tmp_path / "none" / "store.sqlite", now=now)
    with pytest.raises(TroubleError, match="is a folder"):
        open_store(tmp_path, now=now)


def test_making_a_store_leaves_only_it_and_its_lock(store, path):
    store.close()
    assert {entry.name for entry in path.parent.iterdir()} == {"store.sqlite", "store.sqlite.lock"}


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "is empty"),
        (b"apiary,place\nA1,TA 12 34\n" * 40, "not even an SQLite file"),
        (b"SQLite for", "cut short"),
    ],
)
def test_files_that_are_no_store(path, now, content, sentence):
    path.write_bytes(content)
    with pytest.raises(TroubleError, match=sentence):
        open_store(path, now=now)
    assert path.read_bytes() == content, "left as it was"


def test_another_programs_database_is_refused_and_left_alone(path, now):
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE recipes (name)")
    content = path.read_bytes()
    with pytest.raises(TroubleError, match="another program"):
        open_store(path, now=now)
    assert path.read_bytes() == content


def test_truncated_store_is_refused(store, path, now):
    store.close()
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(TroubleError, match="cut short"):
        open_store(path, now=now)


def test_damaged_page_is_told_as_damage(store, path, now):
    store.close()
    content = bytearray(path.read_bytes())
    content[4096 * 1 :] = b"\xa5" * (len(content) - 4096)
    path.write_bytes(content)
    with pytest.raises(TroubleError, match=r"damaged.*restore the last backup"):
        open_store(path, now=now).ground()


def test_newer_schema_is_refused(store, path, now):
    store.close()
    with pytest.raises(
        TroubleError, match=rf"newer program \(schema {MIGRATIONS[-1].version}, this one knows up to 1\)"
    ):
        open_store(path, now=now, migrations=MIGRATIONS[:1])


READ_ONLY_DESK = """
import os, sys
from datetime import UTC, datetime
from pathlib import Path
from broodsweep.desk.ports import Author
from broodsweep.errors import TroubleError
from broodsweep.store import open_store, verify
os.setgid(65534); os.setuid(65534)
with open_store(Path(sys.argv[1]), now=lambda: datetime.now(UTC)) as store:
    assert store.is_read_only
    print(store.version(), len(store.ground().apiaries), verify(store).is_sound, store.notice.key)
    try:
        with store.work(Author(who="x"), "x") as work:
            work.set("a", 1)
    except TroubleError as err:
        print(err)
"""


@pytest.mark.skipif(os.name == "nt" or os.getuid() != 0, reason="needs root to become somebody else")
@pytest.mark.parametrize(("file_mode", "folder_mode"), [(0o444, 0o555), (0o444, 0o777), (0o666, 0o555)])
def test_read_only_file_or_folder_opens_for_reading(store, path, file_mode, folder_mode):
    store.close()
    with tempfile.TemporaryDirectory() as name:  # pytest's own folders are closed to others
        folder = Path(name)
        copy = Path(shutil.copy(path, folder))
        copy.chmod(file_mode)
        folder.chmod(folder_mode)
        ran = subprocess.run(
            [sys.executable, "-c", READ_ONLY_DESK, str(copy)],
            check=False,
            capture_output=True,
            text=True,
            timeout=60,
        )
        folder.chmod(0o755)
    assert ran.returncode == 0, ran.stderr
    first, second = ran.stdout.splitlines()
    assert first == "9 3 True store.reading_only"
    assert "may not be written, so nothing was saved" in second


def test_full_disk_loses_nothing(store, path, now, author):
    """SQLite's manual: max_page_count makes a write that needs more pages fail with SQLITE_FULL."""
    version, ground = store.version(), store.ground()
    with store.engine.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages + 4}")

    def overfill():
        with store.work(author, "load") as work:
            work.save("keepers", [Keeper(keeper=f"K{number}", name="x" * 500) for number in range(1000)])

    with pytest.raises(TroubleError, match=r"disk .* is full.*what was saved before is safe"):
        overfill()
    assert (store.version(), store.ground()) == (version, ground)
    with store.work(author, "small") as work:
        work.set("a", 1)
    assert store.version() == version + 1


FULL_DISK_DESK = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from broodsweep.desk.ports import Author
from broodsweep.errors import TroubleError
from broodsweep.register import Keeper
from broodsweep.store import open_store, verify
with open_store(Path(sys.argv[1]), now=lambda: datetime.now(UTC)) as store:
    done = 0
    try:
        while True:
            with store.work(Author(who="x"), "load") as work:
                work.save("keepers", [Keeper(keeper=f"{done}-{n}", name="x" * 2000) for n in range(20)])
            done += 1
    except TroubleError as err:
        print(err)
    print(done, store.version(), len(store.ground().keepers), verify(store).is_sound)
"""


@pytest.fixture
def small_disk(tmp_path):
    """A file system of 2 MB in memory."""
    if not hasattr(os, "getuid") or os.getuid() != 0:
        pytest.skip("needs root to mount a small disk")
    disk = tmp_path / "disk"
    disk.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(disk)]
    if subprocess.run(command, check=False, capture_output=True).returncode:
        pytest.skip("mounting is not allowed here")
    yield disk
    subprocess.run(["umount", str(disk)], check=True)


def test_really_full_disk_loses_nothing(small_disk):
    ran = subprocess.run(
        [sys.executable, "-c", FULL_DISK_DESK, str(small_disk / "store.sqlite")],
        check=False,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert ran.returncode == 0, ran.stderr
    sentence, told = ran.stdout.splitlines()
    done, version, keepers, is_sound = told.split()
    assert "is full" in sentence
    assert int(done) > 0
    assert int(version) == int(keepers) == 20 * int(done)
    assert is_sound == "True"


def test_backup_to_a_full_disk_leaves_nothing_there(store, small_disk, author):
    with store.work(author, "load") as work:
        work.save("keepers", [Keeper(keeper=f"K{number}", name="x" * 2000) for number in range(1000)])
    with pytest.raises(TroubleError, match=r"disk that holds .*copy.sqlite is full"):
        backup(store, small_disk / "copy.sqlite")
    assert list(small_disk.iterdir()) == []
    assert verify(store).is_sound
