"""The season over the weeks: look at it, keep training days."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Annotated

from fastapi import APIRouter, Query

from broodsweep.desk.season import (
    DAYS_A_WEEK,
    MOST_WEEKS,
    SeasonAnswer,
    SeasonQuestion,
    season,
    set_training,
)
from broodsweep.desk.snapshot import Snapshot
from broodsweep.rounds.season import DutyKind
from broodsweep.web.context import Here, Locale, OnDay
from broodsweep.web.shapes.season import SeasonDutyShape, SeasonShape, SeasonWeekShape, TrainingAsked
from broodsweep.words import Message, render, say

router = APIRouter()
MINUTES_AN_HOUR = 60.0


@router.get("/season")
def look_at_season(
    here: Here,
    on: OnDay,
    locale: Locale,
    first_on: Annotated[date | None, Query(description="First day; today.")] = None,
    weeks: Annotated[int, Query(ge=1, le=MOST_WEEKS)] = 16,
    every_months: Annotated[int, Query(ge=1, le=120)] = 12,
) -> SeasonShape:
    """Plan the season: what falls in which week, what finds none."""
    question = SeasonQuestion(first_on=first_on or on, weeks=weeks, every_months=every_months)
    return _shaped(season(here.desk, question), here.desk.snapshot(), locale)


@router.put("/season/training")
def keep_training(asked: TrainingAsked, here: Here) -> list[date]:
    """Keep these training days in the place of those before."""
    return list(set_training(here.desk, here.author(asked.who), asked.days))


def _shaped(answer: SeasonAnswer, kept: Snapshot, locale: str) -> SeasonShape:
    def duty(name: str, why_not: Message | None = None) -> SeasonDutyShape:
        line = answer.lines[name]
        apiary = kept.apiaries.get(line.duty.apiary or "")
        return SeasonDutyShape(
            apiary=line.duty.apiary,
            keeper_name=kept.keeper_name(apiary) if apiary else None,
            kind=line.duty.kind,
            minutes=line.duty.minutes,
            first_on=line.duty.first_on,
            last_on=line.duty.last_on,
            why=[render(why, locale) for why in line.why],
            why_not=render(why_not, locale) if why_not else None,
        )

    plan = answer.plan
    key = "season.drive_learned" if answer.is_drive_learned else "season.drive_usual"
    return SeasonShape(
        first_on=answer.question.first_on,
        last_on=answer.question.last_on,
        every_months=answer.question.every_months,
        kinds=list(DutyKind),
        weeks=[
            SeasonWeekShape(
                first_on=week.starts_on,
                last_on=week.starts_on + timedelta(days=DAYS_A_WEEK - week.starts_on.isoweekday()),
                capacity_hours=week.capacity_minutes / MINUTES_AN_HOUR,
                used_hours=week.used_minutes / MINUTES_AN_HOUR,
                by_kind={kind: minutes / MINUTES_AN_HOUR for kind, minutes in week.by_kind.items()},
                duties=[duty(name) for name in week.duties],
            )
            for week in plan.weeks
        ],
        left_out=[duty(name, why) for name, why in plan.left_out],
        missed=[answer.lines[name].duty.apiary or name for name in plan.missed],
        needed_hours=sum(line.duty.minutes for line in answer.lines.values()) / MINUTES_AN_HOUR,
        capacity_hours=sum(week.capacity_minutes for week in plan.weeks) / MINUTES_AN_HOUR,
        cost=plan.cost,
        bound=plan.bound,
        training=list(answer.training),
        method=render(say("season.method"), locale),
        travel=render(say(key, minutes=answer.drive_minutes), locale),
    )
