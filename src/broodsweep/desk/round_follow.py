"""Rounds follow the field: a suspicion at a stop plans the rest anew, moving as few visits as it can.

The plan before stays one step back, as after every change; a suspicion at an apiary that was no stop of the round, or
one that comes while a plan is being made, leaves the round as it is: the Field page says so and offers to plan anew.
"""

from __future__ import annotations

from datetime import date

from broodsweep.desk.context import Desk
from broodsweep.desk.field_sheet import round_news
from broodsweep.desk.ports import Author
from broodsweep.desk.round_changes import spots
from broodsweep.desk.round_facts import Change, ChangeKind
from broodsweep.desk.round_plans import note, plan_in_force
from broodsweep.desk.round_worker import Limits, RoundsPlanner, WorkState
from broodsweep.errors import NotFoundError, RefusedError
from broodsweep.rounds.errors import RoundsError


def follow_field(desk: Desk, planner: RoundsPlanner, author: Author, on: date, limits: Limits) -> bool:
    """Begin to plan the rest anew when a suspicion came in at a stop since the plan was made; say whether it began.

    Parameters
    ----------
    desk, planner
        The desk and what plans its rounds.
    author
        Who found it.
    on
        The day.
    limits
        How long to look.
    """
    news = round_news(desk, on)
    plan = plan_in_force(desk)
    if news is None or plan is None or planner.progress().state is WorkState.PLANNING:
        return False
    planned = spots(plan.plan)
    suspect = [name for name in news.suspect if name in planned]
    if not suspect:
        return False
    looked = [name for name in news.done if name in planned and name not in plan.facts.done]
    first = [name for name in looked if name not in suspect] + suspect
    number = plan.number
    try:
        for name in first[:-1]:
            number = note(desk, author, number, Change(kind=ChangeKind.DONE, apiary=name)).number
        planner.change(author, number, Change(kind=ChangeKind.DONE, apiary=first[-1]), limits)
    except (NotFoundError, RefusedError, RoundsError):
        return False
    return True
