"""Answers about keepers, apiaries, visits and moves."""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import Field

from broodsweep.constants import Clearance, Disease, Goods
from broodsweep.outbreak import CaseState
from broodsweep.web.shapes.base import Name, Shape, Signed, Text


class PlaceShape(Shape):
    """Where something is: the centre of a square of side ``precision_m``."""

    longitude: float
    latitude: float
    precision_m: float
    text: str
    notation: str


class CaseMarkShape(Shape):
    """A case that an apiary has."""

    outbreak: str
    disease: Disease
    state: CaseState


class VisitShape(Shape):
    """An inspection of an apiary."""

    visit: str
    apiary: str
    visited_on: date
    colonies_inspected: int
    colonies_confirmed: int
    colonies_present: int | None
    colonies_suspect: int | None
    inspector: str | None
    purpose: str | None
    disease: Disease | None


class ApiaryShape(Shape):
    """One place where hives stand."""

    apiary: str
    place: PlaceShape
    colonies: int
    keeper: str | None
    kept_since: date | None
    left_on: date | None
    notes: str | None


class ApiaryLineShape(Shape):
    """An apiary in a list."""

    apiary: ApiaryShape
    keeper_name: str | None
    last_visit: VisitShape | None
    cases: list[CaseMarkShape]


class ApiaryPageShape(Shape):
    """One page of the list of apiaries."""

    total: int
    lines: list[ApiaryLineShape]


class KeeperShape(Shape):
    """A person or firm that keeps bees."""

    keeper: str
    name: str | None
    phone: str | None
    email: str | None
    address: str | None
    registered_on: date | None


class MoveShape(Shape):
    """What went from one apiary to another."""

    moved_on: date
    goods: Goods
    from_apiary: str | None
    to_apiary: str | None
    quantity: float | None


class RemovalShape(Shape):
    """Diseased colonies destroyed or treated."""

    apiary: str
    removed_on: date
    disease: Disease
    colonies: int
    how: Clearance


class LotShape(Shape):
    """A batch of test kits."""

    lot: str
    kit: str
    expires_on: date
    count: int


class ApiarySheetShape(Shape):
    """Everything known of one apiary."""

    line: ApiaryLineShape
    keeper: KeeperShape | None
    same_keeper: list[str]
    visits: list[VisitShape]
    moves: list[MoveShape]
    removals: list[RemovalShape]


class PointsShape(Shape):
    """Every apiary for the map, one list for each column; all lists have the same length."""

    version: int
    apiary: list[str]
    longitude: list[float]
    latitude: list[float]
    precision_m: list[float]
    colonies: list[int]
    mark: list[CaseState | None]
    last_visited_on: list[date | None]


class VisitAsked(Signed):
    """A visit to be written down."""

    visit: Name | None = Field(default=None, description="Number of the visit; one is made when absent.")
    apiary: Name
    visited_on: date
    colonies_inspected: int = Field(ge=0, le=100_000)
    colonies_confirmed: int = Field(default=0, ge=0, le=100_000)
    colonies_present: int | None = Field(default=None, ge=0, le=100_000)
    colonies_suspect: int | None = Field(default=None, ge=0, le=100_000)
    inspector: str | None = Field(default=None, max_length=200)
    purpose: str | None = Field(default=None, max_length=200)
    disease: Disease | None = None


class ApiaryAsked(Signed):
    """An apiary found on the way, with its keeper: one on record by the key, or a new one with a name."""

    apiary: Name
    place: str = Field(min_length=1, max_length=200, description="The place in any notation.")
    colonies: int = Field(ge=0, le=100_000)
    keeper: str | None = Field(default=None, max_length=200, description="Key of the keeper.")
    keeper_name: str | None = Field(default=None, max_length=200, description="Name of a keeper who is new.")
    keeper_phone: str | None = Field(default=None, max_length=100)
    kept_since: date | None = None
    notes: str | None = Field(default=None, max_length=2000)


class DuplicateSideShape(Shape):
    """One of the two rows of a likely duplicate, in a line that tells them apart."""

    key: str
    name: str | None
    place: PlaceShape | None
    colonies: int | None
    apiaries: int | None


class DuplicateShape(Shape):
    """Two rows that may be the same apiary or keeper, and why."""

    kind: Literal["apiary", "keeper"]
    score: float
    reasons: list[Text]
    first: DuplicateSideShape
    second: DuplicateSideShape


class MergeAsked(Signed):
    """The user's word that two rows are the same: which is kept, which goes."""

    kind: Literal["apiary", "keeper"]
    keep: Name
    drop: Name


class DismissAsked(Signed):
    """The user's word that two rows are not the same."""

    kind: Literal["apiary", "keeper"]
    first: Name
    second: Name


class LocateShape(Shape):
    """A place read from any notation."""

    longitude: float
    latitude: float
    precision_m: float
    notation: str
    easting: float | None
    northing: float | None
    epsg: int


class RingApiaryShape(Shape):
    """How an apiary lies to a centre, an answer for each radius."""

    apiary: str
    nearest_m: float
    farthest_m: float
    answers: list[str]


class RingShape(Shape):
    """Every apiary that is, or may be, within the widest radius."""

    radii_m: list[float]
    apiaries: list[RingApiaryShape]
