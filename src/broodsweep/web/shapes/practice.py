"""Answers and questions about practice on invented cases."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from broodsweep.web.shapes.base import Shape, Signed

Share = Annotated[float, Field(ge=0, le=1)]
Seed = Annotated[int, Field(ge=0, lt=2**32)]


class PracticeSignShape(Shape):
    """A sign that may or may not be in the picture."""

    sign: str
    name: str


class PracticeConditionShape(Shape):
    """A condition that is asked about."""

    condition: str
    name: str


class PracticeCaseShape(Shape):
    """An invented case: the picture, what is told beside it, and what is asked."""

    seed: int
    picture: str = Field(description="SVG document.")
    in_words: list[str] = Field(description="What the picture shows, for those who cannot see it.")
    season: str | None
    told: list[str]
    absent: list[str]
    tests: list[str]
    conditions: list[PracticeConditionShape]
    signs: list[PracticeSignShape]


class PracticeAnswer(Signed):
    """A probability for each condition asked, and for signs in the picture."""

    seed: Seed
    conditions: dict[str, Share]
    signs: dict[str, Share] = Field(default_factory=dict)


class MarkedConditionShape(Shape):
    """A condition with what was said, what is so, and what the model says."""

    condition: str
    name: str
    said: float
    is_so: bool
    model: float


class MarkedSignShape(Shape):
    """A sign with what was said and whether the picture shows it."""

    sign: str
    name: str
    said: float
    is_so: bool


class BinShape(Shape):
    """Answers near one probability: how often they were right."""

    count: int
    said_probability: float
    true_share: float


class CalibrationStepShape(Shape):
    """Some answers about one finding in turn: how sure they were, and how often it was so."""

    count: int
    said_probability: float
    true_share: float
    brier: float


class FindingScoreShape(Shape):
    """The mean score of the answers about one sign or condition, and its calibration over time."""

    finding: str
    name: str
    is_sign: bool
    brier: float
    count: int
    steps: list[CalibrationStepShape]


class PracticeRecordShape(Shape):
    """How good somebody's answers have been."""

    who: str
    cases: int
    brier: float | None
    bins: list[BinShape]
    window: int
    over_time: list[float]
    answers_in_step: int
    by_finding: list[FindingScoreShape]


class MarkedShape(Shape):
    """An answered case: what it was, the scores, and the record with this case in it."""

    truth: list[str]
    brier: float
    log_bits: float
    model_brier: float
    conditions: list[MarkedConditionShape]
    signs: list[MarkedSignShape]
    record: PracticeRecordShape
