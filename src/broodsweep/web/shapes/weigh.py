"""Answers and questions about weighing a comb, and kits."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from broodsweep.constants import Disease
from broodsweep.diagnosis import Entry, Evidence, Sample, Season, Stage, State
from broodsweep.web.shapes.base import Asked, Name, Shape, Signed
from broodsweep.web.shapes.weigh_place import AroundShape, ConfirmRuleShape

Words = Annotated[str, Field(max_length=200)]


class ReadingAsked(Asked):
    """What was measured or seen on one test; only what applies to the test is given."""

    test: Name
    sample: Words | None = Field(
        default=None, description="Which larva, jar or bag: results on one share it."
    )
    outcome: Words | None = None
    length_mm: float | None = Field(default=None, ge=0, le=10_000)
    lines: list[Literal["C", "T"]] | None = Field(default=None, max_length=2)
    read_after_min: float | None = Field(default=None, ge=0, le=100_000)
    lot: Words | None = None
    done_on: date | None = None
    log10_cells: float | None = Field(default=None, ge=0, le=30)
    mites: int | None = Field(default=None, ge=0, le=1_000_000)
    bees: int | None = Field(default=None, ge=0, le=1_000_000)


class LookAsked(Asked):
    """What was seen and tested on one colony; a sign that is not named was not looked at."""

    apiary: Name | None = None
    looked_on: date | None = None
    signs: dict[str, bool] = Field(default_factory=dict)
    tests: list[ReadingAsked] = Field(default_factory=list, max_length=40)
    season: Season | None = None
    observer: Literal["trained", "untrained"] = "trained"
    bought_in: bool | None = None
    fed_honey: bool | None = None
    uses_hidden: bool = Field(default=True, description="A run on hidden infection may speak first.")


class QuestionAsked(LookAsked):
    """A look so far, and the signs already asked about, answered or not."""

    asked: list[Name] = Field(default_factory=list, max_length=100)


class AttachAsked(Signed):
    """A look to be attached to a case: of a new outbreak, or of the one named."""

    look: LookAsked
    disease: Disease
    kind: Literal["suspected", "confirmed", "note"]
    outbreak: Name | None = None
    kept_look: int | None = Field(default=None, ge=1, description="The look that this is, kept before.")


class KeepLookAsked(Signed):
    """A look to be kept at its apiary, without a case."""

    look: LookAsked


class KitAsked(Signed):
    """A lot of field tests to be entered in the register, or corrected."""

    lot: Name
    disease: Disease
    expires_on: date
    count: int | None = Field(default=None, ge=0, le=1_000_000, description="Kits bought.")
    where: Words | None = Field(default=None, description="Where they lie.")


class SignShape(Shape):
    """A sign: its name, and the question about it in simple words."""

    sign: str
    name: str
    question: str


class LookingShape(Shape):
    """Signs that are looked for together, in the order of looking."""

    group: str
    signs: list[SignShape]


class TestOutcomeShape(Shape):
    """What a test can answer."""

    outcome: str
    name: str


class StepShape(Shape):
    """A step of a guide; ``timer_s`` is how long it lasts."""

    text: str
    timer_s: float | None


class GuideShape(Shape):
    """How a test is done: cautions first, then the steps."""

    cautions: list[str]
    steps: list[StepShape]


class TestShape(Shape):
    """A test: what it is made on, how its result is entered, what it costs, how it is done."""

    test: str
    name: str
    evidence: Evidence
    sample: Sample
    entry: Entry
    outcomes: list[TestOutcomeShape]
    minutes: float
    cost: float = Field(description="In field kits.")
    waiting_days: float
    guide: GuideShape | None


class KitShape(Shape):
    """A lot of test kits, how many are left, and what must be said of it."""

    lot: str
    kit: str
    test: str | None
    expires_on: date
    state: str
    count: int | None
    left: int | None
    where: str | None
    text: str | None


class WeighFormShape(Shape):
    """What can be looked for and tested, and the kits on hand."""

    looking: list[LookingShape]
    scale_guide: GuideShape
    tests: list[TestShape]
    essential: list[str] = Field(description="What must be looked at before anything may be said.")
    kits: list[KitShape]
    read_not_before_min: float
    read_not_after_min: float
    rope_longest_mm: float


class ChanceShape(Shape):
    """A condition with its probability and interval, as numbers and as written."""

    condition: str
    name: str
    probability: float
    low: float
    high: float
    said: str
    said_low: str
    said_high: str


class StageShareShape(Shape):
    """How far a foulbrood may have gone: a stage and its share."""

    stage: Stage
    name: str
    said: str


class StagesShape(Shape):
    """How far a foulbrood has gone if it is there."""

    disease: str
    name: str
    shares: list[StageShareShape]


class ReasonShape(Shape):
    """What one finding does to the answer: its weight in bits, positive when it speaks for it."""

    finding: str
    text: str
    bits: float


class NextShape(Shape):
    """A look or a test not done yet, and what it is worth."""

    name: str
    is_test: bool
    text: str
    how: str | None = Field(description="The question to look with; a test has its guide instead.")
    bits: float
    change_probability: float
    change_said: str
    minutes: float
    cost: float
    waiting_days: float


class ResultShape(Shape):
    """What a reading says, and whether it counts as evidence."""

    test: str
    outcome: str | None
    is_evidential: bool
    trust: float
    text: str


class AssumptionShape(Shape):
    """A number of the model and how far the answer moves when it goes to the ends of its interval."""

    text: str
    value: float
    source: str
    is_published: bool
    low: str
    high: str


class WeighedShape(Shape):
    """The answer: conditions, reasons, what to do next, the duty."""

    state: State
    text: str
    conditions: list[str] = Field(description="Conditions that it is suspected or confirmed for.")
    is_enough: bool
    chances: list[ChanceShape]
    stages: list[StagesShape]
    about: str = Field(description="The condition that the reasons are about.")
    carrying: list[ReasonShape]
    against: list[ReasonShape]
    next_tests: list[NextShape]
    duty: list[str]
    not_looked_at: list[str]
    results: list[ResultShape]
    notes: list[str]
    assumptions: list[AssumptionShape]
    around: AroundShape
    rules: list[ConfirmRuleShape]


class KeptLookShape(Shape):
    """A look at an apiary as it was kept; ``look`` is what was entered, so that it can be taken up again."""

    number: int
    looked_on: date
    who: str
    state: State
    chances: list[ChanceShape] = Field(description="As they were weighed then.")
    text: str
    suspects: Disease | None = Field(description="What a case can be opened for on it.")
    outbreak: str | None
    look: LookAsked


class QuestionShape(Shape):
    """The next question for a keeper on the telephone; none when it is enough."""

    sign: str | None
    text: str | None
    number: int
    most: int
