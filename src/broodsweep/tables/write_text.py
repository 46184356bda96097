"""Writes tables as CSV (RFC 4180): UTF-8, commas, one line end, text safe in a spreadsheet."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path

from broodsweep.register import TABLES, Ground, Row, column_names
from broodsweep.tables.atomic import replacing
from broodsweep.tables.formulas import guarded
from broodsweep.tables.headers import REASONS, WHERE
from broodsweep.tables.reading import Reading
from broodsweep.tables.written import Cell, as_text, cells_of, extra_columns, plain
from broodsweep.words import render


def write_tables(ground: Ground, folder: Path) -> tuple[Path, ...]:
    """Write every table that has rows as ``<table>.csv``; all of them or none. Return the paths.

    Reading the folder again gives the same ground.

    Raises
    ------
    TroubleError
        If the folder cannot be written to or the disk is full; the old files are then as they were.
    """
    paths = []
    with ExitStack() as stack:
        for table in TABLES:
            rows = getattr(ground, table.name)
            if rows:
                path = folder / f"{table.name}.csv"
                _write(stack.enter_context(replacing(path)), *lines_of(table.name, rows))
                paths.append(path)
    return tuple(paths)


def lines_of(table: str, rows: Sequence[Row]) -> tuple[tuple[str, ...], Iterable[list[Cell]]]:
    """Return the header of a table with its extra columns, and its rows as cells."""
    ours, extra = column_names(table), extra_columns(table, rows)

    def lines() -> Iterable[list[Cell]]:
        for row in rows:
            cells = cells_of(table, row, ours)
            more = dict(row.extra)
            yield [*(cells[name] for name in ours), *(more.get(header) for header in extra)]

    return ours + extra, lines()


def write_rows_csv(
    rows: Sequence[Mapping[str, object]], path: Path, columns: Sequence[str] | None = None
) -> None:
    """Write rows of any kind (a sweep list, what is due) as CSV, columns in the order they first appear.

    A `Place` becomes longitude, latitude and precision_m; a `Message` its sentence; a list its items with
    semicolons between.

    Raises
    ------
    TroubleError
        If the file cannot be written.
    """
    header, lines = plain(rows, columns)
    with replacing(path) as draft:
        _write(draft, header, lines)


def write_refused(reading: Reading, path: Path) -> tuple[Path, ...]:
    """Write the refused rows with their own columns, the reasons and the place beside; return the files.

    ``path`` is a folder (one ``<table>.csv`` each) or, ending in ``.csv``, a file (with ``-<table>`` before
    the end when there are several tables). A mended file can be read as it is: the two columns are left out.

    Raises
    ------
    TroubleError
        If a file cannot be written.
    """
    tables = list(dict.fromkeys(row.table for row in reading.refused))
    written = []
    with ExitStack() as stack:
        for table in tables:
            rows = [row for row in reading.refused if row.table == table]
            header = list(dict.fromkeys(title for row in rows for title, _ in row.raw))
            lines = (
                [
                    *(dict(row.raw).get(title, "") for title in header),
                    " ".join(f"{render(c.sentence)}" for c in row.complaints),
                    f"{row.file}:{row.line}",
                ]
                for row in rows
            )
            target = _refused_path(path, table, len(tables))
            _write(stack.enter_context(replacing(target)), (*header, REASONS, WHERE), lines)
            written.append(target)
    return tuple(written)


def _refused_path(path: Path, table: str, tables: int) -> Path:
    if path.suffix.casefold() != ".csv":
        return path / f"{table}.csv"
    return path if tables == 1 else path.with_name(f"{path.stem}-{table}{path.suffix}")


def _write(path: Path, header: Sequence[str], lines: Iterable[Sequence[Cell]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\r\n")
        writer.writerow([guarded(title) for title in header])
        for line in lines:
            writer.writerow([guarded(cell) if isinstance(cell, str) else as_text(cell) for cell in line])
