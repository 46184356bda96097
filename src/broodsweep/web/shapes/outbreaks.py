"""Answers about outbreaks: cases, due dates, rings, the sweep list, and what a day asks for."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, Literal

from pydantic import Field

from broodsweep.constants import Disease
from broodsweep.outbreak import CaseState, DueState, EventKind
from broodsweep.web.shapes.base import Name, Shape, Signed, Text
from broodsweep.web.shapes.ground import ApiaryShape, KeeperShape, LotShape, VisitShape
from broodsweep.web.shapes.rules import RuleShape


class DueShape(Shape):
    """Something that a rule requires: what, where, by when, by which rule."""

    outbreak: str
    apiary: str
    keeper_name: str | None
    key: str
    round: int = Field(description="Number of the finding at the case; with the key it names the line.")
    what: str
    due_on: date | None
    earliest_on: date | None
    since_on: date | None
    done_on: date | None
    is_at_once: bool
    days: int | None = Field(description="Days from the day asked about to the due date; negative when over.")
    state: DueState
    rule: RuleShape


class BannedPlaceShape(Shape):
    """A case at which, or round which, a ban holds."""

    apiary: str
    since_on: date
    until: str
    why: str


class ForbiddenShape(Shape):
    """Something that may not be done now by one rule, and the cases at which it holds."""

    what: str
    direction: str
    radius_m: float | None
    rule: RuleShape
    places: list[BannedPlaceShape]


class OutbreakLineShape(Shape):
    """An outbreak in a list."""

    outbreak: str
    disease: Disease
    rulebook: str
    opened_on: date
    closed_on: date | None
    cases: int
    cases_by_state: dict[CaseState, int]
    overdue: int


class FindingShape(Shape):
    """A visit that saw signs or confirmed a disease, and that no outbreak holds yet."""

    visit: VisitShape
    keeper_name: str | None
    outbreak: str | None


class TodayShape(Shape):
    """What wants doing on a day."""

    on: date
    overdue: list[DueShape]
    at_once: list[DueShape]
    due_this_week: list[DueShape]
    findings: list[FindingShape]
    outbreaks: list[OutbreakLineShape]
    lots: list[LotShape]
    apiaries: int
    keepers: int
    likely_duplicates: int | None


class EventShape(Shape):
    """One thing that happened to a case, as it was written; ``amended`` says that a later entry corrects it."""

    amended: bool
    event: str
    kind: EventKind
    happened_on: date
    recorded_at: datetime
    who: str
    evidence: str | None
    detail: dict[str, Any]


class CaseShape(Shape):
    """One case: its state, what happened, what may be recorded next."""

    apiary: ApiaryShape
    keeper: KeeperShape | None
    state: CaseState
    since: date | None
    events: list[EventShape]
    allowed: list[EventKind]
    due: list[DueShape]


class StepOptionsShape(Shape):
    """Words of the rulebook that may be kept with a step: by what confirmed, how treated, who signs."""

    by: list[str]
    how: list[str]
    notice_role: list[str]
    release_role: list[str]


class OutbreakSheetShape(Shape):
    """One outbreak with everything but the sweep list."""

    line: OutbreakLineShape
    on: date
    radii_m: list[float]
    cases: list[CaseShape]
    due: list[DueShape]
    forbidden: list[ForbiddenShape]
    cautions: list[str]
    options: StepOptionsShape
    rulebook_title: str
    locally_changed: list[str] = Field(description="Labels of the rules that were changed locally.")


class RingLineShape(Shape):
    """How an apiary lies to the nearest case: an answer for each radius."""

    apiary: str
    case: str
    nearest_m: float
    farthest_m: float
    answers: list[Literal["in", "out", "cannot_tell"]]


class SweepStopShape(Shape):
    """An apiary of the sweep list, why it is there and how urgent it is."""

    rank: int
    apiary: ApiaryShape
    keeper_name: str | None
    phone: str | None
    score: float
    reasons: list[Text]
    ring: RingLineShape | None
    seen_on: date | None
    last_visit: VisitShape | None
    probability: float | None
    low: float | None
    high: float | None


class SweepShape(Shape):
    """The sweep list of an outbreak with the method that ordered it."""

    outbreak: str
    on: date
    radii_m: list[float]
    method: Text
    is_trusted: bool
    stops: list[SweepStopShape]
    seen: int
    unseen: int
    cannot_tell: int


class RingsShape(Shape):
    """The rings of an outbreak: how each apiary answers, and the outlines as GeoJSON (RFC 7946)."""

    outbreak: str
    radii_m: list[float]
    apiaries: list[RingLineShape]
    outlines: dict[str, Any]


class CaseAsked(Signed):
    """A finding at an apiary, suspected or confirmed."""

    apiary: Name
    found_on: date
    kind: Literal["suspected", "confirmed"]
    evidence: str | None = Field(default=None, max_length=2000)
    detail: dict[str, Any] = Field(default_factory=dict)


class OutbreakAsked(CaseAsked):
    """A finding on which an outbreak is opened."""

    disease: Disease
    rulebook: Name | None = None


class EventAsked(Signed):
    """A step of a case to be written down: what was done, on which day, with what evidence."""

    apiary: Name
    kind: EventKind
    happened_on: date
    evidence: str | None = Field(default=None, max_length=2000)
    detail: dict[str, Any] = Field(default_factory=dict)


class OutbreakNameShape(Shape):
    """The name of the outbreak that was opened or changed."""

    outbreak: str


class CloseAsked(Signed):
    """The day on which an outbreak is closed."""

    closed_on: date
