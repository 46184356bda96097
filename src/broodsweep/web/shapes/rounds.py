"""Answers about rounds: who drives where, when, in which order; what changed; what did not fit."""

from __future__ import annotations

from datetime import date, datetime

from pydantic import Field

from broodsweep.desk.round_facts import ChangeKind
from broodsweep.desk.round_worker import WorkState
from broodsweep.web.shapes.base import Shape
from broodsweep.web.shapes.round_asks import RoundRules, WeatherHour


class RoundsInspectorShape(Shape):
    """An inspector, where the rounds begin and end, and on which days of the plan they work."""

    inspector: str
    name: str
    longitude: float
    latitude: float
    works: list[date]


class RoundStopShape(Shape):
    """A visit of a round, with the clock of the district."""

    number: int
    apiary: str
    keeper: str | None
    keeper_name: str | None
    phone: str | None
    address: str | None
    place: str
    longitude: float
    latitude: float
    geo: str
    colonies: int
    notes: str | None
    arrive: str
    begin: str
    leave: str
    drive_minutes: int
    why: list[str]
    bring: list[str]
    cautions: list[str] = Field(description="Of the work there, where colonies are dealt with.")
    together_with: str | None
    is_pinned: bool
    is_done: bool


class RoundPauseShape(Shape):
    """A break, or a full change and wash, after the stop of that number (0: before the first)."""

    kind: str
    start: str
    end: str
    after: int


class RoundShape(Shape):
    """One inspector's day."""

    inspector: str
    name: str
    on: date
    leaves: str
    back: str
    hours: float
    km: float
    drive_minutes: int
    overtime_minutes: int
    bring: list[str]
    cautions: list[str]
    stops: list[RoundStopShape]
    pauses: list[RoundPauseShape]


class RoundDayShape(Shape):
    """A day of the plan and the hours in which hives may be opened."""

    on: date
    opens: str | None
    closes: str | None
    why: str
    is_rained_off: bool
    is_over: bool


class LeftOutShape(Shape):
    """A visit that did not fit: why, and what would make it fit."""

    apiary: str
    keeper: str | None
    keeper_name: str | None
    longitude: float
    latitude: float
    why: list[str]
    would_help: list[str]
    is_pinned: bool


class RoundSpotShape(Shape):
    """Where a visit stands."""

    inspector: str
    name: str
    on: date
    begin: str


class RoundMovedShape(Shape):
    """A visit that stands elsewhere than in the plan before, and why."""

    apiary: str
    keeper_name: str | None
    before: RoundSpotShape | None
    after: RoundSpotShape | None
    why: str


class RoundFactShape(Shape):
    """Something that holds beside the tables, and how to take it back."""

    text: str
    kind: ChangeKind = Field(description="The change that takes it back.")
    apiary: str | None = None
    name: str | None = None
    inspector: str | None = None
    days: list[date] = Field(default=[])


class RoundWindowShape(Shape):
    """From when until when, as the clock shows it."""

    opens: str
    closes: str


class WeatherDayShape(Shape):
    """A day's weather, hour by hour, and what it allows."""

    on: date
    hours: list[WeatherHour]
    opens: str | None
    closes: str | None
    why: str


class WeatherShape(Shape):
    """What a forecast allows on the days asked about."""

    days: list[WeatherDayShape]


class RoundsNotedShape(Shape):
    """What holds for the plan in force, or for the first one."""

    facts: list[RoundFactShape]
    weather: list[WeatherDayShape]
    rules: RoundRules
    usual_rules: RoundRules


class RoundDelayShape(Shape):
    """What of the infection is expected to be unseen still on the evening of a day."""

    on: date
    this_plan: float
    by_hand: float | None


class RoundMeasuresShape(Shape):
    """What a plan comes to, beside the plan made by hand and the bound; null where not worked out."""

    visits: int
    left_out: int
    km: float
    hours: float
    overtime_hours: float
    unseen_infected_days: float
    missed_deadlines: int
    cost: float
    by_hand_unseen_infected_days: float | None
    by_hand_km: float | None
    by_hand_visits: int | None
    by_hand_cost: float | None
    bound: float | None
    within_share: float | None
    moved_visits: int | None
    inevitable_moves: int | None = Field(description="Of the moved visits, those that could not have stayed.")
    announced_visits: int | None


class RoundPlanShape(Shape):
    """The plan in force. It is a draft: a person signs it."""

    number: int
    made_at: datetime
    made_by: str
    told: str
    first_on: date
    last_on: date
    days: list[RoundDayShape]
    outbreak: str | None
    overtime_minutes: int
    zone: str
    method: str
    travel: str
    notes: list[str]
    rounds: list[RoundShape]
    left_out: list[LeftOutShape]
    moved: list[RoundMovedShape]
    facts: list[RoundFactShape]
    measures: RoundMeasuresShape | None
    delay: list[RoundDelayShape]
    can_go_back: bool


class RoundProgressShape(Shape):
    """How far the planning has come, and what the best plan so far comes to."""

    state: WorkState
    share: float
    told: str | None
    is_stopped: bool
    best: RoundMeasuresShape | None
    number: int | None
    trouble: str | None


class RoundsShape(Shape):
    """The plan in force, what is being planned, and what can be asked for."""

    plan: RoundPlanShape | None
    progress: RoundProgressShape
    noted: RoundsNotedShape
    inspectors: list[RoundsInspectorShape]
    outbreaks: list[str]
    start_on: date = Field(description="First day offered for a new plan.")
