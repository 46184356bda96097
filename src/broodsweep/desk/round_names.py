"""Puts people's names where a plan has their keys, and what an inspector needs to know of a stop beside the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from broodsweep.desk.context import Desk
from broodsweep.desk.rules import book_of
from broodsweep.desk.snapshot import Snapshot
from broodsweep.rounds.plan import Plan, PlannedStop
from broodsweep.words import Message, say

OF_PEOPLE = ("inspector", "inspectors")
"""Values of a sentence that are keys of inspectors."""
FIRE = "rounds.bring_fire"
"""What is brought where colonies are killed and burned."""


def inspector_names(kept: Snapshot) -> dict[str, str]:
    """Return the names of the inspectors by their keys, as far as known."""
    return {row.inspector: row.name for row in kept.ground.inspectors if row.name}


def named(message: Message, called: Mapping[str, str]) -> Message:
    """Return a sentence with the names of inspectors for their keys, in the sentences within it too."""
    return Message(
        message.key, {name: _named_value(name, value, called) for name, value in message.params.items()}
    )


def _named_value(name: str, value: Any, called: Mapping[str, str]) -> Any:
    if isinstance(value, Message):
        return named(value, called)
    if name in OF_PEOPLE and isinstance(value, str):
        return called.get(value, value)
    if isinstance(value, (list, tuple)):
        return [_named_value(name, item, called) for item in value]
    return value


def named_plan(plan: Plan, called: Mapping[str, str]) -> Plan:
    """Return a plan whose reasons have names; who drives keeps the key."""

    def all_named(rows: Sequence[Message]) -> tuple[Message, ...]:
        return tuple(named(row, called) for row in rows)

    return replace(
        plan,
        unplanned=tuple(
            replace(row, why=all_named(row.why), would_help=all_named(row.would_help))
            for row in plan.unplanned
        ),
        notes=all_named(plan.notes),
    )


def contact_lines(kept: Snapshot, apiary: str) -> tuple[str, ...]:
    """Return who keeps the bees there and how to reach them: name, telephone, address, as far as known."""
    row = kept.apiaries.get(apiary)
    keeper = kept.keepers.get(row.keeper or "") if row else None
    if keeper is None:
        return ()
    return tuple(text for text in (keeper.name, keeper.phone, keeper.address) if text)


def cautions_at(desk: Desk, stop: PlannedStop, on: date) -> tuple[Message, ...]:
    """Return the cautions of the work at a stop where colonies are dealt with, by the rulebook of its outbreak."""
    if not any(thing.key == FIRE for thing in stop.bring):
        return ()
    found: dict[str, Message] = {}
    for outbreak in desk.snapshot().outbreaks:
        if any(case.apiary == stop.apiary for case in outbreak.cases):
            for caution in book_of(desk, outbreak).cautions(outbreak.disease, on):
                found.setdefault(caution.key, caution)
    return tuple(found.values()) or (say("rulebook.caution_fire"), say("rulebook.caution_supervision"))


def cautions_of_a_round() -> tuple[Message, ...]:
    """Return the cautions of any round: hives are opened, mostly by one person alone."""
    return (say("rulebook.caution_stings"),)
