"""What a migration is and how the missing ones are run."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, func, insert, inspect, select

from broodsweep.store.canonical import instant_text
from broodsweep.store.schema import MIGRATIONS as RECORDS


@dataclass(frozen=True)
class Migration:
    """One step of the schema; ``run`` does it within a transaction that it neither begins nor ends.

    A step that changes rows of a journalled table must journal those changes too, or the tables would no
    longer be what the journal replays to.
    """

    version: int
    name: str
    run: Callable[[Connection], None]


def schema_version(connection: Connection) -> int:
    """Return the number of the last step that was done, 0 for a file without tables."""
    if not inspect(connection).has_table(RECORDS.name):
        return 0
    return connection.execute(select(func.max(RECORDS.c.version))).scalar() or 0


def upgrade(
    begin: Callable[[], Connection], migrations: Sequence[Migration], now: Callable[[], datetime]
) -> None:
    """Run the steps that are missing, each in a transaction of its own together with its record.

    Parameters
    ----------
    begin
        Gives a connection that is in a write transaction.
    migrations
        Steps in order of version.
    now
        The clock, for the records.
    """
    for migration in migrations:
        connection = begin()
        with connection:
            # asked again inside the transaction: another desk may have done the step meanwhile
            if schema_version(connection) < migration.version:
                migration.run(connection)
                record = {"version": migration.version, "name": migration.name, "at": instant_text(now())}
                connection.execute(insert(RECORDS), record)
            connection.commit()
