"""Weigh a comb at the desk: with the season, the outbreaks nearby, the kits on hand and the rules that hold."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from broodsweep.constants import Disease, Goods
from broodsweep.desk.context import Desk
from broodsweep.desk.rules import book, default_book
from broodsweep.desk.snapshot import Snapshot
from broodsweep.diagnosis import (
    METHODS,
    Answer,
    Condition,
    Context,
    Observations,
    Reading,
    Season,
    Thresholds,
    thresholds_from,
    weigh,
)
from broodsweep.diagnosis.constants import NEIGHBOURHOOD_M
from broodsweep.diagnosis.questions import next_question
from broodsweep.geo import ring
from broodsweep.outbreak import CaseState, is_open, state_of, state_since
from broodsweep.register import Apiary, Lot, Move
from broodsweep.rulebook import Rule, Rulebook

RECENT_DAYS = 365
"""How long a purchase or a neighbouring case that was dealt with still counts (project choice: one year)."""
BOUGHT_GOODS = frozenset(Goods) - {Goods.HONEY, Goods.EXTRACTOR}
"""What counts as bees, comb or used boxes brought in."""

_KNOWN_STATES = frozenset(
    {CaseState.CONFIRMED, CaseState.UNDER_MEASURES, CaseState.IN_REINSPECTION, CaseState.RELEASED}
)
_SEASONS = (Season.WINTER, Season.SPRING, Season.SUMMER, Season.AUTUMN)


@dataclass(frozen=True, kw_only=True)
class Look:
    """What was seen and tested on one colony, as it was entered; None is not said."""

    looked_on: date
    apiary: str | None = None
    signs: Mapping[str, bool] = field(default_factory=dict)
    tests: tuple[Reading, ...] = ()
    season: Season | None = None
    observer: str = "trained"
    bought_in: bool | None = None
    fed_honey: bool | None = None


@dataclass(frozen=True, kw_only=True)
class KnownCase:
    """The nearest case of a disease that is established, or was within the year."""

    disease: Disease
    outbreak: str
    apiary: str
    state: CaseState
    nearest_m: float


@dataclass(frozen=True, kw_only=True)
class OwnCase:
    """An open case of the apiary itself."""

    disease: Disease
    outbreak: str
    state: CaseState


@dataclass(frozen=True, kw_only=True)
class Surroundings:
    """What the record tells of the place: it moves the probabilities before anything is seen."""

    season: Season | None
    near: tuple[KnownCase, ...] = ()
    bought: Move | None = None
    own: tuple[OwnCase, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """A look, what the record added to it, and the answer."""

    look: Look
    around: Surroundings
    observed: Observations
    answer: Answer
    thresholds: Thresholds
    rules: Mapping[Disease, Rule]


def season_of(on: date, latitude: float | None) -> Season | None:
    """Return the season by the month, half a year later south of the equator; None without a place."""
    if latitude is None:
        return None
    months = on.month % 12 + (0 if latitude >= 0 else 6)
    return _SEASONS[months % 12 // 3]


def surroundings(desk: Desk, apiary: str | None, on: date) -> Surroundings:
    """Return what the record tells of the place and the day.

    Raises
    ------
    NotFoundError
        If the register has no such apiary.
    """
    kept = desk.snapshot()
    if apiary is None:
        latitude = float(kept.places.latitude.mean()) if len(kept.places) else None
        return Surroundings(season=season_of(on, latitude))
    row = kept.apiary(apiary)
    return Surroundings(
        season=season_of(on, row.place.latitude),
        near=tuple(_nearest(kept, row, on)),
        bought=_bought(kept, apiary, on),
        own=tuple(own_cases(kept, apiary)),
    )


def own_cases(kept: Snapshot, apiary: str) -> Iterator[OwnCase]:
    """Give the open cases of an apiary."""
    for outbreak in kept.outbreaks:
        for case in outbreak.cases:
            state = state_of(case)
            if case.apiary == apiary and is_open(case) and state is not None:
                yield OwnCase(disease=outbreak.disease, outbreak=outbreak.outbreak, state=state)


def _nearest(kept: Snapshot, apiary: Apiary, on: date) -> Iterator[KnownCase]:
    answer = ring(apiary.place, kept.places, (NEIGHBOURHOOD_M.value,))
    nearest_m = {kept.ground.apiaries[i].apiary: float(answer.nearest_m[i]) for i in answer.index}
    nearest_m[apiary.apiary] = 0.0
    for disease in Disease:
        found = [
            KnownCase(
                disease=disease,
                outbreak=outbreak.outbreak,
                apiary=case.apiary,
                state=state,
                nearest_m=nearest_m[case.apiary],
            )
            for outbreak in kept.outbreaks
            if outbreak.disease is disease
            for case in outbreak.cases
            if (state := state_of(case, on)) in _KNOWN_STATES
            and nearest_m.get(case.apiary, float("inf")) <= NEIGHBOURHOOD_M.value
            and (state is not CaseState.RELEASED or _days_since(state_since(case, on), on) <= RECENT_DAYS)
        ]
        if found:
            yield min(found, key=lambda case: (case.nearest_m, case.apiary))


def _days_since(day: date | None, on: date) -> float:
    return float("inf") if day is None else on.toordinal() - day.toordinal()


def _bought(kept: Snapshot, apiary: str, on: date) -> Move | None:
    rows = [
        move
        for move in kept.moves.get(apiary, ())
        if move.to_apiary == apiary
        and move.goods in BOUGHT_GOODS
        and 0 <= _days_since(move.moved_on, on) <= RECENT_DAYS
    ]
    return rows[-1] if rows else None


def observations_of(look: Look, around: Surroundings) -> Observations:
    """Return the look with what the record adds where nothing was said.

    Raises
    ------
    ObservationError
        If a sign is not known.
    """
    bought = look.bought_in if look.bought_in is not None else (True if around.bought else None)
    return Observations(
        signs=look.signs,
        tests=tuple(row if row.done_on else replace(row, done_on=look.looked_on) for row in look.tests),
        season=look.season or around.season,
        context=Context(
            outbreak_m={case.disease: case.nearest_m for case in around.near},
            bought_in=bought,
            fed_honey=look.fed_honey,
        ),
        observer=look.observer,
    )


def weigh_look(desk: Desk, look: Look) -> Weighed:
    """Weigh a look and return the answer with what the record added to it.

    Raises
    ------
    NotFoundError
        If the register has no such apiary.
    ObservationError
        If a sign is not known, or a reading cannot be.
    """
    around = surroundings(desk, look.apiary, look.looked_on)
    observed = observations_of(look, around)
    thresholds = thresholds_of(desk, around, look.looked_on)
    lots = lots_for_tests(desk.snapshot().ground.lots, observed.tests)
    answer = weigh(observed, lots=lots, thresholds=thresholds)
    rules = confirmation_rules(desk, around, look.looked_on)
    return Weighed(
        look=look, around=around, observed=observed, answer=answer, thresholds=thresholds, rules=rules
    )


def question_after(desk: Desk, look: Look, asked: frozenset[str]) -> str | None:
    """Return the sign that a keeper on the telephone is asked about next, None when it is enough."""
    around = surroundings(desk, look.apiary, look.looked_on)
    return next_question(replace(observations_of(look, around), tests=()), asked)


def book_for(desk: Desk, around: Surroundings, disease: Disease) -> Rulebook:
    """Return the rulebook of the outbreak that the apiary belongs to, else that of new outbreaks."""
    own = next((case for case in around.own if case.disease is disease), None)
    kept = desk.snapshot()
    return book(desk, kept.outbreak(own.outbreak).rulebook if own else default_book(desk))


def confirmation_rules(desk: Desk, around: Surroundings, on: date) -> Mapping[Disease, Rule]:
    """Return for each disease the rule on what confirms it."""
    found = {disease: book_for(desk, around, disease).find("confirm.by", disease, on) for disease in Disease}
    return {disease: rule for disease, rule in found.items() if rule is not None}


def thresholds_of(desk: Desk, around: Surroundings, on: date) -> Thresholds:
    """Return the thresholds with the evidence that each disease's rulebook asks for."""
    accepted = {}
    for disease in Disease:
        condition = Condition(disease.value)
        found = thresholds_from(book_for(desk, around, disease), on)
        accepted[condition] = found.confirm_by[condition]
    return Thresholds(confirm_by=accepted)


def kit_test(kit: str) -> str | None:
    """Return the test that a kit in the register's free words is for, None where they do not say."""
    if kit in METHODS:
        return kit
    words = set(re.findall(r"[a-z]+", kit.casefold()))
    is_afb, is_efb = bool(words & {"afb", "american"}), bool(words & {"efb", "european"})
    if is_afb == is_efb:
        return None
    if is_afb and words & {"dna", "isothermal", "lamp"}:
        return "isothermal_afb"
    return "lateral_flow_afb" if is_afb else "lateral_flow_efb"


def lots_for_tests(lots: tuple[Lot, ...], tests: tuple[Reading, ...]) -> tuple[Lot, ...]:
    """Return the lots with their kit named as its test; where the register does not say, as it was used."""
    used = {reading.lot: reading.test for reading in tests if reading.lot}
    return tuple(replace(lot, kit=kit_test(lot.kit) or used.get(lot.lot, lot.kit)) for lot in lots)
