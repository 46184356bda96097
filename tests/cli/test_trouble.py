"""What goes wrong with the machine, as a user of the commands meets it: killed, read-only, busy, clock set back."""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from tests.cli.conftest import NOW, Done

Run = Callable[..., Done]
ROWS = 2_000
COMMAND = [sys.executable, "-m", "broodsweep"]


@pytest.fixture
def many(tmp_path: Path) -> Path:
    """A table that takes the command a moment to load."""
    path = tmp_path / "apiaries.csv"
    rows = (f"A{n:05},OV {50000 + n} 50000,3\n" for n in range(ROWS))
    path.write_text("apiary,place,colonies\n" + "".join(rows))
    return path


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGKILL")
def test_a_load_that_is_killed_leaves_all_or_nothing_and_can_be_done_again(
    run: Run, many: Path, tmp_path: Path
) -> None:
    rng = random.Random(20261125)
    started = time.monotonic()
    subprocess.run([*COMMAND, "load", many, "--home", tmp_path / "timed"], check=True, capture_output=True)
    takes_s = time.monotonic() - started
    for number in range(3):
        home = tmp_path / f"home{number}"
        process = subprocess.Popen(
            [*COMMAND, "load", str(many), "--home", str(home), "--json"], stdout=subprocess.PIPE
        )
        time.sleep(takes_s * rng.uniform(0.5, 1.0))
        os.kill(process.pid, signal.SIGKILL)
        told = process.communicate()[0]
        again = run("load", many, "--home", home, "--json").answer["tables"]["apiaries"]
        assert (again["new"], again["same"]) in {(ROWS, 0), (0, ROWS)}
        if told:  # it had said that it was done
            assert json.loads(told)["loaded"]
            assert again["same"] == ROWS
        assert run("doctor", "--home", home, "--json").answer["is_sound"]


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="needs the rights of POSIX")
def test_a_store_that_may_not_be_written_is_read_and_refuses_changes(
    run: Run, ground: Path, tmp_path: Path
) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may write everywhere; see tests/store/test_opening.py for a mounted disk")
    assert run("load", ground).code == 0
    home = tmp_path / "home"
    for path in home.iterdir():
        path.chmod(0o444)
    home.chmod(0o555)
    try:
        assert run("ring", "--at", "C", "--json").code == 0
        refused = run("load", ground / "lots.csv", "--json")
        assert refused.code in (0, 4)  # nothing new in it, or not to be written
        opened = run("open", "AFB", "C", "--day", "2026-07-01")
        assert opened.code == 4
        assert "broodsweep.sqlite" in opened.err
    finally:
        home.chmod(0o755)


def test_a_store_that_another_program_holds_is_said_to_be_busy(
    run: Run, ground: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import broodsweep.store

    real = broodsweep.store.open_store
    monkeypatch.setattr(broodsweep.store, "open_store", lambda *given, **how: real(*given, **how, wait_s=0.2))
    assert run("load", ground).code == 0
    holder = sqlite3.connect(tmp_path / "home/broodsweep.sqlite", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    try:
        busy = run("open", "AFB", "C", "--day", "2026-07-01")
        assert busy.code == 4
        assert "broodsweep.sqlite" in busy.err
    finally:
        holder.execute("ROLLBACK")
        holder.close()
    assert run("open", "AFB", "C", "--day", "2026-07-01").code == 0


def test_a_clock_set_back_is_noted_and_nothing_is_lost(
    run: Run, ground: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("load", ground).code == 0
    monkeypatch.setattr("broodsweep.bootstrap.clock", lambda: NOW - timedelta(days=30))
    assert run("open", "AFB", "C", "--day", "2026-07-01", "--confirmed").code == 0
    verdict = run("doctor", "--json").answer
    assert verdict["is_sound"]
    clock = next(check for check in verdict["checks"] if check["name"] == "clock")
    assert clock["is_warning"]
    assert run("due", "--on", "2026-07-08", "--json").answer["due"]


def test_a_backup_is_made_while_another_process_writes(run: Run, many: Path, tmp_path: Path) -> None:
    home, copy = tmp_path / "home", tmp_path / "copy.sqlite"
    keepers = tmp_path / "keepers.csv"
    keepers.write_text("keeper,name\nK1,Una Selvik\n")
    assert run("load", keepers, "--home", home).code == 0
    writer = subprocess.Popen([*COMMAND, "load", str(many), "--home", str(home)], stdout=subprocess.DEVNULL)
    made = run("backup", copy, "--home", home)
    assert writer.wait() == 0
    assert made.code == 0, made.err
    assert run("restore", copy, "--home", tmp_path / "other").code == 0
    there = run("ring", "--at", "OV 5 5", "--home", tmp_path / "other", "--json").answer["apiaries"]
    assert len(there) in (0, ROWS)
    assert run("doctor", "--home", tmp_path / "other", "--json").answer["is_sound"]
