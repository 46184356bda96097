"""Schema 3: lines of the field book, photos that are whole, effects that were refused."""

from __future__ import annotations

from sqlalchemy import Connection

from broodsweep.store.dialect import forbid_changes_of, words_of

TABLES = (
    """CREATE TABLE lines (
    key TEXT NOT NULL PRIMARY KEY,
    content TEXT NOT NULL,
    delivered_by TEXT NOT NULL,
    who TEXT NOT NULL,
    arrived_at TEXT NOT NULL,
    state TEXT NOT NULL,
    why TEXT,
    line TEXT,
    device TEXT,
    number INTEGER,
    visit TEXT,
    apiary TEXT,
    kind TEXT
) {plain}""",
    """CREATE TABLE photos (
    photo TEXT NOT NULL PRIMARY KEY,
    bytes INTEGER NOT NULL,
    arrived_at TEXT NOT NULL,
    delivered_by TEXT NOT NULL
) {keyed}""",
    """CREATE TABLE refusals (
    refusal TEXT NOT NULL PRIMARY KEY,
    visit TEXT NOT NULL,
    what TEXT NOT NULL,
    happened_on TEXT,
    why TEXT NOT NULL
) {keyed}""",
)

INDEXES = (
    "CREATE INDEX lines_by_visit ON lines (visit)",
    "CREATE INDEX lines_by_name ON lines (line)",
    "CREATE INDEX lines_by_kind ON lines (kind)",
    "CREATE INDEX lines_by_state ON lines (state)",
    "CREATE INDEX lines_by_arrival ON lines (arrived_at)",
    "CREATE INDEX refusals_by_visit ON refusals (visit)",
)
UNCHANGED = (
    *("key", "content", "delivered_by", "who", "arrived_at"),
    *("line", "device", "number", "visit", "apiary", "kind"),
)


def make_field_tables(connection: Connection) -> None:
    """Make the tables; of a line only what the desk makes of it may change, and none may go."""
    words = words_of(connection)
    for table in TABLES:
        connection.exec_driver_sql(table.format_map(words))
    for index in INDEXES:
        connection.exec_driver_sql(index)
    forbid_changes_of(connection, "lines", key="key", columns=UNCHANGED)
