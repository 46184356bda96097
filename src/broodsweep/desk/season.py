"""The season over the weeks: what is to be visited, what the team can do, what falls where and what does not fit."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.desk.round_facts import wished
from broodsweep.desk.round_plans import facts_in_force, plan_in_force
from broodsweep.desk.rounds import Wishes, hours_of, inspector_days, time_zone
from broodsweep.desk.rounds_visits import candidates, visit_time
from broodsweep.desk.snapshot import Snapshot
from broodsweep.rounds.constants import MOST_YEARS_UNSEEN, SEASON_DRIVE, SURVEILLANCE_WORTH
from broodsweep.rounds.errors import RoundsError
from broodsweep.rounds.model import Candidate, InspectorDay
from broodsweep.rounds.season import Duty, DutyKind, SeasonPlan, SeasonWeek, plan_season
from broodsweep.words import Message, say

TRAINING = "season_training"
"""Setting that holds the training days: a list of days."""
MOST_WEEKS = 53
DAYS_A_WEEK = 7
DAYS_A_YEAR = 365.25
MONTHS_A_YEAR = 12
MONDAY = 1


@dataclass(frozen=True, kw_only=True)
class SeasonQuestion:
    """Which weeks, and after how many months without a look an apiary is due for surveillance."""

    first_on: date
    weeks: int = 16
    every_months: int = 12

    @property
    def last_on(self) -> date:
        """Last day: the Sunday of the last week."""
        monday = self.first_on - timedelta(days=self.first_on.isoweekday() - MONDAY)
        return monday + timedelta(days=DAYS_A_WEEK * self.weeks - 1)

    @property
    def days(self) -> int:
        """Days from the first to the last."""
        return (self.last_on - self.first_on).days + 1


@dataclass(frozen=True, kw_only=True)
class SeasonLine:
    """A duty with what a person reads of it."""

    duty: Duty
    why: tuple[Message, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class SeasonAnswer:
    """The season as planned, with what it was made from."""

    question: SeasonQuestion
    plan: SeasonPlan
    lines: Mapping[str, SeasonLine]
    training: tuple[date, ...]
    drive_minutes: int
    is_drive_learned: bool


def season(desk: Desk, question: SeasonQuestion, training: Sequence[date] | None = None) -> SeasonAnswer:
    """Return what falls in which week, by the same worth and hours as the rounds.

    Parameters
    ----------
    desk
        The desk.
    question
        The weeks.
    training
        Days on which the team trains; None: those kept at the desk.

    Raises
    ------
    RoundsError
        If the weeks are too many or too few, or there is nobody to plan for.
    """
    if not 1 <= question.weeks <= MOST_WEEKS:
        raise RoundsError("season.bad_weeks", weeks=question.weeks, most=MOST_WEEKS)
    if question.every_months < 1:
        raise RoundsError("season.bad_months", months=question.every_months)
    kept = desk.snapshot()
    days = training_days(desk) if training is None else tuple(sorted(set(training)))
    team = _team(desk, kept, question)
    if not team:
        raise RoundsError("rounds.no_inspector_days")
    drive, is_learned = _drive(desk)
    asked = candidates(desk, question.first_on, question.days)
    lines = {
        line.duty.name: line
        for line in (
            *(SeasonLine(duty=_duty(kept, row, drive), why=row.why) for row in asked),
            *_surveillance(kept, question, drive, {row.apiary for row in asked}),
            *_training(team, [on for on in days if question.first_on <= on <= question.last_on]),
        )
    }
    weeks = _weeks(question, team)
    plan = plan_season([line.duty for line in lines.values()], weeks)
    return SeasonAnswer(
        question=question,
        plan=plan,
        lines=lines,
        training=days,
        drive_minutes=drive,
        is_drive_learned=is_learned,
    )


def training_days(desk: Desk) -> tuple[date, ...]:
    """Return the training days kept at the desk."""
    kept = desk.snapshot().settings.get(TRAINING) or ()
    return tuple(sorted(date.fromisoformat(on) for on in kept))


def set_training(desk: Desk, author: Author, days: Sequence[date]) -> tuple[date, ...]:
    """Keep these training days in the place of those before."""
    wanted = sorted(set(days))
    with desk.store.work(author, "season_training") as work:
        work.set(TRAINING, [on.isoformat() for on in wanted])
    return tuple(wanted)


def _team(desk: Desk, kept: Snapshot, question: SeasonQuestion) -> tuple[InspectorDay, ...]:
    """Every inspector's day of the season on which hives can be opened, by what is noted and the month's hours."""
    facts = facts_in_force(desk).from_day(question.first_on)
    span = [question.first_on + timedelta(days=number) for number in range(question.days)]
    changes, _ = wished(facts, question.first_on, ())
    wishes = Wishes(thresholds=facts.rules.thresholds, changes=changes)
    zone = time_zone(kept)
    hours = hours_of(kept, question.first_on, question.days, zone, facts.forecast(span), wishes)
    return inspector_days(kept, hours, wishes)


def _minutes(day: InspectorDay) -> int:
    """Minutes in which an inspector can be at hives or on the way between them, the break taken off."""
    room = day.work.meet(day.opening)
    if room is None:
        return 0
    rest = day.break_minutes if day.work.length_minutes > day.break_after_minutes else 0
    return max(0, room.length_minutes - rest)


def _weeks(question: SeasonQuestion, team: Sequence[InspectorDay]) -> tuple[SeasonWeek, ...]:
    found = []
    starts = question.first_on
    while starts <= question.last_on:
        ends = starts + timedelta(days=DAYS_A_WEEK - starts.isoweekday())
        room = sum(_minutes(day) for day in team if starts <= day.on <= ends)
        found.append(SeasonWeek(starts_on=starts, capacity_minutes=room))
        starts = ends + timedelta(days=1)
    return tuple(found)


def _drive(desk: Desk) -> tuple[int, bool]:
    """Minutes on the road for each visit: of the plan of rounds in force, else the usual."""
    kept = plan_in_force(desk)
    visits = sum(len(row.stops) for row in kept.plan.rounds) if kept else 0
    if kept is None or not visits:
        return round(SEASON_DRIVE.value), False
    return round(sum(row.drive_minutes for row in kept.plan.rounds) / visits), True


def _duty(kept: Snapshot, row: Candidate, drive: int) -> Duty:
    """What a sweep list or a case asks for, with its days and its last day by law."""
    people = 2 if row.needs_two else 1
    return Duty(
        name=f"visit {row.apiary}",
        kind=DutyKind.SWEEP if row.days is None else DutyKind.REINSPECTION,
        minutes=people * (row.service_minutes + drive),
        worth=row.worth,
        first_on=min(row.days) if row.days else None,
        last_on=row.deadline_on,
        apiary=row.apiary,
        point=kept.apiaries[row.apiary].place.centre,
    )


def _surveillance(
    kept: Snapshot, question: SeasonQuestion, drive: int, listed: Collection[str]
) -> Iterator[SeasonLine]:
    """Apiaries on no list that nobody has looked at for too long, due from the day on which that is so."""
    times = visit_time(kept)
    for apiary in kept.ground.apiaries:
        if apiary.apiary in listed or apiary.colonies < 1 or not apiary.is_kept_on(question.first_on):
            continue
        looks = [row.visited_on for row in kept.visits.get(apiary.apiary, ()) if row.is_look]
        seen_on = max(looks) if looks else None
        due_on = _due_on(seen_on, question)
        if due_on > question.last_on:
            continue
        years = MOST_YEARS_UNSEEN.value
        if seen_on is not None:
            years = min(years, max(0.0, (question.first_on - seen_on).days / DAYS_A_YEAR))
        why = say("season.why_never") if seen_on is None else say("season.why_unseen", seen_on=seen_on)
        duty = Duty(
            name=f"visit {apiary.apiary}",
            kind=DutyKind.SURVEILLANCE,
            minutes=times.minutes(apiary.colonies) + drive,
            worth=SURVEILLANCE_WORTH.value * max(years, 0.1),
            first_on=due_on,
            last_on=None,
            apiary=apiary.apiary,
            point=apiary.place.centre,
        )
        yield SeasonLine(duty=duty, why=(why,))


def _due_on(seen_on: date | None, question: SeasonQuestion) -> date:
    if seen_on is None:
        return question.first_on
    due_on = seen_on + timedelta(days=round(DAYS_A_YEAR * question.every_months / MONTHS_A_YEAR))
    return max(question.first_on, due_on)


def _training(team: Sequence[InspectorDay], days: Sequence[date]) -> Iterator[SeasonLine]:
    """A training day takes the hours that the whole team would have at the hives."""
    for on in days:
        minutes = sum(_minutes(day) for day in team if day.on == on)
        if not minutes:
            continue
        duty = Duty(
            name=f"training {on.isoformat()}",
            kind=DutyKind.TRAINING,
            minutes=minutes,
            worth=0.0,
            first_on=on,
            last_on=on,
            apiary=None,
            point=None,
        )
        yield SeasonLine(duty=duty, why=(say("season.why_training", training_on=on),))
