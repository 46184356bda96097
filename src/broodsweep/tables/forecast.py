"""Reads a forecast by the hour: CSV with a header, or JSON with the same names."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from broodsweep.rounds.day import ForecastHour, read_forecast
from broodsweep.rounds.errors import RoundsError


def read_forecast_file(path: Path, zone: ZoneInfo) -> tuple[ForecastHour, ...]:
    """Return the hours of a forecast file.

    Columns ``time`` (local, ISO 8601; with an offset it is turned to the local clock), ``temperature`` (degree
    Celsius), ``wind`` (m/s), ``rain`` (mm in the hour). JSON is a list of such rows, or an object that holds it as
    ``hours``, or as columns under ``hourly``.

    Raises
    ------
    RoundsError
        If the file is not there or cannot be read, with the row and the value.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise RoundsError("rounds.forecast_unreadable", file=str(path), reason=str(error)) from error
    return read_forecast_text(text, zone, is_json=path.suffix.lower() == ".json", file=str(path))


def read_forecast_text(
    text: str, zone: ZoneInfo, *, is_json: bool = False, file: str = ""
) -> tuple[ForecastHour, ...]:
    """Return the hours of a forecast given as text; as `read_forecast_file`.

    Raises
    ------
    RoundsError
        If the text cannot be read, with the row and the value.
    """
    try:
        rows = _json_rows(json.loads(text)) if is_json else _csv_rows(text.removeprefix("\ufeff"))
    except (json.JSONDecodeError, csv.Error) as error:
        raise RoundsError("rounds.forecast_unreadable", file=file, reason=str(error)) from error
    return read_forecast(rows, zone)


def _csv_rows(text: str) -> list[dict[str, Any]]:
    lines = text.splitlines()
    separator = ";" if lines and lines[0].count(";") > lines[0].count(",") else ","
    return [
        {str(key).strip().lower(): value for key, value in row.items()}
        for row in csv.DictReader(lines, delimiter=separator)
    ]


def _json_rows(value: Any) -> list[dict[str, Any]]:
    if isinstance(value, dict):
        value = value.get("hours", value.get("hourly", []))
    if isinstance(value, dict):  # columns instead of rows
        names = list(value)
        return [dict(zip(names, row, strict=False)) for row in zip(*value.values(), strict=False)]
    return [row for row in value if isinstance(row, dict)] if isinstance(value, list) else []
