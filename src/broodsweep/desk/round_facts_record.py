"""The facts of a plan of rounds as plain JSON values, to be kept in the store, and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from broodsweep.desk.round_facts import Facts, Rules
from broodsweep.desk.round_hours import Appointment, KeeperHours
from broodsweep.rounds.day import ForecastHour, Thresholds
from broodsweep.rounds.model import Hygiene, Window


def facts_plain(facts: Facts) -> dict[str, Any]:
    """Return the facts as JSON."""
    return {
        "pins": {name: [who, on.isoformat() if on else None] for name, (who, on) in facts.pins.items()},
        "done": {name: [who, on.isoformat(), begin] for name, (who, on, begin) in facts.done.items()},
        "away": {name: sorted(on.isoformat() for on in days) for name, days in facts.away.items()},
        "hours": {
            name: [sorted(row.weekdays), [_ends(window) for window in row.windows]]
            for name, row in facts.hours.items()
        },
        "agreed": {
            name: [row.on.isoformat(), _ends(row.window) if row.window else None]
            for name, row in facts.agreed.items()
        },
        "ill": sorted([who, on.isoformat()] for who, on in facts.ill),
        "part_days": sorted(
            [who, on.isoformat(), _ends(window)] for (who, on), window in facts.part_days.items()
        ),
        "rained_off": sorted(on.isoformat() for on in facts.rained_off),
        "weather": [hour_plain(hour) for rows in facts.weather.values() for hour in rows],
        "rules": rules_plain(facts.rules),
    }


def facts_of(record: Mapping[str, Any]) -> Facts:
    """Return the facts of a JSON record; what an older version did not keep is empty."""
    day = date.fromisoformat
    weather: dict[date, list[ForecastHour]] = {}
    for row in record.get("weather", ()):
        hour = hour_of(row)
        weather.setdefault(hour.at.date(), []).append(hour)
    rules = record.get("rules")
    return Facts(
        pins={name: (who, day(on) if on else None) for name, (who, on) in record["pins"].items()},
        done={name: (who, day(on), begin) for name, (who, on, begin) in record["done"].items()},
        away={name: frozenset(map(day, days)) for name, days in record["away"].items()},
        hours={
            name: KeeperHours(weekdays=frozenset(weekdays), windows=tuple(Window(*ends) for ends in windows))
            for name, (weekdays, windows) in record.get("hours", {}).items()
        },
        agreed={
            name: Appointment(on=day(on), window=Window(*ends) if ends else None)
            for name, (on, ends) in record.get("agreed", {}).items()
        },
        ill=frozenset((who, day(on)) for who, on in record["ill"]),
        part_days={(who, day(on)): Window(*ends) for who, on, ends in record.get("part_days", ())},
        rained_off=frozenset(map(day, record["rained_off"])),
        weather={on: tuple(rows) for on, rows in weather.items()},
        rules=rules_of(rules) if rules else Rules(),
    )


def rules_plain(rules: Rules) -> dict[str, Any]:
    """Return the rules of the rounds as JSON."""
    hygiene, weather = rules.hygiene, rules.thresholds
    return {
        "wash_minutes": hygiene.decontamination_minutes,
        "wash_at_home": hygiene.wash_at_home,
        "least_celsius": weather.least_celsius,
        "most_wind_m_per_s": weather.most_wind_m_per_s,
        "most_rain_mm": weather.most_rain_mm,
        "between": _ends(weather.between),
    }


def rules_of(record: Mapping[str, Any]) -> Rules:
    """Return the rules of a JSON record."""
    return Rules(
        hygiene=Hygiene(decontamination_minutes=record["wash_minutes"], wash_at_home=record["wash_at_home"]),
        thresholds=Thresholds(
            least_celsius=record["least_celsius"],
            most_wind_m_per_s=record["most_wind_m_per_s"],
            most_rain_mm=record["most_rain_mm"],
            between=Window(*record["between"]),
        ),
    )


def hour_plain(hour: ForecastHour) -> list[Any]:
    """Return an hour of a forecast as JSON."""
    return [
        hour.at.isoformat(timespec="minutes"),
        hour.temperature_celsius,
        hour.wind_m_per_s,
        hour.rain_mm,
    ]


def hour_of(row: Sequence[Any]) -> ForecastHour:
    """Return the hour of a JSON row."""
    at, celsius, wind, rain = row
    return ForecastHour(
        at=datetime.fromisoformat(at), temperature_celsius=celsius, wind_m_per_s=wind, rain_mm=rain
    )


def _ends(window: Window) -> list[int]:
    return [window.start_minute, window.end_minute]
