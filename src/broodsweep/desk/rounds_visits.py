"""The visits that a plan of rounds chooses from: sweep lists of open outbreaks, cases, re-inspections."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from broodsweep.desk.context import Desk
from broodsweep.desk.rules import book_of
from broodsweep.desk.snapshot import Snapshot
from broodsweep.desk.sweeping import sweep_list
from broodsweep.outbreak import Due, DueState, Outbreak, due
from broodsweep.register import Apiary
from broodsweep.rounds.constants import CASE_WORTH, REINSPECTION_WORTH, RULE_SCORE_WORTH
from broodsweep.rounds.effort import VisitTime, learn_visit_time
from broodsweep.rounds.model import Candidate, Status
from broodsweep.words import Message, say

FULL_SCORE = 100.0
DURATION_COLUMN = "minutes"
"""Column of the table of visits, beside ours, that tells how long each took."""
OPEN = (DueState.DUE, DueState.OVERDUE, DueState.COMING, DueState.NOT_YET_POSSIBLE)


def visit_time(kept: Snapshot) -> VisitTime:
    """Return how long visits take: learned from past visits that carry a duration, else the defaults."""
    timed = []
    for visit in kept.ground.visits:
        text = dict(visit.extra).get(DURATION_COLUMN, "")
        try:
            timed.append((visit.colonies_inspected, float(text)))
        except ValueError:
            continue
    return learn_visit_time(timed)


def candidates(desk: Desk, start: date, days: int, only: str | None = None) -> tuple[Candidate, ...]:
    """Return every visit worth making in the days from ``start``, the most worth first.

    Those are the apiaries on the sweep lists of open outbreaks not seen yet, and what cases wait for: dealing with
    the colonies (two inspectors), a test, a re-inspection within its days. An apiary that is on several lists is one
    visit with the reasons of all. ``only`` names the one outbreak to visit for; None: every open one.
    """
    kept = desk.snapshot()
    spell = _Spell(kept=kept, times=visit_time(kept), start=start, end=start + timedelta(days=days - 1))
    found: dict[str, Candidate] = {}
    for outbreak in kept.outbreaks:
        if outbreak.closed_on is not None and outbreak.closed_on <= start:
            continue
        if only not in (None, outbreak.outbreak):
            continue
        for row in (*_swept(desk, spell, outbreak), *_cases(desk, spell, outbreak)):
            found[row.apiary] = _merged(found[row.apiary], row) if row.apiary in found else row
    return tuple(sorted(found.values(), key=lambda row: (-row.worth, row.apiary)))


@dataclass(frozen=True, kw_only=True)
class _Spell:
    """The days planned, and what visits take."""

    kept: Snapshot
    times: VisitTime
    start: date
    end: date


def _swept(desk: Desk, spell: _Spell, outbreak: Outbreak) -> Iterator[Candidate]:
    for stop in sweep_list(desk, outbreak.outbreak, spell.start).stops:
        if stop.seen_on is not None or stop.apiary.colonies < 1:
            continue
        worth = (
            stop.probability
            if stop.probability is not None
            else RULE_SCORE_WORTH.value * stop.score / FULL_SCORE
        )
        saw_signs = stop.last_visit is not None and stop.last_visit.saw_signs
        yield Candidate(
            apiary=stop.apiary.apiary,
            worth=min(1.0, max(0.0, worth)),
            service_minutes=spell.times.minutes(stop.apiary.colonies),
            why=(say("rounds.why_sweep", outbreak=outbreak.outbreak), *stop.reasons),
            bring=(say("rounds.bring_kit", disease=say(f"disease.{outbreak.disease}")),),
            status=Status.SUSPECT if saw_signs else Status.CLEAN,
        )


def _cases(desk: Desk, spell: _Spell, outbreak: Outbreak) -> Iterator[Candidate]:
    lines: dict[str, dict[str, Due]] = {}
    for line in due(outbreak, book_of(desk, outbreak), spell.start):
        if line.state in OPEN:
            lines.setdefault(line.apiary, {})[line.key] = line
    for name, mine in lines.items():
        apiary = spell.kept.apiaries.get(name)
        if apiary is None:
            continue
        for key, make in (("clearance", _clearance), ("confirm", _test), ("reinspection", _again)):
            made = make(spell, outbreak, apiary, mine[key]) if key in mine else None
            if made is not None:
                yield made
                break


def _clearance(spell: _Spell, outbreak: Outbreak, apiary: Apiary, line: Due) -> Candidate | None:
    if line.state is DueState.NOT_YET_POSSIBLE:
        return None
    return Candidate(
        apiary=apiary.apiary,
        worth=CASE_WORTH.value,
        service_minutes=spell.times.minutes(max(1, apiary.colonies)),
        why=(say("rounds.why_due", what=line.what, outbreak=outbreak.outbreak),),
        bring=(say("rounds.bring_fire"), say("rounds.bring_wash")),
        status=Status.INFECTED,
        deadline_on=max(spell.start, line.due_on) if line.due_on else spell.start,
        needs_two=True,
    )


def _test(spell: _Spell, outbreak: Outbreak, apiary: Apiary, line: Due) -> Candidate | None:
    if line.state is DueState.NOT_YET_POSSIBLE:
        return None
    return Candidate(
        apiary=apiary.apiary,
        worth=CASE_WORTH.value / 2.0,
        service_minutes=spell.times.minutes(max(1, apiary.colonies)),
        why=(say("rounds.why_due", what=line.what, outbreak=outbreak.outbreak),),
        bring=(
            say("rounds.bring_kit", disease=say(f"disease.{outbreak.disease}")),
            say("rounds.bring_sample"),
            say("rounds.bring_wash"),
        ),
        status=Status.SUSPECT,
        deadline_on=max(spell.start, line.due_on) if line.due_on else spell.start,
    )


def _again(spell: _Spell, outbreak: Outbreak, apiary: Apiary, line: Due) -> Candidate | None:
    opens = line.earliest_on or line.due_on
    if opens is None or opens > spell.end or apiary.colonies < 1:
        return None
    first = max(spell.start, opens)
    span = frozenset(first + timedelta(days=n) for n in range((spell.end - first).days + 1))
    last = line.due_on if line.due_on and line.due_on > opens else None
    return Candidate(
        apiary=apiary.apiary,
        worth=REINSPECTION_WORTH.value,
        service_minutes=spell.times.minutes(apiary.colonies),
        why=(say("rounds.why_due", what=line.what, outbreak=outbreak.outbreak),),
        bring=(say("rounds.bring_kit", disease=say(f"disease.{outbreak.disease}")), say("rounds.bring_wash")),
        status=Status.INFECTED,
        days=span,
        deadline_on=max(spell.start, last) if last else None,
    )


def _merged(one: Candidate, other: Candidate) -> Candidate:
    """One visit for both reasons; the stricter condition of each holds, and the days of a re-inspection."""
    days = [row.days for row in (one, other) if row.days is not None]
    deadlines = [row.deadline_on for row in (one, other) if row.deadline_on]
    return replace(
        one,
        worth=1.0 - (1.0 - one.worth) * (1.0 - other.worth),
        service_minutes=max(one.service_minutes, other.service_minutes),
        why=_once((*one.why, *other.why)),
        bring=_once((*one.bring, *other.bring)),
        status=max(one.status, other.status),
        days=frozenset.intersection(*days) if days else None,
        deadline_on=min(deadlines) if deadlines else None,
        needs_two=one.needs_two or other.needs_two,
    )


def _once(messages: Iterable[Message]) -> tuple[Message, ...]:
    """Leave out what was said already."""
    return tuple({(row.key, str(row.params)): row for row in messages}.values())
