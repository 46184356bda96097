"""What a new plan changed beside the plan before, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from broodsweep.desk.round_facts import Facts
from broodsweep.rounds.plan import Plan
from broodsweep.words import Message, say

SAME_HOUR_MINUTES = 15
"""A visit that begins up to this much earlier or later than announced counts as at the same hour (project choice)."""


@dataclass(frozen=True, kw_only=True)
class Spot:
    """Where a visit stands: who, which day, at which minute of it."""

    inspector: str
    on: date
    begin_minute: int


@dataclass(frozen=True, kw_only=True)
class Moved:
    """A visit that stands elsewhere than before; None: not planned."""

    apiary: str
    before: Spot | None
    after: Spot | None
    why: Message


def spots(plan: Plan) -> dict[str, Spot]:
    """Return where each visit stands (the first of two where two go)."""
    found: dict[str, Spot] = {}
    for row in plan.rounds:
        for stop in row.stops:
            found.setdefault(
                stop.apiary, Spot(inspector=row.inspector, on=row.on, begin_minute=stop.begin_minute)
            )
    return found


def what_moved(
    before: Plan,
    after: Plan,
    facts: Facts,
    keepers: Mapping[str, str | None],
    called: Mapping[str, str],
) -> tuple[Moved, ...]:
    """Return the visits that moved, with the reason; another hour of the same round is told last.

    Parameters
    ----------
    before, after
        The two plans.
    facts
        What holds in the new plan.
    keepers
        Keeper of each apiary.
    called
        Names of the inspectors by their keys.
    """
    was, now = spots(before), spots(after)
    reasons = {row.apiary: row.why[0] for row in after.unplanned if row.why}
    asked = now.keys() | {row.apiary for row in after.unplanned}
    found = []
    for apiary in sorted(was.keys() | now.keys()):
        old, new = was.get(apiary), now.get(apiary)
        if old and new and _same(old, new):
            continue
        if apiary in facts.done:
            continue
        if apiary not in asked:
            found.append(Moved(apiary=apiary, before=old, after=None, why=say("rounds_page.why_not_asked")))
            continue
        why = _why(apiary, old, new, facts, keepers.get(apiary), called) or reasons.get(apiary)
        found.append(Moved(apiary=apiary, before=old, after=new, why=why or say("rounds_page.why_room")))
    return tuple(sorted(found, key=_order))


def _same(old: Spot, new: Spot) -> bool:
    is_near = abs(old.begin_minute - new.begin_minute) <= SAME_HOUR_MINUTES
    return (old.inspector, old.on) == (new.inspector, new.on) and is_near


def _order(row: Moved) -> tuple[bool, bool, str]:
    is_hour = bool(
        row.before
        and row.after
        and (row.before.inspector, row.before.on) == (row.after.inspector, row.after.on)
    )
    return (is_hour, row.after is not None, row.apiary)


def _why(
    apiary: str,
    old: Spot | None,
    new: Spot | None,
    facts: Facts,
    keeper: str | None,
    called: Mapping[str, str],
) -> Message | None:
    """The fact that stands in the way of the old place, or that asked for the new one."""
    if apiary in facts.pins and new:
        return say("rounds_page.why_pinned")
    if old is None:
        return say("rounds_page.why_fits_now")
    away = facts.away.get(apiary, frozenset()) | facts.away.get(keeper or "", frozenset())
    if old.on in away:
        return say("rounds_page.why_away", day_on=old.on)
    if (old.inspector, old.on) in facts.ill:
        return say("rounds_page.why_ill", inspector=called.get(old.inspector, old.inspector), day_on=old.on)
    if old.on in facts.rained_off:
        return say("rounds_page.why_rained_off", day_on=old.on)
    if new and (old.inspector, old.on) == (new.inspector, new.on):
        return say("rounds_page.why_order")
    return None
