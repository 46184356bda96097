"""Checks the tables of a source against each other and against the register."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from broodsweep.register import (
    Apiary,
    Fault,
    Ground,
    Inspector,
    Keeper,
    KnownApiaries,
    Move,
    Removal,
    Row,
    Visit,
    bare_keepers,
    later_than,
    off_land,
    swapped,
)
from broodsweep.register.cells import shown
from broodsweep.tables.rowwise import ReadTable
from broodsweep.words import Message, say


def cross_check(
    read: Sequence[ReadTable], *, base: Ground | None, today: date | None, land: Any
) -> tuple[tuple[Keeper, ...], list[Message]]:
    """Refuse rows that name apiaries nobody knows, warn of what is odd; return keepers to add, and notes.

    A keeper whom only the apiaries name is added with nothing but the key, for apiaries of one keeper belong
    together whether or not anyone made a table of keepers.
    """
    by_name = {one.table: one for one in read}
    apiaries = by_name.get("apiaries")
    if apiaries is not None:
        _swapped(apiaries, base)
        if land is not None:
            _off_land(apiaries, land)
    _unknown_apiaries(read, apiaries, base)
    if today is not None:
        for one in read:
            for row, line in zip(one.rows, one.lines, strict=True):
                for fault in later_than(row, today):
                    one.warn(line, fault)
    keepers = by_name.get("keepers")
    known = [row.keeper for row in (base.keepers if base else ())]
    known += [row.keeper for row in (keepers.rows if keepers else []) if isinstance(row, Keeper)]
    added = bare_keepers(_apiaries(apiaries), known)
    notes = _place_notes(read)
    if added:
        shown_few = ", ".join(row.keeper for row in added[:5]) + ("…" if added[5:] else "")
        notes.append(say("tables.note_bare_keepers", count=len(added), keepers=shown_few))
    return added, notes


def _place_notes(read: Sequence[ReadTable]) -> list[Message]:
    """Return what the reader of places had to say, each kind once with the first place it said it of."""
    notes: list[Message] = []
    for one in read:
        said: dict[str, list[Message]] = {}
        for row in one.rows:
            if isinstance(row, (Apiary, Inspector)):
                for note in (row.place if isinstance(row, Apiary) else row.home).notes:
                    said.setdefault(note.key, []).append(note)
        for found in said.values():
            notes.append(say("tables.note_places", file=one.file, count=len(found), first=found[0]))
    return notes


def _apiaries(read: ReadTable | None) -> tuple[Apiary, ...]:
    return tuple(row for row in read.rows if isinstance(row, Apiary)) if read else ()


def _swapped(read: ReadTable, base: Ground | None) -> None:
    faults = {}
    for index, way_out in swapped(_apiaries(read), base):
        faults[index] = [Fault(column="longitude", what=say("register.swapped"), way_out=way_out)]
    _put_aside(read, faults)


def _off_land(read: ReadTable, land: Any) -> None:
    for index in off_land(_apiaries(read), land):
        what, way = say("register.off_land"), say("register.off_land_way_out")
        read.warn(read.lines[index], Fault(column="place", what=what, way_out=way))


def _unknown_apiaries(read: Sequence[ReadTable], apiaries: ReadTable | None, base: Ground | None) -> None:
    refused: dict[str, str] = {}
    if apiaries is not None:
        title = apiaries.header_of("apiary")
        for put in apiaries.refused:
            key = shown(dict(put.raw).get(title or "", ""))
            refused.setdefault(key, f"{put.file}:{put.line}")
    have = [row.apiary for row in base.apiaries] if base else []
    known = KnownApiaries([*have, *(row.apiary for row in _apiaries(apiaries))], refused)
    for one in read:
        if one.table not in ("moves", "visits", "removals"):
            continue
        faults = {}
        for index, row in enumerate(one.rows):
            if isinstance(row, (Move, Visit, Removal)) and (found := known.faults_of(row)):
                faults[index] = found
        _put_aside(one, faults)


def _put_aside(read: ReadTable, faults: dict[int, list[Fault]]) -> None:
    """Take rows out of the sound ones; their cells are written anew from the row, for the file is gone by."""
    if not faults:
        return
    rows: list[Row] = []
    lines: list[int] = []
    for index, (row, line) in enumerate(zip(read.rows, read.lines, strict=True)):
        if index in faults:
            read.refuse_row(line, row, faults[index])
        else:
            rows.append(row)
            lines.append(line)
    read.rows, read.lines = rows, lines
    read.refused.sort(key=lambda row: row.line)
