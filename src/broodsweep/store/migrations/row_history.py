"""Schema 2: the history of one row is found at once."""

from __future__ import annotations

from sqlalchemy import Connection


def index_row_history(connection: Connection) -> None:
    """Index the journal by table and key."""
    connection.exec_driver_sql("CREATE INDEX journal_by_row ON journal (table_name, key)")
