"""Answers about hidden infection: the run, figures, sources, the all-clear, rehearsed strategies."""

from __future__ import annotations

from datetime import date, datetime
from typing import Literal

from pydantic import Field

from broodsweep.constants import Disease
from broodsweep.desk.hidden_standing import RunState
from broodsweep.web.shapes.base import Asked, Shape, Text

MOST_STRATEGIES = 6


class RunShape(Shape):
    """How the newest run stands; ``stamp`` grows whenever there is something new to show."""

    state: RunState
    progress_share: float
    stamp: int
    has_figures: bool
    is_trusted: bool = Field(description="Whether the figures may stand by themselves, without a warning.")
    is_stale: bool = Field(description="Whether the record changed in a way that re-weighting cannot follow.")
    how: Text | None
    why: Text | None
    warnings: list[Text]
    made_at: datetime | None
    record_version: int | None = Field(
        description="Number of the record's change that the run was made from."
    )
    new_visits: int = Field(description="Visits since the run that its figures were re-weighted by.")
    khat: float | None
    effective_share: float | None


class RiskColumnsShape(Shape):
    """The figure of every apiary that may be infected unseen, one list for each column."""

    apiary: list[str]
    probability: list[float]
    low: list[float]
    high: list[float]


class HiddenLineShape(Shape):
    """An apiary with its figure, its 90 % range, the error of the computation, and the reasons."""

    rank: int
    apiary: str
    keeper_name: str | None
    phone: str | None
    place: str
    colonies: int
    state: Literal["standing", "found", "removed", "left", "no_colonies"]
    probability: float
    low: float
    high: float
    mcse: float
    reasons: list[Text]


class UnseenShape(Shape):
    """How many apiaries are infected and not found; 90 % range of the number."""

    mean: float
    low: float
    high: float
    registered_mean: float
    unregistered_mean: float
    none_probability: float
    none_mcse: float


class ShareShape(Shape):
    """Share of an infection that came from one source by one route."""

    source: str | None = Field(description="The apiary, where the source is one.")
    route: str
    what: Text
    share: float
    longitude: float | None
    latitude: float | None
    radius_m: float | None
    place: str | None


class SourcesShape(Shape):
    """Where the infection of a found apiary most likely came from, and since when it was infected."""

    apiary: str
    keeper_name: str | None
    infected_on: date
    infected_low_on: date
    infected_high_on: date
    shares: list[ShareShape]
    unexplained_share: float
    note: Text | None


class ParameterShape(Shape):
    """A parameter: what was believed before, with the source, and what the record leaves of it."""

    name: str
    label: Text
    unit: str
    median: float | None
    low: float | None
    high: float | None
    prior_median: float
    prior_low: float
    prior_high: float
    source: str


class DiagnosticsShape(Shape):
    """Whether the chains agree and how exact the figures are, with the limits."""

    converged: bool
    rhat_max: float | None
    rhat_limit: float
    ess_min: float | None
    mcse_max: float | None
    mcse_limit: float
    sweeps: int
    chains: int
    draws: int
    reasons: list[Text]


class CellShape(Shape):
    """A square in which an unregistered apiary may stand infected."""

    longitude: float
    latitude: float
    side_m: float
    expected_apiaries: float
    probability: float
    place: str


class UnregisteredShape(Shape):
    """How many apiaries no register knows, with a 95 % interval."""

    count: float
    low: float
    high: float
    by_sweeps: bool


class HiddenAnswerShape(Shape):
    """Everything that a run answers."""

    total: int
    columns: RiskColumnsShape
    lines: list[HiddenLineShape]
    unseen: UnseenShape
    sources: list[SourcesShape]
    parameters: list[ParameterShape]
    diagnostics: DiagnosticsShape
    cells: list[CellShape]
    unregistered: UnregisteredShape
    notes: list[Text]


class HiddenShape(Shape):
    """Hidden infection of an outbreak's disease on a day; no answer while there is no run."""

    outbreak: str
    disease: Disease
    on: date
    run: RunShape
    answer: HiddenAnswerShape | None


class ClearFigureShape(Shape):
    """One of the three figures of the stop rule, with its target."""

    name: str
    label: Text
    value: float | None
    low: float | None
    target: float
    is_reached: bool
    why: Text | None


class LegalShape(Shape):
    """A condition of the rulebook for a release."""

    name: str
    apiary: str
    what: Text
    rule: Text
    is_met: bool
    due_on: date | None


class HelpShape(Shape):
    """A visit that would help: the probability of freedom once it and those before it were found clean."""

    apiary: str
    keeper_name: str | None
    place: str
    free_probability: float


class WorthShape(Shape):
    """What a visit today is worth: infected apiary-days avoided, and the chance that it finds the disease."""

    apiary: str
    keeper_name: str | None
    place: str
    days_avoided: float
    found_probability: float
    infected_probability: float


class AllClearShape(Shape):
    """What is laid before the person who may lift the standstill."""

    disease: Disease
    on: date
    is_trusted: bool
    figures: list[ClearFigureShape]
    legal: list[LegalShape]
    binding: str | None
    would_help: list[HelpShape] = Field(description="The first of the visits that would help, in order.")
    help_total: int = Field(description="How many visits would help altogether.")
    help_reaches: float | None = Field(
        description="Probability of freedom once all of them were found clean."
    )
    worth: list[WorthShape]
    is_enough: bool
    notes: list[Text]


class StrategyAsked(Asked):
    """A strategy to rehearse."""

    name: str = Field(min_length=1, max_length=80)
    radius_m: float = Field(default=3000.0, ge=0, le=50_000)
    order: Literal["distance", "rule", "random"] = "rule"
    inspectors: float = Field(default=6.0, ge=0, le=500)
    rounds: Literal[1, 2] = 1
    interval_days: int = Field(default=42, ge=2, le=400)
    clear_after_days: int = Field(default=3, ge=1, le=200)
    clearance: Literal["destroy", "treat"] = "destroy"
    movement_stop: bool = False
    share_opened: float = Field(default=1.0, gt=0, le=1)


class RehearseAsked(Asked):
    """Strategies to rehearse over futures drawn from what is known now."""

    strategies: list[StrategyAsked] = Field(min_length=1, max_length=MOST_STRATEGIES)
    days: int = Field(default=365, ge=30, le=1500)
    futures: int = Field(default=1000, ge=2, le=20_000)


class RehearsedNumberShape(Shape):
    """A number over all futures: mean with 5th and 95th percentile."""

    mean: float
    low: float
    high: float


class DifferenceShape(Shape):
    """Mean paired difference from the first strategy with its 95 % interval; None where one future was lived."""

    mean: float
    low: float | None
    high: float | None


class OverShape(Shape):
    """The chance that no apiary is infected on a day."""

    day: int
    probability: float


class RehearsedShape(Shape):
    """What came of one strategy."""

    name: str
    infected: RehearsedNumberShape
    destroyed: RehearsedNumberShape
    inspector_days: RehearsedNumberShape
    release_days: RehearsedNumberShape | None
    released_share: float
    over: list[OverShape]
    active_mean: list[float] = Field(
        description="Infected apiaries on average, a value for each ``step_days``."
    )
    differences: dict[str, DifferenceShape] | None


class RehearsalShape(Shape):
    """How a rehearsal stands and what came of it."""

    state: RunState
    progress_share: float
    why: Text | None
    is_trusted: bool
    record_version: int | None
    days: int | None
    futures: int | None
    step_days: int
    made: list[RehearsedShape]
