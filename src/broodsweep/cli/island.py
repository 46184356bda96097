"""Draws the demo island, loads it into a store and opens its two outbreaks there."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from broodsweep.bootstrap import open_desk
from broodsweep.cli.progress import showing
from broodsweep.cli.speech import help_text, print_line
from broodsweep.demo import DEMO_DAY, make_island, write_island
from broodsweep.desk import loading
from broodsweep.desk.ports import Author
from broodsweep.tables import read_ground

DONE = ".ready"


def make_demo(folder: Path, seed: int) -> date:
    """Draw the island unless it stands there already; return the day that the demo stands at."""
    mark = folder / DONE
    if mark.exists() and mark.read_text() == str(seed):
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
