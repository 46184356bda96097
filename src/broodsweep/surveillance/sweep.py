"""The documented sweep rule: who belongs on the sweep list, in which order, and why in words.

The rule needs nothing but a pencil: for every apiary add up, over the cases,

    exp(-d / 1.2 km) + 0.4 if the same keeper + the weight of each move between them,

multiply by the square root of (colonies / 5), kept between 0.5 and 2, and by what the last clean visit leaves:
1 - 0.8 x share of colonies opened x exp(-days since / 87). The score is 100 x (1 - exp(-sum)). It orders the list;
it is not a probability. The statistical engine replaces it behind the same port.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from broodsweep.geo import Answer, Places, Ring, ring
from broodsweep.register import Apiary, Ground, Move, Visit
from broodsweep.surveillance.constants import (
    CLEAN_VISIT_DAYS,
    CLEAN_VISIT_WEIGHT,
    DISTANCE_SCALE,
    GOODS_WEIGHT,
    SAME_KEEPER_WEIGHT,
    USUAL_COLONIES,
)
from broodsweep.units import BoolArray, FloatArray
from broodsweep.words import Message, say

FULL_SCORE = 100.0
SIZE_LIMITS = (0.5, 2.0)
PLAIN_WITHIN_M = 100.0
"""Smallest and largest distance nearer together than this are told as one (project choice: what a tenth of a km shows)."""


@dataclass(frozen=True, kw_only=True)
class Question:
    """What a sweep list is asked for.

    Parameters
    ----------
    cases
        Apiaries with the disease, suspected ones included.
    radii_m
        Radii of the rings, smallest first. [m]
    on
        Day that the list is made for.
    opened_on
        Day the outbreak was opened: a visit from then on counts as swept.
    traced_from, traced_until
        First and last day of the tracing window, both included.
    """

    cases: tuple[str, ...]
    radii_m: tuple[float, ...]
    on: date
    opened_on: date
    traced_from: date
    traced_until: date


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """An apiary of the sweep list.

    ``case`` is the nearest case; ``answers`` holds in, out or cannot_tell for each radius. ``pressure`` is the rule's
    sum before any visit is counted.
    """

    apiary: Apiary
    score: float
    pressure: float
    reasons: tuple[Message, ...]
    case: str
    nearest_m: float
    farthest_m: float
    answers: tuple[str, ...]
    seen_on: date | None
    last_visit: Visit | None


@dataclass(kw_only=True)
class _Ties:
    """What joins an apiary to the cases, gathered before it is weighed."""

    distances: list[tuple[float, str]] = field(default_factory=list)
    same_keeper: list[str] = field(default_factory=list)
    moves: list[tuple[Move, str]] = field(default_factory=list)


def sweep(question: Question, ground: Ground, places: Places) -> tuple[Candidate, ...]:
    """Return the sweep list, most urgent first.

    On it is every apiary in the widest ring of any case (cannot-tell included), every other apiary of a case's
    keeper anywhere, and everything joined to a case by a move in the tracing window, either way. The cases
    themselves and apiaries already left are not on it.

    Parameters
    ----------
    question
        Cases, rings and dates.
    ground
        The tables.
    places
        Places of ``ground.apiaries`` in the same order.

    Raises
    ------
    ValueError
        If a case is not among the apiaries or no radius is given.
    """
    if not question.radii_m:
        raise ValueError("Expected at least one radius, got none.")
    index = {row.apiary: number for number, row in enumerate(ground.apiaries)}
    missing = [case for case in question.cases if case not in index]
    if missing:
        raise ValueError(f"Expected cases that are in the register, got {missing}.")
    rings = {
        case: ring(ground.apiaries[index[case]].place, places, question.radii_m) for case in question.cases
    }
    gathered = _gather(question, ground, index, rings)
    ties = {
        number: tie for number, tie in gathered.items() if ground.apiaries[number].is_kept_on(question.on)
    }
    apart = _measure(question, ground, index, tuple(ties))
    visits = _visits_of(ground, {ground.apiaries[number].apiary for number in ties}, question.on)
    found = [
        _weigh(question, ground.apiaries[number], column, tie, apart, visits)
        for column, (number, tie) in enumerate(ties.items())
    ]
    return tuple(sorted(found, key=lambda row: (-row.score, row.nearest_m, row.apiary.apiary)))


def _gather(
    question: Question, ground: Ground, index: dict[str, int], rings: dict[str, Ring]
) -> dict[int, _Ties]:
    ties: dict[int, _Ties] = defaultdict(_Ties)
    cases = set(question.cases)
    for case, answer in rings.items():
        for number in answer.index:
            ties[int(number)].distances.append((float(answer.nearest_m[number]), case))
    keepers: dict[str | None, list[str]] = defaultdict(list)
    for case in question.cases:
        keepers[ground.apiaries[index[case]].keeper].append(case)
    for number, row in enumerate(ground.apiaries):
        if row.keeper is not None and row.keeper in keepers:
            ties[number].same_keeper += keepers[row.keeper]
    for move in ground.moves:
        if not question.traced_from <= move.moved_on <= min(question.traced_until, question.on):
            continue
        for here, there in ((move.from_apiary, move.to_apiary), (move.to_apiary, move.from_apiary)):
            if here in cases and there in index:
                ties[index[str(there)]].moves.append((move, str(here)))
    for case in cases:
        ties.pop(index[case], None)
    return ties


@dataclass(frozen=True, kw_only=True)
class _Apart:
    """How far each apiary of the list lies from each case: a row a case, a column an apiary.

    ``nearest_m`` and ``farthest_m`` have the shape (n_cases, n), ``inside`` and ``outside`` (n_cases, n, n_radii).
    """

    nearest_m: FloatArray
    farthest_m: FloatArray
    inside: BoolArray
    outside: BoolArray


def _measure(question: Question, ground: Ground, index: dict[str, int], numbers: Sequence[int]) -> _Apart:
    """Measure from every case to every apiary of the list, those outside the rings as well."""
    listed = Places([ground.apiaries[number].place for number in numbers])
    rings = [
        ring(ground.apiaries[index[case]].place, listed, question.radii_m, within_m=math.inf)
        for case in question.cases
    ]
    answers = np.array([answer.answers for answer in rings])
    return _Apart(
        nearest_m=np.array([answer.nearest_m for answer in rings]),
        farthest_m=np.array([answer.farthest_m for answer in rings]),
        inside=answers == Answer.IN,
        outside=answers == Answer.OUT,
    )


def _visits_of(ground: Ground, wanted: set[str], on: date) -> dict[str, list[Visit]]:
    """Visits of the wanted apiaries, earliest first; one on which nothing was looked at tells nothing."""
    found: dict[str, list[Visit]] = defaultdict(list)
    for visit in sorted(ground.visits, key=lambda row: (row.visited_on, row.visit)):
        if visit.apiary in wanted and visit.visited_on <= on and visit.is_look:
            found[visit.apiary].append(visit)
    return found


def _weigh(
    question: Question,
    row: Apiary,
    column: int,
    tie: _Ties,
    apart: _Apart,
    visits: dict[str, list[Visit]],
) -> Candidate:
    distances_m = apart.nearest_m[:, column]
    nearest = min(range(len(question.cases)), key=lambda at: (distances_m[at], question.cases[at]))
    case, nearest_m = question.cases[nearest], float(distances_m[nearest])
    farthest_m = float(apart.farthest_m[nearest, column])
    pressure = float(np.exp(-distances_m / DISTANCE_SCALE.value).sum())
    pressure += SAME_KEEPER_WEIGHT.value * len(tie.same_keeper)
    pressure += sum(GOODS_WEIGHT[move.goods].value for move, _ in tie.moves)
    low, high = SIZE_LIMITS
    pressure *= min(high, max(low, math.sqrt(row.colonies / USUAL_COLONIES.value)))
    mine = visits.get(row.apiary, [])
    left = left_after(mine[-1] if mine else None, question.on)
    answers = _answers(apart, column)
    return Candidate(
        apiary=row,
        score=FULL_SCORE * (1.0 - math.exp(-pressure * left)),
        pressure=pressure,
        reasons=tuple(_reasons(question, row, tie, case, nearest_m, farthest_m, answers, mine)),
        case=case,
        nearest_m=nearest_m,
        farthest_m=farthest_m,
        answers=answers,
        seen_on=mine[-1].visited_on if mine and mine[-1].visited_on >= question.opened_on else None,
        last_visit=mine[-1] if mine else None,
    )


def _answers(apart: _Apart, column: int) -> tuple[str, ...]:
    """Answer for the union of the rings: in one is in; out of all is out; else cannot tell."""
    return tuple(
        str(Answer.IN if inside.any() else Answer.OUT if outside.all() else Answer.CANNOT_TELL)
        for inside, outside in zip(apart.inside[:, column].T, apart.outside[:, column].T, strict=True)
    )


def left_after(visit: Visit | None, on: date) -> float:
    """Return the share of the score that the last visit leaves: 1 without one, or when it saw signs.

    A clean visit of every colony today leaves 0.2; its weight fades as infection it could not see gets signs.
    """
    if visit is None or visit.saw_signs or not visit.is_look:
        return 1.0
    share = min(1.0, visit.colonies_inspected / _stood_there(visit)) if visit.colonies_inspected else 1.0
    days = (on - visit.visited_on).days
    return 1.0 - CLEAN_VISIT_WEIGHT.value * share * math.exp(-days / CLEAN_VISIT_DAYS.value)


def _reasons(
    question: Question,
    row: Apiary,
    tie: _Ties,
    case: str,
    nearest_m: float,
    farthest_m: float,
    answers: Sequence[str],
    visits: Sequence[Visit],
) -> Iterable[Message]:
    for move, other in sorted(tie.moves, key=lambda pair: pair[0].moved_on, reverse=True):
        came = move.to_apiary == row.apiary
        yield say(
            "surveillance.reason_received" if came else "surveillance.reason_sent",
            goods=say(f"goods.{move.goods}"),
            case=other,
            moved_on=move.moved_on,
        )
    for other in tie.same_keeper:
        yield say("surveillance.reason_same_keeper", case=other)
    if tie.distances:
        is_plain = farthest_m - nearest_m < PLAIN_WITHIN_M
        yield say(
            "surveillance.reason_distance" if is_plain else "surveillance.reason_distances",
            nearest_m=nearest_m,
            farthest_m=farthest_m,
            case=case,
        )
    if "cannot_tell" in answers and "in" not in answers:
        radius_m = question.radii_m[list(answers).index("cannot_tell")]
        yield say("surveillance.reason_cannot_tell", radius_m=radius_m, precision_m=row.place.precision_m)
    yield visit_reason(visits[-1] if visits else None, question.on)
    yield say("common.colonies", count=row.colonies)


def visit_reason(visit: Visit | None, on: date) -> Message:
    """Say in words what the last visit tells."""
    if visit is None:
        return say("surveillance.reason_never_visited")
    days = (on - visit.visited_on).days
    ago = say("surveillance.days_ago", count=days) if days else say("surveillance.today")
    if visit.saw_signs:
        return say("surveillance.reason_signs_seen", visited_on=visit.visited_on)
    if not visit.colonies_inspected:
        return say("surveillance.reason_nothing_there", ago=ago)
    return say(
        "surveillance.reason_clean_visit",
        inspected=visit.colonies_inspected,
        count=_stood_there(visit),
        ago=ago,
    )


def _stood_there(visit: Visit) -> int:
    """Colonies that stood there at a visit; as many as were opened when it does not say."""
    return visit.colonies_present or visit.colonies_inspected
