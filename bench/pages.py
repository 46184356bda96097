"""From the command to the first page that can be used: the process, the server, the browser, the sheet."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from bench._browser import browsed
from broodsweep.bootstrap import open_desk
from broodsweep.demo import make_register
from broodsweep.desk.ports import Author
from broodsweep.register import TABLES

APIARIES = (420, 60_000)


def fill(home: Path, apiaries: int) -> None:
    """Keep a register of that size in the home folder's store."""
    ground = make_register(apiaries, seed=3)
    with open_desk(home=home) as desk, desk.store.work(Author(who="bench"), "load") as work:
        for table in TABLES:
            work.save(table.name, getattr(ground, table.name))


def rows() -> list[dict[str, str]]:
    """Return the rows of the table."""
    found = []
    for apiaries in APIARIES:
        with tempfile.TemporaryDirectory() as folder:
            fill(Path(folder), apiaries)
            answered_s, usable_s = measured(Path(folder))
        what = f"{apiaries:,} apiaries: command to server answering"
        found.append({"what": what, "ours": f"{answered_s:.2f} s"})
        found.append(
            {"what": f"{apiaries:,} apiaries: command to today’s sheet usable", "ours": f"{usable_s:.2f} s"}
        )
    return found


def measured(home: Path) -> tuple[float, float]:
    """Start the desk as a user does; return the seconds until it answers and until its first sheet stands."""
    command = [
        sys.executable,
        "-m",
        "broodsweep",
        "serve",
        "--home",
        str(home),
        "--port",
        "0",
        "--no-browser",
    ]
    with browsed() as page:
        start = time.perf_counter()
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            address = _address(process)
            while not _answers(address):
                time.sleep(0.01)
            answered_s = time.perf_counter() - start
            page.goto(address)
            page.locator("h1").wait_for()
            page.locator(".tally").wait_for()
            return answered_s, time.perf_counter() - start
        finally:
            process.terminate()
            process.wait(timeout=20)


def _address(process: subprocess.Popen[str]) -> str:
    for line in process.stdout or ():
        for word in line.split():
            if word.startswith("http://127.0.0.1:"):
                return word.rstrip("/.,") + "/"
    raise RuntimeError("Expected the desk to name its address, got none.")


def _answers(address: str) -> bool:
    import urllib.error
    import urllib.request

    try:
        with urllib.request.urlopen(f"{address}api/session", timeout=5) as answer:
            return bool(answer.status)
    except urllib.error.URLError:
        return False
