"""Reads one cell as what its column holds: text, count, number, day, time, weekdays, a word of a list.

A cell is text (CSV), or already a number, day or time (workbook, GeoPackage). Every reader gives the value or
raises `CellError` with what was wrong and the way out. None and blank never reach a reader.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from difflib import get_close_matches
from enum import StrEnum
from typing import TypeVar

from broodsweep.geo.constants import COARSEST_PRECISION
from broodsweep.register.constants import EARLIEST_YEAR, LATEST_YEAR
from broodsweep.register.faults import CellError
from broodsweep.words import Message, say

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ufffe\uffff\ud800-\udfff]")
_ISO_DAY = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]\d{2}:\d{2}.*)?$")
_PARTS = re.compile(r"(\d{1,4})[./\- ](\d{1,2})[./\- ](\d{1,4})\.?$")
_SERIAL = re.compile(r"[345]\d{4}(?:\.0+)?$")
_WHOLE = re.compile(r"([+-]?\d+)(?:[.,]0+)?$")
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?$")
_CLOCK = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?(?:[:.]\d{2})?\s*(am|pm|a\.m\.|p\.m\.)?$", re.IGNORECASE)
_DAY_NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_RANGE = re.compile(r"\s*(?:-|–|—|\bto\b)\s*")
_EXCEL_EPOCH = date(1899, 12, 30)
_FIRST_SERIAL, _LAST_SERIAL = 10_000, 100_000
"""Day numbers of a workbook that are taken as such: 18 May 1927 to 13 October 2173."""
_NOON, _HOURS, _MINUTES = 12, 24, 60
_SHORTEST_DAY_NAME = 2
_EXACT = 2.0**53
"""Whole numbers beyond this are not exact in a float."""

_Choice = TypeVar("_Choice", bound=StrEnum)


def read_text(cell: object) -> str:
    """Return a text without blanks at its ends; line breaks inside become a plain line feed."""
    text = cell.strip() if isinstance(cell, str) else shown(cell)
    if _CONTROL.search(text):
        raise CellError(say("register.control_characters"), say("register.control_characters_way_out"))
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


def read_count(cell: object) -> int:
    """Return a whole number of zero or more."""
    if isinstance(cell, float) and cell.is_integer():
        cell = int(cell)
    text = shown(cell)
    found = _WHOLE.match(text)
    if not found:
        number = _NUMBER.match(text)
        what = "register.not_whole" if number else "register.not_a_number"
        raise CellError(say(what), say("register.count_way_out"))
    if len(found.group(1)) > len("123456789"):
        raise CellError(say("register.count_too_large"), say("register.count_way_out"))
    value = int(found.group(1))
    if value < 0:
        raise CellError(say("register.negative"), say("register.count_way_out"))
    return value


def read_number(cell: object) -> float:
    """Return a number; a decimal comma is read as a decimal point."""
    if isinstance(cell, (int, float)) and not isinstance(cell, bool):
        value = float(cell)
    else:
        text = shown(cell)
        if not _NUMBER.match(text):
            raise CellError(say("register.not_a_number"), say("register.number_way_out"))
        value = float(text.replace(",", "."))
    if value != value or value in (float("inf"), float("-inf")):
        raise CellError(say("register.not_a_number"), say("register.number_way_out"))
    return value


def read_amount(cell: object) -> float:
    """Return a number of zero or more."""
    if isinstance(cell, str) and re.fullmatch(r"\d{1,3},\d{3}", cell.strip()):
        raise CellError(say("register.comma_ambiguous"), say("register.comma_ambiguous_way_out"))
    value = read_number(cell)
    if value < 0:
        raise CellError(say("register.negative"), say("register.number_way_out"))
    return value


def read_precision(cell: object) -> float:
    """Return a precision: a number of metres above zero, not more than a place can be unknown by."""
    value = read_number(cell)
    if value <= 0:
        raise CellError(say("register.not_positive"), say("register.number_way_out"))
    if value > COARSEST_PRECISION.value:
        raise CellError(
            say("register.too_coarse", most_m=COARSEST_PRECISION.value), say("register.too_coarse_way_out")
        )
    return value


def read_day(cell: object) -> date:
    """Return a day: ISO 8601 text, a real date of a workbook or GeoPackage, or a workbook's day number."""
    if isinstance(cell, datetime):
        return _in_reach(cell.date())
    if isinstance(cell, date):
        return _in_reach(cell)
    if isinstance(cell, (int, float)) and _FIRST_SERIAL <= cell < _LAST_SERIAL:
        return _in_reach(_EXCEL_EPOCH + timedelta(days=int(cell)))
    text = shown(cell)
    found = _ISO_DAY.match(text)
    if not found and len(text) == len("YYYYMMDD") and text.isdigit():
        found = re.match(r"(\d{4})(\d{2})(\d{2})", text)
    if not found:
        raise CellError(say("register.not_a_day"), _day_way_out(text))
    year, month, day = (int(part) for part in found.groups())
    try:
        value = date(year, month, day)
    except ValueError:
        raise CellError(say("register.no_such_day"), say("register.no_such_day_way_out")) from None
    return _in_reach(value)


