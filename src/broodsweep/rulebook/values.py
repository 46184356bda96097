"""Checks the value of a rule against what its topic allows."""

from __future__ import annotations

import math
from collections.abc import Mapping

from broodsweep.rulebook.reckoning import day_of_year
from broodsweep.rulebook.rule import Value
from broodsweep.rulebook.topics import DAY_FIGURES, UNITS, Kind, Topic
from broodsweep.words import Message, say

_LEAP_YEAR = 2024
_LONGEST = 3650
_FARTHEST_M = 500_000.0


def check_value(topic: Topic, value: object, unit: str, faults: list[Message]) -> Value | None:
    """Return the value in its proper form, or None after adding to ``faults`` what is wrong with it."""
    units = UNITS[topic.kind]
    if unit not in units:
        faults.append(say("rulebook.fault_unit", got=str(unit), units=units))
        return None
    if topic.kind in (Kind.TIME, Kind.COUNT):
        return _whole(topic, value, faults)
    if topic.kind is Kind.DISTANCE:
        return _distance(value, faults)
    if topic.kind is Kind.YES_NO:
        if isinstance(value, bool):
            return value
        faults.append(say("rulebook.fault_yes_no", got=str(value)))
        return None
    if topic.kind is Kind.FIGURES:
        return _figures(topic, value, faults)
    return _words(topic, value, faults)


def _whole(topic: Topic, value: object, faults: list[Message]) -> int | None:
    least = 1 if topic.kind is Kind.COUNT else 0
    if isinstance(value, int) and not isinstance(value, bool) and least <= value <= _LONGEST:
        return value
    faults.append(say("rulebook.fault_whole", got=str(value), least=least, most=_LONGEST))
    return None


def _distance(value: object, faults: list[Message]) -> float | None:
    if isinstance(value, (int, float)) and not isinstance(value, bool) and 0 < value <= _FARTHEST_M:
        return float(value)
    faults.append(say("rulebook.fault_distance", got=str(value)))
    return None


def _words(topic: Topic, value: object, faults: list[Message]) -> Value | None:
    if topic.kind is Kind.WORD:
        if isinstance(value, str) and value in topic.words:
            return value
        faults.append(say("rulebook.fault_word", got=str(value), words=topic.words))
        return None
    if not isinstance(value, (list, tuple)):
        faults.append(say("rulebook.fault_words", got=str(value), words=topic.words))
        return None
    wrong = [str(word) for word in value if word not in topic.words]
    if wrong or len(set(value)) != len(value):
        faults.append(say("rulebook.fault_words", got=", ".join(wrong or map(str, value)), words=topic.words))
        return None
    return tuple(str(word) for word in value)


def _figures(topic: Topic, value: object, faults: list[Message]) -> Value | None:
    if not isinstance(value, Mapping):
        faults.append(say("rulebook.fault_figures", got=str(value), figures=topic.figures))
        return None
    before = len(faults)
    missing = [name for name in topic.figures if name not in value]
    if missing:
        faults.append(say("rulebook.fault_missing_figures", figures=missing))
    for name, figure in value.items():
        if name not in (*topic.figures, *topic.optional):
            faults.append(
                say("rulebook.fault_unknown_figure", got=name, figures=(*topic.figures, *topic.optional))
            )
        elif not _is_figure(name, figure):
            faults.append(say("rulebook.fault_figure", name=name, got=str(figure)))
    return dict(value) if len(faults) == before else None


def _is_figure(name: str, figure: object) -> bool:
    if name in DAY_FIGURES:
        try:
            day_of_year(str(figure), _LEAP_YEAR)
        except ValueError:
            return False
        return isinstance(figure, str)
    if isinstance(figure, bool) or not isinstance(figure, (int, float)):
        return False
    if not math.isfinite(figure) or figure < 0:
        return False
    return figure <= 1 or not name.endswith("_share")
