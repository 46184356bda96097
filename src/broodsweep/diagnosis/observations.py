"""What was seen and tested on a comb, and reading it from a file without guessing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from difflib import get_close_matches
from typing import Any

from broodsweep.constants import Disease
from broodsweep.diagnosis.catalogue import METHODS
from broodsweep.diagnosis.conditions import Condition, Season
from broodsweep.diagnosis.context import Context
from broodsweep.diagnosis.errors import ObservationError
from broodsweep.diagnosis.matrix import signs as all_signs
from broodsweep.diagnosis.reading import Reading
from broodsweep.register import Lot

OBSERVERS = ("trained", "untrained")
BESIDE = ("bought_in", "fed_honey")
_NEAR = 3


@dataclass(frozen=True, kw_only=True)
class Prior:
    """A prior probability from outside (the spread engine, a survey), with its interval when it has one.

    It stands for season, known outbreaks and purchases too. ``beside`` names what of the context it does not know:
    ``bought_in``, ``fed_honey``; these still count.
    """

    probability: float
    low: float | None = None
    high: float | None = None
    beside: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        low, high = self.low or self.probability, self.high or self.probability
        if not 0.0 < low <= self.probability <= high < 1.0:
            raise ObservationError("diagnosis.error_prior", value=self.probability)
        for name in self.beside:
            if name not in BESIDE:
                raise _unknown("diagnosis.error_unknown_value", name, BESIDE)


@dataclass(frozen=True, kw_only=True)
class Observations:
    """What is known of one colony. A sign that is not named was not looked at; False is looked for and absent."""

    signs: Mapping[str, bool] = field(default_factory=dict)
    tests: tuple[Reading, ...] = ()
    season: Season | None = None
    prior: Mapping[Condition, Prior] = field(default_factory=dict)
    context: Context = field(default_factory=Context)
    observer: str = "trained"

    def __post_init__(self) -> None:
        for sign in self.signs:
            if sign not in all_signs():
                raise _unknown("diagnosis.error_unknown_sign", sign, all_signs())
        if self.observer not in OBSERVERS:
            raise _unknown("diagnosis.error_unknown_value", self.observer, OBSERVERS)


def from_mapping(given: Any) -> tuple[Observations, tuple[Lot, ...] | None]:
    """Read observations (and the lots of kits, when listed) from parsed JSON.

    Raises
    ------
    ObservationError
        If anything is unknown or has the wrong form; near names are suggested.
    """
    known = ("season", "signs", "tests", "prior", "context", "observer", "lots")
    _names(_mapping(given, "file"), known)
    observed = Observations(
        signs={
            str(name): _truth(value, name)
            for name, value in _mapping(given.get("signs"), "signs").items()
            if value is not None
        },
        tests=tuple(_reading(entry) for entry in _list(given.get("tests"), "tests")),
        season=_choice(given.get("season"), tuple(Season)),
        prior={
            _condition(name): _prior(value) for name, value in _mapping(given.get("prior"), "prior").items()
        },
        context=_context(_mapping(given.get("context"), "context")),
        observer=given.get("observer") or "trained",
    )
    lots = None if given.get("lots") is None else tuple(_lot(entry) for entry in _list(given["lots"], "lots"))
    return observed, lots


def _unknown(key: str, value: object, known: tuple[str, ...]) -> ObservationError:
    near = get_close_matches(str(value), known, n=_NEAR, cutoff=0.5) or list(known[:_NEAR])
    return ObservationError(key, value=str(value), near=list(near))


def _mapping(value: Any, where: str) -> Mapping[str, Any]:
    if value is None:
        return {}
    if not isinstance(value, Mapping):
        raise ObservationError("diagnosis.error_form", where=where, wanted="{…}", value=repr(value))
    return value


def _list(value: Any, where: str) -> list[Any]:
    if value is None:
        return []
    if not isinstance(value, list):
        raise ObservationError("diagnosis.error_form", where=where, wanted="[…]", value=repr(value))
    return value


def _names(given: Mapping[str, Any], known: tuple[str, ...]) -> None:
    for name in given:
        if name not in known:
            raise _unknown("diagnosis.error_unknown_name", name, known)


def _truth(value: Any, where: str) -> bool:
    if not isinstance(value, bool):
        raise ObservationError("diagnosis.error_form", where=where, wanted="true / false", value=repr(value))
    return value


def _choice(value: Any, known: tuple[Season, ...]) -> Season | None:
    if value is None:
        return None
    if value not in known:
        raise _unknown("diagnosis.error_unknown_value", value, tuple(str(name) for name in known))
    return Season(value)


def _condition(name: str) -> Condition:
    if name not in tuple(Condition):
        raise _unknown("diagnosis.error_unknown_condition", name, tuple(Condition))
    return Condition(name)


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise ObservationError("diagnosis.error_form", where=where, wanted="0.5, 12, …", value=repr(value))
    return float(value)


def _whole(value: Any, where: str) -> int:
    number = _number(value, where)
    if not number.is_integer():
        raise ObservationError("diagnosis.error_form", where=where, wanted="1, 2, …", value=repr(value))
    return int(number)


def _day(value: Any, where: str) -> date:
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError):
        raise ObservationError(
            "diagnosis.error_form", where=where, wanted="2026-06-01", value=repr(value)
        ) from None


def _prior(value: Any) -> Prior:
    if isinstance(value, Mapping):
        _names(value, ("probability", "low", "high", "beside"))
        if value.get("probability") is None:
            raise ObservationError("diagnosis.error_missing", where="prior.probability")
        numbers = {
            name: _number(value[name], f"prior.{name}")
            for name in ("probability", "low", "high")
            if value.get(name) is not None
        }
        beside = tuple(str(name) for name in _list(value.get("beside"), "prior.beside"))
        return Prior(**numbers, beside=beside)
    return Prior(probability=_number(value, "prior"))


def _context(given: Mapping[str, Any]) -> Context:
    _names(given, ("outbreak_m", "bought_in", "fed_honey"))
    distances = {}
    for name, value in _mapping(given.get("outbreak_m"), "context.outbreak_m").items():
        if name not in tuple(Disease):
            raise _unknown("diagnosis.error_unknown_condition", name, tuple(Disease))
        distances[Disease(name)] = _number(value, "context.outbreak_m")
    flags = {
        name: _truth(given[name], f"context.{name}")
        for name in ("bought_in", "fed_honey")
        if given.get(name) is not None
    }
    return Context(outbreak_m=distances, **flags)


def _reading(given: Any) -> Reading:
    entry = _mapping(given, "tests")
    _names(entry, tuple(member.name for member in fields(Reading)))
    test = entry.get("test")
    if not isinstance(test, str) or test not in METHODS:
        raise _unknown("diagnosis.error_unknown_test_near", test, tuple(METHODS))
    made: dict[str, Any] = {"test": test}
    for name in ("sample", "outcome", "lot"):
        if entry.get(name) is not None:
            made[name] = str(entry[name])
    for name in ("length_mm", "read_after_min", "log10_cells"):
        if entry.get(name) is not None:
            made[name] = _number(entry[name], f"tests.{name}")
    for name in ("mites", "bees"):
        if entry.get(name) is not None:
            made[name] = _whole(entry[name], f"tests.{name}")
    if entry.get("lines") is not None:
        made["lines"] = frozenset(str(line).upper() for line in _list(entry["lines"], "tests.lines"))
    if entry.get("done_on") is not None:
        made["done_on"] = _day(entry["done_on"], "tests.done_on")
    return Reading(**made)


def _lot(given: Any) -> Lot:
    entry = _mapping(given, "lots")
    _names(entry, ("lot", "kit", "expires_on", "count"))
    for name in ("lot", "kit", "expires_on"):
        if entry.get(name) is None:
            raise ObservationError("diagnosis.error_missing", where=f"lots.{name}")
    return Lot(
        lot=str(entry["lot"]),
        kit=str(entry["kit"]),
        expires_on=_day(entry["expires_on"], "lots.expires_on"),
        count=_whole(entry.get("count", 1), "lots.count"),
    )
