"""Backup while desks work; restore in a store's place."""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing

import pytest

from broodsweep.errors import NotFoundError, RefusedError, TroubleError
from broodsweep.register import Keeper
from broodsweep.store import backup, open_store, restore, verify, verify_file
from broodsweep.store.migrations import MIGRATIONS


@pytest.fixture
def copy(store, tmp_path):
    """A backup of the filled store."""
    target = tmp_path / "copies" / "copy.sqlite"
    target.parent.mkdir()
    backup(store, target)
    return target


def names_in(folder):
    return {entry.name for entry in folder.iterdir()}


def test_backup_is_one_sound_file_with_its_manifest(store, copy, now):
    assert names_in(copy.parent) == {"copy.sqlite", "copy.sqlite.json"}
    told = json.loads((copy.parent / "copy.sqlite.json").read_text())
    assert told["sha256"] == hashlib.sha256(copy.read_bytes()).hexdigest()
    assert (told["file"], told["version"], told["schema_version"]) == (
        "copy.sqlite",
        9,
        MIGRATIONS[-1].version,
    )
    assert told["at"] == "2026-05-04T09:30:00.000000Z"
    assert told["bytes"] == copy.stat().st_size
    assert told["hash"] == store.journal()[-1].hash
    assert verify_file(copy, now=now).is_sound
    with open_store(copy, now=now) as again:
        assert again.record() == store.record()


def test_doctor_knows_the_last_backup(store, copy):
    last = verify(store).last_backup
    assert last is not None
    assert (last.path, last.version) == (str(copy), 9)
    assert not verify(store).check("backup").is_warning


def test_backup_into_a_folder_is_named_by_the_time(store, tmp_path):
    folder = tmp_path / "copies"
    folder.mkdir()
    manifest = backup(store, folder)
    assert manifest.file == "store-20260504T093000.sqlite"
    assert names_in(folder) == {manifest.file, manifest.file + ".json"}


def test_backup_overwrites_nothing(store, copy, path, tmp_path):
    with pytest.raises(RefusedError, match="is there already"):
        backup(store, copy)
    with pytest.raises(RefusedError, match="is the store itself"):
        backup(store, path)
    with pytest.raises(TroubleError, match="Make the folder first"):
        backup(store, tmp_path / "none" / "copy.sqlite")


def test_backup_while_a_desk_writes_is_of_one_moment(store, tmp_path, author, now):
    """The writer goes on all the while; the copy holds whole works only and its chain is unbroken."""
    stop, failed = threading.Event(), []

    def write():
        number = 0
        try:
            while not stop.is_set():
                with store.work(author, "pair") as work:
                    rows = [Keeper(keeper=f"P{number}-{half}", name="x" * 400) for half in (1, 2)]
                    work.save("keepers", rows)
                number += 1
        except Exception as err:  # noqa: BLE001 told below
            failed.append(err)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(4):
            backup(store, tmp_path / f"copy{number}.sqlite")
    finally:
        stop.set()
        writer.join()
    assert not failed
    versions = []
    for number in range(4):
        with open_store(tmp_path / f"copy{number}.sqlite", now=now) as again:
            pairs = [row for row in again.ground().keepers if row.keeper.startswith("P")]
            assert len(pairs) % 2 == 0
            versions.append(again.version())
    assert versions == sorted(versions)
    assert versions[-1] > versions[0], "the writer was not held up"


def test_backup_stopped_by_progress_leaves_nothing(store, tmp_path):
    folder = tmp_path / "copies"
    folder.mkdir()
    told: list[float] = []

    def stop(share: float) -> None:
        told.append(share)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        backup(store, folder / "copy.sqlite", stop)
    assert told
    assert names_in(folder) == set()
    assert verify(store).is_sound


def test_an_unsound_store_is_not_backed_up_as_if_it_were(store, path, tmp_path):
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("UPDATE apiaries SET colonies = 99")
        raw.commit()
    with pytest.raises(TroubleError, match=r"copy.sqlite is not sound.*what the journal says"):
        backup(store, tmp_path / "copy.sqlite")
    assert "copy.sqlite" not in names_in(tmp_path)


