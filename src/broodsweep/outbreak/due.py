"""What is due at each case, by which rule and by when."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Any

from broodsweep.outbreak.history import Progress, progress_of
from broodsweep.outbreak.interval import Asked
from broodsweep.outbreak.model import Case, CaseState, Outbreak
from broodsweep.outbreak.requirements import Requirement, requirements
from broodsweep.rulebook import Rule, Rulebook
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
        """Return the line as a plain table; its sentences are still to be put into words.

        What is required at once is due on the day that made it so.
        """
        return {
            "outbreak": self.outbreak,
            "apiary": self.apiary,
            "key": self.key,
            "what": self.what,
            "rule": self.rule_text,
            "due_on": self.due_on or (self.since_on if self.is_at_once else None),
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


def _lines(outbreak: Outbreak, case: Case, book: Rulebook, on: date) -> Iterator[Due]:
    progress = progress_of(case, on)
    if progress.found_on is None or progress.state in (None, CaseState.NOT_CONFIRMED):
        return
    asked = Asked(book=book, disease=outbreak.disease, progress=progress)
    drafts = requirements(asked)
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


def _is_left_out(draft: Requirement, progress: Progress) -> bool:
    if draft.done_on is not None:
        return False
    if progress.state is CaseState.RELEASED:
        return True
    told_by_tables = draft.key in ("confirm", "clearance", "zone_examined", "reinspection", "release")
    return progress.is_from_tables and progress.cleared_on is not None and not told_by_tables


def _state(draft: Requirement, on: date, *, is_released: bool) -> DueState:
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
