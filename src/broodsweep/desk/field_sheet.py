"""The field sheet: phones, visits in hand and whole, what came late, what waits for a person, what was refused."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.field_draft import Draft
from broodsweep.desk.field_lines import Folded, folded_visits
from broodsweep.desk.field_ports import Heard, KeptLine, LineState, Refusal
from broodsweep.desk.round_changes import Spot, spots
from broodsweep.desk.round_plans import KeptPlan, plan_in_force
from broodsweep.desk.satchel import stops_on
from broodsweep.desk.snapshot import Snapshot
from broodsweep.errors import NotFoundError
from broodsweep.fieldbook import Meeting, VisitNow, count_of, diseases_of, meetings
from broodsweep.sources import Sourced

SHOWN = Sourced(
    value=30.0,
    unit="day",
    source="project choice",
    locator="a visit older than a month is found at its apiary; one in hand or refused stays until it is settled",
    standing="project choice",
)


@dataclass(frozen=True, kw_only=True)
class FieldVisit:
    """A visit in the list: enough to see how it stands."""

    visit: str
    apiary: str
    keeper_name: str | None
    device: str
    who: str | None
    purpose: str | None
    visited_on: date | None
    last_at: datetime
    suspect_at: datetime | None
    """When the first word of a suspect colony reached the desk."""
    present: int | None
    looked: int
    suspect: int
    diseases: tuple[Disease, ...]
    is_signed: bool
    is_whole: bool
    is_dropped: bool
    amendments: int
    late: int
    foreign: int
    photos: int
    photos_here: int


@dataclass(frozen=True, kw_only=True)
class FieldSample:
    """A sample and where it is."""

    sample: str
    of: str
    visit: str
    apiary: str
    taken_on: date | None
    handed_to: str | None
    handed_at: datetime | None


@dataclass(frozen=True, kw_only=True)
class RoundNews:
    """Visits of a day since the plan in force was made: what the rest of the day should know."""

    number: int
    made_at: datetime
    suspect: tuple[str, ...]
    done: tuple[str, ...]
    is_out_of_date: bool


@dataclass(frozen=True, kw_only=True)
class FieldSheet:
    """Everything the desk knows of the field on a day."""

    on: date
    heard: tuple[Heard, ...]
    visits: tuple[FieldVisit, ...]
    waiting: Mapping[str, tuple[str, ...]]
    """Stops of the day's round that nobody has begun, by inspector."""
    set_aside: tuple[KeptLine, ...]
    meetings: tuple[Meeting, ...]
    refusals: tuple[Refusal, ...]
    samples: tuple[FieldSample, ...]
    round_news: RoundNews | None


@dataclass(frozen=True, kw_only=True)
class VisitSheet:
    """One visit whole, with its lines and what was refused of it."""

    line: FieldVisit
    now: VisitNow
    rows: tuple[KeptLine, ...]
    photos_here: frozenset[str]
    refusals: tuple[Refusal, ...]


def field_sheet(desk: Desk, on: date) -> FieldSheet:
    """Return how the field stands: visits heard of within a month, the newest first, and all that is unsettled."""
    kept = desk.snapshot()
    refusals = desk.store.refusals()
    heard = desk.store.visits_heard(desk.now() - timedelta(days=SHOWN.value))
    wanted = {*heard, *(row.visit for row in refusals)}
    folded = folded_visits(desk.store, wanted)
    key_of = Draft(desk=desk, kept=kept).key_of
    whole = _photos_here(desk, folded)
    visits = sorted(
        (_line(kept, row, key_of(row.now.apiary), whole) for row in folded.values()),
        key=lambda row: (row.visited_on or date.min, row.last_at, row.visit),
        reverse=True,
    )
    return FieldSheet(
        on=on,
        heard=desk.store.heard(),
        visits=tuple(visits),
        waiting=_waiting(desk, on, visits),
        set_aside=desk.store.lines(states=[LineState.SET_ASIDE]),
        meetings=meetings((row.now for row in folded.values()), key_of=key_of),
        refusals=refusals,
        samples=_samples(folded, key_of),
        round_news=_news(desk, on, visits),
    )


def round_news(desk: Desk, on: date) -> RoundNews | None:
    """Return what the field means for the round of a day; None when no plan in force holds it."""
    plan = plan_in_force(desk)
    return None if plan is None or on not in plan.question.span else field_sheet(desk, on).round_news


