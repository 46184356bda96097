"""Reads the rows of one table: cells to rows, the same key twice, what the file did not say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from operator import attrgetter

from broodsweep.desk.ports import Progress
from broodsweep.register import (
    TABLES,
    Fault,
    ParsePlace,
    Row,
    RowBuilder,
    column_names,
    faults_of,
    filled,
    missing_columns,
)
from broodsweep.register.cells import shown
from broodsweep.tables.complaints import Complaint, RefusedRow, UnknownColumn, bad_file, located
from broodsweep.tables.formulas import bared
from broodsweep.tables.headers import ColumnMapping, MatchedColumns, match_columns, suggest_mapping
from broodsweep.tables.raw import Candidate, RawRow, RawTable
from broodsweep.tables.written import as_text, cells_of
from broodsweep.words import Message, say

MANY_REFUSED = 10_000
"""So many refused rows in one table say that it is the wrong file: reading stops, memory stays bounded."""
_ROWS_A_REPORT = 1000
_KEYS = {table.name: table.key for table in TABLES}


@dataclass(kw_only=True)
class ReadTable:
    """One table as it is read: the rows with their lines, and everything there is to say about them."""

    table: str
    file: str
    header: tuple[str, ...]
    columns: MatchedColumns
    rows: list[Row] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    refused: list[RefusedRow] = field(default_factory=list)
    warnings: list[Complaint] = field(default_factory=list)
    notes: list[Message] = field(default_factory=list)
    complaints: list[Complaint] = field(default_factory=list)

    def refuse(self, line: int, cells: Sequence[object], faults: Sequence[Fault]) -> None:
        """Put a row aside with what is wrong with it."""
        raw = tuple(
            (title or f"column {n + 1}", shown(cell) if not isinstance(cell, str) else cell)
            for n, (title, cell) in enumerate(zip(_padded(self.header, len(cells)), cells, strict=False))
        )
        complaints = tuple(located(f, self.table, self.file, line, self.header_of(f.column)) for f in faults)
        self.refused.append(
            RefusedRow(table=self.table, file=self.file, line=line, raw=raw, complaints=complaints)
        )

    def refuse_row(self, line: int, row: Row, faults: Sequence[Fault]) -> None:
        """Put aside a row that was sound by itself; its cells are written anew in the columns of the file."""
        cells = cells_of(self.table, row)
        extra = dict(row.extra)
        texts = [
            as_text(cells[ours]) if ours else extra.get(self.columns.extra.get(n, ""), "")
            for n, ours in enumerate(self.columns.ours)
        ]
        self.refuse(line, texts, faults)

    def warn(self, line: int, fault: Fault) -> None:
        """Note what is worth a look."""
        self.warnings.append(located(fault, self.table, self.file, line, self.header_of(fault.column)))

    def header_of(self, column: str | None) -> str | None:
        """Return the header under which one of our columns stands in the file."""
        if column in self.columns.ours:
            return self.header[self.columns.ours.index(column)] or column
        return column

    @property
    def unknown(self) -> tuple[UnknownColumn, ...]:
        """Columns that are not ours."""
        return self.columns.unknown


def read_rows(
    candidate: Candidate,
    raw: RawTable,
    mapping: ColumnMapping | None,
    have: Mapping[str, Row],
    parse_place: ParsePlace,
    report: Progress,
    *,
    keep_all: bool,
) -> ReadTable:
    """Return the rows of a table, those refused among them.

    Parameters
    ----------
    have
        Rows of the register by key: they give what the file has no column for.
    keep_all
        Whether to read on after very many refused rows.

    Raises
    ------
    BadFileError
        If a required column is missing or stands there twice, or the file breaks off.
    """
    columns = match_columns(candidate.table, raw.header, mapping, candidate.file)
    _check_required(candidate.table, raw, columns)
    read = ReadTable(table=candidate.table, file=candidate.file, header=raw.header, columns=columns)
    read.notes.extend(raw.notes)
    build = RowBuilder(candidate.table, columns.ours, columns.extra, parse_place).build
    keys = _Keys(read)
    is_partial = bool(have) and not set(column_names(candidate.table)) <= columns.given
    for count, row in enumerate(raw.rows):
        if count % _ROWS_A_REPORT == 0:
            report(raw.done())
        if _is_blank(row):
            continue
        if row.complaint is not None:
            read.refuse(
                row.line, row.cells, [Fault(column=None, what=row.complaint[0], way_out=row.complaint[1])]
            )
        else:
            cells = bared(row.cells) if raw.has_guards else row.cells
            built, faults = build(cells)
            if is_partial and built is not None:
                built, faults = _completed(candidate.table, built, have, columns.given)
            keys.take(row.line, cells, built, faults)
        if len(read.refused) >= MANY_REFUSED and not keep_all:
            read.complaints.append(
                bad_file("tables.many_refused", count=MANY_REFUSED, line=None).located(read.table, read.file)
            )
            break
    if not read.rows and not read.refused:
        read.notes.append(say("tables.note_header_only", file=candidate.file))
    return read


class _Keys:
    """Takes rows one by one and refuses a key that came before, naming the line."""

    def __init__(self, read: ReadTable) -> None:
        self._read = read
        self._key_of = attrgetter(_KEYS[read.table])
        self._index = (
            read.columns.ours.index(_KEYS[read.table]) if _KEYS[read.table] in read.columns.ours else -1
        )
        self._seen: dict[str, tuple[int, Row | None]] = {}

    def take(self, line: int, cells: Sequence[object], row: Row | None, faults: list[Fault]) -> None:
        """Keep a sound row, or refuse it with its faults and the line that has its key already."""
        key = self._key_of(row) if row is not None else shown(cells[self._index]) if self._index >= 0 else ""
        first = self._seen.get(key) if key else None
        if first is not None:
            if self._index < 0 and row == first[1]:
                what = say("tables.same_row", other=str(first[0]))
                self._read.warn(line, Fault(column=None, what=what, way_out=say("tables.same_row_way_out")))
                return
            what = say("tables.duplicate" if self._index >= 0 else "tables.contradicts", other=str(first[0]))
            column = _KEYS[self._read.table] if self._index >= 0 else None
            value = key if self._index >= 0 else ""
            fault = Fault(column=column, value=value, what=what, way_out=say("tables.duplicate_way_out"))
            faults = [*faults, fault]
        elif key:
            self._seen[key] = (line, row if self._index < 0 else None)
        if faults or row is None:
            self._read.refuse(line, cells, faults)
        else:
            self._read.rows.append(row)
            self._read.lines.append(line)


def _check_required(table: str, raw: RawTable, columns: MatchedColumns) -> None:
    lacking = missing_columns(table, columns.given)
    if not lacking:
        return
    suggested = {ours: theirs for theirs, ours in suggest_mapping(table, raw.header).items()}
    hints = [f"{theirs} → {ours}" for ours, theirs in suggested.items()]
    params = {"columns": ", ".join(lacking), "header": ", ".join(raw.header)[:200], "count": len(lacking)}
    error = bad_file("tables.missing_columns", line=raw.header_line or None, **params)
    if hints:
        error.way_out = say("tables.missing_columns_hint_way_out", hints="; ".join(hints))
    raise error


def _completed(
    table: str, row: Row, have: Mapping[str, Row], given: frozenset[str]
) -> tuple[Row | None, list[Fault]]:
    before = have.get(getattr(row, _KEYS[table]))
    if before is None:
        return row, []
    whole = filled(table, row, before, given)
    faults = faults_of(whole)
    return (None, faults) if faults else (whole, faults)


def _is_blank(row: RawRow) -> bool:
    return not any(cell is not None and (not isinstance(cell, str) or cell.strip()) for cell in row.cells)


def _padded(header: tuple[str, ...], width: int) -> tuple[str, ...]:
    return header + ("",) * max(0, width - len(header))
