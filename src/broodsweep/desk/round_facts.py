"""How the days turned out: what the user fixed by hand, what is done, who is away or ill, the weather, the rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

from broodsweep.desk.round_hours import EVERY_WEEKDAY, Appointment, Changes, KeeperHours
from broodsweep.errors import NotFoundError
from broodsweep.rounds.day import ForecastHour, Thresholds
from broodsweep.rounds.model import Hygiene, Pin, Window
from broodsweep.words import Message, say

PinnedTo = tuple[str | None, date | None]
"""Inspector and day; None leaves it open."""


class ChangeKind(StrEnum):
    """What a user can change about a plan."""

    PIN = "pin"
    UNPIN = "unpin"
    DONE = "done"
    NOT_DONE = "not_done"
    AWAY = "away"
    BACK = "back"
    HOURS = "hours"
    ANY_HOUR = "any_hour"
    AGREED = "agreed"
    NOT_AGREED = "not_agreed"
    ILL = "ill"
    WELL = "well"
    PART_DAY = "part_day"
    WHOLE_DAY = "whole_day"
    RAINED_OFF = "rained_off"
    DRY = "dry"
    WEATHER = "weather"
    NO_WEATHER = "no_weather"
    RULES = "rules"


@dataclass(frozen=True, kw_only=True)
class Rules:
    """The rules of the rounds that a service sets for itself: hygiene, and the weather in which hives may be opened."""

    hygiene: Hygiene = field(default_factory=Hygiene)
    thresholds: Thresholds = field(default_factory=Thresholds)


@dataclass(frozen=True, kw_only=True)
class Change:
    """One change; which of the fields it needs follows from its kind.

    ``name`` is the apiary or the keeper who is away or has hours.
    """

    kind: ChangeKind
    apiary: str | None = None
    name: str | None = None
    inspector: str | None = None
    days: tuple[date, ...] = ()
    weekdays: frozenset[int] = EVERY_WEEKDAY
    windows: tuple[Window, ...] = ()
    weather: tuple[ForecastHour, ...] = ()
    rules: Rules | None = None


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What holds beside the tables.

    ``done`` holds who made the visit on which day, and the minute of the day at which it was planned to begin.
    """

    pins: Mapping[str, PinnedTo] = field(default_factory=dict)
    done: Mapping[str, tuple[str, date, int]] = field(default_factory=dict)
    away: Mapping[str, frozenset[date]] = field(default_factory=dict)
    hours: Mapping[str, KeeperHours] = field(default_factory=dict)
    agreed: Mapping[str, Appointment] = field(default_factory=dict)
    ill: frozenset[tuple[str, date]] = frozenset()
    part_days: Mapping[tuple[str, date], Window] = field(default_factory=dict)
    rained_off: frozenset[date] = frozenset()
    weather: Mapping[date, tuple[ForecastHour, ...]] = field(default_factory=dict)
    rules: Rules = field(default_factory=Rules)

    def from_day(self, first: date) -> Facts:
        """Return the facts of the days from ``first``, without what was fixed by hand: for a fresh plan."""
        away = {name: frozenset(on for on in days if on >= first) for name, days in self.away.items()}
        return Facts(
            done=self.done,
            away={name: days for name, days in away.items() if days},
            hours=self.hours,
            agreed={name: row for name, row in self.agreed.items() if row.on >= first},
            ill=frozenset(row for row in self.ill if row[1] >= first),
            part_days={key: row for key, row in self.part_days.items() if key[1] >= first},
            rained_off=frozenset(on for on in self.rained_off if on >= first),
            weather={on: rows for on, rows in self.weather.items() if on >= first},
            rules=self.rules,
        )

    def forecast(self, span: Iterable[date]) -> tuple[ForecastHour, ...]:
        """Return the hours of the forecast on these days; days without stay with the usual hours of the month."""
        return tuple(hour for on in span for hour in self.weather.get(on, ()))


def needed(value: str | None, what: str) -> str:
    """Return the value.

    Raises
    ------
    NotFoundError
        If it is missing; ``what`` is the key of the sentence.
    """
    if not value:
        raise NotFoundError(what)
    return value


def changed(facts: Facts, change: Change) -> Facts:
    """Return the facts after a change of anything but visits done, which are marked elsewhere.

    Raises
    ------
    NotFoundError
        If the change does not say what it is about.
    """
    match change.kind:
        case ChangeKind.PIN | ChangeKind.UNPIN:
            return _fixed(facts, change)
        case ChangeKind.AWAY | ChangeKind.BACK | ChangeKind.HOURS | ChangeKind.ANY_HOUR:
            return _of_keeper(facts, change)
        case ChangeKind.AGREED | ChangeKind.NOT_AGREED:
            return _agreed(facts, change)
        case ChangeKind.ILL | ChangeKind.WELL | ChangeKind.PART_DAY | ChangeKind.WHOLE_DAY:
            return _of_inspector(facts, change)
        case ChangeKind.RAINED_OFF | ChangeKind.DRY | ChangeKind.WEATHER | ChangeKind.NO_WEATHER:
            return _of_sky(facts, change)
        case ChangeKind.RULES:
            return replace(facts, rules=change.rules or Rules())
        case _:
            raise ValueError(f"Expected a change of the days, got {change.kind}.")


