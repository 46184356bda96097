"""Answers about what the record tells of a place before a comb is seen there, and the rules that hold."""

from __future__ import annotations

from datetime import date

from pydantic import Field

from broodsweep.constants import Disease, Goods
from broodsweep.diagnosis import Evidence, Season
from broodsweep.outbreak import CaseState
from broodsweep.web.shapes.base import Shape
from broodsweep.web.shapes.rules import RuleShape


class NearShape(Shape):
    """The nearest known case of a disease."""

    disease: Disease
    outbreak: str
    apiary: str
    state: CaseState
    nearest_m: float


class BoughtShape(Shape):
    """The last bees, comb or boxes that came to the apiary within the year."""

    moved_on: date
    goods: Goods
    from_apiary: str | None


class OwnCaseShape(Shape):
    """An open case of the apiary itself."""

    disease: Disease
    outbreak: str
    state: CaseState


class HiddenPriorShape(Shape):
    """What a run on hidden infection says of the apiary, and what that makes of one of its colonies."""

    disease: Disease
    run_on: date
    apiary_probability: float
    probability: float = Field(description="For one colony, before it is looked at.")
    low: float
    high: float
    text: str


class AroundShape(Shape):
    """What the record tells of the place and the day."""

    season: Season | None
    near: list[NearShape]
    bought: BoughtShape | None
    own: list[OwnCaseShape]
    hidden: list[HiddenPriorShape]


class ConfirmRuleShape(Shape):
    """The rule on what confirms a disease."""

    disease: Disease
    rule: RuleShape


class ThresholdsShape(Shape):
    """From which probability, and on which evidence, a case is suspected or confirmed here."""

    suspect_probability: float
    exotic_probability: float
    confirm_probability: float
    confirm_by: dict[str, list[Evidence]]


class LookPlaceShape(Shape):
    """What a page needs to weigh a comb by itself: what the record tells, and the rules that hold here."""

    around: AroundShape
    thresholds: ThresholdsShape
    rules: list[ConfirmRuleShape]