def test_restore_puts_the_copy_in_place_and_keeps_the_old(store, copy, path, now, author):
    before = store.record()
    with store.work(author, "later") as work:
        work.save("keepers", [Keeper(keeper="later")])
    store.close()
    kept = restore(copy, path, now=now)
    assert kept == path.with_name("store.replaced-20260504T093000.sqlite")
    with open_store(path, now=now, create=False) as again:
        assert again.record() == before
        assert verify(again).is_sound
    with open_store(kept, now=now, create=False) as old:
        assert old.version() == before.version + 1
        assert verify(old).check("chain").is_sound
    assert restore(copy, path, now=now) == path.with_name("store.replaced-20260504T093000-2.sqlite")


def test_restore_without_keeping_the_old(store, copy, path, now):
    store.close()
    assert restore(copy, path, now=now, keep_old=False) is None
    assert {name for name in names_in(path.parent) if name.endswith(".sqlite")} == {"store.sqlite"}


def test_restore_where_nothing_was(copy, tmp_path, now):
    home = tmp_path / "new" / "store.sqlite"
    home.parent.mkdir()
    assert restore(copy, home, now=now) is None
    with open_store(home, now=now, create=False) as again:
        assert again.version() == 9


def test_restore_over_a_broken_store(store, copy, path, now):
    """A log left by the broken store must not be read into the new file."""
    log = path.with_name("store.sqlite-wal")
    content, left = path.read_bytes(), log.read_bytes()
    assert left
    store.close()
    path.write_bytes(b"\xa5" * len(content))
    log.write_bytes(left)
    kept = restore(copy, path, now=now)
    assert not log.exists()
    assert kept.read_bytes() == b"\xa5" * len(content)
    assert kept.with_name(kept.name + "-wal").read_bytes() == left
    with open_store(path, now=now, create=False) as again:
        assert again.version() == 9
        assert verify(again).is_sound


def test_restore_refuses_while_the_store_is_open_here(store, copy, path, now):
    with pytest.raises(TroubleError, match="open in another desk"):
        restore(copy, path, now=now)
    assert verify(store).is_sound


HOLDER = """
import sys, sqlite3
from datetime import UTC, datetime
from pathlib import Path
if sys.argv[2] == "desk":
    from broodsweep.store import open_store
    held = open_store(Path(sys.argv[1]), now=lambda: datetime.now(UTC))
else:
    held = sqlite3.connect(sys.argv[1])
    held.execute("SELECT count(*) FROM apiaries").fetchone()
print("open", flush=True)
sys.stdin.read()
"""


@pytest.mark.parametrize("kind", ["desk", "another tool"])
def test_restore_refuses_while_another_process_has_it_open(store, copy, path, now, kind):
    store.close()
    content = path.read_bytes()
    command = [sys.executable, "-c", HOLDER, str(path), kind]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as holder:
        assert holder.stdout.readline() == b"open\n"
        with pytest.raises(TroubleError, match="open in another desk"):
            restore(copy, path, now=now)
        holder.stdin.close()
        holder.wait(timeout=30)
    assert path.read_bytes() == content
    restore(copy, path, now=now)


def test_restore_refuses_what_is_no_sound_backup(store, copy, path, now, tmp_path):
    store.close()
    content = path.read_bytes()
    with pytest.raises(NotFoundError, match="There is no store"):
        restore(tmp_path / "none.sqlite", path, now=now)
    with pytest.raises(RefusedError, match="is the store itself"):
        restore(path, path, now=now)

    altered = tmp_path / "altered.sqlite"
    shutil.copy(copy, altered)
    with closing(sqlite3.connect(altered)) as raw:
        raw.execute("UPDATE apiaries SET colonies = 99")
        raw.commit()
    with pytest.raises(TroubleError, match=r"not sound.*what the journal says"):
        restore(altered, path, now=now)

    shutil.copy(copy.with_name("copy.sqlite.json"), tmp_path / "altered.sqlite.json")
    with pytest.raises(TroubleError, match="not the file that its manifest"):
        restore(altered, path, now=now)

    altered.write_bytes(copy.read_bytes()[:9000])
    with pytest.raises(TroubleError, match="cut short"):
        restore(altered, path, now=now)
    assert path.read_bytes() == content
    assert {name for name in names_in(path.parent) if "store" in name} == {
        "store.sqlite",
        "store.sqlite.lock",
        "store.sqlite.last-backup.json",
    }
