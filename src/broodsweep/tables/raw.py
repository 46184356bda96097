"""A table as it stands in a file, before anything is understood."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from broodsweep.words import Message


class RawRow(NamedTuple):
    """One row: its number in the file, its cells, and what is wrong with its shape (None when nothing is)."""

    line: int
    cells: Sequence[object]
    complaint: tuple[Message, Message] | None = None


@dataclass(frozen=True, kw_only=True)
class RawTable:
    """A header and the rows under it, read one by one.

    ``has_guards`` says whether text may stand behind a guard against formulas. ``done`` tells the share of the file that has been read; ``close`` lets go of the file.
    """

    header: tuple[str, ...]
    header_line: int
    rows: Iterator[RawRow]
    done: Callable[[], float]
    close: Callable[[], None]
    notes: tuple[Message, ...] = ()
    has_guards: bool = True


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A table found in a source and not yet opened; ``weight`` is its size in bytes, for progress."""

    table: str
    file: str
    weight: int
    open: Callable[[], RawTable]
