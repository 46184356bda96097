"""Keeps a spreadsheet from taking exported text for a formula, and takes the guard off again on reading.

A text that a spreadsheet could start to calculate begins with ``=``, ``+``, ``-``, ``@`` (also the full-width
forms), a tab or a line break, blanks before it or not. Such a text is written with an apostrophe before it, as
is one that already has apostrophes there, so that taking one away gives the text back, always. Numbers and
days are written as they are, also a number that stands as text (-2 in a refused row): it calculates nothing.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

_STARTS = r"\s*[=+\-@\t\r\n＝＋－＠]"
_DANGEROUS = re.compile(rf"'*{_STARTS}")
_NUMBER = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?\Z")
_GUARDED = re.compile(rf"'+{_STARTS}")


def guarded(text: str) -> str:
    """Return the text as it is safe to write into CSV and XLSX."""
    return f"'{text}" if _DANGEROUS.match(text) and not _NUMBER.match(text) else text


def unguarded(text: str) -> str:
    """Return the text that `guarded` was given."""
    return text[1:] if _GUARDED.match(text) else text


def bared(cells: Sequence[object]) -> Sequence[object]:
    """Return the cells of a row without guards."""
    if any(type(cell) is str and cell[:1] == "'" for cell in cells):
        return [unguarded(cell) if isinstance(cell, str) else cell for cell in cells]
    return cells
