"""What loading rows would change: new, changed field by field, the same. Rows not among them are left alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from broodsweep.register.columns import PLACE_COLUMN
from broodsweep.register.model import TABLES, Extra, Ground, Row


@dataclass(frozen=True, kw_only=True)
class FieldChange:
    """One field of a row, before and after."""

    field: str
    before: object
    after: object


@dataclass(frozen=True, kw_only=True)
class Change:
    """A row that is on the register and would become another."""

    key: str
    before: Row
    after: Row
    fields: tuple[FieldChange, ...]


@dataclass(frozen=True, kw_only=True)
class TablePlan:
    """What would change in one table; ``same`` counts rows that say what the register says already."""

    table: str
    new: tuple[Row, ...]
    changed: tuple[Change, ...]
    same: int

    @property
    def rows(self) -> tuple[Row, ...]:
        """Rows to save."""
        return self.new + tuple(change.after for change in self.changed)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What loading would change, table by table in the order in which they are saved."""

    tables: tuple[TablePlan, ...]

    @property
    def is_empty(self) -> bool:
        """Say whether loading would change nothing."""
        return not any(table.new or table.changed for table in self.tables)


def plan_changes(coming: Ground, base: Ground, given: Mapping[str, frozenset[str]] | None = None) -> Plan:
    """Return what would change if the rows of ``coming`` were saved over ``base``.

    Parameters
    ----------
    coming
        The rows as read.
    base
        The register as it stands.
    given
        Table → the columns (ours, and headers of extra ones) that the tables had. A column that was not
        there changes nothing; a blank cell empties the field. None: every column was there.
    """
    return Plan(
        tables=tuple(
            _plan_table(
                t.name, t.key, getattr(coming, t.name), getattr(base, t.name), (given or {}).get(t.name)
            )
            for t in TABLES
        )
    )


def _plan_table(
    table: str, key: str, coming: Iterable[Row], base: Iterable[Row], given: frozenset[str] | None
) -> TablePlan:
    have: dict[str, Row] = {getattr(row, key): row for row in base}
    new: list[Row] = []
    changed: list[Change] = []
    same = 0
    for row in coming:
        name = getattr(row, key)
        before = have.get(name)
        if before is None:
            new.append(row)
            continue
        after = row if given is None else filled(table, row, before, given)
        if after == before:
            same += 1
        else:
            changed.append(Change(key=name, before=before, after=after, fields=_fields(before, after)))
    return TablePlan(table=table, new=tuple(new), changed=tuple(changed), same=same)


def filled(table: str, row: Row, before: Row, given: frozenset[str]) -> Row:
    """Return the row with what the register has in the columns that the table did not have."""
    place = PLACE_COLUMN.get(table)
    kept: dict[str, Any] = {
        name: getattr(before, name)
        for name in row.__dataclass_fields__
        if name not in given and name not in (place, "extra")
    }
    extra = _extra(row.extra, before.extra, given)
    return replace(row, **kept, extra=extra)


def _extra(after: Extra, before: Extra, given: frozenset[str]) -> Extra:
    kept = {header: text for header, text in before if header not in given}
    return tuple(sorted((kept | dict(after)).items()))


def _fields(before: Row, after: Row) -> tuple[FieldChange, ...]:
    return tuple(
        FieldChange(field=name, before=getattr(before, name), after=getattr(after, name))
        for name in before.__dataclass_fields__
        if getattr(before, name) != getattr(after, name)
    )
