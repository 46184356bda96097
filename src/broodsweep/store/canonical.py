"""JSON with one spelling for one value, so that it can be compared and hashed."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))


def canonical(value: Any) -> str:
    """Return JSON with sorted keys and no spaces; numbers are written as Python's ``repr`` does.

    Raises
    ------
    ValueError
        If the value holds something JSON lacks, or text that is not Unicode.
    """
    try:
        text = _ENCODER.encode(value)
        text.encode("utf-8")
    except (TypeError, UnicodeEncodeError) as err:
        raise ValueError(f"Expected a value that JSON can hold, got {value!r}.") from err
    return text


def instant_text(instant: datetime) -> str:
    """Return an instant as UTC text of fixed width, so that texts sort as instants do.

    Raises
    ------
    ValueError
        If the instant has no time zone.
    """
    if instant.tzinfo is None:
        raise ValueError(f"Expected an instant with a time zone, got {instant!r}.")
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def instant_from(text: str) -> datetime:
    """Return the instant that `instant_text` wrote."""
    return datetime.fromisoformat(text)
