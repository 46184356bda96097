"""Builds the rows of a table from cells, with every fault of a row at once."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from broodsweep.errors import BroodsweepError
from broodsweep.geo import Place
from broodsweep.register.cells import read_text, shown
from broodsweep.register.columns import COLUMNS, LATITUDE, LONGITUDE, PLACE_COLUMN, PRECISION
from broodsweep.register.faults import CellError, Fault
from broodsweep.register.model import TABLES, Row
from broodsweep.register.rules import faults_of
from broodsweep.register.spots import check_agreement, place_at
from broodsweep.words import say

ParsePlace = Callable[[str], Place]

_TYPES: dict[str, type[Any]] = {table.name: table.row for table in TABLES}
_SPOT = frozenset({LONGITUDE, LATITUDE, PRECISION})


class RowBuilder:
    """Builds rows of one table whose cells come in one order.

    Parameters
    ----------
    table
        Name of the table.
    columns
        Our name of each column, in the order of the cells; None for one that is not ours.
    extra
        Position → header of the columns that are kept as extra.
    parse_place
        Reads a place in any notation; raises a `BroodsweepError` for a bad one.
    """

    def __init__(
        self,
        table: str,
        columns: Sequence[str | None],
        extra: Mapping[int, str],
        parse_place: ParsePlace,
    ) -> None:
        position = {name: index for index, name in enumerate(columns) if name}
        self._row = _TYPES[table]
        self._parse_place = parse_place
        self._place = PLACE_COLUMN.get(table)
        self._place_at = position.get(self._place, -1) if self._place else -1
        spec = [(column, position[column.name]) for column in COLUMNS[table] if column.name in position]
        self._plain = [
            (column.name, index, column.read, column.is_required)
            for column, index in spec
            if not self._place or (column.name not in _SPOT and column.name != self._place)
        ]
        self._spot = [(c.name, i, c.read) for c, i in spec if self._place and c.name in _SPOT]
        self._extra = sorted((header, index) for index, header in extra.items())

    def build(self, cells: Sequence[object]) -> tuple[Row | None, list[Fault]]:
        """Return the row, or None with everything that is wrong with it."""
        faults: list[Fault] = []
        values: dict[str, Any] = {}
        for name, index, read, is_required in self._plain:
            cell = cells[index]
            if cell is None or cell == "" or (type(cell) is str and not cell.strip()):
                if is_required:
                    faults.append(_blank(name))
                continue
            try:
                values[name] = read(cell)
            except CellError as fault:
                faults.append(_fault(name, cell, fault))
        if self._place:
            place = self._read_place(cells, faults)
            if place is not None:
                values[self._place] = place
        if self._extra:
            values["extra"] = self._read_extra(cells, faults)
        if faults:
            return None, faults
        row: Row = self._row(**values)
        faults = faults_of(row)
        return (None, faults) if faults else (row, faults)

    def _read_place(self, cells: Sequence[object], faults: list[Fault]) -> Place | None:
        """Return the place from its words, its coordinates, or both when they agree."""
        spot: dict[str, tuple[float, str]] = {}
        before = len(faults)
        for name, index, read in self._spot:
            text = shown(cells[index])
            if text:
                try:
                    spot[name] = (float(str(read(cells[index]))), text)
                except CellError as fault:
                    faults.append(_fault(name, cells[index], fault))
        words = shown(cells[self._place_at]) if self._place_at >= 0 else ""
        if len(faults) > before:
            return None
        precision_m = spot[PRECISION][0] if PRECISION in spot else None
        at = self._coordinates(spot, precision_m, faults, is_needed=not words)
        if not words:
            return at
        try:
            place = self._parse_place(words)
        except BroodsweepError as error:
            way_out = say("register.place_way_out")
            faults.append(Fault(column=self._place, value=words, what=error.message, way_out=way_out))
            return None
        if at is not None:
            faults += check_agreement(place, at, self._place or "place", words)
        return widened(place, precision_m)

    def _coordinates(
        self,
        spot: Mapping[str, tuple[float, str]],
        precision_m: float | None,
        faults: list[Fault],
        *,
        is_needed: bool,
    ) -> Place | None:
        longitude, latitude = spot.get(LONGITUDE), spot.get(LATITUDE)
        if longitude is None or latitude is None:
            if longitude is None and latitude is None:
                if is_needed:
                    faults.append(_blank(self._place or "place", "register.no_place"))
            else:
                faults.append(_blank(LONGITUDE if longitude is None else LATITUDE))
            return None
        found = place_at(longitude, latitude, precision_m)
        if isinstance(found, Fault):
            faults.append(found)
            return None
        return found

    def _read_extra(self, cells: Sequence[object], faults: list[Fault]) -> tuple[tuple[str, str], ...]:
        kept = []
        for header, index in self._extra:
            try:
                text = read_text(cells[index])
            except CellError as fault:
                faults.append(_fault(header, cells[index], fault))
                continue
            if text:
                kept.append((header, text))
        return tuple(kept)


def widened(place: Place, precision_m: float | None) -> Place:
    """Return the place with the precision that the row states.

    A grid reference names a square: the row can make it wider, not narrower. For longitude and latitude
    the row is believed.
    """
    if precision_m is None or math.isclose(precision_m, place.precision_m, rel_tol=1e-9):
        return place
    if place.easting is not None and precision_m < place.precision_m:
        return place
    kept = {name: getattr(place, name) for name in place.__dataclass_fields__}
    return Place(**{**kept, "precision_m": precision_m})


def _blank(column: str, way_out: str = "register.blank_way_out") -> Fault:
    return Fault(column=column, what=say("register.blank"), way_out=say(way_out))


def _fault(column: str, cell: object, fault: CellError) -> Fault:
    return Fault(column=column, value=shown(cell), what=fault.what, way_out=fault.way_out)