def _in_reach(value: date) -> date:
    if not EARLIEST_YEAR.value <= value.year <= LATEST_YEAR.value:
        raise CellError(say("register.year_out_of_reach"), say("register.year_out_of_reach_way_out"))
    return value


def _day_way_out(text: str) -> Message:
    """Offer the days that a text in another notation may mean."""
    if _SERIAL.match(text):
        meant = _EXCEL_EPOCH + timedelta(days=int(float(text)))
        return say("register.day_number_way_out", iso=meant.isoformat())
    found = _PARTS.match(text)
    if not found:
        return say("register.day_way_out")
    first, second, third = (int(part) for part in found.groups())
    orders = {(third, second, first), (third, first, second), (first, second, third)}
    meant_days = set()
    for year, month, day in orders:
        try:
            meant_days.add(date(year, month, day))
        except ValueError:
            continue
    likely = sorted(d.isoformat() for d in meant_days if EARLIEST_YEAR.value <= d.year <= LATEST_YEAR.value)
    if len(likely) > 1:
        return say("register.day_ambiguous_way_out", first=likely[0], second=likely[1])
    return say("register.day_meant_way_out", iso=likely[0]) if likely else say("register.day_way_out")


def read_time(cell: object) -> time:
    """Return a time of day, to the minute: ``9:00``, ``09.30``, ``5 pm``, ``17``."""
    if isinstance(cell, datetime):
        return cell.time().replace(second=0, microsecond=0)
    if isinstance(cell, time):
        return cell.replace(second=0, microsecond=0)
    if isinstance(cell, float) and 0 <= cell < 1:
        minutes = round(cell * _HOURS * _MINUTES)
        return time(minutes // _MINUTES % _HOURS, minutes % _MINUTES)
    found = _CLOCK.match(shown(cell))
    if not found:
        raise CellError(say("register.not_a_time"), say("register.time_way_out"))
    hour, minute = int(found.group(1)), int(found.group(2) or 0)
    half = (found.group(3) or "").lower()
    if half and 1 <= hour <= _NOON:
        hour = hour % _NOON + (_NOON if half.startswith("p") else 0)
    if hour >= _HOURS or minute >= _MINUTES:
        raise CellError(say("register.not_a_time"), say("register.time_way_out"))
    return time(hour, minute)


def read_weekdays(cell: object) -> frozenset[int]:
    """Return ISO weekdays, 1 = Monday: ``Mon-Fri``, ``1,2,3``, ``Mo Tu``, ``12345``, ``Sat to Mon``."""
    text = shown(cell).casefold()
    if text.isdigit():
        parts = list(text)
    else:
        parts = [part for part in re.split(r"[,;/&+\s]+|\band\b", _RANGE.sub("-", text)) if part]
    days: set[int] = set()
    for part in parts:
        first, dash, last = part.partition("-")
        start, end = _weekday(first), _weekday(last if dash else first)
        days.update((start - 1 + step) % len(_DAY_NAMES) + 1 for step in range((end - start) % 7 + 1))
    return frozenset(days)


def _weekday(text: str) -> int:
    text = text.strip(".")
    if text.isdigit() and 1 <= int(text) <= len(_DAY_NAMES):
        return int(text)
    if len(text) >= _SHORTEST_DAY_NAME:
        found = [n for n, name in enumerate(_DAY_NAMES, 1) if name.startswith(text) or text == f"{name}s"]
        if not found and len(text) == len("thur") and text in ("thur", "tues"):
            found = [4 if text == "thur" else 2]
        if len(found) == 1:
            return found[0]
    raise CellError(say("register.not_weekdays"), say("register.weekdays_way_out"))


def choice(kind: type[_Choice], also: dict[str, _Choice] | None = None) -> Callable[[object], _Choice]:
    """Make a reader for a word of a closed list, whatever its case and its blanks."""
    known = {member.value.casefold(): member for member in kind} | (also or {})
    allowed = ", ".join(member.value for member in kind)

    def read(cell: object) -> _Choice:
        text = shown(cell)
        key = re.sub(r"[\s\-_]+", "_", text.casefold())
        if key in known:
            return known[key]
        near = get_close_matches(key, known, n=1, cutoff=0.6)
        way_out = (
            say("register.choice_near_way_out", near=known[near[0]].value, allowed=allowed)
            if near
            else say("register.choice_way_out", allowed=allowed)
        )
        raise CellError(say("register.unknown_word"), way_out)

    return read


def shown(cell: object) -> str:
    """Return a cell as the text a user would type: days in ISO 8601, whole numbers without a point."""
    if isinstance(cell, str):
        return cell.strip()
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < _EXACT else repr(cell)
    if isinstance(cell, datetime):
        midnight = cell.time() == time(0) and cell.tzinfo is None
        return cell.date().isoformat() if midnight else cell.isoformat(timespec="minutes")
    if isinstance(cell, time):
        return cell.isoformat(timespec="minutes")
    return "" if cell is None else str(cell)
