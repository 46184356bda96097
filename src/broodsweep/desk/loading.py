"""Take a checked reading of tables into the record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.errors import BroodsweepError
from broodsweep.register import TABLES, Plan

MAPPINGS = "column_mappings"
"""Setting that keeps how a user's columns map to ours: {table: {theirs: ours}}."""


def remembered_mapping(desk: Desk, given: Sequence[str] = ()) -> dict[str, dict[str, str]]:
    """Return the remembered mapping of columns, with what was given now put over it.

    Parameters
    ----------
    desk
        The desk.
    given
        Texts like ``apiaries.colonies=Anzahl``.

    Raises
    ------
    BroodsweepError
        If a text has not that form, or names no table.
    """
    kept: Any = desk.snapshot().settings.get(MAPPINGS) or {}
    mapping = {table: dict(columns) for table, columns in kept.items()}
    names = {table.name for table in TABLES}
    for text in given:
        ours, _, theirs = text.partition("=")
        table, _, column = ours.partition(".")
        if not (theirs and column and table in names):
            raise BroodsweepError("desk.bad_mapping", text=text)
        mapping.setdefault(table, {})[theirs] = column
    return mapping


def apply(desk: Desk, author: Author, plan: Plan, mapping: Mapping[str, Mapping[str, str]]) -> int:
    """Save what a plan changes in one unit of work, remember the mapping; return how many rows changed."""
    changed = 0
    with desk.store.work(author, "load") as work:
        for table in plan.tables:
            changed += work.save(table.table, table.rows)
        if mapping and dict(mapping) != (desk.snapshot().settings.get(MAPPINGS) or {}):
            work.set(MAPPINGS, {name: dict(columns) for name, columns in mapping.items()})
    return changed
