"""Plans rounds in the background: progress, stopping with the best so far, the plan kept at the end."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import Any

from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.desk.round_delay import Evening
from broodsweep.desk.round_facts import Change, Facts, told, wished
from broodsweep.desk.round_plans import (
    KeptPlan,
    Question,
    check,
    compared,
    facts_after,
    facts_in_force,
    fresh_told,
    in_force,
    keep,
    names,
    open_hours,
)
from broodsweep.desk.rounds import MOST_DAYS, TravelSource, Wishes, hours_of, plan_rounds, time_zone
from broodsweep.errors import BroodsweepError, RefusedError
from broodsweep.rounds.cost import chosen_days
from broodsweep.rounds.day import ForecastHour
from broodsweep.rounds.errors import RoundsError
from broodsweep.rounds.plan import Measures, Plan
from broodsweep.words import Message, say

LOG = logging.getLogger("broodsweep.desk")


class WorkState(StrEnum):
    """How far the planning has come."""

    IDLE = "idle"
    PLANNING = "planning"
    DONE = "done"
    FAILED = "failed"


@dataclass(frozen=True, kw_only=True)
class Progress:
    """What the planner is at: the share of its time that is over, what the best plan so far comes to."""

    state: WorkState = WorkState.IDLE
    share: float = 0.0
    told: Message | None = None
    is_stopped: bool = False
    best: Measures | None = None
    number: int | None = None
    trouble: Message | None = None


@dataclass(frozen=True, kw_only=True)
class Limits:
    """How long to look: seconds, or steps of each seed where the same answer is wanted every time."""

    seconds: float = 20.0
    iterations: int | None = None
    seeds: tuple[int, ...] = (1, 2)
    with_bound: bool = False


@dataclass(frozen=True, kw_only=True)
class _Job:
    author: Author
    question: Question
    facts: Facts
    before: KeptPlan | None
    is_fresh: bool
    told: Message
    what: str
    limits: Limits


class RoundsPlanner:
    """Makes one plan at a time in a thread of its own.

    Parameters
    ----------
    desk
        The desk.
    seconds
        A clock that only goes forward. [s]
    travel
        Gives the source of drive times when a plan begins.
    """

    def __init__(
        self, desk: Desk, *, seconds: Callable[[], float], travel: Callable[[], TravelSource]
    ) -> None:
        self._desk, self._seconds, self._travel = desk, seconds, travel
        self._lock = threading.Lock()
        self._halt = threading.Event()
        self._progress = Progress()
        self._thread: threading.Thread | None = None
        self._best: Plan | None = None

    def progress(self) -> Progress:
        """Return how far it has come."""
        with self._lock:
            return self._progress

    def stop(self) -> None:
        """Take the best plan so far; nothing happens when no plan is being made."""
        with self._lock:
            if self._progress.state is WorkState.PLANNING:
                self._progress = replace(self._progress, is_stopped=True)
                self._halt.set()

    def wait(self, seconds: float | None = None) -> Progress:
        """Wait until the plan is made."""
        thread = self._thread
        if thread is not None:
            thread.join(seconds)
        return self.progress()

    def plan(self, author: Author, question: Question, limits: Limits) -> None:
        """Begin a fresh plan; who is away or ill, which day is rained off and what is done still hold.

        Raises
        ------
        RefusedError
            If a plan is being made.
        NotFoundError
            If there is no such outbreak.
        """
        if question.outbreak is not None:
            self._desk.snapshot().outbreak(question.outbreak)
        if not 1 <= question.days <= MOST_DAYS:
            raise RoundsError("rounds.bad_days", days=question.days, most=MOST_DAYS)
        facts = facts_in_force(self._desk).from_day(question.first_on)
        self._begin(
            _Job(
                author=author,
                question=question,
                facts=facts,
                before=None,
                is_fresh=True,
                told=fresh_told(question),
                what="plan_rounds",
                limits=limits,
            )
        )

    def change(self, author: Author, number: int, change: Change, limits: Limits) -> None:
        """Begin to plan anew after a change, moving as few visits as it can.

        Raises
        ------
        NotFoundError, RefusedError
            If the change does not fit the plan in force, its days are over, or a plan is being made.
        """
        kept = in_force(self._desk, number)
        check(self._desk, kept, change)
        if kept.question.span[-1] < self._desk.today():
            raise RefusedError("rounds_page.plan_over", last_on=kept.question.span[-1])
        self._begin(
            _Job(
                author=author,
                question=kept.question,
                facts=facts_after(kept, change),
                before=kept,
                is_fresh=False,
                told=told(change, names(self._desk)),
                what=f"rounds_{change.kind}",
                limits=limits,
            )
        )

    def _begin(self, job: _Job) -> None:
        with self._lock:
            if self._progress.state is WorkState.PLANNING:
                raise RefusedError("rounds_page.busy")
            self._halt.clear()
            self._best = None
            self._progress = Progress(state=WorkState.PLANNING, told=job.told)
        self._thread = threading.Thread(target=self._run, args=[job], name="rounds", daemon=True)
        self._thread.start()

    def _run(self, job: _Job) -> None:
        try:
            made = self._made(job)
            kept = keep(self._desk, job.author, made, job.what)
            self._show(state=WorkState.DONE, share=1.0, number=kept.number, best=kept.plan.measures)
        except BroodsweepError as error:
            self._show(state=WorkState.FAILED, trouble=error.message)
        except Exception as error:
            LOG.exception("A plan of rounds failed unforeseen.", exc_info=error)
            self._show(state=WorkState.FAILED, trouble=say("web.unforeseen"))

    def _show(self, **what: Any) -> None:
        with self._lock:
            self._progress = replace(self._progress, **what)

    def _better(self, plan: Plan) -> None:
        self._best = plan
        self._show(best=plan.measures)

    def _tick(self, share: float) -> None:
        self._show(share=min(1.0, max(0.0, share)))
        if self._halt.is_set():
            raise KeyboardInterrupt

    def _made(self, job: _Job) -> KeptPlan:
        desk, question = self._desk, job.question
        last = question.span[-1]
        first = question.first_on if job.is_fresh else min(last, max(question.first_on, desk.today()))
        wishes = wishes_for(job.question, job.facts, first, job.before)
        forecast = job.facts.forecast(question.span)
        plan, delay = self._searched(job, first, (last - first).days + 1, wishes, forecast)
        plan = with_earlier(plan, job.before, first, job.facts)
        kept = desk.snapshot()
        zone = time_zone(kept)
        hours = hours_of(kept, question.first_on, question.days, zone, forecast, wishes)
        return KeptPlan(
            made_at=self._desk.now(),
            made_by=job.author.who,
            told=job.told,
            question=question,
            facts=job.facts,
            plan=plan,
            hours=open_hours(hours),
            zone=zone,
            delay=delay,
            moved=compared(self._desk, job.before, plan, job.facts, hours),
        )

    def _searched(
        self,
        job: _Job,
        first: date,
        days: int,
        wishes: Wishes,
        forecast: Sequence[ForecastHour],
    ) -> tuple[Plan, tuple[Evening, ...]]:
        """Search, and take the best so far when told to stop or when something fails behind the search."""
        begun, limits = self._seconds(), job.limits

        def gone() -> float:
            if self._halt.is_set():
                return 1.0
            if limits.iterations is not None:
                return 0.0
            return (self._seconds() - begun) / limits.seconds

        from broodsweep.rounds.solve import Effort

        effort = Effort(iterations=limits.iterations, seeds=limits.seeds, gone=gone, progress=self._tick)
        try:
            answer = plan_rounds(
                self._desk,
                first,
                days,
                effort=effort,
                travel=self._travel(),
                forecast=[hour for hour in forecast if hour.at.date() >= first],
                wishes=wishes,
                shown=self._better,
                before=job.before.plan.rounds if job.before else (),
                with_bound=limits.with_bound,
            )
        except KeyboardInterrupt:
            if self._best is None:
                raise RefusedError("rounds_page.stopped_early") from None
            return self._best, ()
        return answer.plan, answer.delay


def wishes_for(question: Question, facts: Facts, first: date, before: KeptPlan | None) -> Wishes:
    """Return what the planner is to hold to; the visits of the plan before, from ``first`` on, count as announced."""
    span = [on for on in question.span if on >= first]
    changes, pins = wished(facts, first, span)
    told_before = before.plan.chosen if before else {}
    return Wishes(
        outbreak=question.outbreak,
        hygiene=facts.rules.hygiene,
        thresholds=facts.rules.thresholds,
        overtime_minutes=question.overtime_minutes,
        changes=changes,
        pins=pins,
        announced={name: spot for name, spot in told_before.items() if spot[1] >= first},
    )


def with_earlier(plan: Plan, before: KeptPlan | None, first: date, facts: Facts) -> Plan:
    """Return the plan with what was done on its earlier days; visits done are not told as left out."""
    earlier = []
    for row in before.plan.rounds if before else ():
        if row.on < first:
            stops = tuple(stop for stop in row.stops if stop.apiary in facts.done)
            if stops:
                earlier.append(replace(row, stops=stops))
    rounds = (*earlier, *plan.rounds)
    left = tuple(row for row in plan.unplanned if row.apiary not in facts.done)
    return replace(plan, rounds=rounds, unplanned=left, chosen=chosen_days(rounds))
