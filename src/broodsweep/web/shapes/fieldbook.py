"""What phones and the desk's Field page are answered."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any

from pydantic import Field

from broodsweep.constants import Disease
from broodsweep.outbreak import CaseState
from broodsweep.web.shapes.base import Asked, Shape, Text

MOST_LINES = 200
Sha256 = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class LinesAsked(Asked):
    """Lines of a phone; each is read by itself, so that none holds up the others."""

    lines: list[Any] = Field(max_length=MOST_LINES)


class LineAnswerShape(Shape):
    """What became of a line: kept, already, or set_aside with the reason."""

    line: str
    answer: str = Field(serialization_alias="is")
    why: Text | None


class LinesAnswerShape(Shape):
    """What became of the lines; whether the phone is asked to clear itself; photos that are not whole here."""

    answers: list[LineAnswerShape]
    wipe: bool
    photos_wanted: list[str]


class ReceivedShape(Shape):
    """How much of a photo is here."""

    received: int
    is_whole: bool


class StopShape(Shape):
    """A stop of the day's round."""

    apiary: str
    order: int
    arrive: str | None
    leave: str | None
    why: list[Text]
    bring: list[Text]
    purpose: str


class CandidateShape(Shape):
    """An apiary of a sweep list."""

    apiary: str
    score: float
    reasons: list[Text]


class PastShape(Shape):
    """Something that was at an apiary."""

    on: date
    text: Text


class SatchelApiaryShape(Shape):
    """An apiary of the round or near it."""

    apiary: str
    longitude: float
    latitude: float
    precision_m: float
    colonies: int
    keeper: str | None
    notes: str | None
    case_state: CaseState | None
    last_visited_on: date | None
    history: list[PastShape]


class SatchelKeeperShape(Shape):
    """A keeper of a stop."""

    keeper: str
    name: str | None
    phone: str | None
    address: str | None


class SatchelCaseShape(Shape):
    """Where a case is and how it stands."""

    apiary: str
    state: CaseState
    longitude: float
    latitude: float


class SatchelOutbreakShape(Shape):
    """An open outbreak with its rings."""

    outbreak: str
    disease: Disease
    radii_m: list[float]
    cases: list[SatchelCaseShape]


class SatchelLotShape(Shape):
    """A batch of test kits."""

    lot: str
    kit: str
    expires_on: date
    count: int | None


class SatchelRuleShape(Shape):
    """What the rulebook says in one matter."""

    key: str
    text: str
    source: str


class LimitsShape(Shape):
    """Chances at which a colony counts as suspect or confirmed, what confirms, and the rings round a new case."""

    suspect_probability: float
    exotic_probability: float
    confirm_probability: float
    confirm_by: dict[str, list[str]]
    radii_m: dict[str, list[float]]


class LeadShape(Shape):
    """Whom to ring on a suspicion."""

    name: str | None
    phone: str | None


class SatchelShape(Shape):
    """What a phone takes along for a day."""

    satchel: str
    made_at: datetime
    on: date
    stands_on: date | None
    who: str
    inspector: str | None
    role: str
    lead: LeadShape | None
    stops: list[StopShape]
    candidates: list[CandidateShape]
    apiaries: list[SatchelApiaryShape]
    keepers: list[SatchelKeeperShape]
    outbreaks: list[SatchelOutbreakShape]
    inspectors: dict[str, str]
    lots: list[SatchelLotShape]
    rules: list[SatchelRuleShape]
    limits: LimitsShape
    words_locale: str
