"""What is wrong with a row, and the way out, as sentences."""

from __future__ import annotations

from dataclasses import dataclass

from broodsweep.words import Message


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One thing wrong with a row: the column (ours), the value as it stood, what was wrong, the way out."""

    column: str | None
    what: Message
    way_out: Message
    value: str = ""


class CellError(Exception):
    """A cell that cannot be read as what its column holds; caught where the row is built."""

    def __init__(self, what: Message, way_out: Message) -> None:
        self.what = what
        self.way_out = way_out
        super().__init__(what.key)
