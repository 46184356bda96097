"""Replays the events of a case: what they amount to on a day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from broodsweep.outbreak.model import Case, CaseState, Event, EventKind

OPEN_STATES = frozenset(set(CaseState) - {CaseState.RELEASED, CaseState.NOT_CONFIRMED})
"""States in which a case still asks for something."""
ESTABLISHED_STATES = frozenset({CaseState.CONFIRMED, CaseState.UNDER_MEASURES, CaseState.IN_REINSPECTION})
"""States in which the disease is established and not yet released."""
CLEARANCES = frozenset({EventKind.COLONIES_DESTROYED, EventKind.COLONIES_TREATED})
_STARTS_MEASURES = frozenset(
    {
        EventKind.NOTICE_SERVED,
        EventKind.COMB_BURNED,
        EventKind.EQUIPMENT_DISINFECTED,
        EventKind.DISINFECTION_ACCEPTED,
        EventKind.SITE_CLOSED_UP,
        EventKind.KIT_CLEANED,
    }
)
_OUTLASTS_A_ROUND = frozenset({EventKind.NOTIFIED, EventKind.NOTICE_SERVED})
"""What need not be done again when a re-inspection finds disease: the standstill was never lifted."""


@dataclass(frozen=True, kw_only=True)
class Progress:
    """What the events of a case amount to.

    A round begins with a finding and begins anew when a re-inspection finds disease or the case is reopened.
    ``done`` holds what was done in the round and on which day first; ``cleans`` the clean re-inspections since
    the last clearance, suspicion or positive look. ``held_since`` is the day of the finding since which the case
    was never free: a positive re-inspection does not move it.
    """

    state: CaseState | None = None
    since: date | None = None
    round: int = 0
    found_on: date | None = None
    held_since: date | None = None
    confirmed_on: date | None = None
    cleared_on: date | None = None
    cleared_by: EventKind | None = None
    done: Mapping[EventKind, date] = field(default_factory=dict)
    cleans: tuple[date, ...] = ()
    is_from_tables: bool = False

    def at(self, state: CaseState, day: date) -> Progress:
        """Return the same in another state, since that day if it is another."""
        return self if state is self.state else replace(self, state=state, since=day)

    def new_round(self, state: CaseState, day: date, kept: Mapping[EventKind, date]) -> Progress:
        """Return a new round that begins on that day."""
        return Progress(
            state=state,
            since=day,
            round=self.round + 1,
            found_on=day,
            held_since=(self.held_since if self.state in OPEN_STATES else None) or day,
            confirmed_on=day if state in ESTABLISHED_STATES else None,
            done=dict(kept),
            is_from_tables=self.is_from_tables,
        )


def effective_events(case: Case) -> tuple[Event, ...]:
    """Return the events with their corrections applied, by the day they happened, then as written down.

    The events of the case stay as they are; withdrawn ones and the corrections themselves are left out.
    """
    cancelled: set[str] = set()
    changes: dict[str, list[Mapping[str, object]]] = {}
    for event in reversed(case.events):
        if event.kind is not EventKind.AMENDED or event.event in cancelled:
            continue
        target = str(event.detail.get("event", ""))
        if event.detail.get("withdrawn"):
            cancelled.add(target)
        else:
            changes.setdefault(target, []).insert(0, event.detail)
    kept = [
        _amend(event, changes.get(event.event, ()))
        for event in case.events
        if event.kind is not EventKind.AMENDED and event.event not in cancelled
    ]
    return tuple(sorted(kept, key=lambda event: event.happened_on))


def _amend(event: Event, changes: Iterable[Mapping[str, object]]) -> Event:
    for change in changes:
        day = change.get("happened_on", event.happened_on)
        evidence = change.get("evidence", event.evidence)
        detail = change.get("detail", event.detail)
        event = replace(
            event,
            happened_on=day if isinstance(day, date) else date.fromisoformat(str(day)),
            who=str(change.get("who", event.who)),
            evidence=None if evidence is None else str(evidence),
            detail=detail if isinstance(detail, Mapping) else event.detail,
        )
    return event


def progress_of(case: Case, on: date | None = None) -> Progress:
    """Return what the events up to and including a day amount to (all of them without a day)."""
    progress = Progress()
    for event in effective_events(case):
        if on is None or event.happened_on <= on:
            progress = apply(progress, event)
    return progress


def apply(progress: Progress, event: Event) -> Progress:
    """Return the progress after one more event; asks not whether the event was allowed."""
    day, kind = event.happened_on, event.kind
    if progress.state is None and event.detail.get("from") == "tables":
        progress = replace(progress, is_from_tables=True)
    if kind in (EventKind.SUSPECTED, EventKind.CONFIRMED):
        return _find(progress, kind, day)
    if kind is EventKind.REOPENED:
        return progress.new_round(CaseState.SUSPECTED, day, {})
    if kind is EventKind.REINSPECTED_POSITIVE:
        kept = {done: when for done, when in progress.done.items() if done in _OUTLASTS_A_ROUND}
        state = CaseState.UNDER_MEASURES if EventKind.NOTICE_SERVED in kept else CaseState.CONFIRMED
        return progress.new_round(state, day, kept)
    progress = replace(progress, done={kind: day, **progress.done})
    if kind is EventKind.SAMPLE_SENT and progress.state is CaseState.SUSPECTED:
        return progress.at(CaseState.AWAITING_RESULT, day)
    if kind is EventKind.NOT_CONFIRMED:
        return progress.at(CaseState.NOT_CONFIRMED, day)
    if kind in CLEARANCES:
        return _clear(progress, event)
    if kind in _STARTS_MEASURES and progress.state is CaseState.CONFIRMED:
        return progress.at(CaseState.UNDER_MEASURES, day)
    if kind is EventKind.REINSPECTED_CLEAN:
        return replace(progress, cleans=(*progress.cleans, day))
    if kind is EventKind.RELEASED:
        return progress.at(CaseState.RELEASED, day)
    return progress


def _find(progress: Progress, kind: EventKind, day: date) -> Progress:
    if progress.state not in OPEN_STATES:
        state = CaseState.SUSPECTED if kind is EventKind.SUSPECTED else CaseState.CONFIRMED
        return progress.new_round(state, day, {})
    if kind is EventKind.SUSPECTED:
        # A fresh suspicion at a re-inspection undoes the clean looks before it.
        return replace(progress, cleans=())
    if progress.confirmed_on is not None:
        return progress
    served = EventKind.NOTICE_SERVED in progress.done
    state = CaseState.UNDER_MEASURES if served else CaseState.CONFIRMED
    return replace(progress.at(state, day), confirmed_on=day)


def _clear(progress: Progress, event: Event) -> Progress:
    left = event.detail.get("colonies_left")
    if isinstance(left, (int, float)) and left > 0:
        return replace(
            progress.at(CaseState.UNDER_MEASURES, event.happened_on),
            cleared_on=None,
            cleared_by=None,
            cleans=(),
        )
    cleared = replace(progress, cleared_on=event.happened_on, cleared_by=event.kind, cleans=())
    return cleared.at(CaseState.IN_REINSPECTION, event.happened_on)


def state_of(case: Case, on: date | None = None) -> CaseState:
    """Return where a case stands, on a day or after all its events; suspected when nothing was written down."""
    return progress_of(case, on).state or CaseState.SUSPECTED


def state_since(case: Case, on: date | None = None) -> date | None:
    """Return the day since which the case stands there; None when nothing was written down."""
    return progress_of(case, on).since


def is_open(case: Case, on: date | None = None) -> bool:
    """Say whether the case still asks for something: neither released nor not confirmed."""
    return state_of(case, on) in OPEN_STATES
