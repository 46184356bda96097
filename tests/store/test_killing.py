"""A desk is killed (SIGKILL) at any moment: what was acknowledged is there, no half work is.

The kernel keeps what a killed process has written, so these tests show the order of writing, not that the
disk has it: that commits are synced is seen by strace in test_opening.py.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import runpy
import signal
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from broodsweep.errors import TroubleError
from broodsweep.register import Keeper
from broodsweep.store import backup, open_store, verify, verify_file
from broodsweep.store.migrations import MIGRATIONS

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGKILL")
DESK = Path(__file__).with_name("numbered_desk.py")
SEED = 20261125


def run_and_kill(path, rng):
    """Run the numbered desk in a process of its own, kill it at a random moment, return its last number."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["broodsweep.store"])  # started once, so that each desk starts at once
    ours, theirs = context.Pipe(duplex=False)
    given = {"init_globals": {"GIVEN": (path, 100_000, theirs)}, "run_name": "numbered_desk"}
    desk = context.Process(target=runpy.run_path, args=(str(DESK),), kwargs=given)
    desk.start()
    theirs.close()
    acks = [ours.recv() for _ in range(rng.choice((0, 0, 1, 1, 2, 5, 40)))]
    # with an answer in hand about the length of six works, else while it starts and makes the file
    time.sleep(rng.uniform(0, 0.006 if acks else 0.1))
    os.kill(desk.pid, signal.SIGKILL)
    desk.join()
    assert desk.exitcode == -signal.SIGKILL
    try:
        while True:
            acks.append(ours.recv())
    except (EOFError, OSError):
        pass  # nothing more, or half an acknowledgement, which is none
    return acks[-1] if acks else -1


def kill_many(path, now, kills, seed):
    rng = random.Random(seed)
    acked = -1
    for _ in range(kills):
        acked = max(acked, run_and_kill(path, rng))
        if not path.exists():
            assert acked == -1
            continue
        with open_store(path, now=now, create=False) as store:
            ground, settings = store.ground(), store.settings()
            numbers = {int(row.keeper[1:]) for row in ground.keepers}
            assert numbers == set(range(len(numbers))), "no work is missing in between"
            assert acked < len(numbers) <= acked + 2, "all that was acknowledged, at most one more"
            assert {int(row.apiary[1:]) for row in ground.apiaries} == numbers
            assert {int(row.visit[1:]) for row in ground.visits} == numbers
            assert settings == ({"newest": max(numbers)} if numbers else {})
            verdict = verify(store)
            assert verdict.is_sound, verdict
            assert verdict.version == 4 * len(numbers)
        acked = max(acked, len(numbers) - 1)
    assert acked > 0


def test_killed_desk_loses_nothing_acknowledged(path, now):
    kill_many(path, now, 15, SEED)


@pytest.mark.slow
def test_desk_killed_a_hundred_times_loses_nothing_acknowledged(path, now):
    kill_many(path, now, 100, SEED + 1)


SELF_KILLING = """
import os, signal, sys
from datetime import UTC, datetime
from pathlib import Path
from broodsweep.desk.ports import Author
from broodsweep.register import Keeper
from broodsweep.store import backup, open_store, restore
from broodsweep.store.migrations import MIGRATIONS, Migration

path, moment = Path(sys.argv[1]), sys.argv[2]
now = lambda: datetime(2026, 5, 4, 9, 30, tzinfo=UTC)

def die(*_):
    os.kill(os.getpid(), signal.SIGKILL)

def die_half_way(share):
    if share > 0.5:
        die()

def dying_step(connection):
    connection.exec_driver_sql("ALTER TABLE keepers ADD COLUMN half TEXT")
    connection.exec_driver_sql("UPDATE keepers SET half = 'x'")
    die()

if moment == "migration":
    open_store(path, now=now, migrations=(*MIGRATIONS, Migration(MIGRATIONS[-1].version + 1, "dying", dying_step)))
elif moment == "work":
    with open_store(path, now=now) as store, store.work(Author(who="x"), "load") as work:
        work.save("keepers", [Keeper(keeper=f"H{n}", name="x" * 1000) for n in range(8000)])
        die()
elif moment == "backup":
    with open_store(path, now=now) as store:
        backup(store, path.parent / "copies" / "copy.sqlite", die_half_way)
elif moment == "backup named":
    import broodsweep.store.backups as room
    room.write_manifest = die
    with open_store(path, now=now) as store:
        backup(store, path.parent / "copies" / "copy.sqlite")
elif moment == "restore aside":
    import broodsweep.store.backups as room
    kept = room._set_aside
    def aside_and_die(*given, **more):
        kept(*given, **more)
        die()
    room._set_aside = aside_and_die
    restore(path.parent / "copy.sqlite", path, now=now)
"""


def die_at(path, moment):
    ran = subprocess.run(
        [sys.executable, "-c", SELF_KILLING, str(path), moment],
        check=False,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert ran.returncode == -signal.SIGKILL, ran.stderr


@pytest.fixture
def big(store, author, path):
    """A store of some megabytes, closed."""
    with store.work(author, "load") as work:
        work.save("keepers", [Keeper(keeper=f"B{number}", name="x" * 300) for number in range(4000)])
    whole = store.record()
    store.close()
    return whole


def test_killed_within_a_work_that_outgrew_memory(big, path, now):
    """8,000 rows of 1 kB spill into the log before the end; none of them is there afterwards."""
    die_at(path, "work")
    with open_store(path, now=now, create=False) as store:
        assert store.record() == big
        assert verify(store).is_sound


def test_killed_within_a_migration(big, path, now):
    die_at(path, "migration")
    with open_store(path, now=now, create=False) as store:
        assert store.record() == big
        assert verify(store).is_sound
        with closing(store.engine.raw_connection()) as raw:
            columns = [row[1] for row in raw.driver_connection.execute("PRAGMA table_info(keepers)")]
        assert "half" not in columns
    copy = path.with_name(f"store.before-schema-{MIGRATIONS[-1].version + 1}-20260504T093000.sqlite")
    assert verify_file(copy, now=now).is_sound


def test_killed_within_a_backup_leaves_no_backup(big, path, now):
    folder = path.parent / "copies"
    folder.mkdir()
    die_at(path, "backup")
    assert [entry.name for entry in folder.iterdir() if not entry.name.startswith(".")] == []
    with open_store(path, now=now) as store:
        assert store.record() == big
        assert verify(store).is_sound
        backup(store, folder / "copy.sqlite")


def test_killed_before_the_manifest_leaves_a_whole_backup(big, path, now):
    folder = path.parent / "copies"
    folder.mkdir()
    die_at(path, "backup named")
    verdict = verify_file(folder / "copy.sqlite", now=now)
    assert verdict.is_sound
    assert verdict.version == big.version


def test_killed_within_a_restore_leaves_the_old_store(big, path, now, author):
    with open_store(path, now=now) as store:
        backup(store, path.parent / "copy.sqlite")
        with store.work(author, "later") as work:
            work.set("later", True)
    die_at(path, "restore aside")
    with open_store(path, now=now, create=False) as store:
        assert store.version() == big.version + 1
        assert verify(store).is_sound


def test_killed_first_migrations_leave_no_store_to_trip_over(path, now, monkeypatch):
    """A file is made whole under another name: what a killed maker leaves is not taken for a store."""
    draft = path.with_name(f".{path.name}.1.new")
    draft.write_bytes(b"half")
    with open_store(path, now=now) as store:
        assert store.version() == 0
    with pytest.raises(TroubleError, match="newer program"):
        open_store(path, now=now, migrations=MIGRATIONS[:1])
