"""The rules of validity of a single row, whoever typed it: a table, a page, a phone."""

from __future__ import annotations

from datetime import date
from typing import assert_never

from broodsweep.register.faults import Fault
from broodsweep.register.model import Apiary, Inspector, Keeper, Lot, Move, Removal, Row, Visit
from broodsweep.words import say


def faults_of(row: Row) -> list[Fault]:
    """Return what is impossible in a row; an empty list when it is sound."""
    match row:
        case Apiary():
            return _apiary(row)
        case Move():
            return _move(row)
        case Visit():
            return _visit(row)
        case Inspector():
            return _inspector(row)
        case Removal():
            return _removal(row)
        case Keeper() | Lot():
            return []
        case _:
            assert_never(row)


def later_than(row: Row, today: date) -> list[Fault]:
    """Return what lies after today: worth a look, not refused, for the clock may be wrong and plans are kept.

    A lot's use-by date is meant to lie ahead.
    """
    if isinstance(row, Lot):
        return []
    names = [name for name in row.__dataclass_fields__ if name.endswith("_on") or name == "kept_since"]
    days = [(name, getattr(row, name)) for name in names]
    return [
        Fault(
            column=name,
            value=day.isoformat(),
            what=say("register.after_today", today_on=today),
            way_out=say("register.after_today_way_out"),
        )
        for name, day in days
        if day is not None and day > today
    ]


def _apiary(row: Apiary) -> list[Fault]:
    faults = _not_negative(row, "colonies")
    if row.kept_since and row.left_on and row.left_on < row.kept_since:
        faults.append(
            Fault(
                column="left_on",
                value=row.left_on.isoformat(),
                what=say("register.left_before_kept", since_on=row.kept_since),
                way_out=say("register.left_before_kept_way_out"),
            )
        )
    return faults


def _move(row: Move) -> list[Fault]:
    if row.from_apiary is None and row.to_apiary is None:
        what, way = say("register.move_without_ends"), say("register.move_without_ends_way_out")
        return [Fault(column="from_apiary", what=what, way_out=way)]
    if row.from_apiary == row.to_apiary:
        what, way = say("register.move_to_itself"), say("register.move_to_itself_way_out")
        return [Fault(column="to_apiary", value=row.to_apiary or "", what=what, way_out=way)]
    return []


def _visit(row: Visit) -> list[Fault]:
    counts = ("colonies_inspected", "colonies_confirmed", "colonies_present", "colonies_suspect")
    faults = _not_negative(row, *counts)
    pairs = (
        ("colonies_confirmed", "colonies_inspected"),
        ("colonies_suspect", "colonies_inspected"),
        ("colonies_inspected", "colonies_present"),
    )
    for less, more in pairs:
        part, whole = getattr(row, less), getattr(row, more)
        if part is not None and whole is not None and part > whole:
            what = say("register.more_than", part_column=less, whole_column=more, whole=whole)
            faults.append(
                Fault(column=less, value=str(part), what=what, way_out=say("register.more_than_way_out"))
            )
    if row.colonies_confirmed > 0 and row.disease is None:
        what, way = (
            say("register.confirmed_without_disease"),
            say("register.confirmed_without_disease_way_out"),
        )
        faults.append(Fault(column="disease", what=what, way_out=way))
    return faults


def _inspector(row: Inspector) -> list[Fault]:
    if row.day_end > row.day_start:
        return []
    what = say("register.day_ends_before_start", start=row.day_start.isoformat("minutes"))
    way = say("register.day_ends_before_start_way_out")
    return [Fault(column="day_end", value=row.day_end.isoformat("minutes"), what=what, way_out=way)]


def _removal(row: Removal) -> list[Fault]:
    return _not_negative(row, "colonies")


def _not_negative(row: Row, *columns: str) -> list[Fault]:
    return [
        Fault(
            column=column,
            value=str(value),
            what=say("register.negative"),
            way_out=say("register.count_way_out"),
        )
        for column in columns
        if (value := getattr(row, column)) is not None and value < 0
    ]
