"""What holds for the next plan of rounds: noted before the first one, taken over from one plan to the next."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.desk.round_facts import Change, ChangeKind, Facts, changed
from broodsweep.desk.round_facts_record import facts_of, facts_plain
from broodsweep.errors import NotFoundError, RefusedError

AHEAD = "rounds_ahead"
"""Setting that holds what was noted before there was a plan."""
OF_A_PLAN = (
    ChangeKind.PIN,
    ChangeKind.UNPIN,
    ChangeKind.DONE,
    ChangeKind.NOT_DONE,
)
"""Changes of visits that stand in a plan."""
NEED_DAYS = (ChangeKind.AWAY, ChangeKind.ILL, ChangeKind.RAINED_OFF, ChangeKind.PART_DAY, ChangeKind.AGREED)


def facts_ahead(desk: Desk) -> Facts:
    """Return what was noted before there was a plan."""
    record = desk.snapshot().settings.get(AHEAD)
    return facts_of(record) if record else Facts()


def note_ahead(desk: Desk, author: Author, change: Change) -> Facts:
    """Note a change before there is a plan; the first plan holds to it.

    Raises
    ------
    NotFoundError
        If it names what is not on record, or a visit of a plan.
    """
    if change.kind in OF_A_PLAN:
        raise NotFoundError("rounds_page.no_plan")
    check_names(desk, change)
    after = changed(facts_ahead(desk), change)
    with desk.store.work(author, f"rounds_{change.kind}") as work:
        work.set(AHEAD, facts_plain(after))
    return after


def check_names(desk: Desk, change: Change) -> None:
    """Check that a change names what is on record, and days where it needs them.

    Raises
    ------
    NotFoundError
        If the apiary, the keeper or the inspector is not on record, or the days are missing.
    """
    snapshot = desk.snapshot()
    if change.apiary is not None:
        snapshot.apiary(change.apiary)
    if change.name is not None and change.name not in snapshot.keepers:
        snapshot.apiary(change.name)
    inspectors = {row.inspector for row in snapshot.ground.inspectors}
    if change.inspector is not None and change.inspector not in inspectors:
        raise NotFoundError("rounds_page.no_such_inspector", inspector=change.inspector)
    if change.kind in NEED_DAYS and not change.days:
        raise NotFoundError("rounds_page.which_day")
    if change.kind is ChangeKind.WEATHER and not change.weather:
        raise RefusedError("rounds.forecast_empty")


def without_over(facts: Facts, today: date) -> Facts:
    """Return the facts without weather that is over, for showing."""
    return replace(facts, weather={on: rows for on, rows in facts.weather.items() if on >= today})


def days_from(first: date, days: int) -> tuple[date, ...]:
    """Return so many days from the first on."""
    return tuple(first + timedelta(days=number) for number in range(days))
