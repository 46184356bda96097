"""Many threads, two desks on one file, a file that somebody else has locked."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from broodsweep.errors import TroubleError
from broodsweep.register import Keeper
from broodsweep.store import open_store, verify

DESK = Path(__file__).with_name("numbered_desk.py")


def test_each_desk_sees_what_the_other_saved(store, path, now, author):
    with open_store(path, now=now) as other:
        version = other.version()
        with store.work(author, "one") as work:
            work.save("keepers", [Keeper(keeper="of the first")])
        assert other.version() == version + 1
        with other.work(author, "two") as work:
            work.save("keepers", [Keeper(keeper="of the second")])
        assert store.version() == version + 2
        assert store.record() == other.record()


def test_works_of_many_threads_and_two_desks_follow_one_another(store, path, now, author):
    """Each work adds 1 to a number that it reads first: none is lost, so no two ran at once."""
    start = store.version()
    with open_store(path, now=now, wait_s=30.0) as other:

        def add(number: int) -> None:
            desk = (store, other)[number % 2]
            for _ in range(10):
                with desk.work(author, "add") as work:
                    work.set("sum", desk.settings().get("sum", 0) + 1)

        with ThreadPoolExecutor(8) as threads:
            list(threads.map(add, range(8)))
        assert store.settings()["sum"] == other.settings()["sum"] == 80
    assert store.version() == start + 80
    assert verify(store).is_sound


def test_three_processes_write_at_once(path, now):
    desks = [
        subprocess.Popen([sys.executable, "-c", APPENDING, str(path), name], stderr=subprocess.PIPE)
        for name in ("x", "y", "z")
    ]
    for desk in desks:
        _, errors = desk.communicate(timeout=60)
        assert desk.returncode == 0, errors.decode()
    with open_store(path, now=now, create=False) as store:
        assert len(store.ground().keepers) == store.version() == 90
        assert verify(store).is_sound


APPENDING = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from broodsweep.desk.ports import Author
from broodsweep.register import Keeper
from broodsweep.store import open_store
with open_store(Path(sys.argv[1]), now=lambda: datetime.now(UTC), wait_s=30.0) as store:
    for number in range(30):
        with store.work(Author(who=sys.argv[2]), "add") as work:
            work.save("keepers", [Keeper(keeper=f"{sys.argv[2]}{number}")])
"""


def test_readers_do_not_wait_for_the_writer(store, author):
    with store.work(author, "long") as work:
        work.save("keepers", [Keeper(keeper="K9")])
        answer: list[int] = []
        reader = threading.Thread(target=lambda: answer.append(len(store.ground().keepers)))
        begun = time.monotonic()
        reader.start()
        reader.join(timeout=4)
        assert answer == [1], "the reader saw what was there before"
        assert time.monotonic() - begun < 4, "well before a writer would have given up (5 s)"


def test_a_reader_sees_one_moment_while_desks_write(store, author):
    stop = threading.Event()

    def write() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            with store.work(author, "both") as work:
                work.set("newest", number)
                work.save("keepers", [Keeper(keeper="K1", name=str(number))])

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for _ in range(100):
            seen = store.record()
            newest = seen.settings.get("newest")
            assert newest is None or seen.ground.keepers[0].name == str(newest)
    finally:
        stop.set()
        writer.join()


def test_a_busy_file_is_told_after_the_wait(store, path, now, author):
    with open_store(path, now=now, wait_s=0.2) as hasty, store.work(author, "long") as work:
        work.set("slow", 1)
        begun = time.monotonic()
        with (
            pytest.raises(TroubleError, match=r"Another program is writing.*0\.2 seconds.*Try again"),
            hasty.work(author, "short") as other,
        ):
            other.set("quick", 1)
        assert time.monotonic() - begun >= 0.2
    assert store.settings() == {"rulebook": "common-practice", "slow": 1}
    with store.work(author, "again") as work:
        work.set("quick", 1)


def test_a_busy_thread_of_the_same_desk_is_told_too(path, now, author, fill):
    with open_store(path, now=now, wait_s=0.2) as desk:
        fill(desk)
        told: list[str] = []

        def short() -> None:
            try:
                with desk.work(author, "short") as work:
                    work.set("quick", 1)
            except TroubleError as err:
                told.append(err.message.key)

        with desk.work(author, "long") as work:
            work.set("slow", 1)
            other = threading.Thread(target=short)
            other.start()
            other.join()
        assert told == ["store.busy"]


def test_a_file_locked_by_another_tool_is_told(store, path, now, author):
    with open_store(path, now=now, wait_s=0.1) as desk, closing(sqlite3.connect(path)) as tool:
        tool.isolation_level = None
        tool.execute("BEGIN IMMEDIATE")
        with pytest.raises(TroubleError, match="Another program is writing"), desk.work(author, "x") as work:
            work.set("a", 1)
        assert desk.version() == 9, "reading goes on"
        tool.execute("ROLLBACK")
        with desk.work(author, "x") as work:
            work.set("a", 1)


def test_two_processes_may_make_the_store_at_once(path, now):
    desks = [
        subprocess.Popen([sys.executable, str(DESK), str(path), "0"], stderr=subprocess.PIPE)
        for _ in range(3)
    ]
    for desk in desks:
        _, errors = desk.communicate(timeout=60)
        assert desk.returncode == 0, errors.decode()
    with open_store(path, now=now, create=False) as store:
        assert store.version() == 0
    assert not list(path.parent.glob(".*")), "no drafts are left"


def test_the_record_is_read_again_only_where_somebody_changed_it(store, path, now, author):
    """A visit at a large register must not cost a reading of all apiaries: what nobody touched is the same object."""
    before = store.record()
    assert store.record().ground is before.ground
    with open_store(path, now=now) as other, other.work(author, "elsewhere") as work:
        work.save("keepers", [Keeper(keeper="K1", name="New name"), Keeper(keeper="K2")])
    after = store.record()
    assert [row.name for row in after.ground.keepers] == ["New name", None]
    assert after.ground.apiaries is before.ground.apiaries
    assert after.outbreaks is before.outbreaks
    with store.work(author, "here") as work:
        work.set("rulebook", "scotland")
    assert store.record().settings == {"rulebook": "scotland"}
    assert store.record().ground is after.ground
