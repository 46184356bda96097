"""Weigh a comb at the desk: with what the record knows of the place, the kits on hand and the rules that hold."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.rules import book, default_book
from broodsweep.desk.surroundings import Surroundings, hidden_text, surroundings
from broodsweep.diagnosis import (
    METHODS,
    Answer,
    Condition,
    Context,
    Observations,
    Prior,
    Reading,
    Season,
    Thresholds,
    thresholds_from,
    weigh,
)
from broodsweep.diagnosis.questions import next_question
from broodsweep.register import Lot
from broodsweep.rulebook import Rule, Rulebook
from broodsweep.words import Message


@dataclass(frozen=True, kw_only=True)
class Look:
    """What was seen and tested on one colony, as it was entered; None is not said.

    ``uses_hidden`` lets a run on hidden infection speak before the comb does, where there is one.
    """

    looked_on: date
    apiary: str | None = None
    signs: Mapping[str, bool] = field(default_factory=dict)
    tests: tuple[Reading, ...] = ()
    season: Season | None = None
    observer: str = "trained"
    bought_in: bool | None = None
    fed_honey: bool | None = None
    uses_hidden: bool = True


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """A look, what the record added to it, and the answer."""

    look: Look
    around: Surroundings
    observed: Observations
    answer: Answer
    thresholds: Thresholds
    rules: Mapping[Disease, Rule]


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
        prior=_prior(look, around) if look.uses_hidden else {},
        context=Context(
            outbreak_m={case.disease: case.nearest_m for case in around.near},
            bought_in=bought,
            fed_honey=look.fed_honey,
        ),
        observer=look.observer,
    )


def _prior(look: Look, around: Surroundings) -> dict[Condition, Prior]:
    """Return what runs on hidden infection say; what only the person at the hive knows counts beside it."""
    found = {}
    for row in around.hidden:
        beside = ["bought_in"] if look.bought_in and around.bought is None else []
        if look.fed_honey and row.disease is Disease.AFB:
            beside.append("fed_honey")
        found[Condition(row.disease.value)] = replace(row.colony, beside=tuple(beside))
    return found


@dataclass(frozen=True, kw_only=True)
class PlaceFacts:
    """What the record tells of a place, and the rules that hold there: enough to weigh a comb without the desk."""

    around: Surroundings
    thresholds: Thresholds
    rules: Mapping[Disease, Rule]


def place_facts(desk: Desk, apiary: str | None, on: date) -> PlaceFacts:
    """Return what a comb at a place is weighed with beside what is seen on it.

    Raises
    ------
    NotFoundError
        If the register has no such apiary.
    """
    around = surroundings(desk, apiary, on)
    return PlaceFacts(
        around=around,
        thresholds=thresholds_of(desk, around, on),
        rules=confirmation_rules(desk, around, on),
    )


def prior_notes(weighed: Weighed) -> tuple[Message, ...]:
    """Say where the priors came from that runs on hidden infection gave."""
    if not weighed.look.uses_hidden:
        return ()
    return tuple(hidden_text(row) for row in weighed.around.hidden)


def weigh_look(desk: Desk, look: Look) -> Weighed:
    """Weigh a look and return the answer with what the record added to it.

    Raises
    ------
    NotFoundError
        If the register has no such apiary.
    ObservationError
        If a sign is not known, or a reading cannot be.
    """
    place = place_facts(desk, look.apiary, look.looked_on)
    observed = observations_of(look, place.around)
    lots = lots_for_tests(desk.snapshot().ground.lots, observed.tests)
    return Weighed(
        look=look,
        around=place.around,
        observed=observed,
        answer=weigh(observed, lots=lots, thresholds=place.thresholds),
        thresholds=place.thresholds,
        rules=place.rules,
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
    found = {disease: thresholds_from(book_for(desk, around, disease), on) for disease in Disease}
    return Thresholds(
        suspect_probability=min(given.suspect_probability for given in found.values()),
        confirm_probability=max(given.confirm_probability for given in found.values()),
        confirm_by={
            Condition(disease.value): given.confirm_by[Condition(disease.value)]
            for disease, given in found.items()
        },
    )


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
