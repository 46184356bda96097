"""What was wrong with a file or a row of it, and where: file, line, column, value, way out."""

from __future__ import annotations

from dataclasses import dataclass

from broodsweep.register import Fault
from broodsweep.words import Message, say

_SAYS_ALL = "geo."
"""Sentences of this room name the text that was read and the way out themselves."""


@dataclass(frozen=True, kw_only=True)
class Complaint:
    """One thing wrong, with the place in the file.

    ``line`` counts as an editor or a spreadsheet does, the header is line 1; for GeoPackage and GeoJSON it
    is the number of the feature. None when the whole file is meant. ``column`` is the header as it stands
    in the file.
    """

    table: str | None
    file: str
    what: Message
    way_out: Message
    line: int | None = None
    column: str | None = None
    value: str = ""

    @property
    def sentence(self) -> Message:
        """Everything in one sentence, for a list."""
        shape = "tables.complaint"
        if self.what.key.startswith(_SAYS_ALL):
            return Message(
                "tables.complaint_place",
                {"file": self.file, "at": str(self.line), "column": self.column or "", "what": self.what},
            )
        if self.line is not None:
            shape += "_line"
        if self.column is not None:
            shape += "_column"
        if self.value:
            shape += "_value"
        return Message(
            shape,
            {
                "file": self.file,
                "at": "" if self.line is None else str(self.line),
                "column": self.column or "",
                "value": _short(self.value),
                "what": self.what,
                "way_out": self.way_out,
            },
        )


@dataclass(frozen=True, kw_only=True)
class RefusedRow:
    """A row that was not taken, as it stood in the file, with everything that was wrong with it."""

    table: str
    file: str
    line: int
    raw: tuple[tuple[str, str], ...]
    complaints: tuple[Complaint, ...]


@dataclass(frozen=True, kw_only=True)
class UnknownColumn:
    """A column that is not ours: kept with the rows and given back on export; ``suggestion`` is ours that is near."""

    table: str
    file: str
    column: str
    suggestion: str | None = None


class BadFileError(Exception):
    """A file that cannot be read as a table at all; caught where the source is read."""

    def __init__(
        self, what: Message, way_out: Message, *, line: int | None = None, column: str | None = None
    ):
        self.what = what
        self.way_out = way_out
        self.line = line
        self.column = column
        super().__init__(what.key)

    def located(self, table: str | None, file: str) -> Complaint:
        """Return the complaint with the file it is about."""
        return Complaint(
            table=table, file=file, what=self.what, way_out=self.way_out, line=self.line, column=self.column
        )


def bad_file(key: str, *, line: int | None = None, **params: object) -> BadFileError:
    """Make a `BadFileError` whose way out has the same key with ``_way_out``."""
    return BadFileError(say(key, **params), Message(f"{key}_way_out", params), line=line)


def located(fault: Fault, table: str, file: str, line: int, header: str | None) -> Complaint:
    """Return a fault of a row as a complaint with its place in the file."""
    return Complaint(
        table=table,
        file=file,
        line=line,
        column=header or fault.column,
        value=fault.value,
        what=fault.what,
        way_out=fault.way_out,
    )


_SHOWN_LETTERS = 60


def _short(value: str) -> str:
    line = " ".join(value.split())
    line = "".join(letter if letter.isprintable() else "\ufffd" for letter in line)
    return line if len(line) <= _SHOWN_LETTERS else f"{line[: _SHOWN_LETTERS - 1]}…"
