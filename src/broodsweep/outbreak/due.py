"""What is due at each case, by which rule and by when."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Any

from broodsweep.outbreak.history import ESTABLISHED_STATES, Progress, progress_of
from broodsweep.outbreak.interval import Asked
from broodsweep.outbreak.model import Case, CaseState, EventKind, Outbreak
from broodsweep.rulebook import Rule, Rulebook, after
from broodsweep.words import Message, say

SOON = timedelta(days=7)
"""How near a day must be to count as near (project choice: the week that a desk plans)."""


class DueState(StrEnum):
    """How something required stands on a day."""

    OVERDUE = "overdue"
    """Its last day, or the day on which it was to be done at once, is over."""
    DUE = "due"
    """To be done now: at once, within the week, or its window is open."""
    COMING = "coming"
    """Has a day that lies further ahead, or its window opens within the week."""
    DONE = "done"
    NOT_YET_POSSIBLE = "not_yet_possible"
    """Waits for another step, or for its window to open."""


@dataclass(frozen=True, kw_only=True)
class Due:
    """One thing that a rule requires at a case.

    ``due_on`` is the last day for it; where the rule gives only a first day, that day. It is None when the
    thing is required at once (``is_at_once``) or waits for a step that has not been written down.
    ``earliest_on`` is the first day on which it counts. ``since_on`` is the day that made it due.
    ``round`` numbers the findings of the case: with ``key`` it names the line for good.
    """

    outbreak: str
    apiary: str
    key: str
    round: int
    what: Message
    rule: Rule
    state: DueState
    due_on: date | None = None
    earliest_on: date | None = None
    since_on: date | None = None
    done_on: date | None = None
    is_at_once: bool = False

    @property
    def rule_text(self) -> Message:
        """Citation and standing of the rule, in words."""
        return say("outbreak.rule_text", citation=self.rule.citation, standing=self.rule.standing_said)

    def as_record(self) -> dict[str, Any]:
        """Return the line as a plain table; its sentences are still to be put into words."""
        return {
            "outbreak": self.outbreak,
            "apiary": self.apiary,
            "key": self.key,
            "what": self.what,
            "rule": self.rule_text,
            "due_on": self.due_on,
            "state": self.state,
            "is_at_once": self.is_at_once,
            "earliest_on": self.earliest_on,
            "since_on": self.since_on,
            "done_on": self.done_on,
            **rule_record(self.rule),
        }


def rule_record(rule: Rule) -> dict[str, Any]:
    """Return what identifies a rule and how it binds, as a plain table."""
    return {
        "rule_name": rule.name,
        "citation": rule.citation,
        "standing": rule.standing,
        "book": rule.book,
        "is_fallback": rule.is_fallback,
        "locally_changed": rule.locally_changed,
    }


def due(outbreak: Outbreak, book: Rulebook, on: date) -> tuple[Due, ...]:
    """Return everything that the rules require at the cases of an outbreak, the most pressing first.

    Days are calendar days; the day of the event itself is not counted. Rules are those in force on the day
    of the finding. A case read from tables has no column for notices, burning and cleaning: such lines are
    shown until its colonies are cleared and then left out, since nothing could ever tick them off.

    Parameters
    ----------
    outbreak
        Outbreak with its cases.
    book
        Rulebook under which it is handled.
    on
        Day asked about; later events do not count.
    """
    lines = [line for case in outbreak.cases for line in _lines(outbreak, case, book, on)]
    return tuple(sorted(lines, key=_pressing))


def _pressing(line: Due) -> tuple[int, date, str, str]:
    order = (
        DueState.OVERDUE,
        DueState.DUE,
        DueState.COMING,
        DueState.NOT_YET_POSSIBLE,
        DueState.DONE,
    )
    when = line.due_on or (line.since_on if line.is_at_once else None) or date.max
    return order.index(line.state), when, line.apiary, line.key


@dataclass(frozen=True, kw_only=True)
class _Draft:
    """What is to become a line: the thing, its rule and its days."""

    key: str
    what: Message
    rule: Rule | None
    since_on: date | None = None
    due_on: date | None = None
    earliest_on: date | None = None
    done_on: date | None = None
    is_possible: bool = True
    is_never_overdue: bool = False


def _lines(outbreak: Outbreak, case: Case, book: Rulebook, on: date) -> Iterator[Due]:
    progress = progress_of(case, on)
    if progress.found_on is None or progress.state in (None, CaseState.NOT_CONFIRMED):
        return
    asked = Asked(book=book, disease=outbreak.disease, progress=progress)
    drafts = [*_at_finding(asked), *_at_confirmation(asked), *_afterwards(asked)]
    for draft in drafts:
        if draft.rule is None or _is_left_out(draft, progress):
            continue
        at_once = draft.due_on is None and draft.since_on is not None and not draft.is_never_overdue
        yield Due(
            outbreak=outbreak.outbreak,
            apiary=case.apiary,
            key=draft.key,
            round=progress.round,
            what=draft.what,
            rule=draft.rule,
            state=_state(draft, on, is_released=progress.state is CaseState.RELEASED),
            due_on=draft.due_on,
            earliest_on=draft.earliest_on,
            since_on=draft.since_on,
            done_on=draft.done_on,
            is_at_once=at_once,
        )


def _is_left_out(draft: _Draft, progress: Progress) -> bool:
    if draft.done_on is not None:
        return False
    if progress.state is CaseState.RELEASED:
        return True
    told_by_tables = draft.key in ("confirm", "clearance", "zone_examined", "reinspection", "release")
    return progress.is_from_tables and progress.cleared_on is not None and not told_by_tables


def _state(draft: _Draft, on: date, *, is_released: bool) -> DueState:
    if draft.done_on is not None or is_released:
        return DueState.DONE
    opens_on = draft.earliest_on
    if opens_on is not None and on < opens_on:
        return DueState.COMING if opens_on - on <= SOON else DueState.NOT_YET_POSSIBLE
    if not draft.is_possible:
        return DueState.NOT_YET_POSSIBLE
    if draft.is_never_overdue:
        return DueState.DUE
    last_on = draft.due_on or draft.since_on
    if last_on is not None and on > last_on:
        return DueState.OVERDUE
    if last_on is None or opens_on is not None or last_on - on <= SOON:
        return DueState.DUE
    return DueState.COMING


def _by(rule: Rule | None, since_on: date | None) -> date | None:
    """Last day by a rule that gives time; None when it gives none, or the day it counts from has not come."""
    if rule is None or since_on is None or rule.duration().is_at_once:
        return None
    return after(since_on, rule.duration())


def _at_finding(asked: Asked) -> Iterator[_Draft]:
    progress, done = asked.progress, asked.progress.done
    found_on = progress.found_on
    notify = asked.rule("notify.within")
    # Who confirms or serves a notice is the authority: it has been told.
    told = [day for day in (done.get(EventKind.NOTIFIED), done.get(EventKind.NOTICE_SERVED)) if day]
    told += [progress.confirmed_on] if progress.confirmed_on else []
    yield _Draft(
        key="notify",
        what=say("outbreak.due.notify"),
        rule=notify,
        since_on=found_on,
        due_on=_by(notify, found_on),
        done_on=min(told, default=None),
    )
    yield _Draft(
        key="confirm",
        what=say(
            "outbreak.due.result" if progress.state is CaseState.AWAITING_RESULT else "outbreak.due.confirm"
        ),
        rule=asked.rule("confirm.by"),
        since_on=found_on,
        done_on=progress.confirmed_on,
        is_possible=progress.state is not CaseState.AWAITING_RESULT,
    )
    starts = asked.rule("standstill.from")
    since_on = found_on if starts is None or starts.value == "suspicion" else progress.confirmed_on
    notice = asked.rule("notice.within")
    if EventKind.NOTICE_SERVED in asked.measures or EventKind.NOTICE_SERVED in done:
        yield _Draft(
            key="notice_served",
            what=say("outbreak.due.notice_served"),
            rule=notice,
            since_on=since_on,
            due_on=_by(notice, since_on),
            done_on=done.get(EventKind.NOTICE_SERVED),
            is_possible=since_on is not None,
        )


def _at_confirmation(asked: Asked) -> Iterator[_Draft]:
    progress, done = asked.progress, asked.progress.done
    if progress.state not in ESTABLISHED_STATES and progress.state is not CaseState.RELEASED:
        return
    clearance = asked.rule("clearance.within")
    ways = asked.rule("clearance.permitted")
    yield _Draft(
        key="clearance",
        what=say("outbreak.due.clearance", ways=_words(ways)),
        rule=clearance,
        since_on=progress.confirmed_on,
        due_on=_by(clearance, progress.confirmed_on),
        done_on=progress.cleared_on,
    )
    zone = asked.rule("zone.examine_within")
    radius = asked.rule("zone.radius")
    if zone is not None and radius is not None:
        yield _Draft(
            key="zone_examined",
            what=say("outbreak.due.zone_examined", radius_m=radius.number()),
            rule=zone,
            since_on=progress.confirmed_on,
            due_on=_by(zone, progress.confirmed_on),
            done_on=done.get(EventKind.ZONE_EXAMINED),
        )
    within = asked.rule("measures.within")
    required = asked.rule("measures.required")
    for kind in asked.measures:
        if kind in (EventKind.NOTICE_SERVED, EventKind.ZONE_EXAMINED):
            continue
        since_on = _measure_since(kind, progress)
        yield _Draft(
            key=str(kind),
            what=say(f"outbreak.due.{kind}"),
            rule=asked.rule("release.needs") if kind in asked.release_measures else required,
            since_on=since_on,
            due_on=_by(within, since_on),
            done_on=done.get(kind),
            is_possible=since_on is not None,
        )


def _measure_since(kind: EventKind, progress: Progress) -> date | None:
    """Day that makes a measure due: cleaning with the finding, burning and disinfecting with the clearance."""
    if kind in (EventKind.KIT_CLEANED, EventKind.SITE_CLOSED_UP):
        return progress.confirmed_on
    if kind is EventKind.DISINFECTION_ACCEPTED:
        return progress.done.get(EventKind.EQUIPMENT_DISINFECTED)
    return progress.cleared_on


def _afterwards(asked: Asked) -> Iterator[_Draft]:
    progress = asked.progress
    if progress.state not in ESTABLISHED_STATES and progress.state is not CaseState.RELEASED:
        return
    cleared = progress.cleared_on is not None
    counted = asked.cleans_that_count
    is_enough = len(counted) >= asked.cleans_needed
    earliest_on = asked.reinspect_from
    if earliest_on is not None and progress.cleared_on is not None:
        earliest_on = max(earliest_on, progress.cleared_on)
    yield _Draft(
        key="reinspection",
        what=say("outbreak.due.reinspection", count=asked.cleans_needed),
        rule=asked.rule("reinspect.latest") or asked.rule("reinspect.earliest"),
        since_on=progress.cleared_on,
        earliest_on=earliest_on,
        due_on=asked.reinspect_by or earliest_on,
        done_on=counted[asked.cleans_needed - 1] if is_enough else None,
        is_possible=cleared,
    )
    yield _Draft(
        key="release",
        what=say("outbreak.due.release", who=_words(asked.rule("release.signed_by"))),
        rule=asked.rule("release.earliest") or asked.rule("release.needs"),
        since_on=progress.cleared_on,
        earliest_on=asked.release_from,
        due_on=asked.release_from,
        done_on=progress.done.get(EventKind.RELEASED),
        is_possible=is_enough and not asked.measures_missing,
        is_never_overdue=True,
    )


def _words(rule: Rule | None) -> list[Message]:
    return [] if rule is None else [say(f"rulebook.word_{word}") for word in rule.word_list()]
