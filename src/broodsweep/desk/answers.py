"""What the desk answers: plain frozen values that the pages and the commands format."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from broodsweep.constants import Disease
from broodsweep.outbreak import CaseState, Due, Event, EventKind, Forbidden
from broodsweep.register import Apiary, Keeper, Lot, Move, Removal, Visit
from broodsweep.words import Message


@dataclass(frozen=True, kw_only=True)
class CaseMark:
    """A case an apiary has, for marking it in lists and on the map."""

    outbreak: str
    disease: Disease
    state: CaseState


@dataclass(frozen=True, kw_only=True)
class ApiaryLine:
    """An apiary in a list: enough to recognise it and see how it stands."""

    apiary: Apiary
    keeper_name: str | None
    last_visit: Visit | None
    cases: tuple[CaseMark, ...]


@dataclass(frozen=True, kw_only=True)
class ApiaryPage:
    """One page of the list of apiaries."""

    total: int
    lines: tuple[ApiaryLine, ...]


@dataclass(frozen=True, kw_only=True)
class ApiarySheet:
    """Everything known of one apiary."""

    line: ApiaryLine
    keeper: Keeper | None
    same_keeper: tuple[str, ...]
    visits: tuple[Visit, ...]
    moves: tuple[Move, ...]
    removals: tuple[Removal, ...]


@dataclass(frozen=True, kw_only=True)
class Finding:
    """A visit that saw signs or confirmed a disease; ``outbreak`` is None while no outbreak holds it."""

    visit: Visit
    keeper_name: str | None
    outbreak: str | None


@dataclass(frozen=True, kw_only=True)
class OutbreakLine:
    """An outbreak in a list."""

    outbreak: str
    disease: Disease
    rulebook: str
    opened_on: date
    closed_on: date | None
    cases: int
    cases_by_state: dict[CaseState, int]
    overdue: int


@dataclass(frozen=True, kw_only=True)
class Today:
    """What wants doing: overdue, due within the week, findings without an outbreak, kits near their date."""

    on: date
    overdue: tuple[Due, ...]
    due_this_week: tuple[Due, ...]
    at_once: tuple[Due, ...]
    findings: tuple[Finding, ...]
    outbreaks: tuple[OutbreakLine, ...]
    lots: tuple[Lot, ...]
    apiaries: int
    keepers: int
    likely_duplicates: int | None


@dataclass(frozen=True, kw_only=True)
class RingLine:
    """How an apiary lies to the nearest case: in, out or cannot tell for each radius."""

    apiary: str
    case: str
    nearest_m: float
    farthest_m: float
    answers: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class SweepStop:
    """An apiary of the sweep list, why it is there and how urgent it is by the engine named in ``method``.

    ``score`` orders the list, highest first. ``probability`` with ``low`` and ``high`` stand only when the
    statistical engine gave them. ``seen_on`` is the last visit since the outbreak was opened, None while not swept.
    """

    rank: int
    apiary: Apiary
    keeper_name: str | None
    phone: str | None
    score: float
    reasons: tuple[Message, ...]
    ring: RingLine | None
    seen_on: date | None
    last_visit: Visit | None
    probability: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, kw_only=True)
class SweepList:
    """The sweep list of an outbreak with the method that ordered it.

    ``is_trusted`` is False when its figures may not stand by themselves: only their ranges are shown then.
    """

    outbreak: str
    on: date
    radii_m: tuple[float, ...]
    method: Message
    is_trusted: bool
    stops: tuple[SweepStop, ...]
    seen: int
    unseen: int
    cannot_tell: int


@dataclass(frozen=True, kw_only=True)
class CaseSheet:
    """One case: its state, what happened, what may be recorded next."""

    apiary: Apiary
    keeper: Keeper | None
    state: CaseState
    since: date | None
    events: tuple[Event, ...]
    allowed: tuple[EventKind, ...]
    due: tuple[Due, ...]


@dataclass(frozen=True, kw_only=True)
class OutbreakSheet:
    """One outbreak with everything that the page shows except the sweep list."""

    line: OutbreakLine
    on: date
    radii_m: tuple[float, ...]
    cases: tuple[CaseSheet, ...]
    due: tuple[Due, ...]
    forbidden: tuple[Forbidden, ...]
    cautions: tuple[Message, ...]
    rulebook_title: str
    locally_changed: tuple[str, ...]
