"""A published number, written once, that refuses to exist without its source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Standing = Literal["read", "memory", "computed", "project choice", "common practice"]


@dataclass(frozen=True, kw_only=True)
class Sourced:
    """A value with its unit, where it was published and how sure we are of that.

    ``standing`` is ``read`` when the source was seen, ``memory`` when it is recalled only, ``computed``
    when it is arithmetic from sourced inputs, ``common practice`` for a fact of the trade without a
    source, ``project choice`` for a number that we chose ourselves (``locator`` then gives the reason).

    Raises
    ------
    ValueError
        If the unit, the source or the locator is empty, or the interval does not hold the value.
    """

    value: float
    unit: str
    source: str
    locator: str
    standing: Standing = "read"
    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        for name in ("unit", "source", "locator"):
            if not getattr(self, name).strip():
                raise ValueError(f"Expected a {name} for the value {self.value}, got an empty text.")
        if self.low is not None and self.low > self.value:
            raise ValueError(f"Expected low <= {self.value}, got {self.low}.")
        if self.high is not None and self.high < self.value:
            raise ValueError(f"Expected high >= {self.value}, got {self.high}.")
