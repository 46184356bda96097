"""Numbers of the field book's own, each with its reason."""

from __future__ import annotations

from broodsweep.sources import Sourced


def _ours(value: float, unit: str, reason: str) -> Sourced:
    return Sourced(value=value, unit=unit, source="project choice", locator=reason, standing="project choice")


LONGEST_LINE = _ours(
    100_000, "byte", "two signatures of many strokes are about 40 kB; a longer line is no line of a visit"
)
LONGEST_NAME = _ours(200, "letters", "names, labels, telephone numbers; a longer one is a slip")
LONGEST_TEXT = _ours(10_000, "letters", "a note of some two pages")
LONGEST_LIST = _ours(100, "entries", "more conditions than the weighing model has")
MOST_COLONIES = _ours(10_000, "colonies", "no apiary holds more; a larger number is a slip")
MOST_POINTS = _ours(5_000, "points", "a signature of two minutes at 40 points a second")
