"""A plan of rounds as plain JSON values, to be kept in the store, and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum
from typing import Any, TypeVar

from broodsweep.rounds.cost import chosen_days
from broodsweep.rounds.plan import Cost, Measures, Pause, PauseKind, Plan, PlannedStop, Round, Unplanned
from broodsweep.words import Message

_Row = TypeVar("_Row")
_DAY, _SAID = "day", "say"


def plain(value: Any) -> Any:
    """Return a value of a plan as JSON: sentences and days are marked, so that `unplain` knows them."""
    if isinstance(value, Message):
        return {_SAID: value.key, "params": {name: plain(item) for name, item in value.params.items()}}
    if isinstance(value, date):
        return {_DAY: value.isoformat()}
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value):
        return {item.name: plain(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, Mapping):
        return {str(name): plain(item) for name, item in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [plain(item) for item in value]
    if value is None or isinstance(value, (bool, int, str)):
        return value
    return float(value) if isinstance(value, float) or hasattr(value, "__float__") else str(value)


def unplain(value: Any) -> Any:
    """Return what `plain` was given; tables of a dataclass stay tables."""
    if isinstance(value, list):
        return tuple(unplain(item) for item in value)
    if not isinstance(value, Mapping):
        return value
    if _SAID in value:
        return Message(value[_SAID], {name: unplain(item) for name, item in value["params"].items()})
    if _DAY in value:
        return date.fromisoformat(value[_DAY])
    return {name: unplain(item) for name, item in value.items()}


def plan_plain(plan: Plan) -> dict[str, Any]:
    """Return a plan as JSON; who visits when is worked out again from its rounds."""
    found: dict[str, Any] = plain(plan)
    del found["chosen"]
    return found


def plan_of(record: Mapping[str, Any]) -> Plan:
    """Return the plan of a JSON record."""
    kept = unplain(record)
    rounds = tuple(_round(row) for row in kept["rounds"])
    return Plan(
        rounds=rounds,
        unplanned=tuple(_known(Unplanned, row) for row in kept["unplanned"]),
        cost=_known(Cost, kept["cost"]),
        method=kept["method"],
        travel_method=kept["travel_method"],
        notes=kept["notes"],
        measures=_known(Measures, kept["measures"]) if kept["measures"] else None,
        chosen=chosen_days(rounds),
    )


def _round(row: dict[str, Any]) -> Round:
    stops = tuple(_known(PlannedStop, stop) for stop in row["stops"])
    pauses = tuple(_known(Pause, {**pause, "kind": PauseKind(pause["kind"])}) for pause in row["pauses"])
    return _known(Round, {**row, "stops": stops, "pauses": pauses})


def _known(kind: type[_Row], row: Mapping[str, Any]) -> _Row:
    """Make a row of what this version knows; a plan of another version may hold more."""
    names = {item.name for item in fields(kind)}  # type: ignore[arg-type]
    return kind(**{name: value for name, value in row.items() if name in names})
