"""Reads tables from delimited text (RFC 4180 and its cousins): encoding, delimiter, line numbers."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Callable, Iterator
from pathlib import Path

from broodsweep.tables.complaints import BadFileError, bad_file
from broodsweep.tables.formulas import unguarded
from broodsweep.tables.raw import RawRow, RawTable
from broodsweep.words import Message, say

SAMPLE_BYTES = 65_536
DELIMITERS = ",;\t|"
_OTHERS = ":^~/ "
_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_NUL_SHARE = 0.2
_ZIP, _OLD_OFFICE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
_NAMES = {",": "tables.comma", ";": "tables.semicolon", "\t": "tables.tab", "|": "tables.bar"}
_FALLBACK = "cp1252"

CountKnown = Callable[[list[str]], int]
"""Says how many of these headers are known columns of the table."""


def open_delimited(path: Path, count_known: CountKnown, encoding: str | None = None) -> RawTable:
    """Return the table of a text file; rows are read as they are asked for, so a large file needs little memory.

    Raises
    ------
    BadFileError
        If the file is empty, is no text, is not in the encoding, or its first line is no header.
    OSError
        If the file cannot be read.
    """
    size = max(1, path.stat().st_size)
    file = path.open("rb")
    try:
        sample = file.read(SAMPLE_BYTES)
        file.seek(0)
        found = encoding or _encoding(sample)
        text = _decoded(sample, found, whole=len(sample) < SAMPLE_BYTES)
        delimiter, is_stated = _delimiter(text, count_known)
        lines = io.TextIOWrapper(file, encoding=found, errors="strict", newline="")
        if is_stated:
            next(lines)
        reader = _Reader(lines, delimiter, int(is_stated))
        header, header_line = _header(reader, path, found)
        rows = _rows(reader, path, found, len(header))
    except BaseException:
        file.close()
        raise
    notes: list[Message] = []
    if delimiter != ",":
        notes.append(
            say("tables.note_delimiter", file=path.name, delimiter=say(_NAMES.get(delimiter, "tables.comma")))
        )
    if found not in ("utf-8", "utf-8-sig"):
        notes.append(say("tables.note_encoding", file=path.name, encoding=found))
    return RawTable(
        header=tuple(header),
        header_line=header_line,
        rows=rows,
        done=lambda: 1.0 if file.closed else min(1.0, file.tell() / size),
        close=lines.close,
        notes=tuple(notes),
    )


def _encoding(sample: bytes) -> str:
    for mark, name in _BOMS:
        if sample.startswith(mark):
            return name
    if sample.startswith(_ZIP):
        raise bad_file("tables.is_workbook")
    if sample.startswith(_OLD_OFFICE):
        raise bad_file("tables.is_old_workbook")
    even, odd = sample[::2].count(0), sample[1::2].count(0)
    if odd > _NUL_SHARE * len(sample) and not even:
        return "utf-16-le"
    if even > _NUL_SHARE * len(sample) and not odd:
        return "utf-16-be"
    return "utf-8"


def _decoded(sample: bytes, encoding: str, *, whole: bool) -> str:
    """Return the start of the file as text, or say in which encoding it can be read."""
    try:
        decoder = codecs.getincrementaldecoder(encoding)("strict")
        text = decoder.decode(sample, final=whole)
    except LookupError:
        raise bad_file("tables.unknown_encoding", encoding=encoding) from None
    except UnicodeDecodeError as error:
        raise _not_decodable(error, encoding, sample) from None
    if not text.strip("\ufeff \t\r\n\0"):
        raise bad_file("tables.empty_file")
    return text.lstrip("\ufeff")


def _not_decodable(
    error: UnicodeDecodeError, encoding: str, data: bytes, line: int | None = None
) -> BadFileError:
    """Say where the text stops being in its encoding, and how it reads in the old western one."""
    start = data.rfind(b"\n", 0, error.start) + 1
    end = data.find(b"\n", error.start)
    here = data[start : end if end >= 0 else len(data)]
    number = line if line is not None else data.count(b"\n", 0, error.start) + 1
    shown = here[max(0, error.start - start - 15) :][:30].decode(_FALLBACK, "replace").strip()
    key = "tables.not_utf8" if encoding.startswith("utf-8") else "tables.not_encoding"
    return bad_file(key, line=number, encoding=encoding, offered=_FALLBACK, shown=shown)


def _locate_bad_byte(path: Path, encoding: str) -> BadFileError:
    """Find the first line that is not in the encoding (the stream reads ahead, so its own count is off)."""
    with path.open("rb") as file:
        if encoding.startswith("utf-8"):
            for number, line in enumerate(file, 1):
                try:
                    line.decode("utf-8")
                except UnicodeDecodeError as error:
                    return _not_decodable(error, encoding, line, number)
    return bad_file("tables.not_encoding", encoding=encoding, offered="utf-8", shown="")


def _delimiter(text: str, count_known: CountKnown) -> tuple[str, bool]:
    """Return the delimiter, and whether the first line states it (``sep=;``, as spreadsheets write)."""
    stated = re.match(r"sep=(.)\r?\n", text, re.IGNORECASE)
    if stated:
        return stated.group(1), True
    lines = [line for line in text.splitlines() if line.strip()]
    first = lines[0]

    def fields(delimiter: str) -> list[str]:
        try:
            return next(csv.reader([first], delimiter=delimiter), [])
        except csv.Error:
            return []

    scored = [(count_known(fields(mark)), len(fields(mark)), -n, mark) for n, mark in enumerate(DELIMITERS)]
    known, width, _, best = max(scored)
    if width <= 1 and known == 0:
        other = max(((count_known(fields(mark)), mark) for mark in _OTHERS), default=(0, ""))
        if other[0] > 1:
            raise bad_file("tables.odd_delimiter", line=1, delimiter=other[1])
        raise bad_file("tables.one_column", line=1, header=first[:60])
    return best, False


class _Reader:
    """A csv reader that knows on which line of the file the record at hand began."""

    def __init__(self, lines: Iterator[str], delimiter: str, before: int) -> None:
        self._reader = csv.reader(lines, delimiter=delimiter, strict=True)
        self._before = before
        self.line = before + 1

    def __iter__(self) -> Iterator[list[str]]:
        return self

    def __next__(self) -> list[str]:
        self.line = self._before + self._reader.line_num + 1
        return next(self._reader)


def _guarded(reader: _Reader, path: Path, encoding: str) -> Iterator[list[str]]:
    """Yield the records; what breaks the reading of the file becomes a `BadFileError` with its line."""
    try:
        yield from reader
    except UnicodeDecodeError:
        raise _locate_bad_byte(path, encoding) from None
    except csv.Error as error:
        if "field limit" in str(error):
            raise bad_file("tables.huge_cell", line=reader.line, count=csv.field_size_limit()) from None
        if "end of data" in str(error):
            raise bad_file("tables.open_quote", line=reader.line) from None
        raise bad_file("tables.bad_quote", line=reader.line) from None


def _header(reader: _Reader, path: Path, encoding: str) -> tuple[list[str], int]:
    for record in _guarded(reader, path, encoding):
        if any(cell.strip() for cell in record):
            header = [unguarded(cell.strip().lstrip("\ufeff")) for cell in record]
            while header and not header[-1]:
                header.pop()
            return header, reader.line
    raise bad_file("tables.empty_file")


def _rows(reader: _Reader, path: Path, encoding: str, width: int) -> Iterator[RawRow]:
    for record in _guarded(reader, path, encoding):
        got = len(record)
        if got == width:
            yield RawRow(reader.line, record)
        elif not any(cell.strip() for cell in record):
            continue
        elif got > width and not any(cell.strip() for cell in record[width:]):
            yield RawRow(reader.line, record[:width])
        else:
            key = "tables.row_too_long" if got > width else "tables.row_too_short"
            params = {"got": got, "wanted": width}
            complaint = (Message(key, params), Message(f"{key}_way_out", params))
            yield RawRow(reader.line, record, complaint)
