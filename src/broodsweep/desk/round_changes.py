"""What a new plan changed beside the plan before, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from broodsweep.desk.round_facts import Facts
from broodsweep.rounds.model import Window, clock
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
    end_minute: int | None = None


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
            spot = Spot(
                inspector=row.inspector,
                on=row.on,
                begin_minute=stop.begin_minute,
                end_minute=stop.leave_minute,
            )
            found.setdefault(stop.apiary, spot)
    return found


def what_moved(
    before: Plan,
    after: Plan,
    facts: Facts,
    keepers: Mapping[str, str | None],
    called: Mapping[str, str],
    opening: Mapping[date, Window | None] | None = None,
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
    opening
        Hours in which hives may be opened by the new plan; None: not at all that day.
    """
    grounds = _Grounds(facts=facts, keepers=keepers, called=called, opening=opening or {})
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
        why = grounds.why(apiary, old, new) or reasons.get(apiary)
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


@dataclass(frozen=True, kw_only=True)
class _Grounds:
    """What can stand in the way of a visit where it was."""

    facts: Facts
    keepers: Mapping[str, str | None]
    called: Mapping[str, str]
    opening: Mapping[date, Window | None]

    def why(self, apiary: str, old: Spot | None, new: Spot | None) -> Message | None:
        """The fact that stands in the way of the old place, or that asked for the new one."""
        agreed = self.facts.agreed.get(apiary)
        if apiary in self.facts.pins and new:
            return say("rounds_page.why_pinned")
        if agreed and (new is None or new.on == agreed.on):
            return say("rounds_page.why_agreed", day_on=agreed.on)
        if old is None:
            return say("rounds_page.why_fits_now")
        return (
            self._of_keeper(apiary, old)
            or self._of_inspector(old)
            or self._of_sky(old)
            or self._of_order(old, new)
        )

    def _of_keeper(self, apiary: str, old: Spot) -> Message | None:
        names = (apiary, self.keepers.get(apiary) or "")
        if any(old.on in self.facts.away.get(name, ()) for name in names):
            return say("rounds_page.why_away", day_on=old.on)
        hours = next((self.facts.hours[name] for name in names if name in self.facts.hours), None)
        if hours is None:
            return None
        if old.on.isoweekday() not in hours.weekdays:
            return say("rounds_page.why_away", day_on=old.on)
        if hours.windows and not any(_within(old, window) for window in hours.windows):
            return say("rounds_page.why_hours", day_on=old.on)
        return None

    def _of_inspector(self, old: Spot) -> Message | None:
        who = self.called.get(old.inspector, old.inspector)
        if (old.inspector, old.on) in self.facts.ill:
            return say("rounds_page.why_ill", inspector=who, day_on=old.on)
        part = self.facts.part_days.get((old.inspector, old.on))
        if part is not None and not _within(old, part):
            return _with_hours("rounds_page.why_part_day", part, inspector=who, day_on=old.on)
        return None

    def _of_sky(self, old: Spot) -> Message | None:
        if old.on in self.facts.rained_off:
            return say("rounds_page.why_rained_off", day_on=old.on)
        if old.on not in self.opening:
            return None
        hours = self.opening[old.on]
        if hours is None:
            return say("rounds_page.why_shut", day_on=old.on)
        if not _within(old, hours):
            return _with_hours("rounds_page.why_weather", hours, day_on=old.on)
        return None

    def _of_order(self, old: Spot, new: Spot | None) -> Message | None:
        if new and (old.inspector, old.on) == (new.inspector, new.on):
            return say("rounds_page.why_order")
        return None


def _within(spot: Spot, window: Window) -> bool:
    end = spot.begin_minute if spot.end_minute is None else spot.end_minute
    return window.start_minute <= spot.begin_minute and end <= window.end_minute


def _with_hours(key: str, window: Window, **params: object) -> Message:
    return Message(key, {**params, "opens": clock(window.start_minute), "closes": clock(window.end_minute)})
