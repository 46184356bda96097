"""Finds the tables of a source: a folder, a text file, a workbook, a GeoPackage, a GeoJSON file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from broodsweep.errors import NotFoundError
from broodsweep.register import TABLES
from broodsweep.tables.complaints import BadFileError, Complaint
from broodsweep.tables.delimited import open_delimited
from broodsweep.tables.geofiles import layer_names, open_geojson, open_layer, stated_name
from broodsweep.tables.headers import ColumnMapping, count_known, normalised
from broodsweep.tables.raw import Candidate, RawTable
from broodsweep.tables.workbook import open_sheet, sheet_names
from broodsweep.words import Message, say

_NAMES = tuple(table.name for table in TABLES)
_TEXT, _JSON, _PACKAGE, _BOOK = (
    (".csv", ".tsv", ".txt"),
    (".geojson", ".json"),
    (".gpkg",),
    (".xlsx", ".xlsm"),
)
_ORDER = (*_TEXT, *_JSON, *_PACKAGE, *_BOOK)
Found = tuple[list[Candidate], list[Complaint], list[Message]]


def find_tables(
    source: Path | Sequence[Path], table: str | None, mapping: ColumnMapping | None, encoding: str | None
) -> Found:
    """Return the tables of a source in the order in which they are loaded, what was wrong, and notes.

    In a folder the first of text, GeoJSON, GeoPackage and workbook that has a table gives it.

    Raises
    ------
    NotFoundError
        If the source is not there, or nothing in it is one of our tables.
    """
    paths, is_folder = _paths(source)
    found: dict[str, Candidate] = {}
    complaints: list[Complaint] = []
    notes: list[Message] = []
    for path in paths:
        try:
            offered = _candidates(path, table, mapping, encoding, is_folder=is_folder)
        except BadFileError as error:
            complaints.append(error.located(table, path.name))
            continue
        if not offered and path.suffix.casefold() in _ORDER:
            notes.append(say("tables.note_no_table", file=path.name, tables=", ".join(_NAMES)))
        for candidate in offered:
            if candidate.table in found:
                taken = found[candidate.table].file
                notes.append(
                    say("tables.note_table_twice", file=candidate.file, table=candidate.table, taken=taken)
                )
            else:
                found[candidate.table] = candidate
    if not found and not complaints:
        name = str(source) if isinstance(source, Path) else ", ".join(path.name for path in paths)
        key = "tables.nothing_in_folder" if is_folder else "tables.which_table"
        raise NotFoundError(key, path=name, tables=", ".join(_NAMES))
    ordered = sorted(found.values(), key=lambda candidate: _NAMES.index(candidate.table))
    return ordered, complaints, notes


def _paths(source: Path | Sequence[Path]) -> tuple[list[Path], bool]:
    if not isinstance(source, Path):
        return list(source), False
    if not source.exists():
        raise NotFoundError("tables.no_such_file", path=str(source))
    if not source.is_dir():
        return [source], False
    inside = sorted(
        (path for path in source.iterdir() if path.is_file() and not path.name.startswith((".", "~$"))),
        key=lambda path: (_rank(path), path.name),
    )
    return inside, True


def _rank(path: Path) -> int:
    suffix = path.suffix.casefold()
    return _ORDER.index(suffix) if suffix in _ORDER else len(_ORDER)


def _candidates(
    path: Path, table: str | None, mapping: ColumnMapping | None, encoding: str | None, *, is_folder: bool
) -> list[Candidate]:
    suffix = path.suffix.casefold()
    weight = path.stat().st_size
    if suffix in _PACKAGE or suffix in _BOOK:
        is_book = suffix in _BOOK
        names = sheet_names(path) if is_book else layer_names(path)
        opener: Callable[[Path, str], RawTable] = open_sheet if is_book else open_layer
        pairs = [(name, normalised(name)) for name in names]
        if table and len(pairs) == 1:
            pairs = [(pairs[0][0], table)]
        kept = [(name, known) for name, known in pairs if known in _NAMES and (not table or known == table)]
        return [
            Candidate(
                table=known, file=f"{path.name}:{name}", weight=weight, open=partial(opener, path, name)
            )
            for name, known in kept
        ]
    if is_folder and suffix not in _ORDER:
        return []
    known = table if table and not is_folder else _table_of(path, exactly=is_folder)
    if known is None and suffix in _JSON and not is_folder and normalised(stated_name(path)) in _NAMES:
        known = normalised(stated_name(path))
    if known is None or (table and known != table):
        return []
    if suffix in _JSON:
        return [Candidate(table=known, file=path.name, weight=weight, open=partial(open_geojson, path))]
    counted = partial(_count, known, mapping)
    opened = partial(open_delimited, path, counted, encoding)
    return [Candidate(table=known, file=path.name, weight=weight, open=opened)]


def _count(table: str, mapping: ColumnMapping | None, header: Sequence[str]) -> int:
    return count_known(table, header, mapping)


def _table_of(path: Path, *, exactly: bool) -> str | None:
    stem = normalised(path.stem)
    if stem in _NAMES:
        return stem
    if exactly:
        return None
    return next((name for name in _NAMES if stem.endswith(f"_{name}") or stem.startswith(f"{name}_")), None)
