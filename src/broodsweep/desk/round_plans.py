"""The plan of rounds that is in force: kept in the store with what was fixed and what turned out, changed, taken back.

Every plan is a record of its own; a pointer says which is in force and which came before, so that going back is
one step and every plan stays in the journal.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.desk.round_ahead import check_names, facts_ahead
from broodsweep.desk.round_changes import Moved, Spot, spots, what_moved
from broodsweep.desk.round_delay import Evening, evenings_of, evenings_plain
from broodsweep.desk.round_facts import Change, ChangeKind, Facts, changed, needed, told
from broodsweep.desk.round_facts_record import facts_of, facts_plain
from broodsweep.desk.round_records import plain, plan_of, plan_plain, unplain
from broodsweep.errors import NotFoundError, RefusedError
from broodsweep.rounds.day import DayHours, check_forecast
from broodsweep.rounds.model import clock
from broodsweep.rounds.plan import Plan
from broodsweep.words import Message, say

POINTER = "rounds_plan"
"""Setting that names the plan in force and the ones before it."""
OF_ITS_DAYS = (ChangeKind.PIN, ChangeKind.AWAY, ChangeKind.ILL, ChangeKind.RAINED_OFF, ChangeKind.PART_DAY)
"""Changes that make sense on days of the plan alone; an appointment may be for a later one."""
KEPT_PLANS = 6
"""Plans that can be gone back to; older ones stay in the journal."""


@dataclass(frozen=True, kw_only=True)
class Question:
    """What was asked to be planned: which days, one outbreak or the whole district, how much overtime."""

    first_on: date
    days: int
    outbreak: str | None = None
    overtime_minutes: int = 0

    @property
    def span(self) -> tuple[date, ...]:
        """Every day of the plan."""
        return tuple(self.first_on + timedelta(days=number) for number in range(self.days))


@dataclass(frozen=True, kw_only=True)
class OpenHours:
    """Hours in which hives may be opened on a day, as the clock shows them; None: not at all."""

    on: date
    opens: str | None
    closes: str | None
    why: Message


@dataclass(frozen=True, kw_only=True)
class KeptPlan:
    """A plan with all that belongs to it. ``number`` is 0 until it is kept; ``moved`` compares it with the one before."""

    number: int = 0
    made_at: datetime
    made_by: str
    told: Message
    question: Question
    facts: Facts
    plan: Plan
    hours: tuple[OpenHours, ...]
    zone: ZoneInfo
    moved: tuple[Moved, ...] = ()
    delay: tuple[Evening, ...] = ()


def open_hours(rows: Sequence[DayHours]) -> tuple[OpenHours, ...]:
    """Return the opening hours as they are kept."""
    return tuple(
        OpenHours(
            on=row.on,
            opens=clock(row.opening.start_minute) if row.opening else None,
            closes=clock(row.opening.end_minute) if row.opening else None,
            why=row.why,
        )
        for row in rows
    )


def plan_in_force(desk: Desk) -> KeptPlan | None:
    """Return the plan in force; None before the first."""
    line = _pointer(desk)
    record = desk.snapshot().settings.get(_name(line[0])) if line else None
    return _kept_of(line[0], record) if record else None


def facts_in_force(desk: Desk) -> Facts:
    """Return what holds beside the tables: noted with the plan in force, or before the first one."""
    kept = plan_in_force(desk)
    return kept.facts if kept else facts_ahead(desk)


def can_go_back(desk: Desk) -> bool:
    """Say whether there is a plan before the one in force."""
    return len(_pointer(desk)) > 1


def keep(desk: Desk, author: Author, kept: KeptPlan, what: str) -> KeptPlan:
    """Put a plan in force; the one before can be gone back to."""
    line = _pointer(desk)
    number = 1 + max((_number(name) for name in desk.snapshot().settings), default=0)
    made = replace(kept, number=number)
    with desk.store.work(author, what) as work:
        work.set(_name(number), _record(made))
        work.set(POINTER, [number, *line[: KEPT_PLANS - 1]])
        for old in line[KEPT_PLANS - 1 :]:
            work.set(_name(old), None)
    return made


def go_back(desk: Desk, author: Author, number: int) -> KeptPlan | None:
    """Put the plan before the one in force in force again.

    Raises
    ------
    RefusedError
        If another plan than ``number`` is in force by now, or there is none before it.
    """
    in_force(desk, number)
    line = _pointer(desk)
    if len(line) < 2:  # noqa: PLR2004 - this one and the one before
        raise RefusedError("rounds_page.nothing_before")
    with desk.store.work(author, "go_back_in_rounds") as work:
        work.set(POINTER, line[1:])
        work.set(_name(line[0]), None)
    return plan_in_force(desk)


def in_force(desk: Desk, number: int) -> KeptPlan:
    """Return the plan in force.

    Raises
    ------
    NotFoundError
        If there is no plan.
    RefusedError
        If another one than ``number`` is in force by now.
    """
    kept = plan_in_force(desk)
    if kept is None:
        raise NotFoundError("rounds_page.no_plan")
    if kept.number != number:
        raise RefusedError("rounds_page.other_plan")
    return kept


def check(desk: Desk, kept: KeptPlan, change: Change) -> None:
    """Check that a change names what is there, on days of the plan.

    Raises
    ------
    NotFoundError
        If the apiary, the keeper or the inspector is not on record, or the visit is not planned.
    RefusedError
        If a day is outside the plan.
    RoundsError
        If a forecast says nothing of the days of the plan.
    """
    check_names(desk, change)
    span = kept.question.span
    if change.kind in OF_ITS_DAYS:
        for on in change.days:
            if on not in span:
                raise RefusedError("rounds_page.day_outside", day_on=on, first_on=span[0], last_on=span[-1])
    if change.kind is ChangeKind.WEATHER:
        check_forecast(change.weather, span[0], len(span))
    if change.kind is ChangeKind.DONE and needed(change.apiary, "rounds_page.which_apiary") not in spots(
        kept.plan
    ):
        raise NotFoundError("rounds_page.not_planned", apiary=change.apiary)


def is_replanned(kept: KeptPlan, change: Change) -> bool:
    """Say whether the change asks for another plan; a pin where the visit stands, or a visit done, does not."""
    if change.kind is ChangeKind.PIN:
        spot = spots(kept.plan).get(change.apiary or "")
        wanted_day = min(change.days) if change.days else None
        return (
            spot is None
            or change.inspector not in (None, spot.inspector)
            or wanted_day not in (None, spot.on)
        )
    return change.kind not in (ChangeKind.UNPIN, ChangeKind.DONE, ChangeKind.NOT_DONE)


def facts_after(kept: KeptPlan, change: Change) -> Facts:
    """Return what holds after a change.

    Raises
    ------
    NotFoundError
        If the change does not say what it is about.
    """
    facts = kept.facts
    if change.kind not in (ChangeKind.DONE, ChangeKind.NOT_DONE):
        return changed(facts, change)
    apiary = needed(change.apiary, "rounds_page.which_apiary")
    rest = {name: row for name, row in facts.done.items() if name != apiary}
    if change.kind is ChangeKind.NOT_DONE:
        return replace(facts, done=rest)
    spot = spots(kept.plan)[apiary]
    return replace(facts, done={**rest, apiary: (spot.inspector, spot.on, spot.begin_minute)})


def note(desk: Desk, author: Author, number: int, change: Change) -> KeptPlan:
    """Note a change that leaves the rounds as they are: pinned in place, pin taken out, visit done.

    Raises
    ------
    NotFoundError, RefusedError
        As `check` and `in_force`.
    """
    kept = in_force(desk, number)
    check(desk, kept, change)
    after = replace(
        kept,
        made_at=desk.now(),
        made_by=author.who,
        told=told(change, names(desk)),
        facts=facts_after(kept, change),
        moved=(),
    )
    return keep(desk, author, after, f"rounds_{change.kind}")


def names(desk: Desk) -> dict[str, str]:
    """Return the names of inspectors and keepers by their keys, as far as known."""
    ground = desk.snapshot().ground
    found = {row.keeper: row.name for row in ground.keepers if row.name}
    return found | {row.inspector: row.name for row in ground.inspectors if row.name}


def compared(
    desk: Desk, before: KeptPlan | None, after: Plan, facts: Facts, hours: Sequence[DayHours] = ()
) -> tuple[Moved, ...]:
    """Return what a plan changed beside the one before, with the reasons."""
    if before is None:
        return ()
    keepers = {row.apiary: row.keeper for row in desk.snapshot().ground.apiaries}
    opening = {row.on: row.opening for row in hours}
    return what_moved(before.plan, after, facts, keepers, names(desk), opening)


def _pointer(desk: Desk) -> list[int]:
    return list(desk.snapshot().settings.get(POINTER) or [])


def _name(number: int) -> str:
    return f"{POINTER}.{number}"


def _number(name: str) -> int:
    head, _, tail = name.rpartition(".")
    return int(tail) if head == POINTER and tail.isdigit() else 0


def _record(kept: KeptPlan) -> dict[str, Any]:
    question = kept.question
    return {
        "made_at": kept.made_at.isoformat(),
        "made_by": kept.made_by,
        "told": plain(kept.told),
        "first_on": question.first_on.isoformat(),
        "days": question.days,
        "outbreak": question.outbreak,
        "overtime_minutes": question.overtime_minutes,
        "facts": facts_plain(kept.facts),
        "plan": plan_plain(kept.plan),
        "hours": plain(kept.hours),
        "zone": str(kept.zone),
        "moved": plain(kept.moved),
        "delay": evenings_plain(kept.delay),
    }


def _kept_of(number: int, record: Mapping[str, Any]) -> KeptPlan:
    return KeptPlan(
        number=number,
        made_at=datetime.fromisoformat(record["made_at"]),
        made_by=record["made_by"],
        told=unplain(record["told"]),
        question=Question(
            first_on=date.fromisoformat(record["first_on"]),
            days=record["days"],
            outbreak=record["outbreak"],
            overtime_minutes=record["overtime_minutes"],
        ),
        facts=facts_of(record["facts"]),
        plan=plan_of(record["plan"]),
        hours=tuple(OpenHours(**row) for row in unplain(record["hours"])),
        zone=ZoneInfo(record["zone"]),
        moved=tuple(_moved(row) for row in unplain(record["moved"])),
        delay=evenings_of(record.get("delay", ())),
    )


def _moved(row: Mapping[str, Any]) -> Moved:
    return Moved(
        apiary=row["apiary"],
        before=Spot(**row["before"]) if row["before"] else None,
        after=Spot(**row["after"]) if row["after"] else None,
        why=row["why"],
    )


def fresh_told(question: Question) -> Message:
    """Return the sentence that a fresh plan is told by."""
    last = question.span[-1]
    if question.outbreak:
        return say(
            "rounds_page.told_fresh_outbreak",
            outbreak=question.outbreak,
            first_on=question.first_on,
            last_on=last,
        )
    return say("rounds_page.told_fresh", first_on=question.first_on, last_on=last)
