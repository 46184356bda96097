"""Writes tables as the sheets of a workbook (XLSX)."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from broodsweep.errors import BroodsweepError
from broodsweep.register import TABLES, Ground
from broodsweep.tables.atomic import replacing
from broodsweep.tables.formulas import guarded
from broodsweep.tables.write_text import lines_of
from broodsweep.tables.written import Cell, plain

MAX_LETTERS, MAX_ROWS = 32_767, 1_048_576
"""What a sheet can hold: letters in a cell, rows (ECMA-376 as spreadsheets implement it)."""


def write_xlsx(ground: Ground, path: Path) -> None:
    """Write every table that has rows as a sheet of its name; reading the file gives the same ground.

    Raises
    ------
    TroubleError
        If the file cannot be written.
    BroodsweepError
        If a text or a table is larger than a sheet can hold.
    """
    sheets = [
        (table.name, *lines_of(table.name, rows)) for table in TABLES if (rows := getattr(ground, table.name))
    ]
    write_sheets(sheets or [("apiaries", *lines_of("apiaries", ()))], path)


def write_rows_xlsx(
    rows: Sequence[Mapping[str, object]],
    path: Path,
    columns: Sequence[str] | None = None,
    title: str = "rows",
) -> None:
    """Write rows of any kind on one sheet; see `write_rows_csv`.

    Raises
    ------
    TroubleError
        If the file cannot be written.
    BroodsweepError
        If a text or the table is larger than a sheet can hold.
    """
    write_sheets([(title, *plain(rows, columns))], path)


def write_sheets(sheets: Sequence[tuple[str, Sequence[str], Iterable[Sequence[Cell]]]], path: Path) -> None:
    """Write sheets of (title, header, lines).

    Raises
    ------
    TroubleError
        If the file cannot be written.
    BroodsweepError
        If a text or a table is larger than a sheet can hold.
    """
    import openpyxl

    with replacing(path) as draft:
        book = openpyxl.Workbook(write_only=True)
        try:
            for title, header, lines in sheets:
                sheet = book.create_sheet(title)
                sheet.freeze_panes = "A2"
                sheet.append([_cell(sheet, name) for name in header])
                for number, line in enumerate(lines, 2):
                    if number > MAX_ROWS:
                        raise BroodsweepError("tables.too_many_rows", table=title)
                    sheet.append([_cell(sheet, cell) for cell in line])
            whole = io.BytesIO()  # not the file itself: a packed file that cannot be finished complains later
            book.save(whole)
            draft.write_bytes(whole.getbuffer())
        finally:
            book.close()


def _cell(sheet: Any, value: Cell) -> Any:
    """Return the cell: text as text, never a formula; numbers and days as themselves."""
    if not isinstance(value, str):
        return value if not isinstance(value, date) else _day(sheet, value)
    if len(value) > MAX_LETTERS:
        raise BroodsweepError("tables.cell_too_long", start=value[:40], letters=MAX_LETTERS)
    return guarded(value)


def _day(sheet: Any, value: date) -> Any:
    from openpyxl.cell import WriteOnlyCell

    cell = WriteOnlyCell(sheet, value=value)
    cell.number_format = "yyyy-mm-dd"
    return cell
