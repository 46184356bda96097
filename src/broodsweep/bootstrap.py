"""The only place that picks the store, the clock and the settings, and joins the rooms."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from broodsweep.desk.context import Desk
from broodsweep.desk.derive import derive_outbreaks
from broodsweep.desk.ports import Author
from broodsweep.desk.rules import RULEBOOK, book, default_book
from broodsweep.errors import BroodsweepError, TroubleError
from broodsweep.register import TABLES
from broodsweep.rulebook import Rulebook, load_books

if TYPE_CHECKING:
    from broodsweep.tables import Reading

STORE_NAME = "broodsweep.sqlite"
BOOKS_NAME = "rulebooks"
ROAD_FILES = ("roads.osm.pbf", "roads.osm")
"""Names of a road file in a home folder, or beside it or the tables."""


def clock() -> datetime:
    """Return the present instant, UTC."""
    return datetime.now(UTC)


def road_file_in(*folders: Path) -> Path | None:
    """Return the first road file that lies in one of the folders, None without one."""
    return next(
        (folder / name for folder in folders for name in ROAD_FILES if (folder / name).is_file()), None
    )


def default_home() -> Path:
    """Folder that keeps the store, the base map and the backups when none is named."""
    named = os.environ.get("BROODSWEEP_HOME")
    if named:
        return Path(named)
    base = os.environ.get("LOCALAPPDATA" if sys.platform == "win32" else "XDG_DATA_HOME")
    return (Path(base) if base else Path.home() / ".local/share") / "broodsweep"


def books_for(home: Path | None) -> dict[str, Rulebook]:
    """Return the packaged rulebooks and the user's own from the home's ``rulebooks`` folder."""
    own = home / BOOKS_NAME if home else None
    return dict(load_books(own if own and own.is_dir() else None))


def author(device: str = "command") -> Author:
    """Return who works here: BROODSWEEP_USER, else the name the machine knows the user by."""
    who = (
        os.environ.get("BROODSWEEP_USER") or os.environ.get("USER") or os.environ.get("USERNAME") or "unknown"
    )
    return Author(who=who, device=device)


@contextmanager
def open_desk(
    *,
    ground: Path | None = None,
    home: Path | None = None,
    on: date | None = None,
    rulebook: str | None = None,
    write: bool = True,
) -> Iterator[Desk]:
    """Open the desk on a ground folder (read into memory) or on the store of a home folder.

    Raises
    ------
    BroodsweepError
        If the folder is unsound, both are given, there is no store to read, or no such rulebook.
    """
    if ground is not None:
        if home is not None and "BROODSWEEP_HOME" not in os.environ:
            raise BroodsweepError("cli.ground_or_home")
        yield desk_on_ground(ground, on, rulebook)
        return
    from broodsweep.store import open_store

    folder = home or default_home()
    path = folder / STORE_NAME
    if not path.exists() and not write:
        raise BroodsweepError("cli.no_store", path=str(path))
    folder.mkdir(parents=True, exist_ok=True)
    with open_store(path, now=clock) as store:
        desk = Desk(store=store, books=books_for(folder), now=clock, as_of=on, zone=None, rulebook=rulebook)
        if rulebook:
            book(desk, rulebook)
        yield desk


def desk_on_ground(folder: Path, on: date | None, rulebook: str | None = None) -> Desk:
    """Return a desk on a folder of tables, in memory, with the outbreaks that its records tell.

    Raises
    ------
    BroodsweepError
        If a row is refused; the sentence counts them and names the first.
    """
    from broodsweep.store import MemoryStore
    from broodsweep.tables import read_ground

    reading = read_ground(folder)
    refuse_unsound(reading)
    store = MemoryStore(now=clock)
    desk = Desk(store=store, books=books_for(None), now=clock, as_of=on, zone=None)
    writer = Author(who="ground", device=str(folder))
    with store.work(writer, "read_ground") as work:
        for table in TABLES:
            work.save(table.name, getattr(reading.ground, table.name))
        if rulebook:
            work.set(RULEBOOK, rulebook)
    told = derive_outbreaks(desk, desk.today(), default_book(desk))
    with store.work(writer, "derive_outbreaks") as work:
        for row in told.outbreaks:
            work.save_outbreak(row)
    desk.remarks = (*reading.notes, *(row.sentence for row in reading.warnings), *told.remarks)
    return desk


def refuse_unsound(reading: Reading) -> None:
    """Raise when a reading has refused rows.

    Raises
    ------
    BroodsweepError
        With the number of refused rows and the first of them.
    """
    if not reading.is_usable:
        complaints = reading.all_complaints
        raise BroodsweepError("cli.unsound", count=len(complaints), first=complaints[0].sentence)


@contextmanager
def open_cluster(address: str | None) -> Iterator[Any]:
    """Open a client of a Dask scheduler, or give None to work on this machine's cores.

    Raises
    ------
    TroubleError
        If the scheduler does not answer, or Dask is not installed.
    """
    if address is None:
        yield None
        return
    try:
        import distributed

        connect: Any = distributed.Client
        client = connect(address, timeout="10s")
    except (ImportError, OSError, TimeoutError) as error:
        raise TroubleError("cli.no_cluster", address=address, why=str(error)) from error
    with client:
        yield client
