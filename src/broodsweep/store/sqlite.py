"""The store on one SQLite file."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from threading import Lock, get_ident
from types import TracebackType
from typing import Any, TypeVar

from sqlalchemy import Connection, Engine

from broodsweep.desk import field_ports, ports
from broodsweep.errors import TroubleError
from broodsweep.outbreak import Outbreak
from broodsweep.register import Ground
from broodsweep.store.chain import link
from broodsweep.store.constants import WAIT
from broodsweep.store.field_statements import (
    read_heard,
    read_lines,
    read_photos,
    read_refusals,
    read_visits_heard,
)
from broodsweep.store.lock import StoreLock
from broodsweep.store.photos import PhotoFiles, photo_folder
from broodsweep.store.statements import (
    TableRows,
    append_entries,
    read_ground,
    read_head,
    read_journal,
    read_outbreaks,
    read_record,
    read_settings,
    read_version,
)
from broodsweep.store.trouble import in_words
from broodsweep.store.work import RecordWork
from broodsweep.words import Message, say

_Answer = TypeVar("_Answer")


class SqliteStore:
    """Fulfils `ports.Store`; made by `open_store`, safe to use from many threads and processes.

    Parameters
    ----------
    path
        The file.
    engine
        Gives connections to it.
    lock
        The share of the file that is held until `close`; None where no lock file could be written.
    now
        The clock, for the journal's instants.
    is_read_only
        Whether the file may only be read.
    wait_s
        How long a writer waits for another. [s]
    """

    def __init__(
        self,
        *,
        path: Path,
        engine: Engine,
        lock: StoreLock | None,
        now: Callable[[], datetime],
        is_read_only: bool,
        wait_s: float = WAIT.value,
    ) -> None:
        self.path = path
        self.engine = engine
        self.now = now
        self.is_read_only = is_read_only
        self._lock = lock
        self._wait_s = wait_s
        self._turn = Lock()
        self._writer: int | None = None
        self._newest: ports.Record | None = None
        self.photos: field_ports.Photos = PhotoFiles(photo_folder(path))

    @property
    def notice(self) -> Message | None:
        """What a user should know of how the file is open; None when all is as usual."""
        return say("store.reading_only", path=str(self.path)) if self.is_read_only else None

    def version(self) -> int:
        """Number of the last change: equal numbers mean equal content."""
        return self._read(read_version)

    def ground(self) -> Ground:
        """Everything in the register tables, each table in order of its key."""
        return self._read(read_ground)

    def outbreaks(self) -> tuple[Outbreak, ...]:
        """Every outbreak with its cases and events, in order of its name."""
        return self._read(read_outbreaks)

    def settings(self) -> dict[str, Any]:
        """Every setting by name."""
        return self._read(read_settings)

    def record(self) -> ports.Record:
        """Version, ground, outbreaks and settings out of one read transaction."""
        before = self._newest
        self._newest = self._read(lambda connection: read_record(connection, before))
        return self._newest

    def journal(
        self, *, after: int = 0, limit: int = 1000, table: str | None = None, key: str | None = None
    ) -> tuple[ports.JournalEntry, ...]:
        """Changes in order, from the one behind ``after``; of one table, or of one row, when named."""
        return self._read(
            lambda connection: read_journal(connection, after=after, limit=limit, table=table, key=key)
        )

    def lines(
        self,
        *,
        visits: Iterable[str] | None = None,
        names: Iterable[str] | None = None,
        keys: Iterable[str] | None = None,
        kinds: Iterable[str] | None = None,
        states: Iterable[field_ports.LineState] | None = None,
    ) -> tuple[field_ports.KeptLine, ...]:
        """Lines of the field book that fit everything given, in order of their key."""
        wanted = {"visit": visits, "line": names, "key": keys, "kind": kinds, "state": states}
        return self._read(lambda connection: read_lines(connection, wanted))

    def visits_heard(self, since: datetime) -> tuple[str, ...]:
        """Visits of which a line arrived since then, in order of their names."""
        return self._read(lambda connection: read_visits_heard(connection, since))

    def heard(self) -> tuple[field_ports.Heard, ...]:
        """What was heard of each phone that ever brought a line."""
        return self._read(read_heard)

    def refusals(self, visits: Iterable[str] | None = None) -> tuple[field_ports.Refusal, ...]:
        """Refusals that stand, of these visits or of all."""
        return self._read(lambda connection: read_refusals(connection, visits))

    def kept_photos(self, photos: Iterable[str]) -> tuple[field_ports.KeptPhoto, ...]:
        """Those of the photos that are whole here."""
        return self._read(lambda connection: read_photos(connection, photos))

    @contextmanager
    def work(self, author: ports.Author, what: str) -> Iterator[ports.Work]:
        """Open a unit of work: on disk when the block ends, rolled back when it raises.

        Raises
        ------
        TroubleError
            If the file is busy, may not be written or the disk is full; nothing was saved then.
        DanglingError
            If a row names a row that is not there; nothing was saved then.
        """
        if self.is_read_only:
            raise TroubleError("store.read_only", path=str(self.path), folder=str(self.path.parent))
        with self._my_turn(), in_words(self.path, self._wait_s), self.engine.connect() as connection:
            connection.execution_options(begin="IMMEDIATE")
            with connection.begin():
                work = RecordWork(TableRows(connection))
                yield work
                work.finish()
                if work.changes:
                    head = read_head(connection)
                    entries = link(head, work.changes, author=author, what=what, clock=self.now())
                    append_entries(connection, entries)

    def close(self) -> None:
        """Let go of the file; the last to leave folds the write-ahead log into it."""
        self.engine.dispose()
        if self._lock is not None:
            self._lock.release()

    def __enter__(self) -> SqliteStore:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def _my_turn(self) -> Iterator[None]:
        # SQLite's own waiting is not fair between threads, so those of one desk queue up here
        if self._writer == get_ident():
            raise ValueError("Expected one work at a time, got one inside another.")
        if not self._turn.acquire(timeout=self._wait_s):
            raise TroubleError("store.busy", path=str(self.path), seconds=self._wait_s)
        self._writer = get_ident()
        try:
            yield
        finally:
            self._writer = None
            self._turn.release()

    def _read(self, question: Callable[[Connection], _Answer]) -> _Answer:
        with in_words(self.path, self._wait_s), self.engine.connect() as connection, connection.begin():
            return question(connection)
