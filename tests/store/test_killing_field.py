"""A desk is killed (SIGKILL) while a phone hands in: every line and photo it answered for is there, none by halves."""

from __future__ import annotations

import multiprocessing
import os
import random
import runpy
import signal
import sys
import time
from collections.abc import Callable
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from broodsweep.geo import Place
from broodsweep.register import Apiary
from broodsweep.store import open_store, verify

from .conftest import AUTHOR
from .dying_desk import line

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGKILL")
DESK = Path(__file__).with_name("dying_desk.py")
SEED = 20261125


def run_and_kill(path: Path, rng: random.Random) -> list[tuple[str, Any]]:
    """Run the desk in a process of its own, kill it at a random moment, return what it answered for."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["broodsweep.store", "broodsweep.desk.fieldbook"])
    ours, theirs = context.Pipe(duplex=False)
    given = {"init_globals": {"GIVEN": (path, theirs)}, "run_name": "dying_desk"}
    desk = context.Process(target=runpy.run_path, args=(str(DESK),), kwargs=given)
    desk.start()
    theirs.close()
    heard = [ours.recv() for _ in range(rng.choice((1, 2, 3, 5, 9, 20)))]
    time.sleep(rng.uniform(0, 0.008))
    os.kill(desk.pid or 0, signal.SIGKILL)
    desk.join()
    assert desk.exitcode == -signal.SIGKILL
    try:
        while True:
            heard.append(ours.recv())
    except (EOFError, OSError):
        return heard


def kill_many(path: Path, now: Callable[[], datetime], kills: int, seed: int) -> None:
    with open_store(path, now=now) as store, store.work(AUTHOR, "load") as work:
        place = Place(longitude=1.5, latitude=54.0, precision_m=100.0)
        work.save("apiaries", [Apiary(apiary="A1", place=place, colonies=1)])
    rng = random.Random(seed)
    lines: set[str] = set()
    photos: set[str] = set()
    for _ in range(kills):
        for what, told in run_and_kill(path, rng):
            if what == "lines":
                lines.update(told)
            elif what == "photo":
                photos.add(told)
        with open_store(path, now=now, create=False) as store:
            kept = {row.line: row for row in store.lines()}
            assert lines <= kept.keys(), "every line that was answered for"
            assert len(kept) % 7 == 0, "a batch is kept whole or not at all"
            assert set(kept) == {line(number)["line"] for number in range(len(kept))}
            noted = store.kept_photos(photos)
            assert {row.photo for row in noted} == photos
            for row in noted:
                data = store.photos.read(row.photo)
                assert data is not None
                assert sha256(data).hexdigest() == row.photo
            assert verify(store).is_sound
    assert len(lines) >= kills
    assert photos


def test_killed_while_a_phone_hands_in(path: Path, now: Callable[[], datetime]) -> None:
    kill_many(path, now, 8, SEED)


@pytest.mark.slow
def test_killed_fifty_times_while_a_phone_hands_in(path: Path, now: Callable[[], datetime]) -> None:
    kill_many(path, now, 50, SEED + 1)
