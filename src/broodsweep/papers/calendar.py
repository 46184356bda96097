"""Due dates as a calendar file that calendar programs read (iCalendar)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from uuid import UUID, uuid5

from icalendar import Alarm, Calendar, Event

from broodsweep.outbreak import Due, DueState
from broodsweep.words import Message, render, say

_NAMES = UUID("c0a3f0d2-6f0e-5f9b-9d4e-2b1f7a6c5e10")
"""Namespace of the names of entries: one line of what is due has one name for good (RFC 4122, version 5)."""
PRODUCT = "-//Broodsweep//Due dates//EN"
ALARMS = (timedelta(days=7), timedelta(hours=15))
"""How long before the day begins an alarm sounds: a week, and nine in the morning of the day before (our choice)."""
_STATUS = {
    DueState.OVERDUE: "CONFIRMED",
    DueState.DUE: "CONFIRMED",
    DueState.COMING: "CONFIRMED",
    DueState.NOT_YET_POSSIBLE: "TENTATIVE",
    DueState.DONE: "CONFIRMED",
}


def calendar_of(
    lines: Iterable[Due],
    *,
    stamp_at: datetime,
    locale: str = "en",
    alarms: Sequence[timedelta] = ALARMS,
) -> bytes:
    """Return the due dates as an iCalendar file.

    Each line with a day is one all-day entry on that day (its last day; for what is required at once the day
    that made it due), and one more on the day its window opens where that is another day. An entry keeps its
    name (UID) however often it is made, so that a calendar program replaces it. Lines that wait for a step
    and so have no day are left out. Done lines stay, marked as
    done, without alarm; so do those required at once.

    Parameters
    ----------
    lines
        What is due.
    stamp_at
        Instant of making, with a time zone. [UTC]
    locale
        Language of the sentences.
    alarms
        How long before the beginning of the day each alarm sounds.

    Raises
    ------
    ValueError
        If ``stamp_at`` has no time zone.

    References
    ----------
    RFC 5545, sections 3.6 to 3.8; RFC 7986, section 5.1 (NAME).
    """
    if stamp_at.tzinfo is None:
        raise ValueError(f"Expected stamp_at with a time zone, got {stamp_at}.")
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", render(say("papers.calendar_name"), locale))
    for line in lines:
        for name, day, summary in _entries(line):
            calendar.add_component(_entry(line, name, day, render(summary, locale), stamp_at, locale, alarms))
    return bytes(calendar.to_ical())


def _entries(line: Due) -> Iterator[tuple[str, date, Message]]:
    """Give the name, the day and the summary of each entry of a line."""
    name = f"{line.outbreak}|{line.apiary}|{line.key}|{line.round}"
    summary = say("papers.calendar_summary", apiary=line.apiary, what=line.what)
    is_done = line.state is DueState.DONE
    if is_done:
        summary = say("papers.calendar_done", summary=summary)
    day = line.due_on or (line.since_on if line.is_at_once else None) or line.earliest_on
    if day is not None:
        yield name, day, summary
    if line.earliest_on is not None and line.earliest_on != day and not is_done:
        yield (
            f"{name}|opens",
            line.earliest_on,
            say("papers.calendar_opens", apiary=line.apiary, what=line.what),
        )


def _entry(
    line: Due,
    name: str,
    day: date,
    summary: str,
    stamp_at: datetime,
    locale: str,
    alarms: Sequence[timedelta],
) -> Event:
    entry = Event()
    entry.add("uid", str(uuid5(_NAMES, name)))
    entry.add("dtstamp", stamp_at)
    entry.add("dtstart", day)
    entry.add("dtend", day + timedelta(days=1))
    entry.add("summary", summary)
    entry.add("description", "\n".join(render(part, locale) for part in _description(line)))
    entry.add("status", _STATUS[line.state])
    entry.add("transp", "TRANSPARENT")
    entry.add("categories", [line.outbreak])
    # What is required at once has its day behind it: no alarm could sound in time.
    if line.state is not DueState.DONE and not line.is_at_once:
        for before in alarms:
            alarm = Alarm()
            alarm.add("action", "DISPLAY")
            alarm.add("description", summary)
            alarm.add("trigger", -before)
            entry.add_component(alarm)
    return entry


def _description(line: Due) -> Iterator[Message]:
    yield say("papers.calendar_outbreak", outbreak=line.outbreak, apiary=line.apiary)
    yield line.what
    if line.is_at_once and line.since_on is not None:
        yield say("papers.calendar_at_once", since_on=line.since_on)
    elif line.earliest_on is not None and line.due_on is not None and line.earliest_on != line.due_on:
        yield say("papers.calendar_window", earliest_on=line.earliest_on, due_on=line.due_on)
    yield say("papers.calendar_rule", rule=line.rule_text)
    yield say("papers.calendar_draft")
