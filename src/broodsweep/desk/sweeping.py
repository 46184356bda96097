"""The sweep list of an outbreak: who is visited, in which order, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from broodsweep.desk.answers import RingLine, SweepList, SweepStop
from broodsweep.desk.context import Desk
from broodsweep.desk.ports import RiskFigures, RiskLine
from broodsweep.desk.rules import book_of
from broodsweep.desk.snapshot import Snapshot
from broodsweep.geo import circle, ring
from broodsweep.outbreak import CaseState, Outbreak, progress_of
from broodsweep.rulebook import tracing_window
from broodsweep.surveillance import Candidate, Question, sweep
from broodsweep.words import say

RULE_ALONE = RiskFigures(method=say("surveillance.method_rule"))
FULL_SCORE = 100.0
"""Score of certainty: a stop with a figure scores so many times its probability."""


def sweep_list(desk: Desk, name: str, on: date) -> SweepList:
    """Return the sweep list as it stands on a day.

    Raises
    ------
    NotFoundError
        If there is no such outbreak.
    """
    kept = desk.snapshot()
    outbreak = kept.outbreak(name)
    question = question_of(desk, outbreak, on)
    rows = sweep(question, kept.ground, kept.places) if question.cases else ()
    risk = desk.risk.figures(outbreak.disease, on) if desk.risk else RULE_ALONE
    stops = _by_risk([_stop(kept, rank, row) for rank, row in enumerate(rows, start=1)], risk)
    return SweepList(
        outbreak=name,
        on=on,
        radii_m=question.radii_m,
        method=risk.method,
        is_trusted=risk.is_trusted,
        stops=stops,
        seen=sum(row.seen_on is not None for row in stops),
        unseen=sum(row.seen_on is None for row in stops),
        cannot_tell=sum("cannot_tell" in row.ring.answers for row in stops if row.ring),
    )


def _by_risk(stops: Sequence[SweepStop], risk: RiskFigures) -> tuple[SweepStop, ...]:
    """Put figures and reasons of a run on the stops and order them anew; without a run they stay as the rule has them.

    Where the disease was found and is no case yet comes first; what the run has no figure for comes last.
    """
    if not risk.lines:
        return tuple(stops)
    told = [_told(stop, risk.lines.get(stop.apiary.apiary)) for stop in stops]
    told.sort(key=lambda stop: -stop.score)
    return tuple(replace(stop, rank=rank) for rank, stop in enumerate(told, start=1))


def _told(stop: SweepStop, line: RiskLine | None) -> SweepStop:
    if line is None or (line.probability is None and not line.is_found):
        return replace(stop, score=0.0)
    return replace(
        stop,
        score=FULL_SCORE if line.probability is None else FULL_SCORE * line.probability,
        probability=line.probability,
        low=line.low,
        high=line.high,
        reasons=line.reasons or stop.reasons,
    )


def question_of(desk: Desk, outbreak: Outbreak, on: date) -> Question:
    """Put the question for an outbreak: its cases, rings and tracing window from the rulebook.

    The window reaches from before the first finding to after the latest: a case found late has moved things late.
    """
    rules = book_of(desk, outbreak)
    found = [progress_of(case, on).found_on for case in outbreak.cases]
    days = {outbreak.opened_on, *(day for day in found if day is not None)}
    windows = [tracing_window(rules, outbreak.disease, day) for day in days]
    return Question(
        cases=sweep_centres(outbreak, on),
        radii_m=rules.ring_radii_m(outbreak.disease, on),
        on=on,
        opened_on=outbreak.opened_on,
        traced_from=min(window.first_on for window in windows),
        traced_until=max(window.last_on for window in windows),
    )


def sweep_centres(outbreak: Outbreak, on: date) -> tuple[str, ...]:
    """Return the apiaries round which is swept: every case but those not confirmed.

    A case read from tables, which cannot say that its standstill was lifted, is done with after its clean look.
    """
    centres = []
    for case in outbreak.cases:
        progress = progress_of(case, on)
        is_done_with = progress.is_from_tables and bool(progress.cleans)
        if progress.state != CaseState.NOT_CONFIRMED and not is_done_with:
            centres.append(case.apiary)
    return tuple(centres)


def _stop(kept: Snapshot, rank: int, row: Candidate) -> SweepStop:
    keeper = kept.keepers.get(row.apiary.keeper or "")
    return SweepStop(
        rank=rank,
        apiary=row.apiary,
        keeper_name=keeper.name if keeper else None,
        phone=keeper.phone if keeper else None,
        score=row.score,
        reasons=row.reasons,
        ring=RingLine(
            apiary=row.apiary.apiary,
            case=row.case,
            nearest_m=row.nearest_m,
            farthest_m=row.farthest_m,
            answers=row.answers,
        ),
        seen_on=row.seen_on,
        last_visit=row.last_visit,
    )


def rings(desk: Desk, name: str, on: date) -> tuple[RingLine, ...]:
    """Return how every apiary lies to the nearest case, for those that may be within the widest ring."""
    kept = desk.snapshot()
    outbreak = kept.outbreak(name)
    radii_m = book_of(desk, outbreak).ring_radii_m(outbreak.disease, on)
    nearest: dict[str, RingLine] = {}
    for case in sweep_centres(outbreak, on):
        answer = ring(kept.apiary(case).place, kept.places, radii_m)
        for number in answer.index:
            apiary = kept.ground.apiaries[number].apiary
            line = RingLine(
                apiary=apiary,
                case=case,
                nearest_m=float(answer.nearest_m[number]),
                farthest_m=float(answer.farthest_m[number]),
                answers=tuple(str(given) for given in answer.answer(int(number))),
            )
            if apiary not in nearest or line.nearest_m < nearest[apiary].nearest_m:
                nearest[apiary] = line
    return tuple(sorted(nearest.values(), key=lambda row: row.nearest_m))


def ring_outlines(desk: Desk, name: str, on: date) -> dict[str, Any]:
    """Return the rings as a GeoJSON feature collection (RFC 7946): geodesic circles round each case."""
    kept = desk.snapshot()
    outbreak = kept.outbreak(name)
    radii_m = book_of(desk, outbreak).ring_radii_m(outbreak.disease, on)
    features = [
        {
            "type": "Feature",
            "properties": {"case": case, "radius_m": radius_m},
            "geometry": {"type": "Polygon", "coordinates": [circle(kept.apiary(case).place, radius_m)]},
        }
        for case in sweep_centres(outbreak, on)
        for radius_m in radii_m
    ]
    return {"type": "FeatureCollection", "features": features}
