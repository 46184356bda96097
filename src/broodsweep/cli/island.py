"""Draws the demo island, loads it into a store and opens its two outbreaks there."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

from broodsweep.bootstrap import STORE_NAME, open_desk, refuse_unsound
from broodsweep.cli.progress import showing
from broodsweep.cli.speech import help_text, print_line
from broodsweep.demo import DEMO_DAY, make_island, write_island
from broodsweep.desk import loading
from broodsweep.desk.ports import Author
from broodsweep.outbreak import Outbreak
from broodsweep.tables import plan, read_ground

DONE = ".ready"
WRITER = Author(who="demo", device="demo")


def make_demo(folder: Path, seed: int) -> date:
    """Draw the island unless it stands there already; return the day that the demo stands at."""
    mark = folder / DONE
    if mark.exists() and mark.read_text() == str(seed) and (folder / "home" / STORE_NAME).exists():
        print_line("cli.demo.kept", folder=str(folder))
        return DEMO_DAY
    home = folder / "home"
    with showing(help_text("cli.demo.making")) as progress:
        island = make_island(seed)
        progress(0.4)
        write_island(island, folder)
        progress(0.6)
        _fill(home, folder, island.outbreaks)
        progress(1.0)
    mark.write_text(str(seed))
    print_line(
        "cli.demo.made",
        folder=str(folder),
        apiaries=len(island.ground.apiaries),
        keepers=len(island.ground.keepers),
        on=DEMO_DAY,
    )
    return DEMO_DAY


def _fill(home: Path, folder: Path, outbreaks: tuple[Outbreak, ...]) -> None:
    """Load the island's tables as a user would, then enter its outbreaks and its map."""
    shutil.rmtree(home, ignore_errors=True)
    shutil.copytree(folder / "basemap", home / "basemap")
    with open_desk(home=home, on=DEMO_DAY) as desk:
        reading = read_ground(folder / "ground")
        refuse_unsound(reading)
        loading.apply(desk, WRITER, plan(reading, desk.snapshot().ground), {})
        with desk.store.work(WRITER, "demo_outbreaks") as work:
            for outbreak in outbreaks:
                work.save_outbreak(outbreak)
