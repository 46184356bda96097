"""The columns of each table: name, how a cell is read, whether it must be filled."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from broodsweep.constants import Clearance, Disease, Goods
from broodsweep.register import cells

PLACE_COLUMN = {"apiaries": "place", "inspectors": "home"}
"""Tables whose rows have a place, with the column that holds it in words."""
LONGITUDE, LATITUDE, PRECISION = "longitude", "latitude", "precision_m"
_SPOT = (LONGITUDE, LATITUDE, PRECISION)

_DISEASES = {
    "american_foulbrood": Disease.AFB,
    "european_foulbrood": Disease.EFB,
}


Reader = Callable[[object], object]


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column: what it is called, how its cells are read, whether a cell may be blank."""

    name: str
    read: Reader
    is_required: bool = False


def _table(required: Mapping[str, Reader], free: Mapping[str, Reader]) -> tuple[Column, ...]:
    must = tuple(Column(name=name, read=read, is_required=True) for name, read in required.items())
    return must + tuple(Column(name=name, read=read) for name, read in free.items())


_text: Reader = cells.read_text
_day: Reader = cells.read_day
_count: Reader = cells.read_count
_spot: dict[str, Reader] = {
    LONGITUDE: cells.read_number,
    LATITUDE: cells.read_number,
    PRECISION: cells.read_precision,
}
_disease: Reader = cells.choice(Disease, _DISEASES)

COLUMNS: dict[str, tuple[Column, ...]] = {
    "keepers": _table(
        {"keeper": _text},
        {"name": _text, "phone": _text, "email": _text, "address": _text, "registered_on": _day},
    ),
    "apiaries": _table(
        {"apiary": _text, "colonies": _count},
        {"keeper": _text, "place": _text, **_spot, "kept_since": _day, "left_on": _day, "notes": _text},
    ),
    "moves": _table(
        {"moved_on": _day, "goods": cells.choice(Goods)},
        {"from_apiary": _text, "to_apiary": _text, "quantity": cells.read_amount},
    ),
    "visits": _table(
        {"visit": _text, "apiary": _text, "visited_on": _day}
        | {"colonies_inspected": _count, "colonies_confirmed": _count},
        {"inspector": _text, "purpose": _text, "colonies_present": _count}
        | {"colonies_suspect": _count, "disease": _disease},
    ),
    "removals": _table(
        {"apiary": _text, "removed_on": _day, "disease": _disease}
        | {"colonies": _count, "how": cells.choice(Clearance)},
        {},
    ),
    "inspectors": _table(
        {"inspector": _text},
        {"name": _text, "home": _text, **_spot, "works": cells.read_weekdays}
        | {"day_start": cells.read_time, "day_end": cells.read_time},
    ),
    "lots": _table({"lot": _text, "kit": _text, "expires_on": _day}, {"count": _count}),
}
"""Table → its columns. A place may stand as words or as longitude and latitude: `rows` sees to that."""


def column_names(table: str) -> tuple[str, ...]:
    """Names of the columns of a table, in the order in which they are written.

    Raises
    ------
    ValueError
        If there is no such table.
    """
    if table not in WRITTEN:
        raise ValueError(f"Expected a table of {', '.join(WRITTEN)}, got {table!r}.")
    return WRITTEN[table]


WRITTEN: dict[str, tuple[str, ...]] = {
    "keepers": ("keeper", "name", "phone", "email", "address", "registered_on"),
    "apiaries": ("apiary", "keeper", "place", *_SPOT, "colonies", "kept_since", "left_on", "notes"),
    "moves": ("moved_on", "from_apiary", "to_apiary", "goods", "quantity"),
    "visits": (
        *("visit", "apiary", "visited_on", "inspector", "purpose", "colonies_present"),
        *("colonies_inspected", "colonies_suspect", "colonies_confirmed", "disease"),
    ),
    "removals": ("apiary", "removed_on", "disease", "colonies", "how"),
    "inspectors": ("inspector", "name", "home", *_SPOT, "works", "day_start", "day_end"),
    "lots": ("lot", "kit", "expires_on", "count"),
}
"""Table → its columns in the order in which an export writes them."""


def missing_columns(table: str, given: frozenset[str]) -> tuple[str, ...]:
    """Required columns that a table lacks: a place counts as given by words or by both coordinates."""
    lacking = [column.name for column in COLUMNS[table] if column.is_required and column.name not in given]
    place = PLACE_COLUMN.get(table)
    if place and place not in given and not {LONGITUDE, LATITUDE} <= given:
        lacking.append(place)
    return tuple(lacking)
