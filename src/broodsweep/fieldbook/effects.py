"""What should follow at the desk from a visit: rows of the register, and steps of cases as wishes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from typing import Any
from uuid import UUID, uuid5

from broodsweep.constants import Disease, Goods
from broodsweep.fieldbook.fold import Body, FoundNow, VisitNow
from broodsweep.geo import Place
from broodsweep.register import Apiary, Keeper, Move, Visit
from broodsweep.register.constants import POINT_PRECISION_M
from broodsweep.words import Message, say

EFFECT_NAMES = UUID("0d8b2b5e-6a6c-5d0e-8a57-3b1c2f64e9aa")
"""Namespace of the names of effects: the same effect of the same visit has one name, however often it is asked for."""
TOLD_AT = "told_at_visit"
"""Extra column of a move that says which visit it was told at."""
FOUND_BY = "found_by"
"""Extra column of an apiary that was found on the way."""

REINSPECTION = "reinspection"
SUSPECT, CLEAN = "suspect", "clean"


@dataclass(frozen=True, kw_only=True)
class Wish:
    """A step that a case should take; the rules have the last word.

    ``disease`` None: every open case of the apiary.
    """

    name: str
    kind: str
    apiary: str
    disease: Disease | None
    happened_on: date
    detail: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Unmet:
    """Something that a visit says and from which nothing can follow, with the reason."""

    name: str
    what: str
    happened_on: date | None
    why: Message


@dataclass(frozen=True, kw_only=True)
class Effects:
    """What should follow from one visit; ``row`` None when no row of the table of visits does."""

    row: Visit | None = None
    moves: tuple[Move, ...] = ()
    wishes: tuple[Wish, ...] = ()
    unmet: tuple[Unmet, ...] = ()


def effect_name(visit: str, *parts: object) -> str:
    """Return the name of an effect of a visit."""
    return str(uuid5(EFFECT_NAMES, "|".join((visit, *map(str, parts)))))


def effects_of(
    visit: VisitNow, *, inspector: str | None, key_of: Callable[[str], str] = str, zone: tzinfo | None = None
) -> Effects:
    """Return what should follow from a visit as it stands.

    Parameters
    ----------
    visit
        The visit, whole or in hand.
    inspector
        Who made it: a key of the register's inspectors, or a name.
    key_of
        Gives the key under which the register has an apiary now: apiaries are merged.
    zone
        Where the desk stands: the day of an instant is the day there; None: wherever the machine says it is.
    """
    if visit.is_dropped or visit.visited_on is None or not visit.apiary:
        return Effects()
    day, apiary = date.fromisoformat(visit.visited_on), key_of(visit.apiary)
    moves, unmet = _moves(visit, apiary, key_of)
    wishes = (
        *_suspicions(visit, apiary, day),
        *_clean_looks(visit, apiary, day),
        *_samples(visit, apiary, zone),
    )
    return Effects(
        row=_row(visit, apiary, day, inspector),
        moves=moves,
        wishes=wishes,
        unmet=(*unmet, *_unsaid(visit, day)),
    )


def is_look(visit: VisitNow) -> bool:
    """Say whether colonies were counted or looked at."""
    return visit.present is not None or any(colony.state for colony in visit.colonies)


def count_of(visit: VisitNow, *states: str) -> int:
    """Return how many colonies stand in one of the states."""
    return sum(colony.state in states for colony in visit.colonies)


def diseases_of(visit: VisitNow) -> tuple[Disease, ...]:
    """Return the diseases that colonies are suspected of, the one of most colonies first."""
    counts = dict.fromkeys(Disease, 0)
    for colony in visit.colonies:
        if colony.state == SUSPECT and colony.disease is not None:
            counts[Disease(colony.disease)] += 1
    return tuple(sorted((row for row in Disease if counts[row]), key=lambda row: (-counts[row], row)))


def _row(visit: VisitNow, apiary: str, day: date, inspector: str | None) -> Visit | None:
    if not is_look(visit):
        return None
    inspected, suspect = count_of(visit, CLEAN, SUSPECT), count_of(visit, SUSPECT)
    present = None if visit.present is None else max(int(visit.present), inspected)
    return Visit(
        visit=visit.visit,
        apiary=apiary,
        visited_on=day,
        colonies_inspected=inspected,
        colonies_confirmed=0,
        colonies_present=present,
        colonies_suspect=suspect,
        inspector=inspector,
        purpose=visit.purpose,
        disease=next(iter(diseases_of(visit)), None),
    )


def _moves(
    visit: VisitNow, apiary: str, key_of: Callable[[str], str]
) -> tuple[tuple[Move, ...], tuple[Unmet, ...]]:
    moves: dict[str, Move] = {}
    unmet: list[Unmet] = []
    for body in visit.reports:
        if body["moved_on"] is None or not body["other"]:
            continue
        move = _move(visit.visit, body, apiary, key_of(body["other"]))
        if move.from_apiary == move.to_apiary:
            name = effect_name(visit.visit, "move", body["report"])
            why = say("fieldbook.move_to_itself", apiary=apiary)
            unmet.append(Unmet(name=name, what="move", happened_on=move.moved_on, why=why))
        else:
            moves[move.move] = move
    return tuple(moves[key] for key in sorted(moves)), tuple(unmet)


def _move(visit: str, body: Body, apiary: str, other: str) -> Move:
    is_in = body["direction"] == "in"
    return Move(
        moved_on=date.fromisoformat(body["moved_on"]),
        goods=Goods(body["goods"]),
        from_apiary=other if is_in else apiary,
        to_apiary=apiary if is_in else other,
        quantity=None if body["quantity"] is None else float(body["quantity"]),
        extra=((TOLD_AT, visit),),
    )


def _suspicions(visit: VisitNow, apiary: str, day: date) -> tuple[Wish, ...]:
    return tuple(
        Wish(
            name=effect_name(visit.visit, "suspected", disease),
            kind="suspected",
            apiary=apiary,
            disease=disease,
            happened_on=day,
            detail={"from": "field book", "visit": visit.visit},
        )
        for disease in sorted(diseases_of(visit))
    )


def _clean_looks(visit: VisitNow, apiary: str, day: date) -> tuple[Wish, ...]:
    looked = count_of(visit, CLEAN) > 0 or visit.present == 0
    is_clean = visit.is_whole and looked and count_of(visit, SUSPECT) == 0
    if visit.purpose != REINSPECTION or not is_clean:
        return ()
    wish = Wish(
        name=effect_name(visit.visit, "reinspected_clean"),
        kind="reinspected_clean",
        apiary=apiary,
        disease=None,
        happened_on=day,
        detail={"from": "field book", "visit": visit.visit},
    )
    return (wish,)


def _samples(visit: VisitNow, apiary: str, zone: tzinfo | None) -> tuple[Wish, ...]:
    suspects = {colony.colony: colony.disease for colony in visit.colonies if colony.state == SUSPECT}
    wishes = []
    for sample in visit.samples:
        if not sample.handed:
            continue
        disease = suspects.get(int(sample.taken["colony"]))
        label, first = sample.taken["sample"], sample.handed[0]
        wishes.append(
            Wish(
                name=effect_name(visit.visit, "sample_sent", label),
                kind="sample_sent",
                apiary=apiary,
                disease=None if disease is None else Disease(disease),
                happened_on=datetime.fromisoformat(first["handed_at"]).astimezone(zone).date(),
                detail={"from": "field book", "visit": visit.visit, "sample": label, "to": first["to"]},
            )
        )
    return tuple(wishes)


def _unsaid(visit: VisitNow, day: date) -> tuple[Unmet, ...]:
    """Return the suspect colonies of which no disease was said: no case can be opened on them."""
    unsaid = [row.colony for row in visit.colonies if row.state == SUSPECT and row.disease is None]
    if not unsaid:
        return ()
    why = say("fieldbook.no_disease_said", count=len(unsaid), colonies=", ".join(map(str, unsaid)))
    return (Unmet(name=effect_name(visit.visit, "unsaid"), what="suspected", happened_on=day, why=why),)


def found_rows(found: FoundNow, *, inspector: str | None) -> tuple[Apiary, Keeper | None]:
    """Return the rows of the register for an apiary found on the way, with its keeper when a name was given."""
    body = found.body
    name, phone = body["keeper_name"].strip(), body["keeper_phone"].strip()
    keeper = Keeper(keeper=f"K{found.apiary}", name=name or None, phone=phone or None) if name else None
    place = Place(
        longitude=float(body["longitude"]),
        latitude=float(body["latitude"]),
        precision_m=max(POINT_PRECISION_M.value, 2.0 * body["accuracy_m"]),
        text=f"{body['latitude']:.6f}, {body['longitude']:.6f}",
    )
    notes = [body["note"].strip()] + ([] if name or not phone else [phone])
    apiary = Apiary(
        apiary=found.apiary,
        place=place,
        colonies=int(body["colonies"]),
        keeper=keeper.keeper if keeper else None,
        notes=" ".join(row for row in notes if row) or None,
        extra=((FOUND_BY, inspector or found.device),),
    )
    return apiary, keeper
