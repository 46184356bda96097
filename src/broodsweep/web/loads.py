"""Loads in progress: files put aside, read and checked in the background, taken in on the user's word."""

from __future__ import annotations

import logging
import secrets
import shutil
import threading
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, BinaryIO

from broodsweep.desk import loading
from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.errors import BroodsweepError, NotFoundError, RefusedError
from broodsweep.register import Plan
from broodsweep.web.shapes.loading import LoadState
from broodsweep.words import Message, say

if TYPE_CHECKING:
    from broodsweep.tables import Reading

LOG = logging.getLogger("broodsweep.web")
KEPT = 8
"""Loads that are kept at a time; the oldest goes when another comes."""
CHUNK = 1 << 20
UNPACKED_LIMIT = 1_000_000_000
"""Bytes that a packed folder may unpack to: far beyond any district's tables, well below a disk."""
Mapping = dict[str, dict[str, str]]


class DroppedError(Exception):
    """The load was dropped while it was being worked on."""


@dataclass(kw_only=True)
class Load:
    """One load: its files, what they say, and how far it has come."""

    token: str
    folder: Path
    table: str | None
    mapping: Mapping
    state: LoadState = LoadState.READING
    progress_share: float = 0.0
    reading: Reading | None = None
    plan: Plan | None = None
    changed_rows: int | None = None
    trouble: Message | None = None
    is_dropped: bool = False
    files: list[Path] = field(default_factory=list)

    def report(self, share: float) -> None:
        """Note the share done; stops the work when the load was dropped."""
        if self.is_dropped:
            raise DroppedError
        self.progress_share = min(1.0, max(0.0, share))


class Loads:
    """The loads of one desk, worked on one at a time in the background."""

    def __init__(self, desk: Desk, folder: Path) -> None:
        self.desk, self.folder = desk, folder
        self._loads: dict[str, Load] = {}
        self._turn = threading.Lock()

    def get(self, token: str) -> Load:
        """Return a load.

        Raises
        ------
        NotFoundError
            If there is none of that name (any more).
        """
        if token not in self._loads:
            raise NotFoundError("web.no_such_load")
        return self._loads[token]

    def start(self, files: Sequence[tuple[str, BinaryIO]], table: str | None) -> Load:
        """Put files aside and begin to read them.

        Raises
        ------
        BroodsweepError
            If a packed folder cannot be unpacked.
        """
        while len(self._loads) >= KEPT:
            self.drop(next(iter(self._loads)))
        token = secrets.token_urlsafe(16)
        load = Load(
            token=token,
            folder=self.folder / token,
            table=table,
            mapping=loading.remembered_mapping(self.desk),
        )
        load.folder.mkdir(parents=True)
        try:
            for name, stream in files:
                load.files += put_aside(load.folder, name, stream)
        except BaseException:
            shutil.rmtree(load.folder, ignore_errors=True)
            raise
        self._loads[token] = load
        self.read(load)
        return load

    def read(self, load: Load, mapping: Mapping | None = None) -> None:
        """Read the files (again, with another mapping) in the background."""
        if mapping is not None:
            load.mapping = mapping
        load.state, load.progress_share, load.trouble = LoadState.READING, 0.0, None
        self._begin(load, lambda: _read(self.desk, load))

    def apply(self, load: Load, author: Author, *, skip_bad: bool) -> None:
        """Take a load in, in the background.

        Raises
        ------
        RefusedError
            If it is not ready, a file is bad, or rows were refused and are not to be skipped.
        """
        if load.state is not LoadState.READY or load.reading is None:
            raise RefusedError("web.load_not_ready")
        faults = load.reading.complaints if skip_bad else load.reading.all_complaints
        if faults:
            raise RefusedError("web.load_has_faults", count=len(faults))
        load.state, load.progress_share = LoadState.APPLYING, 0.0
        self._begin(load, lambda: _apply(self.desk, load, author))

    def drop(self, token: str) -> None:
        """Forget a load and its files; what was taken in stays."""
        load = self._loads.pop(token, None)
        if load is not None:
            load.is_dropped = True
            shutil.rmtree(load.folder, ignore_errors=True)

    def _begin(self, load: Load, work: Callable[[], None]) -> None:
        def run() -> None:
            with self._turn:
                try:
                    work()
                except DroppedError:
                    return
                except BroodsweepError as error:
                    load.state, load.trouble = LoadState.FAILED, error.message
                except Exception as error:
                    LOG.exception("A load failed unforeseen.", exc_info=error)
                    load.state, load.trouble = LoadState.FAILED, say("web.unforeseen")

        threading.Thread(target=run, name=f"load-{load.token[:6]}", daemon=True).start()


def _read(desk: Desk, load: Load) -> None:
    from broodsweep.register import plan_changes
    from broodsweep.tables import read_ground

    ground = desk.snapshot().ground
    # Bad rows are left out here so that the plan shows what the sound ones would do; `apply` asks again.
    load.reading = read_ground(
        load.files,
        table=load.table,
        mapping=load.mapping,
        skip_bad=True,
        base=ground,
        today=desk.today(),
        progress=load.report,
    )
    load.plan = plan_changes(load.reading.ground, ground, load.reading.given)
    load.state, load.progress_share = LoadState.READY, 1.0


def _apply(desk: Desk, load: Load, author: Author) -> None:
    from broodsweep.register import plan_changes

    if load.reading is None:
        raise ValueError("Expected a load that was read.")
    # Worked out anew: the record may have changed since the user looked.
    load.plan = plan_changes(load.reading.ground, desk.snapshot().ground, load.reading.given)
    load.changed_rows = loading.apply(desk, author, load.plan, load.mapping)
    load.state, load.progress_share = LoadState.DONE, 1.0


def put_aside(folder: Path, name: str, stream: BinaryIO) -> list[Path]:
    """Write one file into the folder, or unpack it there when it is a zip; return the files.

    Raises
    ------
    BroodsweepError
        If a zip cannot be read or would unpack to more than the limit.
    """
    target = folder / safe_name(name)
    with target.open("wb") as file:
        shutil.copyfileobj(stream, file, CHUNK)
    if target.suffix.casefold() != ".zip":
        return [target]
    try:
        return _unpack(target, folder)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError) as error:
        raise BroodsweepError("web.bad_zip", file=target.name) from error
    finally:
        target.unlink()


def _unpack(packed: Path, folder: Path) -> list[Path]:
    found = []
    left = UNPACKED_LIMIT
    with zipfile.ZipFile(packed) as bundle:
        for entry in bundle.infolist():
            name = safe_name(entry.filename)
            if entry.is_dir() or name.startswith((".", "__MACOSX")) or entry.filename.startswith("__MACOSX"):
                continue
            path = folder / name
            with bundle.open(entry) as source, path.open("wb") as file:
                # Counted while unpacking: the size that a zip states may be a lie.
                while piece := source.read(CHUNK):
                    left -= len(piece)
                    if left < 0:
                        raise BroodsweepError("web.zip_too_large", file=packed.name)
                    file.write(piece)
            found.append(path)
    return found


def safe_name(name: str) -> str:
    """Return a file's own name without any folder; never empty, never a hidden file's way up."""
    last = PurePath(name.replace("\\", "/")).name
    kept = "".join(letter for letter in last if letter.isprintable() and letter not in '<>:"|?*')
    return kept.strip(". ")[:120] or "table.csv"
