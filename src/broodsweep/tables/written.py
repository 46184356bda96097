"""Writes a row back as the cells of its table's columns."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time

from broodsweep.geo import Place
from broodsweep.register import PLACE_COLUMN, Row, column_names
from broodsweep.words import Message, render

Cell = str | int | float | date | None
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_SPOT = ("longitude", "latitude", "precision_m")


def cells_of(table: str, row: Row, columns: Sequence[str] | None = None) -> dict[str, Cell]:
    """Return column → cell of a row: text, numbers and days as such, None for what is not known."""
    place_column = PLACE_COLUMN.get(table)
    cells: dict[str, Cell] = {}
    for name in columns or column_names(table):
        if place_column and (name == place_column or name in _SPOT):
            place: Place = getattr(row, place_column)
            cells[name] = (place.text or None) if name == place_column else float(getattr(place, name))
        else:
            cells[name] = _cell(getattr(row, name))
    return cells


def _cell(value: object) -> Cell:
    if isinstance(value, frozenset):
        return _weekdays(value)
    if isinstance(value, time):
        return value.isoformat("minutes")
    if value is None or isinstance(value, (int, float, date)):
        return value
    return str(value)


def _weekdays(days: frozenset[int]) -> str:
    return " ".join(_WEEKDAYS[day - 1] for day in sorted(days))


def as_text(cell: Cell) -> str:
    """Return a cell as text: days in ISO 8601, numbers with a point and as short as they are exact."""
    if cell is None:
        return ""
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 2**53 else repr(cell)
    return cell.isoformat() if isinstance(cell, date) else str(cell)


def extra_columns(table: str, rows: Sequence[Row]) -> tuple[str, ...]:
    """Return the headers of the extra columns that any of the rows has, none like one of ours."""
    ours = set(column_names(table))
    return tuple(sorted({header for row in rows for header, _ in row.extra} - ours))


def plain(
    rows: Sequence[Mapping[str, object]], columns: Sequence[str] | None = None
) -> tuple[tuple[str, ...], list[list[Cell]]]:
    """Return header and cells of rows of any kind, columns in the order in which they first appear."""
    spread = [
        {name: cell for key, value in row.items() for name, cell in _spread(key, value)} for row in rows
    ]
    header = tuple(columns) if columns is not None else tuple(dict.fromkeys(n for row in spread for n in row))
    return header, [[row.get(name) for name in header] for row in spread]


def _spread(name: str, value: object) -> Iterable[tuple[str, Cell]]:
    if isinstance(value, Place):
        return [(column, float(getattr(value, column))) for column in _SPOT]
    return [(name, _plain(value))]


def _plain(value: object) -> Cell:
    if isinstance(value, Message):
        return render(value)
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple, set, frozenset)):
        items = sorted(value, key=str) if isinstance(value, (set, frozenset)) else value
        return "; ".join(as_text(_plain(item)) for item in items)
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return _cell(value)
