"""How the days turned out: what the user fixed by hand, what is done, who is away or ill, which day is rained off."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from typing import Any

from broodsweep.desk.rounds import Changes
from broodsweep.errors import NotFoundError
from broodsweep.rounds.model import Pin
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
    ILL = "ill"
    WELL = "well"
    RAINED_OFF = "rained_off"
    DRY = "dry"


@dataclass(frozen=True, kw_only=True)
class Change:
    """One change; which of the fields it needs follows from its kind.

    ``name`` is the apiary or the keeper who is away.
    """

    kind: ChangeKind
    apiary: str | None = None
    name: str | None = None
    inspector: str | None = None
    days: tuple[date, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What holds beside the tables.

    ``done`` holds who made the visit on which day, and the minute of the day at which it was planned to begin.
    """

    pins: Mapping[str, PinnedTo] = field(default_factory=dict)
    done: Mapping[str, tuple[str, date, int]] = field(default_factory=dict)
    away: Mapping[str, frozenset[date]] = field(default_factory=dict)
    ill: frozenset[tuple[str, date]] = frozenset()
    rained_off: frozenset[date] = frozenset()

    def from_day(self, first: date) -> Facts:
        """Return the facts of the days from ``first``, without what was fixed by hand: for a fresh plan."""
        away = {name: frozenset(on for on in days if on >= first) for name, days in self.away.items()}
        return Facts(
            done=self.done,
            away={name: days for name, days in away.items() if days},
            ill=frozenset(row for row in self.ill if row[1] >= first),
            rained_off=frozenset(on for on in self.rained_off if on >= first),
        )


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
    """Return the facts after a change of pins, absences or weather; visits done are marked elsewhere.

    Raises
    ------
    NotFoundError
        If the change does not say what it is about.
    """
    days = frozenset(change.days)
    match change.kind:
        case ChangeKind.PIN:
            apiary = needed(change.apiary, "rounds_page.which_apiary")
            return replace(
                facts, pins={**facts.pins, apiary: (change.inspector, min(days) if days else None)}
            )
        case ChangeKind.UNPIN:
            return replace(facts, pins={name: to for name, to in facts.pins.items() if name != change.apiary})
        case ChangeKind.AWAY | ChangeKind.BACK:
            name = needed(change.name, "rounds_page.which_keeper")
            before = facts.away.get(name, frozenset())
            after = (
                before | days if change.kind is ChangeKind.AWAY else before - days if days else frozenset()
            )
            rest = {key: kept for key, kept in facts.away.items() if key != name}
            return replace(facts, away={**rest, name: after} if after else rest)
        case ChangeKind.ILL | ChangeKind.WELL:
            who = needed(change.inspector, "rounds_page.which_inspector")
            rows = frozenset((who, on) for on in days)
            return replace(facts, ill=facts.ill | rows if change.kind is ChangeKind.ILL else facts.ill - rows)
        case ChangeKind.RAINED_OFF:
            return replace(facts, rained_off=facts.rained_off | days)
        case ChangeKind.DRY:
            return replace(facts, rained_off=facts.rained_off - days)
        case _:
            raise ValueError(f"Expected a change of the days, got {change.kind}.")


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
        ill=facts.ill,
        rained_off=facts.rained_off,
    )
    return changes, pins


def told(change: Change, names: Mapping[str, str] | None = None) -> Message:
    """Return a change as a sentence; ``names`` gives people's names by their keys."""
    called = names or {}
    who = called.get(change.inspector or "", change.inspector or "")
    name = called.get(change.name or "", change.name or "")
    days = [say("rounds_page.day", day_on=on) for on in sorted(change.days)]
    return Message(
        f"rounds_page.told_{change.kind}",
        {"apiary": change.apiary or "", "name": name, "inspector": who, "days": days},
    )


def facts_plain(facts: Facts) -> dict[str, Any]:
    """Return the facts as JSON."""
    return {
        "pins": {name: [who, on.isoformat() if on else None] for name, (who, on) in facts.pins.items()},
        "done": {name: [who, on.isoformat(), begin] for name, (who, on, begin) in facts.done.items()},
        "away": {name: sorted(on.isoformat() for on in days) for name, days in facts.away.items()},
        "ill": sorted([who, on.isoformat()] for who, on in facts.ill),
        "rained_off": sorted(on.isoformat() for on in facts.rained_off),
    }


def facts_of(record: Mapping[str, Any]) -> Facts:
    """Return the facts of a JSON record."""
    day = date.fromisoformat
    return Facts(
        pins={name: (who, day(on) if on else None) for name, (who, on) in record["pins"].items()},
        done={name: (who, day(on), begin) for name, (who, on, begin) in record["done"].items()},
        away={name: frozenset(map(day, days)) for name, days in record["away"].items()},
        ill=frozenset((who, day(on)) for who, on in record["ill"]),
        rained_off=frozenset(map(day, record["rained_off"])),
    )
