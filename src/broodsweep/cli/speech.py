"""The language of the commands, and how they answer: a table for people, JSON for programs."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date, datetime, time
from enum import Enum
from typing import Any

from broodsweep.words import PSEUDO, Message, available_locales, render, text

OK, PARTLY, USAGE, REFUSED, TROUBLE = 0, 1, 2, 3, 4
"""Exit codes: done; done with something left out or found wrong; wrong use; refused; trouble with the machine."""


def choose_locale() -> str:
    """Return the language of the commands: BROODSWEEP_LANG, else LANG where we have it, else English."""
    wanted = os.environ.get("BROODSWEEP_LANG") or os.environ.get("LANG", "")
    wanted = wanted.split(".")[0].replace("_", "-")
    if wanted == PSEUDO:
        return PSEUDO
    have = available_locales()
    return next((name for name in (wanted, wanted.split("-")[0]) if name in have), "en")


LOCALE = choose_locale()


def help_text(key: str, /, **params: Any) -> str:
    """Words of the catalogue in the language of the commands."""
    return text(key, locale=LOCALE, **params)


def tell(message: Message) -> str:
    """Put a message of the core into words."""
    return render(message, LOCALE)


def plain(value: Any) -> Any:
    """Turn an answer into what JSON can hold; messages are rendered."""
    if isinstance(value, Message):
        return tell(value)
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, (date, datetime, time)):
        return value.isoformat()
    if is_dataclass(value) and not isinstance(value, type):
        return {item.name: plain(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, Mapping):
        return {str(plain(key)): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        items = sorted(value, key=str) if isinstance(value, (set, frozenset)) else value
        return [plain(item) for item in items]
    if hasattr(value, "tolist"):  # numpy's numbers and arrays
        return value.tolist()
    return value


def print_json(answer: Any) -> None:
    """Print an answer as JSON on standard output."""
    sys.stdout.write(json.dumps(plain(answer), ensure_ascii=False, indent=2, allow_nan=False) + "\n")


def print_line(key: str, /, **params: Any) -> None:
    """Print one sentence of the catalogue."""
    sys.stdout.write(help_text(key, **params) + "\n")


def print_message(message: Message) -> None:
    """Print a message of the core as one sentence."""
    sys.stdout.write(tell(message) + "\n")


def print_table(columns: Sequence[str], rows: Iterable[Sequence[Any]], *, title: str | None = None) -> None:
    """Print a table with headings from the catalogue; numbers stand right."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, title=title, title_justify="left", pad_edge=False)
    written = [[_cell(value) for value in row] for row in rows]
    for number, column in enumerate(columns):
        right = bool(written) and all(isinstance(row[number][1], (int, float)) for row in written)
        table.add_column(Text(help_text(column)), justify="right" if right else "left", overflow="fold")
    for row in written:
        table.add_row(*(Text(shown) for shown, _ in row))
    Console(soft_wrap=False).print(table)


def _cell(value: Any) -> tuple[str, Any]:
    if value is None:
        return "–", value
    if isinstance(value, Message):
        return tell(value), value
    if isinstance(value, (date, datetime)):
        return help_text("cli.day", on=value), value
    return str(value), value
