"""The tables as they are at the newest schema version: names and columns for portable statements.

The file itself is made by the migrations; a test holds the two together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Column, Double, Integer, MetaData, Table, Text

METADATA = MetaData()

_PLACE = (
    "longitude",
    "latitude",
    "precision_m",
    "notation",
    "place_text",
    "easting",
    "northing",
    "epsg",
    "datum_accuracy_m",
    "datum_shift",
)

_NUMBERS = {"colonies", "colonies_present", "colonies_inspected", "colonies_suspect", "colonies_confirmed"}
_NUMBERS |= {"count", "epsg", "position", "seq", "number", "bytes"}
_REALS = {"longitude", "latitude", "precision_m", "easting", "northing", "datum_accuracy_m", "quantity"}


@dataclass(frozen=True)
class Shape:
    """A journalled table: its name, its columns (the first is the key) and which of them hold JSON.

    Of ``digested`` columns the journal keeps the SHA-256 and not the text: it is long, and never changes.
    """

    name: str
    columns: tuple[str, ...]
    json: frozenset[str] = frozenset({"extra"})
    digested: frozenset[str] = frozenset()

    @property
    def key(self) -> str:
        """Name of the column that is the key."""
        return self.columns[0]


SHAPES: dict[str, Shape] = {
    shape.name: shape
    for shape in (
        Shape("keepers", ("keeper", "name", "phone", "email", "address", "registered_on", "extra")),
        Shape(
            "apiaries",
            ("apiary", *_PLACE, "colonies", "keeper", "kept_since", "left_on", "notes", "extra"),
        ),
        Shape("moves", ("move", "moved_on", "goods", "from_apiary", "to_apiary", "quantity", "extra")),
        Shape(
            "visits",
            (
                "visit",
                "apiary",
                "visited_on",
                "colonies_inspected",
                "colonies_confirmed",
                "colonies_present",
                "colonies_suspect",
                "inspector",
                "purpose",
                "disease",
                "extra",
            ),
        ),
        Shape("removals", ("removal", "apiary", "removed_on", "disease", "colonies", "how", "extra")),
        Shape("inspectors", ("inspector", *_PLACE, "name", "works", "day_start", "day_end", "extra")),
        Shape("lots", ("lot", "kit", "expires_on", "count", "extra")),
        Shape("outbreaks", ("outbreak", "disease", "rulebook", "opened_on", "closed_on")),
        Shape(
            "cases", ("case_key", "outbreak", "apiary", "position", "event_order"), frozenset({"event_order"})
        ),
        Shape(
            "events",
            (
                "event",
                "case_key",
                "position",
                "kind",
                "happened_on",
                "recorded_at",
                "who",
                "evidence",
                "detail",
            ),
            frozenset({"detail"}),
        ),
        Shape("settings", ("name", "value"), frozenset({"value"})),
        Shape(
            "lines",
            (
                *("key", "content", "delivered_by", "who", "arrived_at", "state", "why"),
                *("line", "device", "number", "visit", "apiary", "kind"),
            ),
            frozenset({"why"}),
            frozenset({"content"}),
        ),
        Shape("photos", ("photo", "bytes", "arrived_at", "delivered_by")),
        Shape("refusals", ("refusal", "visit", "what", "happened_on", "why"), frozenset({"why"})),
    )
}
"""Every journalled table by name."""

JOURNAL_COLUMNS = (
    "seq",
    "at",
    "device_at",
    "who",
    "device",
    "what",
    "table_name",
    "key",
    "before",
    "after",
    "note",
    "previous_hash",
    "hash",
)
"""Columns of the journal; the hash covers all but itself, in this order."""


@dataclass(frozen=True)
class Link:
    """A column whose value is the key of a row in another table."""

    child: str
    column: str
    parent: str


LINKS = (
    Link("moves", "from_apiary", "apiaries"),
    Link("moves", "to_apiary", "apiaries"),
    Link("visits", "apiary", "apiaries"),
    Link("removals", "apiary", "apiaries"),
    Link("cases", "apiary", "apiaries"),
    Link("cases", "outbreak", "outbreaks"),
    Link("events", "case_key", "cases"),
)
"""What refers to what. Keepers and inspectors may be named without being on a list of their own."""


def _column(name: str, *, is_key: bool) -> Column[object]:
    kind: Any = Integer() if name in _NUMBERS else Double() if name in _REALS else Text()
    return Column(name, kind, primary_key=is_key)


TABLES: dict[str, Table] = {
    name: Table(name, METADATA, *(_column(c, is_key=c == shape.key) for c in shape.columns))
    for name, shape in SHAPES.items()
}
"""The journalled tables for SQLAlchemy's statements."""

JOURNAL = Table("journal", METADATA, *(_column(name, is_key=name == "seq") for name in JOURNAL_COLUMNS))
MIGRATIONS = Table(
    "migrations",
    METADATA,
    Column("version", Integer, primary_key=True),
    Column("name", Text),
    Column("at", Text),
)
