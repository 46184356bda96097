"""Schema 1: the register, the outbreaks, the settings, the journal."""

from __future__ import annotations

from sqlalchemy import Connection

from broodsweep.store.dialect import forbid_changes, words_of

_PLACE = """
    longitude {real} NOT NULL,
    latitude {real} NOT NULL,
    precision_m {real} NOT NULL,
    notation TEXT NOT NULL,
    place_text TEXT NOT NULL,
    easting {real},
    northing {real},
    epsg INTEGER NOT NULL,
    datum_accuracy_m {real} NOT NULL,
    datum_shift TEXT NOT NULL,
"""

_NAMES_APIARY = "REFERENCES apiaries (apiary) DEFERRABLE INITIALLY DEFERRED"

TABLES = (
    """CREATE TABLE migrations (
    version INTEGER NOT NULL PRIMARY KEY,
    name TEXT NOT NULL,
    at TEXT NOT NULL
) {plain}""",
    """CREATE TABLE keepers (
    keeper TEXT NOT NULL PRIMARY KEY,
    name TEXT,
    phone TEXT,
    email TEXT,
    address TEXT,
    registered_on TEXT,
    extra TEXT
) {keyed}""",
    f"""CREATE TABLE apiaries (
    apiary TEXT NOT NULL PRIMARY KEY,{_PLACE}    colonies INTEGER NOT NULL,
    keeper TEXT,
    kept_since TEXT,
    left_on TEXT,
    notes TEXT,
    extra TEXT
) {{keyed}}""",
    f"""CREATE TABLE moves (
    move TEXT NOT NULL PRIMARY KEY,
    moved_on TEXT NOT NULL,
    goods TEXT NOT NULL,
    from_apiary TEXT {_NAMES_APIARY},
    to_apiary TEXT {_NAMES_APIARY},
    quantity {{real}},
    extra TEXT
) {{keyed}}""",
    f"""CREATE TABLE visits (
    visit TEXT NOT NULL PRIMARY KEY,
    apiary TEXT NOT NULL {_NAMES_APIARY},
    visited_on TEXT NOT NULL,
    colonies_inspected INTEGER NOT NULL,
    colonies_confirmed INTEGER NOT NULL,
    colonies_present INTEGER,
    colonies_suspect INTEGER,
    inspector TEXT,
    purpose TEXT,
    disease TEXT,
    extra TEXT
) {{keyed}}""",
    f"""CREATE TABLE removals (
    removal TEXT NOT NULL PRIMARY KEY,
    apiary TEXT NOT NULL {_NAMES_APIARY},
    removed_on TEXT NOT NULL,
    disease TEXT NOT NULL,
    colonies INTEGER NOT NULL,
    how TEXT NOT NULL,
    extra TEXT
) {{keyed}}""",
    f"""CREATE TABLE inspectors (
    inspector TEXT NOT NULL PRIMARY KEY,{_PLACE}    name TEXT,
    works TEXT NOT NULL,
    day_start TEXT NOT NULL,
    day_end TEXT NOT NULL,
    extra TEXT
) {{keyed}}""",
    """CREATE TABLE lots (
    lot TEXT NOT NULL PRIMARY KEY,
    kit TEXT NOT NULL,
    expires_on TEXT NOT NULL,
    count INTEGER,
    extra TEXT
) {keyed}""",
    """CREATE TABLE outbreaks (
    outbreak TEXT NOT NULL PRIMARY KEY,
    disease TEXT NOT NULL,
    rulebook TEXT NOT NULL,
    opened_on TEXT NOT NULL,
    closed_on TEXT
) {keyed}""",
    f"""CREATE TABLE cases (
    case_key TEXT NOT NULL PRIMARY KEY,
    outbreak TEXT NOT NULL REFERENCES outbreaks (outbreak) DEFERRABLE INITIALLY DEFERRED,
    apiary TEXT NOT NULL {_NAMES_APIARY},
    position INTEGER NOT NULL,
    event_order TEXT
) {{keyed}}""",
    """CREATE TABLE events (
    event TEXT NOT NULL PRIMARY KEY,
    case_key TEXT NOT NULL REFERENCES cases (case_key) DEFERRABLE INITIALLY DEFERRED,
    position INTEGER NOT NULL,
    kind TEXT NOT NULL,
    happened_on TEXT NOT NULL,
    recorded_at TEXT NOT NULL,
    who TEXT NOT NULL,
    evidence TEXT,
    detail TEXT NOT NULL,
    UNIQUE (case_key, position)
) {keyed}""",
    """CREATE TABLE settings (
    name TEXT NOT NULL PRIMARY KEY,
    value TEXT NOT NULL
) {keyed}""",
    """CREATE TABLE journal (
    seq INTEGER NOT NULL PRIMARY KEY,
    at TEXT NOT NULL,
    device_at TEXT,
    who TEXT NOT NULL,
    device TEXT NOT NULL,
    what TEXT NOT NULL,
    table_name TEXT NOT NULL,
    key TEXT NOT NULL,
    before TEXT,
    after TEXT,
    note TEXT,
    previous_hash TEXT NOT NULL,
    hash TEXT NOT NULL
) {plain}""",
)

INDEXES = (
    "CREATE INDEX apiaries_by_keeper ON apiaries (keeper)",
    "CREATE INDEX apiaries_by_place ON apiaries (longitude, latitude)",
    "CREATE INDEX moves_by_from ON moves (from_apiary)",
    "CREATE INDEX moves_by_to ON moves (to_apiary)",
    "CREATE INDEX moves_by_day ON moves (moved_on)",
    "CREATE INDEX visits_by_apiary ON visits (apiary, visited_on)",
    "CREATE INDEX removals_by_apiary ON removals (apiary)",
    "CREATE INDEX cases_by_outbreak ON cases (outbreak)",
    "CREATE INDEX cases_by_apiary ON cases (apiary)",
)


def make_first_tables(connection: Connection) -> None:
    """Make every table and index; nothing may be changed in the journal or among the events."""
    words = words_of(connection)
    for table in TABLES:
        connection.exec_driver_sql(table.format_map(words))
    for index in INDEXES:
        connection.exec_driver_sql(index)
    forbid_changes(connection, "events", key="event")
    forbid_changes(connection, "journal", key="seq", numbered=True)
