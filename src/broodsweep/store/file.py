"""The SQLite file itself: is it ours, is it whole, may it be written, how is it opened."""

from __future__ import annotations

import os
import sqlite3
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.pool import QueuePool

from broodsweep.errors import NotFoundError, TroubleError
from broodsweep.store.constants import APPLICATION_ID

_MAGIC = b"SQLite format 3\x00"
_HEADER_BYTES = 100
_READERS = 8  # connections kept; more are opened when more ask at once
_MORE_READERS = 56


@dataclass(frozen=True, kw_only=True)
class Access:
    """How the file can be opened: for writing, for reading, or for reading without its side files."""

    mode: str
    is_immutable: bool = False

    @property
    def is_read_only(self) -> bool:
        """Whether nothing may be written."""
        return self.mode == "ro"


def check_is_ours(path: Path) -> None:
    """Refuse a file that is no store of this program, by its header alone.

    Raises
    ------
    NotFoundError
        If there is no file.
    TroubleError
        If it is empty, cut short, no SQLite file or another program's.

    References
    ----------
    SQLite's database file format, section 1.3: page size at byte 16, change counter at 24, size in pages
    at 28 (valid when the counter at 92 equals the one at 24), application id at 68.
    """
    if not path.exists():
        raise NotFoundError("store.missing", path=str(path))
    if not path.is_file():
        raise TroubleError("store.not_a_file", path=str(path))
    with path.open("rb") as file:
        header = file.read(_HEADER_BYTES)
    size = path.stat().st_size
    if not header:
        raise TroubleError("store.empty_file", path=str(path))
    if not header.startswith(_MAGIC[: len(header)]):
        raise TroubleError("store.not_a_database", path=str(path))
    if len(header) < _HEADER_BYTES:
        raise TroubleError("store.truncated", path=str(path), bytes=size)
    (page_size,) = struct.unpack_from(">H", header, 16)
    changes, pages = struct.unpack_from(">II", header, 24)
    (application,) = struct.unpack_from(">I", header, 68)
    (valid_for,) = struct.unpack_from(">I", header, 92)
    if application != APPLICATION_ID:
        raise TroubleError("store.other_program", path=str(path))
    wanted = pages * (65536 if page_size == 1 else page_size)
    # pages still in the write-ahead log need not be in the file yet
    if changes == valid_for and size < wanted and not _size(_side(path, "-wal")):
        raise TroubleError("store.truncated", path=str(path), bytes=size)


def access_to(path: Path) -> Access:
    """Say how the file can be opened.

    Raises
    ------
    TroubleError
        If it may not be written and has changes in its write-ahead log that then cannot be read.
    """
    may_write = os.access(path, os.W_OK)
    may_write_beside = os.access(path.parent, os.W_OK)
    if may_write and may_write_beside:
        return Access(mode="rw")
    if may_write_beside:
        return Access(mode="ro")
    if _size(_side(path, "-wal")):
        if _side(path, "-shm").exists():
            return Access(mode="ro")
        raise TroubleError("store.unread_log", path=str(path), log=str(_side(path, "-wal")))
    return Access(mode="ro", is_immutable=True)


def reading_access_to(path: Path) -> Access:
    """Say how the file can be opened by someone who will not write it."""
    return Access(mode="ro", is_immutable=access_to(path).is_immutable)


def connect(path: Path, access: Access, wait_s: float) -> sqlite3.Connection:
    """Open one connection with the settings that every connection has."""
    uri = f"file:{quote(str(path.absolute()))}?mode={access.mode}" + "&immutable=1" * access.is_immutable
    # isolation_level None: transactions begin and end where we say, not where the driver guesses
    connection = sqlite3.connect(uri, uri=True, timeout=wait_s, isolation_level=None, check_same_thread=False)
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA trusted_schema = OFF")
    connection.execute("PRAGMA query_only = ON" if access.is_read_only else "PRAGMA query_only = OFF")
    return connection


def make_engine(path: Path, access: Access, wait_s: float) -> Engine:
    """Return an engine whose transactions begin as the option ``begin`` says: DEFERRED or IMMEDIATE."""
    engine = create_engine(
        "sqlite+pysqlite://",
        creator=lambda: connect(path, access, wait_s),
        poolclass=QueuePool,
        pool_size=_READERS,
        max_overflow=_MORE_READERS,
        pool_timeout=wait_s,
    )

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        kind = connection.get_execution_options().get("begin", "DEFERRED")
        connection.exec_driver_sql(f"BEGIN {kind}")

    return engine


def use_write_ahead_log(engine: Engine, path: Path) -> None:
    """Set the file to its write-ahead log, so that readers and the writer do not wait for each other.

    Raises
    ------
    TroubleError
        If the file system cannot do it (some network drives).
    """
    raw = engine.raw_connection()
    try:
        driver: Any = raw.driver_connection
        mode = driver.execute("PRAGMA journal_mode = WAL").fetchone()[0]
    finally:
        raw.close()
    if mode != "wal":
        raise TroubleError("store.no_log", path=str(path), mode=mode)


def log_bytes(path: Path) -> int:
    """Size of the write-ahead log. [byte]"""
    return _size(_side(path, "-wal"))


def side_files(path: Path) -> tuple[Path, Path]:
    """Names of the write-ahead log and of its index."""
    return _side(path, "-wal"), _side(path, "-shm")


def name_once(draft: Path, path: Path) -> None:
    """Give a finished file its name unless another has it; the draft may stay."""
    try:
        os.link(draft, path)  # unlike a rename, it does not overwrite what another desk made meanwhile
    except FileExistsError:
        return
    except OSError:  # a file system without hard links
        if not path.exists():
            draft.replace(path)
    sync_folder(path.parent)


def discard(draft: Path) -> None:
    """Take an unfinished file away, with what SQLite may have left beside it."""
    for ending in ("", "-journal", "-wal", "-shm"):
        _side(draft, ending).unlink(missing_ok=True)


def sync_folder(folder: Path) -> None:
    """Have the folder's list of names on disk, so that a rename outlives a power cut."""
    if os.name == "nt":  # pragma: no cover - Windows cannot open a folder
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_file(path: Path) -> None:
    """Have the file's content on disk."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _side(path: Path, ending: str) -> Path:
    return path.with_name(path.name + ending)


def _size(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0
