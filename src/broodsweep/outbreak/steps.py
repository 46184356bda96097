"""Adds events to an outbreak: every transition is checked, an impossible one refused with its reason."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import partial

from broodsweep.constants import Disease
from broodsweep.errors import RefusedError
from broodsweep.outbreak.history import Progress, apply, effective_events, is_open, progress_of
from broodsweep.outbreak.model import Case, Event, EventKind, Outbreak
from broodsweep.outbreak.refusals import StepRefusedError, step_said, why_refused
from broodsweep.rulebook import Rulebook
from broodsweep.words import Message, say

_AHEAD_OF_UTC = timedelta(hours=14)
"""The day may already be tomorrow east of Greenwich: no clock is further ahead of UTC (tz database, Kiritimati)."""
_AFTER_CLOSING = frozenset({EventKind.REOPENED, EventKind.NOTE, EventKind.AMENDED})


def allowed_steps(
    case: Case, book: Rulebook, disease: Disease, on: date | None = None
) -> tuple[EventKind, ...]:
    """Return the steps that may be written down next.

    Parameters
    ----------
    case, book, disease
        The case and the rules under which it is handled.
    on
        Day of the step. Without it a step is listed when it may come on some later day, so that a release
        shows as soon as only time is wanting.
    """
    progress = progress_of(case, on)
    day = on or date.max
    return tuple(
        kind for kind in EventKind if why_refused(progress, _trial(case, kind, day), book, disease) is None
    )


def _trial(case: Case, kind: EventKind, day: date) -> Event:
    instant = datetime.min
    return Event(
        event="", apiary=case.apiary, kind=kind, happened_on=day, recorded_at=instant, who="", detail={}
    )


def add_event(outbreak: Outbreak, event: Event, book: Rulebook) -> Outbreak:
    """Return the outbreak with one more event; the earlier ones stay as they are.

    An event may be written down late: it is checked at its own day, and so is everything after it. The same
    event handed in twice changes nothing. An event for an apiary without a case opens one.

    Raises
    ------
    StepRefusedError
        If the step is impossible; the sentence says why and what would be possible.
    """
    case = next((row for row in outbreak.cases if row.apiary == event.apiary), Case(apiary=event.apiary))
    known = {row.event: row for other in outbreak.cases for row in other.events}
    if known.get(event.event) == event:
        return outbreak
    refuse = partial(_refuse, event, case, book, outbreak.disease)
    if event.event in known:
        raise refuse(say("outbreak.reason_same_name"))
    if event.happened_on > (event.recorded_at + _AHEAD_OF_UTC).date():
        raise refuse(say("outbreak.reason_future", recorded_at=event.recorded_at))
    if event.happened_on < outbreak.opened_on:
        raise refuse(say("outbreak.reason_before_opening", opened_on=outbreak.opened_on))
    if outbreak.closed_on is not None and event.kind not in _AFTER_CLOSING:
        raise refuse(say("outbreak.reason_closed", closed_on=outbreak.closed_on))
    reason = _why_amendment_refused(case, event) if event.kind is EventKind.AMENDED else None
    changed = replace(case, events=(*case.events, event))
    if reason is None:
        reason = _why_broken(case, changed, event, book, outbreak)
    if reason is not None:
        raise refuse(reason)
    others = tuple(changed if row.apiary == case.apiary else row for row in outbreak.cases)
    cases = others if any(row.apiary == case.apiary for row in outbreak.cases) else (*others, changed)
    is_reopened = event.kind is EventKind.REOPENED
    return replace(outbreak, cases=cases, closed_on=None if is_reopened else outbreak.closed_on)


def _refuse(event: Event, case: Case, book: Rulebook, disease: Disease, reason: Message) -> StepRefusedError:
    return StepRefusedError(event, reason, allowed_steps(case, book, disease, event.happened_on))


def _why_amendment_refused(case: Case, event: Event) -> Message | None:
    target = str(event.detail.get("event", ""))
    if all(row.event != target for row in case.events):
        return say("outbreak.reason_amends_nothing", event=target or "–")
    changes = {"withdrawn", "happened_on", "who", "evidence", "detail"} & set(event.detail)
    if not changes:
        return say("outbreak.reason_amends_nothing_in", event=target)
    day = event.detail.get("happened_on", event.happened_on)
    try:
        day = day if isinstance(day, date) else date.fromisoformat(str(day))
    except ValueError:
        return say("outbreak.reason_amended_day", day=str(day))
    if day > (event.recorded_at + _AHEAD_OF_UTC).date():
        return say("outbreak.reason_future", recorded_at=event.recorded_at)
    return None


def _why_broken(
    before: Case, changed: Case, event: Event, book: Rulebook, outbreak: Outbreak
) -> Message | None:
    """Return why the case cannot have been so: the event itself, or what it makes of those after it."""
    if any(row.happened_on < outbreak.opened_on for row in effective_events(changed)):
        return say("outbreak.reason_before_opening", opened_on=outbreak.opened_on)
    was = _broken(before, book, outbreak.disease)
    now = _broken(changed, book, outbreak.disease)
    if event.event in now:
        return now[event.event]
    for row in effective_events(changed):
        if row.event in now and row.event not in was:
            return say(
                "outbreak.reason_breaks_later",
                step=step_said(row.kind),
                happened_on=row.happened_on,
                reason=now[row.event],
            )
    if not effective_events(changed):
        return say("outbreak.reason_nothing_left")
    return None


def _broken(case: Case, book: Rulebook, disease: Disease) -> dict[str, Message]:
    """Return the events that cannot have followed those before them, with the reason."""
    progress, found = Progress(), dict[str, Message]()
    for event in effective_events(case):
        reason = why_refused(progress, event, book, disease)
        if reason is not None:
            found[event.event] = reason
        progress = apply(progress, event)
    return found


def close_outbreak(outbreak: Outbreak, on: date) -> Outbreak:
    """Return the outbreak closed on that day.

    Raises
    ------
    RefusedError
        If it is closed already, or a case of it is still open.
    """
    if outbreak.closed_on is not None:
        raise RefusedError(
            "outbreak.closed_already", outbreak=outbreak.outbreak, closed_on=outbreak.closed_on
        )
    still = [case.apiary for case in outbreak.cases if is_open(case, on)]
    if still:
        raise RefusedError("outbreak.cases_open", outbreak=outbreak.outbreak, apiaries=still)
    return replace(outbreak, closed_on=on)
