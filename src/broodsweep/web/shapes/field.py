"""What the desk's Field page is answered."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, Literal

from pydantic import AwareDatetime, Field

from broodsweep.constants import Disease
from broodsweep.web.shapes.base import Asked, Shape, Signed, Text


class HeardShape(Shape):
    """A phone and when it was last heard of."""

    device: str
    label: str
    who: str
    last_at: datetime | None
    lines: int
    missing: int
    is_revoked: bool


class FieldVisitShape(Shape):
    """A visit in the list."""

    visit: str
    apiary: str
    keeper_name: str | None
    device: str
    who: str | None
    purpose: str | None
    visited_on: date | None
    last_at: datetime
    present: int | None
    looked: int
    suspect: int
    diseases: list[Disease]
    is_signed: bool
    is_whole: bool
    is_dropped: bool
    amendments: int
    late: int
    foreign: int
    photos: int
    photos_here: int


class KeptLineShape(Shape):
    """A line as it reached the desk."""

    key: str
    line: str | None
    number: int | None
    kind: str | None
    device: str | None
    delivered_by: str
    visit: str | None
    apiary: str | None
    written_at: str | None
    arrived_at: datetime
    state: str
    why: Text | None
    can_count: bool
    body: Any


class MeetingShape(Shape):
    """Two looks at one apiary on one day."""

    apiary: str
    visited_on: date
    visits: list[str]
    differences: list[Text]


class RefusalShape(Shape):
    """What should have followed from a visit, and why it did not."""

    refusal: str
    visit: str
    apiary: str | None
    what: str
    happened_on: date | None
    why: Text


class FieldSampleShape(Shape):
    """A sample and where it is."""

    sample: str
    of: str
    visit: str
    apiary: str
    taken_on: date | None
    handed_to: str | None
    handed_at: datetime | None


class WaitingShape(Shape):
    """Stops of an inspector's round that nobody has begun."""

    inspector: str
    name: str
    stops: list[str]


class RoundNewsShape(Shape):
    """What visits since the plan in force was made mean for it."""

    number: int
    made_at: datetime
    suspect: list[str]
    done: list[str]
    is_out_of_date: bool


class FieldSheetShape(Shape):
    """How the field stands."""

    on: date
    version: int
    phones: list[HeardShape]
    visits: list[FieldVisitShape]
    waiting: list[WaitingShape]
    set_aside: list[KeptLineShape]
    meetings: list[MeetingShape]
    refusals: list[RefusalShape]
    samples: list[FieldSampleShape]
    round_news: RoundNewsShape | None


class FieldVisitSheetShape(Shape):
    """One visit whole, as the phone's contract writes it, with its lines."""

    line: FieldVisitShape
    now: dict[str, Any]
    rows: list[KeptLineShape]
    photos_here: list[str]
    refusals: list[RefusalShape]
    who: str


class ParcelShape(Shape):
    """What a phone's sealed file held, and what became of it."""

    phone: str
    kept: int
    already: int
    set_aside: int
    photos: int
    photos_spoilt: int


class DecideAsked(Signed):
    """Take in a line that was set aside, or leave it."""

    take_in: bool


class PaperColonyAsked(Asked):
    """What a paper sheet says of one colony."""

    colony: int = Field(ge=1, le=10_000)
    state: str = Field(pattern="^(clean|not_opened|suspect)$")
    disease: Disease | None = None
    signs: list[str] = Field(default_factory=list, max_length=60)


class PaperSampleAsked(Asked):
    """A sample that a paper sheet names."""

    sample: str = Field(min_length=1, max_length=200)
    colony: int = Field(ge=1, le=10_000)
    of: str = Field(pattern="^(brood_comb|larva|bees|honey|debris)$")
    handed_to: str = Field(default="", max_length=200)
    handed_at: AwareDatetime | None = None


class PaperTestAsked(Asked):
    """A test that a paper sheet names, by what it came out as."""

    colony: int = Field(ge=1, le=10_000)
    test: str = Field(min_length=1, max_length=80)
    outcome: str = Field(min_length=1, max_length=80)
    lot: str = Field(default="", max_length=200)


class PaperReportAsked(Asked):
    """What the keeper said of bees or things that came or went."""

    direction: str = Field(pattern="^(in|out)$")
    goods: str = Field(pattern="^(colonies|nuclei|queens|brood_comb|drawn_comb|boxes|extractor|honey)$")
    quantity: float | None = Field(default=None, ge=0, le=1e6)
    moved_on: date | None = None
    other: str | None = Field(default=None, max_length=200)
    other_said: str = Field(default="", max_length=2000)


class PaperAsked(Signed):
    """A paper sheet as it was filled in."""

    visit: str = Field(pattern="^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$")
    apiary: str = Field(min_length=1, max_length=200)
    visited_on: date
    purpose: str = Field(pattern="^(sweep|reinspection|surveillance|call|training)$")
    inspector: str | None = Field(default=None, max_length=200)
    temperature_c: float | None = Field(default=None, ge=-60, le=60)
    wind: str | None = Field(default=None, pattern="^(calm|light|moderate|strong)$")
    rain: str | None = Field(default=None, pattern="^(none|drizzle|rain)$")
    are_flying: bool | None = None
    present: int = Field(ge=0, le=10_000)
    colonies: list[PaperColonyAsked] = Field(default_factory=list, max_length=500)
    samples: list[PaperSampleAsked] = Field(default_factory=list, max_length=100)
    reports: list[PaperReportAsked] = Field(default_factory=list, max_length=100)
    tests: list[PaperTestAsked] = Field(default_factory=list, max_length=100)
    cleaned: list[Literal["hands", "tools", "smoker", "clothing", "boots", "vehicle"]] = Field(
        default_factory=list, max_length=6
    )
    cleaned_how: str = Field(default="", max_length=2000)
    note: str = Field(default="", max_length=10_000)
    signed_by: str = Field(default="", max_length=200)
    keeper_was_there: bool = False
    keeper_name: str = Field(default="", max_length=200)


class PaperTestShape(Shape):
    """A test and how it can come out, in words."""

    test: str
    label: str
    outcomes: dict[str, str]


class PaperStartShape(Shape):
    """What a sheet begins with: the visit that its code names, and whether it was entered before."""

    visit: str
    apiary: str
    purpose: str
    is_entered: bool
    colonies: int
    keeper_name: str | None
    signs: dict[str, str]
    tests: list[PaperTestShape]
