"""The file of those who are let in: its tables, and transactions on it.

It is not the record's file, so that the record can be backed up and handed on without anybody's secrets.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import (
    URL,
    Column,
    Connection,
    Engine,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    create_engine,
    event,
    insert,
)
from sqlalchemy.exc import OperationalError

from broodsweep.errors import TroubleError

METADATA = MetaData()
VERSION = 1
BUSY_MS = 5_000

PEOPLE = Table(
    "people",
    METADATA,
    Column("name", Text, primary_key=True),
    Column("role", Text, nullable=False),
    Column("inspector", Text),
    Column("password", Text),
    Column("added_at", Text, nullable=False),
    Column("retired_at", Text),
    sqlite_strict=True,
)
PASSKEYS = Table(
    "passkeys",
    METADATA,
    Column("passkey", LargeBinary, primary_key=True),
    Column("name", Text, nullable=False),
    Column("label", Text, nullable=False),
    Column("public_key", LargeBinary, nullable=False),
    Column("used", Integer, nullable=False),
    Column("added_at", Text, nullable=False),
    sqlite_strict=True,
)
SESSIONS = Table(
    "sessions",
    METADATA,
    Column("token_hash", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("page_token", Text, nullable=False),
    Column("made_at", Text, nullable=False),
    Column("seen_at", Text, nullable=False),
    sqlite_strict=True,
)
CODES = Table(
    "codes",
    METADATA,
    Column("code_hash", Text, primary_key=True),
    Column("opens", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("until_at", Text, nullable=False),
    Column("used_at", Text),
    sqlite_strict=True,
)
DEVICES = Table(
    "devices",
    METADATA,
    Column("device", Text, primary_key=True),
    Column("label", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("token_hash", Text, nullable=False, unique=True),
    Column("seal_key", Text, nullable=False),
    Column("sign_key", Text, nullable=False),
    Column("enrolled_at", Text, nullable=False),
    Column("seen_at", Text),
    Column("revoked_at", Text),
    Column("wipe_asked_at", Text),
    Column("wiped_at", Text),
    sqlite_strict=True,
)
ACTS = Table(
    "acts",
    METADATA,
    Column("seq", Integer, primary_key=True),
    Column("at", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("about", Text, nullable=False),
    sqlite_strict=True,
)


def written(at: datetime) -> str:
    """Return an instant as the file keeps it: UTC, to the microsecond, in order as text."""
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def instant(kept: str | None) -> datetime | None:
    """Return what `written` was given."""
    return None if kept is None else datetime.fromisoformat(kept)


class AccessFile:
    """Transactions on the file; made by `open_file`.

    Parameters
    ----------
    engine
        Gives connections to it.
    now
        The clock.
    path
        The file, None in memory.
    """

    def __init__(self, engine: Engine, now: Callable[[], datetime], path: Path | None) -> None:
        self.engine, self.now, self.path = engine, now, path

    @contextmanager
    def change(self) -> Iterator[Connection]:
        """Open a transaction that writes: kept when the block ends, undone when it raises.

        Raises
        ------
        TroubleError
            If the file is busy, may not be written or the disk is full.
        """
        try:
            with self.engine.begin() as connection:
                yield connection
        except OperationalError as error:
            raise TroubleError("access.file_trouble", path=str(self.path), said=str(error.orig)) from error

    def rows(self, statement: Any) -> list[Any]:
        """Return what a question finds."""
        with self.engine.connect() as connection:
            return list(connection.execute(statement).all())

    def note(self, connection: Connection, who: str, what: str, about: str) -> None:
        """Write down an act: who let whom in or out."""
        connection.execute(insert(ACTS).values(at=written(self.now()), who=who, what=what, about=about))

    def close(self) -> None:
        """Let go of the file."""
        self.engine.dispose()


def open_file(path: Path | None, *, now: Callable[[], datetime]) -> AccessFile:
    """Open the file, making it (readable by its owner alone) where it is not there; None keeps it in memory.

    Raises
    ------
    TroubleError
        If the file was written by a newer version, or cannot be opened.
    """
    if path is None:
        from sqlalchemy.pool import StaticPool

        engine = create_engine("sqlite://", poolclass=StaticPool, connect_args={"check_same_thread": False})
    else:
        try:
            os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
            path.chmod(0o600)
        except OSError as error:
            raise TroubleError("access.file_trouble", path=str(path), said=str(error)) from error
        engine = create_engine(URL.create("sqlite", database=str(path)))
    event.listen(engine, "connect", _prepare)
    file = AccessFile(engine, now, path)
    with file.change() as connection:
        found = int(connection.exec_driver_sql("PRAGMA user_version").scalar() or 0)
        if found > VERSION:
            raise TroubleError("access.file_newer", path=str(path), found=found, known=VERSION)
        METADATA.create_all(connection)
        connection.exec_driver_sql(f"PRAGMA user_version = {VERSION}")
    return file


def _prepare(connection: Any, _record: Any) -> None:
    cursor = connection.cursor()
    for setting in (f"busy_timeout = {BUSY_MS}", "journal_mode = WAL", "synchronous = FULL"):
        cursor.execute(f"PRAGMA {setting}")
    cursor.close()
