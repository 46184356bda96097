"""What the migrations must say differently to each database; only SQLite is spoken so far."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import Connection

_WORDS: Mapping[str, Mapping[str, str]] = {
    "sqlite": {"real": "REAL", "plain": "STRICT", "keyed": "STRICT, WITHOUT ROWID"},
}


def words_of(connection: Connection) -> Mapping[str, str]:
    """Return the database's words for a 64-bit float and for the end of a table's definition.

    Raises
    ------
    ValueError
        If the database is not spoken.
    """
    name = connection.dialect.name
    if name not in _WORDS:
        raise ValueError(f"Expected a database out of {sorted(_WORDS)}, got {name!r}.")
    return _WORDS[name]


def forbid_changes(connection: Connection, table: str, *, key: str, numbered: bool = False) -> None:
    """Make the database refuse to change, drop or replace rows of a table.

    Parameters
    ----------
    connection
        Within the migration's transaction.
    table, key
        The table and its key column.
    numbered
        Also refuse a new row whose key is not the next whole number.
    """
    words_of(connection)
    # INSERT OR REPLACE would slip past the trigger on DELETE, so the insert is watched too
    bad_insert = (
        f"NEW.{key} <> (SELECT coalesce(max({key}), 0) + 1 FROM {table})"  # noqa: S608 our own names
        if numbered
        else f"EXISTS (SELECT 1 FROM {table} WHERE {key} = NEW.{key})"  # noqa: S608 our own names
    )
    _forbid(connection, table, "BEFORE UPDATE", bad_insert)


def forbid_changes_of(connection: Connection, table: str, *, key: str, columns: tuple[str, ...]) -> None:
    """Make the database refuse to drop or replace rows of a table, or to change these columns of them."""
    words_of(connection)
    bad_insert = f"EXISTS (SELECT 1 FROM {table} WHERE {key} = NEW.{key})"  # noqa: S608 our own names
    _forbid(connection, table, f"BEFORE UPDATE OF {', '.join(columns)}", bad_insert)


def _forbid(connection: Connection, table: str, update: str, bad_insert: str) -> None:
    for name, moment, condition in (
        ("unchanged", update, ""),
        ("undropped", "BEFORE DELETE", ""),
        ("unreplaced", "BEFORE INSERT", f" WHEN {bad_insert}"),
    ):
        connection.exec_driver_sql(
            f"CREATE TRIGGER {table}_{name} {moment} ON {table}{condition} "
            f"BEGIN SELECT raise(ABORT, '{table} is append-only'); END"
        )
