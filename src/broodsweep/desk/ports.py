"""What the desk needs from outside: a store, a source of risk. Fulfilled by `store`, joined in `bootstrap`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Protocol

from broodsweep.constants import Disease
from broodsweep.desk.field_ports import Heard, KeptLine, KeptPhoto, LineState, Photos, Refusal
from broodsweep.errors import RefusedError
from broodsweep.outbreak import Outbreak
from broodsweep.register import Ground, Row
from broodsweep.words import Message

Progress = Callable[[float], None]
"""Called with the share done, 0 to 1; raising from it stops the work without loss."""


@dataclass(frozen=True, kw_only=True)
class Author:
    """Who makes a change, from which device."""

    who: str
    device: str = "desk"


class EventKeptError(RefusedError):
    """An event of a case was to be changed or dropped; events are only ever added."""


class DanglingError(RefusedError):
    """A row would name a row that is not there, or a row that others name would go."""


@dataclass(frozen=True, kw_only=True)
class JournalEntry:
    """One change, as the journal keeps it.

    ``at`` never goes backwards. When the device's clock stood before the last entry, ``at`` repeats that
    entry's instant, ``device_at`` holds what the clock said and ``note`` is ``clock_set_back``; otherwise
    both are None. ``before`` is None for a row that is new, ``after`` for one that went.
    """

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
    previous_hash: str = ""
    device_at: datetime | None = None
    note: str | None = None


@dataclass(frozen=True, kw_only=True)
class Record:
    """The whole record at one version, read in one go so that its parts belong together."""

    version: int
    ground: Ground
    outbreaks: tuple[Outbreak, ...]
    settings: Mapping[str, Any]


@dataclass(frozen=True, kw_only=True)
class RiskLine:
    """What a statistical run says of an apiary; without a figure when the disease was found there (``is_found``)."""

    probability: float | None
    low: float | None
    high: float | None
    reasons: tuple[Message, ...]
    is_found: bool = False


@dataclass(frozen=True, kw_only=True)
class RiskFigures:
    """What is known of a disease on a day, by apiary; empty, with the reason in ``method``, when the rule must do.

    ``is_trusted`` is False when the figures may not stand by themselves: only their ranges are shown then.
    """

    method: Message
    is_trusted: bool = True
    lines: Mapping[str, RiskLine] = field(default_factory=dict)


class Risk(Protocol):
    """Where the figures of a sweep list come from, beside the documented rule."""

    def figures(self, disease: Disease, on: date) -> RiskFigures:
        """Return what is known of a disease on a day, at once; nothing is waited for."""
        ...


class Work(Protocol):
    """One use case's changes: all of them or none.

    What rows refer to is checked when the work ends, so the order of the calls does not matter: moves,
    visits, removals and cases name apiaries that exist, else `DanglingError`.
    """

    def save(self, table: str, rows: Iterable[Row]) -> int:
        """Insert or replace rows of a register table by key; return how many changed anything.

        Of rows with the same key the last one counts.
        """
        ...

    def remove(self, table: str, keys: Iterable[str]) -> int:
        """Take rows out of a register table (the journal keeps them); return how many were there."""
        ...

    def save_outbreak(self, outbreak: Outbreak) -> None:
        """Insert or replace an outbreak and its cases; events are only ever added.

        Raises
        ------
        EventKeptError
            If an event that is on record is missing or differs, or belongs to another case.
        """
        ...

    def set(self, name: str, value: Any) -> None:
        """Keep a setting (any JSON value); None takes it out."""
        ...

    def keep_lines(self, rows: Iterable[KeptLine]) -> int:
        """Keep lines of the field book, or change what the desk makes of them; return how many changed.

        Raises
        ------
        ValueError
            If a line of that key is here with another content: lines are only ever added.
        """
        ...

    def keep_photo(self, row: KeptPhoto) -> None:
        """Note that a photo is whole here."""
        ...

    def keep_refusals(self, visits: Iterable[str], rows: Iterable[Refusal]) -> int:
        """Put these in the place of whatever refusals the visits had; return how many changed."""
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

    def record(self) -> Record:
        """Version, ground, outbreaks and settings together, untorn by whoever writes meanwhile."""
        ...

    def journal(
        self, *, after: int = 0, limit: int = 1000, table: str | None = None, key: str | None = None
    ) -> tuple[JournalEntry, ...]:
        """Changes in order, from the one behind ``after``; of one table, or of one row, when named."""
        ...

    def work(self, author: Author, what: str) -> AbstractContextManager[Work]:
        """Open a unit of work: committed when the block ends, rolled back when it raises.

        ``what`` names the use case for the journal, for example ``open_outbreak``. When the block has
        ended, the changes are on disk. Works follow one another; one inside another is a mistake.

        Raises
        ------
        TroubleError
            If the file is busy, may not be written or the disk is full; nothing was saved then.
        DanglingError
            If a row names a row that is not there; nothing was saved then.
        """
        ...

    def lines(
        self,
        *,
        visits: Iterable[str] | None = None,
        names: Iterable[str] | None = None,
        keys: Iterable[str] | None = None,
        kinds: Iterable[str] | None = None,
        states: Iterable[LineState] | None = None,
    ) -> tuple[KeptLine, ...]:
        """Lines of the field book that fit everything given, in order of their key."""
        ...

    def visits_heard(self, since: datetime) -> tuple[str, ...]:
        """Visits of which a line arrived since then, in order of their names."""
        ...

    def heard(self) -> tuple[Heard, ...]:
        """What was heard of each phone that ever brought a line."""
        ...

    def refusals(self, visits: Iterable[str] | None = None) -> tuple[Refusal, ...]:
        """Refusals that stand, of these visits or of all."""
        ...

    def kept_photos(self, photos: Iterable[str]) -> tuple[KeptPhoto, ...]:
        """Those of the photos that are whole here."""
        ...

    @property
    def photos(self) -> Photos:
        """Where the bytes of photos are."""
        ...