def visit_sheet(desk: Desk, visit: str) -> VisitSheet:
    """Return one visit with all its lines.

    Raises
    ------
    NotFoundError
        If no line of it is here that can be read.
    """
    folded = folded_visits(desk.store, [visit]).get(visit)
    if folded is None:
        raise NotFoundError("fieldbook.no_such_visit", visit=visit)
    kept = desk.snapshot()
    key = Draft(desk=desk, kept=kept).key_of(folded.now.apiary)
    whole = _photos_here(desk, {visit: folded})
    return VisitSheet(
        line=_line(kept, folded, key, whole),
        now=folded.now,
        rows=folded.rows,
        photos_here=whole,
        refusals=desk.store.refusals([visit]),
    )


def _photos_here(desk: Desk, folded: Mapping[str, Folded]) -> frozenset[str]:
    named = {photo["photo"] for row in folded.values() for photo in row.now.photos}
    return frozenset(row.photo for row in desk.store.kept_photos(named))


def _line(kept: Snapshot, row: Folded, apiary: str, whole: frozenset[str]) -> FieldVisit:
    now = row.now
    there = kept.apiaries.get(apiary)
    return FieldVisit(
        visit=now.visit,
        apiary=apiary,
        keeper_name=kept.keeper_name(there) if there else None,
        device=now.device,
        who=row.who,
        purpose=now.purpose,
        visited_on=date.fromisoformat(now.visited_on) if now.visited_on else None,
        last_at=row.last_at,
        suspect_at=_suspect_at(row),
        present=None if now.present is None else int(now.present),
        looked=count_of(now, "clean", "suspect"),
        suspect=count_of(now, "suspect"),
        diseases=diseases_of(now),
        is_signed=now.signed is not None,
        is_whole=now.is_whole,
        is_dropped=now.is_dropped,
        amendments=len(now.amended),
        late=len(now.late),
        foreign=len(now.foreign),
        photos=len(now.photos),
        photos_here=sum(photo["photo"] in whole for photo in now.photos),
    )


def _suspect_at(row: Folded) -> datetime | None:
    """Return when the first line with a suspect colony came; lines are kept as JSON in one spelling."""
    looks = (line for line in row.rows if line.kind == "colony_looked")
    return min((line.arrived_at for line in looks if '"state":"suspect"' in line.content), default=None)


def _waiting(desk: Desk, on: date, visits: list[FieldVisit]) -> dict[str, tuple[str, ...]]:
    begun = {row.apiary for row in visits if row.visited_on == on and not row.is_dropped}
    rest = {
        inspector: tuple(apiary for apiary in stops if apiary not in begun)
        for inspector, stops in stops_on(desk, on).items()
    }
    return {inspector: stops for inspector, stops in sorted(rest.items()) if stops}


def _samples(folded: Mapping[str, Folded], key_of: Callable[[str], str]) -> tuple[FieldSample, ...]:
    found = []
    for row in folded.values():
        for sample in row.now.samples:
            last = sample.handed[-1] if sample.handed else None
            found.append(
                FieldSample(
                    sample=sample.taken["sample"],
                    of=sample.taken["of"],
                    visit=row.now.visit,
                    apiary=key_of(row.now.apiary),
                    taken_on=date.fromisoformat(row.now.visited_on) if row.now.visited_on else None,
                    handed_to=last["to"] if last else None,
                    handed_at=datetime.fromisoformat(last["handed_at"]) if last else None,
                )
            )
    found.sort(key=lambda row: row.sample)
    return tuple(sorted(found, key=lambda row: row.taken_on or date.min, reverse=True))


def _news(desk: Desk, on: date, visits: list[FieldVisit]) -> RoundNews | None:
    """Say what visits since the plan was made mean for the plan: a suspicion changes who goes where next."""
    plan = plan_in_force(desk)
    if plan is None or on not in plan.question.span:
        return None
    planned = spots(plan.plan)
    today = [row for row in visits if row.visited_on == on and not row.is_dropped]
    since = [row for row in today if row.last_at > plan.made_at or _is_open(plan, planned, row.apiary)]
    suspect = tuple(
        sorted(
            {
                row.apiary
                for row in since
                if row.suspect
                and ((row.suspect_at or row.last_at) > plan.made_at or _is_open(plan, planned, row.apiary))
            }
        )
    )
    return RoundNews(
        number=plan.number,
        made_at=plan.made_at,
        suspect=suspect,
        done=tuple(sorted({row.apiary for row in since if row.looked or row.present == 0})),
        is_out_of_date=bool(suspect),
    )


def _is_open(plan: KeptPlan, planned: Mapping[str, Spot], apiary: str) -> bool:
    """Say whether the plan still sends somebody there: what was found came while it was being made."""
    return apiary in planned and apiary not in plan.facts.done
