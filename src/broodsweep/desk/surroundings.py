"""What the record tells of a place before a comb is seen: season, known cases, purchases, hidden infection."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from broodsweep.constants import Disease, Goods
from broodsweep.desk.context import Desk
from broodsweep.desk.ports import RiskLine
from broodsweep.desk.snapshot import Snapshot
from broodsweep.diagnosis import Prior, Season
from broodsweep.diagnosis.constants import NEIGHBOURHOOD_M, SICK_SHARE
from broodsweep.diagnosis.decide import in_words
from broodsweep.geo import ring
from broodsweep.outbreak import CaseState, is_open, state_of, state_since
from broodsweep.register import Apiary, Move
from broodsweep.words import Message, say

RECENT_DAYS = 365
"""How long a purchase or a neighbouring case that was dealt with still counts (project choice: one year)."""
BOUGHT_GOODS = frozenset(Goods) - {Goods.HONEY, Goods.EXTRACTOR}
"""What counts as bees, comb or used boxes brought in."""

_KNOWN_STATES = frozenset(
    {CaseState.CONFIRMED, CaseState.UNDER_MEASURES, CaseState.IN_REINSPECTION, CaseState.RELEASED}
)
_SEASONS = (Season.WINTER, Season.SPRING, Season.SUMMER, Season.AUTUMN)
_LEAST = 1e-4
"""A prior is never certain: the run's figure may be 0."""


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
class HiddenPrior:
    """What a run on hidden infection says of the apiary, and what that makes of one of its colonies.

    The figures of the run (``apiary_…``) are for the apiary; ``colony`` is that times the share of colonies that
    are sick in an infected apiary, at least one.
    """

    disease: Disease
    run_on: date
    apiary_probability: float
    apiary_low: float
    apiary_high: float
    colony: Prior


@dataclass(frozen=True, kw_only=True)
class Surroundings:
    """What the record tells of the place: it moves the probabilities before anything is seen."""

    season: Season | None
    near: tuple[KnownCase, ...] = ()
    bought: Move | None = None
    own: tuple[OwnCase, ...] = ()
    hidden: tuple[HiddenPrior, ...] = ()


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
        hidden=tuple(_hidden(desk, row, on)),
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


def _hidden(desk: Desk, apiary: Apiary, on: date) -> Iterator[HiddenPrior]:
    """Give what a run on hidden infection says of the apiary on that day, else on the day the desk stands at."""
    if desk.risk is None:
        return
    for disease in Disease:
        for day in dict.fromkeys((on, desk.today())):
            line = desk.risk.figures(disease, day).lines.get(apiary.apiary)
            if line is not None and line.probability is not None:
                yield _prior_of(line, disease, day, apiary.colonies)
                break


def hidden_text(row: HiddenPrior) -> Message:
    """Return in a sentence where the prior of a colony came from."""
    figures = {
        "apiary": in_words(row.apiary_probability),
        "colony": in_words(row.colony.probability),
        "low": in_words(row.colony.low or row.colony.probability),
        "high": in_words(row.colony.high or row.colony.probability),
    }
    disease = say(f"disease.{row.disease}")
    return say("weigh.hidden_prior", disease=disease, run_on=row.run_on, **figures)


def _prior_of(line: RiskLine, disease: Disease, day: date, colonies: int) -> HiddenPrior:
    share = SICK_SHARE[disease]
    one = 1.0 / max(colonies, 1)
    point = line.probability or 0.0
    low = point if line.low is None else line.low
    high = point if line.high is None else line.high

    def colony(chance: float, sick: float) -> float:
        return min(max(chance * max(sick, one), _LEAST), 1.0 - _LEAST)

    return HiddenPrior(
        disease=disease,
        run_on=day,
        apiary_probability=point,
        apiary_low=low,
        apiary_high=high,
        colony=Prior(
            probability=colony(point, share.value),
            low=colony(low, share.low or share.value),
            high=colony(high, share.high or share.value),
        ),
    )
