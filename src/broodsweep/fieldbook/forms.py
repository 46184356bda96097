"""The form of each kind of line: which fields its body has and what each may hold."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from broodsweep.constants import Disease, Goods
from broodsweep.fieldbook.constants import (
    LONGEST_LIST,
    LONGEST_NAME,
    LONGEST_TEXT,
    MOST_COLONIES,
    MOST_POINTS,
)

Test = Callable[[Any], bool]
"""Says whether a value may stand in a field."""

UUID_FORM = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
SHA256_FORM = re.compile(r"[0-9a-f]{64}")
FOUND_FORM = re.compile(r"F[0-9A-Za-z]{8}")
SIGN_FORM = re.compile(r"[a-z][a-z0-9_]*")

_X_AND_Y = 2

PURPOSES = ("sweep", "reinspection", "surveillance", "call", "training")
COLONY_STATES = ("clean", "not_opened", "suspect")
SAMPLES_OF = ("brood_comb", "larva", "bees", "honey", "debris")
CLEANED = ("hands", "tools", "smoker", "clothing", "boots", "vehicle")
PICTURES = ("image/jpeg", "image/webp", "image/png")


@dataclass(frozen=True)
class Field:
    """What a field of a body may hold, in words for the refusal (``wanted``) and as a test."""

    wanted: str
    holds: Test


def is_day(value: Any) -> bool:
    """Say whether the value is a day as ISO 8601 writes it."""
    if not isinstance(value, str) or not re.fullmatch(r"\d{4}-\d{2}-\d{2}", value):
        return False
    try:
        date.fromisoformat(value)
    except ValueError:
        return False
    return True


def is_instant(value: Any) -> bool:
    """Say whether the value is an instant with its offset, as RFC 3339 writes it."""
    if not isinstance(value, str) or "T" not in value:
        return False
    try:
        return datetime.fromisoformat(value).tzinfo is not None
    except ValueError:
        return False


def _text(most: int) -> Field:
    return Field(
        f"text of at most {most} letters", lambda value: isinstance(value, str) and len(value) <= most
    )


def _matching(form: re.Pattern[str], wanted: str) -> Field:
    return Field(wanted, lambda value: isinstance(value, str) and form.fullmatch(value) is not None)


def _one_of(words: Iterable[str]) -> Field:
    known = tuple(str(word) for word in words)
    return Field(" / ".join(known), lambda value: isinstance(value, str) and value in known)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _number(low: float, high: float) -> Field:
    return Field(f"{low:g} … {high:g}", lambda value: _is_number(value) and low <= value <= high)


def _whole(low: int, high: int) -> Field:
    def holds(value: Any) -> bool:
        return _is_number(value) and value == int(value) and low <= value <= high

    return Field(f"{low} … {high}", holds)


def _or_none(field: Field) -> Field:
    return Field(f"{field.wanted} / null", lambda value: value is None or field.holds(value))


def _is_strokes(value: Any) -> bool:
    if not isinstance(value, list) or not all(isinstance(stroke, list) for stroke in value):
        return False
    points = [point for stroke in value for point in stroke]
    return len(points) <= MOST_POINTS.value and all(
        isinstance(point, list) and len(point) == _X_AND_Y and all(map(_is_number, point)) for point in points
    )


def _is_chances(value: Any) -> bool:
    return (
        isinstance(value, dict)
        and len(value) <= LONGEST_LIST.value
        and all(_is_number(chance) and 0 <= chance <= 1 for chance in value.values())
    )


_NAME = Field(
    f"a name of 1 to {int(LONGEST_NAME.value)} letters",
    lambda value: isinstance(value, str) and 0 < len(value.strip()) <= LONGEST_NAME.value,
)
_SHORT = _text(int(LONGEST_NAME.value))
_LONG = _text(int(LONGEST_TEXT.value))
_TRUTH = Field("true / false", lambda value: isinstance(value, bool))
_UUID = _matching(UUID_FORM, "a UUID in small letters")
_SHA256 = _matching(SHA256_FORM, "a SHA-256 in hex")
_DAY = Field("a day, 2026-07-08", is_day)
_INSTANT = Field("an instant, 2026-07-08T09:30:00Z", is_instant)
_COLONY = _whole(1, int(MOST_COLONIES.value))
_COUNT = _whole(0, int(MOST_COLONIES.value))
_LONGITUDE, _LATITUDE = _number(-180, 180), _number(-90, 90)
_METRES = _number(0, 1e6)
_PIXELS = _whole(1, 100_000)
_STROKES = Field("strokes as lists of [x, y]", _is_strokes)
_READING = Field("{…}", lambda value: isinstance(value, dict))
_CHANCES = Field("{condition: chance}", _is_chances)
_CLEANED = Field(
    f"list of {' / '.join(CLEANED)}",
    lambda value: isinstance(value, list) and all(isinstance(row, str) and row in CLEANED for row in value),
)

BODIES: Mapping[str, Mapping[str, Field]] = {
    "visit_begun": {"purpose": _one_of(PURPOSES), "visited_on": _DAY},
    "place_confirmed": {
        "longitude": _LONGITUDE,
        "latitude": _LATITUDE,
        "accuracy_m": _METRES,
        "by": _one_of(("gps", "hand")),
        "is_here": _TRUTH,
    },
    "weather_seen": {
        "temperature_c": _or_none(_number(-60, 60)),
        "wind": _or_none(_one_of(("calm", "light", "moderate", "strong"))),
        "rain": _or_none(_one_of(("none", "drizzle", "rain"))),
        "are_flying": _or_none(_TRUTH),
    },
    "colonies_counted": {"present": _COUNT},
    "colony_looked": {
        "colony": _COLONY,
        "state": _one_of(COLONY_STATES),
        "disease": _or_none(_one_of(list(Disease))),
    },
    "sign_seen": {
        "colony": _COLONY,
        "sign": _matching(SIGN_FORM, "the key of a sign"),
        "is_present": _or_none(_TRUTH),
    },
    "test_done": {"test": _UUID, "colony": _COLONY, "reading": _READING, "is_void": _TRUTH},
    "sample_taken": {"sample": _NAME, "colony": _COLONY, "of": _one_of(SAMPLES_OF), "note": _LONG},
    "sample_handed": {"sample": _NAME, "to": _SHORT, "handed_at": _INSTANT, "note": _LONG},
    "photo_taken": {
        "photo": _SHA256,
        "bytes": _whole(1, 1_000_000_000),
        "media_type": _one_of(PICTURES),
        "width": _PIXELS,
        "height": _PIXELS,
        "colony": _or_none(_COLONY),
        "note": _LONG,
    },
    "kit_cleaned": {"what": _CLEANED, "how": _LONG},
    "keeper_said": {
        "report": _UUID,
        "direction": _one_of(("in", "out")),
        "goods": _one_of(list(Goods)),
        "quantity": _or_none(_number(0, 1e6)),
        "moved_on": _or_none(_DAY),
        "other": _or_none(_SHORT),
        "other_said": _LONG,
        "is_void": _TRUTH,
    },
    "evidence_weighed": {"colony": _COLONY, "conditions": _CHANCES, "verdict": _SHORT, "model": _SHORT},
    "note_written": {"text": _LONG},
    "apiary_found": {
        "longitude": _LONGITUDE,
        "latitude": _LATITUDE,
        "accuracy_m": _METRES,
        "colonies": _COUNT,
        "keeper_name": _SHORT,
        "keeper_phone": _SHORT,
        "note": _LONG,
    },
    "visit_signed": {
        "by": _SHORT,
        "role": _SHORT,
        "keeper_was_there": _TRUTH,
        "keeper_name": _SHORT,
        "strokes": _STROKES,
        "keeper_strokes": _STROKES,
        "lines": _whole(0, 1_000_000),
        "digest": _SHA256,
    },
    "visit_amended": {"reason": _LONG, "kind": _NAME, "body": _READING},
    "visit_dropped": {"reason": _LONG},
}
"""Kind → field → what it may hold. A field that is not named here is kept and means nothing."""

AMENDABLE = tuple(kind for kind in BODIES if kind not in {"visit_amended", "visit_signed", "apiary_found"})
"""Kinds that an amendment can stand for."""
WITHOUT_VISIT = frozenset({"apiary_found", "note_written"})
"""Kinds that need belong to no visit."""
