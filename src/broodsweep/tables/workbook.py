"""Reads tables from the sheets of a workbook (XLSX)."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import ParseError

from broodsweep.tables.complaints import BadFileError, bad_file
from broodsweep.tables.formulas import unguarded
from broodsweep.tables.raw import RawRow, RawTable

MAX_UNPACKED_BYTES = 2 * 1024**3
"""A workbook that unpacks to more is taken for a trap."""


def sheet_names(path: Path) -> tuple[str, ...]:
    """Return the names of the sheets.

    Raises
    ------
    BadFileError
        If the file is no workbook.
    """
    book = _open(path)
    try:
        return tuple(book.sheetnames)
    finally:
        book.close()


def open_sheet(path: Path, sheet: str) -> RawTable:
    """Return the table on a sheet; the first row that is not blank is its header.

    Raises
    ------
    BadFileError
        If the file is no workbook or the sheet is empty.
    """
    book = _open(path)
    page = book[sheet]
    page.reset_dimensions()
    numbered = enumerate(page.iter_rows(values_only=True), 1)
    at = [0]
    try:
        header, line = _header(numbered)
    except BaseException:
        book.close()
        raise
    total = max(1, path.stat().st_size // 40)
    return RawTable(
        header=header,
        header_line=line,
        rows=_rows(numbered, len(header), at),
        done=lambda: min(1.0, at[0] / total),
        close=book.close,
    )


def _open(path: Path) -> Any:
    import openpyxl
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        with zipfile.ZipFile(path) as packed:
            if sum(part.file_size for part in packed.infolist()) > MAX_UNPACKED_BYTES:
                raise bad_file("tables.workbook_too_large")
        return openpyxl.load_workbook(path, read_only=True, data_only=True)
    except (zipfile.BadZipFile, InvalidFileException, KeyError, ParseError, ValueError) as error:
        raise bad_file("tables.no_workbook") from error


def _header(numbered: Iterator[tuple[int, tuple[Any, ...]]]) -> tuple[tuple[str, ...], int]:
    for line, cells in numbered:
        header = ["" if cell is None else unguarded(str(cell).strip()) for cell in cells]
        while header and not header[-1]:
            header.pop()
        if header:
            return tuple(header), line
    raise bad_file("tables.empty_file")


def _rows(numbered: Iterator[tuple[int, tuple[Any, ...]]], width: int, at: list[int]) -> Iterator[RawRow]:
    try:
        for line, cells in numbered:
            at[0] = line
            got = len(cells)
            beyond = [str(cell) for cell in cells[width:] if cell is not None and str(cell).strip()]
            if beyond:
                complaint = bad_file("tables.cell_beyond_header", beyond=", ".join(beyond)[:60])
                yield RawRow(line, cells, (complaint.what, complaint.way_out))
            else:
                yield RawRow(line, (*cells[:width], *(None,) * (width - got)))
    except (zipfile.BadZipFile, ParseError, KeyError, ValueError) as error:
        raise BadFileError(*_broken(), line=at[0] + 1) from error


def _broken() -> tuple[Any, Any]:
    broken = bad_file("tables.no_workbook")
    return broken.what, broken.way_out
