"""The steps that bring a file to the newest schema: append-only, numbers never reused."""

from __future__ import annotations

from broodsweep.store.migrations.field_book import make_field_tables
from broodsweep.store.migrations.first_tables import make_first_tables
from broodsweep.store.migrations.row_history import index_row_history
from broodsweep.store.migrations.steps import Migration, schema_version, upgrade

MIGRATIONS: tuple[Migration, ...] = (
    Migration(1, "first_tables", make_first_tables),
    Migration(2, "row_history", index_row_history),
    Migration(3, "field_book", make_field_tables),
)
"""Every step in order; a released one is never changed, only followed by another."""

__all__ = ["MIGRATIONS", "Migration", "schema_version", "upgrade"]
