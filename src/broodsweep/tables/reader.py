"""Reads a source into a ground, with every error at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from broodsweep import geo
from broodsweep.desk.ports import Progress
from broodsweep.errors import TroubleError
from broodsweep.register import TABLES, Ground, Keeper, ParsePlace
from broodsweep.tables.complaints import BadFileError, Complaint
from broodsweep.tables.crossing import cross_check
from broodsweep.tables.headers import ColumnMapping
from broodsweep.tables.opening import find_tables
from broodsweep.tables.raw import Candidate
from broodsweep.tables.reading import Reading
from broodsweep.tables.rowwise import ReadTable, read_rows
from broodsweep.words import Message

_KEYS = {table.name: table.key for table in TABLES}


def read_ground(
    source: Path | str | Sequence[Path],
    *,
    mapping: ColumnMapping | None = None,
    skip_bad: bool = False,
    base: Ground | None = None,
    table: str | None = None,
    encoding: str | None = None,
    today: date | None = None,
    land: Any = None,
    parse_place: ParsePlace | None = None,
    progress: Progress | None = None,
) -> Reading:
    """Return everything that a folder, file or list of files says, or everything that is wrong with it.

    Parameters
    ----------
    source
        A folder of CSV files (or one with a workbook, GeoPackage, GeoJSON files), one such file, or several.
    mapping
        Table → their column → ours, for columns under other names.
    skip_bad
        Take the sound rows although others are refused. A bad file is never skipped.
    base
        The register as it stands: rows may name its apiaries and keepers.
    table
        Which table a single file holds, when its name does not say.
    encoding
        How text files are written, when it is not UTF-8 or UTF-16.
    today
        The day of reading: later days are warned of. None: not looked at.
    land
        Outline of the land in longitude and latitude (shapely polygon): places off it are warned of.
    parse_place
        Reads a place in words; `geo.parse_place` unless another is given.
    progress
        Called with the share done; what it raises stops the reading, and nothing is kept.

    Raises
    ------
    NotFoundError
        If the source is not there, or nothing in it is one of our tables.
    TroubleError
        If a file cannot be read.
    """
    if table is not None and table not in _KEYS:
        raise ValueError(f"Expected a table of {', '.join(_KEYS)}, got {table!r}.")
    where = Path(source) if isinstance(source, (str, Path)) else source
    task = _Task(mapping, skip_bad, base, parse_place or geo.parse_place, [])
    try:
        candidates, complaints, notes = find_tables(where, table, mapping, encoding)
        task.complaints.extend(complaints)
        read = _read_all(candidates, task, progress or (lambda share: None))
    except OSError as error:
        path = str(error.filename or source)
        raise TroubleError("tables.cannot_read", path=path, why=str(error.strerror or error)) from error
    added, more = cross_check(read, base=base, today=today, land=land)
    return _reading(read, task, added, [*notes, *(note for one in read for note in one.notes), *more])


@dataclass(frozen=True)
class _Task:
    mapping: ColumnMapping | None
    skip_bad: bool
    base: Ground | None
    parse_place: ParsePlace
    complaints: list[Complaint]


def _read_all(candidates: Sequence[Candidate], task: _Task, progress: Progress) -> list[ReadTable]:
    read: list[ReadTable] = []
    whole = sum(candidate.weight for candidate in candidates) or 1
    before = 0
    for candidate in candidates:
        one = _read_table(candidate, task, _part(progress, before / whole, candidate.weight / whole))
        if one is not None:
            read.append(one)
            task.complaints.extend(one.complaints)
        before += candidate.weight
        progress(before / whole)
    return read


def _part(progress: Progress, start: float, share: float) -> Callable[[float], None]:
    return lambda done: progress(start + done * share)


def _read_table(candidate: Candidate, task: _Task, report: Progress) -> ReadTable | None:
    name = candidate.table
    base = getattr(task.base, name) if task.base is not None else ()
    have = {getattr(row, _KEYS[name]): row for row in base}
    try:
        raw = candidate.open()
        with closing(raw):
            return read_rows(
                candidate, raw, task.mapping, have, task.parse_place, report, keep_all=task.skip_bad
            )
    except BadFileError as error:
        task.complaints.append(error.located(name, candidate.file))
        return None


def _reading(
    read: Sequence[ReadTable], task: _Task, added: tuple[Keeper, ...], notes: Sequence[Message]
) -> Reading:
    refused = tuple(row for one in read for row in one.refused)
    is_usable = not task.complaints and (task.skip_bad or not refused)
    rows: dict[str, Any] = {one.table: tuple(one.rows) for one in read}
    rows["keepers"] = rows.get("keepers", ()) + added
    return Reading(
        ground=Ground(**rows) if is_usable else Ground(),
        given={one.table: one.columns.given for one in read},
        counts={one.table: len(one.rows) for one in read},
        complaints=tuple(task.complaints),
        refused=refused,
        warnings=tuple(warning for one in read for warning in one.warnings),
        unknown_columns=tuple(column for one in read for column in one.unknown),
        notes=tuple(notes),
        is_usable=is_usable,
    )
