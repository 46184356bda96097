"""Puts a message into words: plural, numbers, dates and distances by locale."""

from __future__ import annotations

from datetime import date, datetime
from functools import cache
from typing import Any

from babel import Locale, dates, numbers

from broodsweep.words.catalogue import DEFAULT, PSEUDO, forms
from broodsweep.words.message import Message

_KILOMETRE_M = 1000.0


@cache
def _babel(locale: str) -> Locale:
    return Locale.parse(("en-GB" if locale in (DEFAULT, PSEUDO) else locale).replace("-", "_"))


def render(message: Message, locale: str = DEFAULT) -> str:
    """Return the sentence in the user's language.

    Raises
    ------
    KeyError
        If the catalogue lacks the key, or the message lacks a value that the sentence asks for.
    """
    shapes = forms(message.key, locale)
    shape = shapes[0]
    count = message.params.get("count")
    if len(shapes) > 1 and isinstance(count, (int, float)):
        shape = shapes[min(_plural_index(count, locale), len(shapes) - 1)]
    values = {name: _write(name, value, locale) for name, value in message.params.items()}
    return shape.format_map(values)


def text(key: str, /, *, locale: str = DEFAULT, **params: Any) -> str:
    """Render in one step: for labels and help."""
    return render(Message(key, params), locale)


def _plural_index(count: float, locale: str) -> int:
    order = [
        *sorted(_babel(locale).plural_form.tags, key=["zero", "one", "two", "few", "many"].index),
        "other",
    ]
    return order.index(_babel(locale).plural_form(count))


def _write(name: str, value: Any, locale: str) -> str:
    if isinstance(value, Message):
        return render(value, locale)
    if isinstance(value, (list, tuple)):
        return ", ".join(_write(name, item, locale) for item in value)
    if isinstance(value, datetime):
        return str(dates.format_datetime(value, "d MMM y HH:mm", locale=_babel(locale)))
    if isinstance(value, date):
        return str(dates.format_date(value, "d MMM y", locale=_babel(locale)))
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return str(value)
    if name.endswith("_m"):
        return distance(float(value), locale)
    if name.endswith("_probability"):
        return str(numbers.format_decimal(value, "0.00", locale=_babel(locale)))
    if name.endswith("_share"):
        return str(numbers.format_percent(value, "0 %", locale=_babel(locale)))
    return str(numbers.format_decimal(value, locale=_babel(locale)))


def distance(value_m: float, locale: str = DEFAULT) -> str:
    """Write a distance: whole metres below a kilometre, else kilometres with one decimal.

    A round number of kilometres is a rule's, not measured, and has none: 3 km.
    """
    if value_m < _KILOMETRE_M:
        return f"{numbers.format_decimal(round(value_m), locale=_babel(locale))} m"
    pattern = "#,##0" if value_m % _KILOMETRE_M == 0 else "#,##0.0"
    return f"{numbers.format_decimal(value_m / _KILOMETRE_M, pattern, locale=_babel(locale))} km"
