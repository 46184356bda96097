"""What the desk needs from outside: a store, a source of risk. Fulfilled by `store`, joined in `bootstrap`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from broodsweep.outbreak import Outbreak
from broodsweep.register import Ground, Row

Progress = Callable[[float], None]
"""Called with the share done, 0 to 1; raising from it stops the work without loss."""


@dataclass(frozen=True, kw_only=True)
class Author:
    """Who makes a change, from which device."""

    who: str
    device: str = "desk"


@dataclass(frozen=True, kw_only=True)
class JournalEntry:
    """One change, as the journal keeps it."""

    seq: int
    at: datetime
    who: str
    device: str
    what: str
    table: str
    key: str
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None
    hash: str


class Work(Protocol):
    """One use case's changes: all of them or none."""

    def save(self, table: str, rows: Iterable[Row]) -> int:
        """Insert or replace rows of a register table by key; return how many changed anything."""
        ...

    def remove(self, table: str, keys: Iterable[str]) -> int:
        """Take rows out of a register table (the journal keeps them); return how many were there."""
        ...

    def save_outbreak(self, outbreak: Outbreak) -> None:
        """Insert or replace an outbreak with its cases and events."""
        ...

    def set(self, name: str, value: Any) -> None:
        """Keep a setting (any JSON value); None takes it out."""
        ...


class Store(Protocol):
    """Where the record is kept."""

    def version(self) -> int:
        """Number of the last change: equal numbers mean equal content."""
        ...

    def ground(self) -> Ground:
        """Everything in the register tables, each table in order of its key."""
        ...

    def outbreaks(self) -> tuple[Outbreak, ...]:
        """Every outbreak with its cases and events, in order of its name."""
        ...

    def settings(self) -> dict[str, Any]:
        """Every setting by name."""
        ...

    def journal(self, *, after: int = 0, limit: int = 1000) -> tuple[JournalEntry, ...]:
        """Changes in order, from the one behind ``after``."""
        ...

    def work(self, author: Author, what: str) -> AbstractContextManager[Work]:
        """Open a unit of work: committed when the block ends, rolled back when it raises.

        ``what`` names the use case for the journal, for example ``open_outbreak``.
        """
        ...
