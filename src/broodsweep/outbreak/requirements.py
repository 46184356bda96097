"""What the rulebook requires of a case in its present round, with the days of each thing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from broodsweep.outbreak.history import ESTABLISHED_STATES, Progress
from broodsweep.outbreak.interval import Asked
from broodsweep.outbreak.model import CaseState, EventKind
from broodsweep.rulebook import Rule, after
from broodsweep.words import Message, say


@dataclass(frozen=True, kw_only=True)
class Requirement:
    """One thing required: its rule and its days.

    ``since_on`` is the day that made it due, ``due_on`` the last day, ``earliest_on`` the first that counts.
    """

    key: str
    what: Message
    rule: Rule | None
    since_on: date | None = None
    due_on: date | None = None
    earliest_on: date | None = None
    done_on: date | None = None
    is_possible: bool = True
    is_never_overdue: bool = False


def requirements(asked: Asked) -> tuple[Requirement, ...]:
    """Return what is required of the case, done or not."""
    found = [*_at_finding(asked)]
    if asked.progress.state in ESTABLISHED_STATES or asked.progress.state is CaseState.RELEASED:
        found += [*_at_confirmation(asked), *_measures(asked), *_afterwards(asked)]
    return tuple(found)


def _by(rule: Rule | None, since_on: date | None) -> date | None:
    """Last day by a rule that gives time; None when it gives none, or the day it counts from has not come."""
    if rule is None or since_on is None or rule.duration().is_at_once:
        return None
    return after(since_on, rule.duration())


def _at_finding(asked: Asked) -> Iterator[Requirement]:
    progress, done = asked.progress, asked.progress.done
    found_on = progress.found_on
    notify = asked.rule("notify.within")
    # Who confirms or serves a notice is the authority: it has been told.
    told = [day for day in (done.get(EventKind.NOTIFIED), done.get(EventKind.NOTICE_SERVED)) if day]
    told += [progress.confirmed_on] if progress.confirmed_on else []
    yield Requirement(
        key="notify",
        what=say("outbreak.due.notify"),
        rule=notify,
        since_on=found_on,
        due_on=_by(notify, found_on),
        done_on=min(told, default=None),
    )
    yield Requirement(
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
        yield Requirement(
            key="notice_served",
            what=say("outbreak.due.notice_served"),
            rule=notice,
            since_on=since_on,
            due_on=_by(notice, since_on),
            done_on=done.get(EventKind.NOTICE_SERVED),
            is_possible=since_on is not None,
        )


def _at_confirmation(asked: Asked) -> Iterator[Requirement]:
    progress, done = asked.progress, asked.progress.done
    clearance = asked.rule("clearance.within")
    ways = asked.rule("clearance.permitted")
    yield Requirement(
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
        yield Requirement(
            key="zone_examined",
            what=say("outbreak.due.zone_examined", radius_m=radius.number()),
            rule=zone,
            since_on=progress.confirmed_on,
            due_on=_by(zone, progress.confirmed_on),
            done_on=done.get(EventKind.ZONE_EXAMINED),
        )


def _measures(asked: Asked) -> Iterator[Requirement]:
    progress, done = asked.progress, asked.progress.done
    within = asked.rule("measures.within")
    required = asked.rule("measures.required")
    for kind in asked.measures:
        if kind in (EventKind.NOTICE_SERVED, EventKind.ZONE_EXAMINED):
            continue
        since_on = _measure_since(kind, progress)
        yield Requirement(
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


def _afterwards(asked: Asked) -> Iterator[Requirement]:
    progress = asked.progress
    cleared = progress.cleared_on is not None
    counted = asked.cleans_that_count
    is_enough = len(counted) >= asked.cleans_needed
    earliest_on = asked.reinspect_from
    if earliest_on is not None and progress.cleared_on is not None:
        earliest_on = max(earliest_on, progress.cleared_on)
    yield Requirement(
        key="reinspection",
        what=say("outbreak.due.reinspection", count=asked.cleans_needed),
        rule=asked.rule("reinspect.latest") or asked.rule("reinspect.earliest"),
        since_on=progress.cleared_on,
        earliest_on=earliest_on,
        due_on=asked.reinspect_by or earliest_on,
        done_on=counted[asked.cleans_needed - 1] if is_enough else None,
        is_possible=cleared,
    )
    yield Requirement(
        key="release",
        what=say("outbreak.due.release", who=_words(asked.rule("release.signed_by"))),
        rule=asked.rule("release.earliest") or asked.rule("release.needs"),
        since_on=progress.cleared_on,
        earliest_on=asked.release_from,
        due_on=asked.release_from,
        done_on=progress.done.get(EventKind.RELEASED),
        # Tables have no column for the measures, so that they cannot be asked for there.
        is_possible=is_enough and (progress.is_from_tables or not asked.measures_missing),
        is_never_overdue=True,
    )


def _words(rule: Rule | None) -> list[Message]:
    return [] if rule is None else [say(f"rulebook.word_{word}") for word in rule.word_list()]