def _fixed(facts: Facts, change: Change) -> Facts:
    if change.kind is ChangeKind.UNPIN:
        return replace(facts, pins={name: to for name, to in facts.pins.items() if name != change.apiary})
    apiary = needed(change.apiary, "rounds_page.which_apiary")
    on = min(change.days) if change.days else None
    return replace(facts, pins={**facts.pins, apiary: (change.inspector, on)})


def _of_keeper(facts: Facts, change: Change) -> Facts:
    name, days = needed(change.name, "rounds_page.which_keeper"), frozenset(change.days)
    if change.kind in (ChangeKind.HOURS, ChangeKind.ANY_HOUR):
        others = {key: kept for key, kept in facts.hours.items() if key != name}
        if change.kind is ChangeKind.ANY_HOUR:
            return replace(facts, hours=others)
        if not change.windows and change.weekdays == EVERY_WEEKDAY:
            raise NotFoundError("rounds_page.which_hours")
        mine = KeeperHours(weekdays=change.weekdays, windows=tuple(sorted(change.windows)))
        return replace(facts, hours={**others, name: mine})
    before = facts.away.get(name, frozenset())
    after = before | days if change.kind is ChangeKind.AWAY else before - days if days else frozenset()
    rest = {key: kept for key, kept in facts.away.items() if key != name}
    return replace(facts, away={**rest, name: after} if after else rest)


def _agreed(facts: Facts, change: Change) -> Facts:
    apiary = needed(change.apiary, "rounds_page.which_apiary")
    rest = {name: row for name, row in facts.agreed.items() if name != apiary}
    if change.kind is ChangeKind.NOT_AGREED:
        return replace(facts, agreed=rest)
    if not change.days:
        raise NotFoundError("rounds_page.which_day")
    made = Appointment(on=min(change.days), window=change.windows[0] if change.windows else None)
    return replace(facts, agreed={**rest, apiary: made})


def _of_inspector(facts: Facts, change: Change) -> Facts:
    who = needed(change.inspector, "rounds_page.which_inspector")
    rows = frozenset((who, on) for on in change.days)
    match change.kind:
        case ChangeKind.ILL:
            return replace(facts, ill=facts.ill | rows)
        case ChangeKind.WELL:
            return replace(facts, ill=facts.ill - rows)
    rest = {key: window for key, window in facts.part_days.items() if key not in rows}
    if change.kind is ChangeKind.WHOLE_DAY:
        return replace(facts, part_days=rest)
    if not change.windows:
        raise NotFoundError("rounds_page.which_hours")
    return replace(facts, part_days={**rest, **dict.fromkeys(rows, change.windows[0])})


def _of_sky(facts: Facts, change: Change) -> Facts:
    days = frozenset(change.days)
    match change.kind:
        case ChangeKind.RAINED_OFF:
            return replace(facts, rained_off=facts.rained_off | days)
        case ChangeKind.DRY:
            return replace(facts, rained_off=facts.rained_off - days)
        case ChangeKind.NO_WEATHER:
            return replace(
                facts, weather={on: rows for on, rows in facts.weather.items() if days and on not in days}
            )
    told: dict[date, list[ForecastHour]] = {}
    for hour in change.weather:
        told.setdefault(hour.at.date(), []).append(hour)
    return replace(facts, weather={**facts.weather, **{on: tuple(rows) for on, rows in told.items()}})


def wished(facts: Facts, first: date, span: Iterable[date]) -> tuple[Changes, dict[str, Pin]]:
    """Return the facts as the planner takes them.

    What is done on a day of the plan keeps its place and its time; what was done before is not visited again.
    """
    all_days = frozenset(span)
    away = {name: set(days) for name, days in facts.away.items()}
    pins = {name: Pin(inspector=who, on=on) for name, (who, on) in facts.pins.items()}
    for apiary, (who, on, begin) in facts.done.items():
        if on < first:
            away.setdefault(apiary, set()).update(all_days)
        else:
            pins[apiary] = Pin(inspector=who, on=on, begin_minute=begin)
    changes = Changes(
        away={name: frozenset(days) for name, days in away.items()},
        hours=facts.hours,
        appointments={name: row for name, row in facts.agreed.items() if name not in facts.done},
        ill=facts.ill,
        part_days=facts.part_days,
        rained_off=facts.rained_off,
    )
    return changes, pins


def told(change: Change, names: Mapping[str, str] | None = None) -> Message:
    """Return a change as a sentence; ``names`` gives people's names by their keys."""
    called = names or {}
    who = called.get(change.inspector or "", change.inspector or "")
    name = called.get(change.name or "", change.name or "")
    dated = change.days or tuple({hour.at.date() for hour in change.weather})
    return Message(
        f"rounds_page.told_{change.kind}",
        {
            "apiary": change.apiary or "",
            "name": name,
            "inspector": who,
            "days": [say("rounds_page.day", day_on=on) for on in sorted(dated)],
        },
    )
