"""What a phone takes along for a day: the round, its surroundings, who to ring, the rules, the limits. No more."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from broodsweep.constants import Disease
from broodsweep.desk.apiaries import gravest
from broodsweep.desk.context import Desk
from broodsweep.desk.round_names import cautions_of_a_round, inspector_names, named
from broodsweep.desk.round_plans import plan_in_force
from broodsweep.desk.rules import book, default_book
from broodsweep.desk.snapshot import Snapshot
from broodsweep.desk.sweeping import sweep_list
from broodsweep.diagnosis import thresholds_from
from broodsweep.outbreak import CaseState, Outbreak, is_open, state_of
from broodsweep.register import Apiary, Keeper, Lot
from broodsweep.rounds.model import clock
from broodsweep.rulebook import Rule
from broodsweep.sources import Sourced
from broodsweep.words import Message, say

AROUND = Sourced(
    value=5_000.0,
    unit="m",
    source="project choice",
    locator="the widened ring of common practice: whoever stands at a stop may meet what lies within it",
    standing="project choice",
)
MOST_CANDIDATES = 20
"""Apiaries of the sweep lists that a phone takes along on a day without a round (project choice: two days' work)."""
HISTORY = 12
"""Entries of a stop's history that are taken along, the newest (project choice)."""
RULES = (
    *("notify.notifiable", "notify.on_suspicion", "notify.within", "notify.to"),
    *("confirm.suspected_by", "confirm.by", "standstill.from", "standstill.goods_out", "standstill.goods_in"),
    *("zone.radius", "sweep.first_ring", "sweep.widened_ring", "inspect.full_when", "inspect.sample"),
    *("inspect.season", "disinfect.allowed", "disinfect.does_not_kill", "disinfect.hypochlorite"),
    *("reinspect.earliest", "reinspect.clean_needed", "clearance.permitted", "report.certificate"),
)
"""Matters of the rulebook that a visit needs."""


@dataclass(frozen=True, kw_only=True)
class SatchelStop:
    """A stop of the day's round; times as the clock shows them."""

    apiary: str
    order: int
    arrive: str | None
    leave: str | None
    why: tuple[Message, ...]
    bring: tuple[Message, ...]
    purpose: str


@dataclass(frozen=True, kw_only=True)
class SatchelCandidate:
    """An apiary of a sweep list, for a day without a round."""

    apiary: str
    score: float
    reasons: tuple[Message, ...]


@dataclass(frozen=True, kw_only=True)
class Past:
    """Something that was at an apiary."""

    on: date
    text: Message


@dataclass(frozen=True, kw_only=True)
class SatchelApiary:
    """An apiary of the round or near it; ``history`` for stops only."""

    apiary: Apiary
    case_state: CaseState | None
    last_visited_on: date | None
    history: tuple[Past, ...]


@dataclass(frozen=True, kw_only=True)
class SatchelCase:
    """Where a case is and how it stands."""

    apiary: str
    state: CaseState
    longitude: float
    latitude: float


@dataclass(frozen=True, kw_only=True)
class SatchelOutbreak:
    """An open outbreak with its rings."""

    outbreak: str
    disease: Disease
    radii_m: tuple[float, ...]
    cases: tuple[SatchelCase, ...]


@dataclass(frozen=True, kw_only=True)
class SatchelLimits:
    """Chances at which a colony counts as suspect or confirmed, what confirms, and the rings round a new case."""

    suspect_probability: float
    exotic_probability: float
    confirm_probability: float
    confirm_by: dict[str, list[str]]
    radii_m: dict[str, list[float]]


@dataclass(frozen=True, kw_only=True)
class Satchel:
    """What a phone takes along. ``stands_on`` is the day that a demo's desk stands at, None when it follows the clock."""

    on: date
    stands_on: date | None
    stops: tuple[SatchelStop, ...]
    candidates: tuple[SatchelCandidate, ...]
    apiaries: tuple[SatchelApiary, ...]
    keepers: tuple[Keeper, ...]
    outbreaks: tuple[SatchelOutbreak, ...]
    lots: tuple[Lot, ...]
    rules: tuple[tuple[Disease, Rule], ...]
    cautions: tuple[Message, ...]
    limits: SatchelLimits


def inspector_of(kept: Snapshot, who: str) -> str | None:
    """Return the key of the inspector who has that name; None when none has, or several have."""
    found = [row.inspector for row in kept.ground.inspectors if who in (row.name, row.inspector)]
    return found[0] if len(found) == 1 else None


def satchel(desk: Desk, inspector: str | None, on: date, *, who: str | None = None) -> Satchel:
    """Return what a phone takes along for a day: from the round in force for that day, else from the sweep lists.

    Parameters
    ----------
    inspector
        Key in the table of inspectors; None looks for one of the name ``who``.
    who
        Who carries the phone: where they were that day stays in the satchel, whatever the lists say since.
    """
    kept = desk.snapshot()
    inspector = inspector or (inspector_of(kept, who) if who else None)
    called = inspector_names(kept)
    stops = _stops(desk, kept, inspector, on)
    candidates = () if stops else _candidates(desk, kept, on)
    named_here = [row.apiary for row in stops] or [row.apiary for row in candidates]
    been = {
        row.apiary for row in kept.ground.visits if row.visited_on == on and row.inspector in (inspector, who)
    }
    named_here += sorted(been - set(named_here))
    rules = book(desk, default_book(desk))
    return Satchel(
        on=on,
        stands_on=desk.as_of,
        stops=stops,
        candidates=candidates,
        apiaries=_apiaries(kept, named_here, called),
        keepers=_keepers(kept, named_here),
        outbreaks=tuple(
            _outbreak(kept, row, book(desk, row.rulebook).ring_radii_m(row.disease, on))
            for row in kept.outbreaks
            if row.closed_on is None
        ),
        lots=tuple(row for row in kept.ground.lots if row.count != 0),
        rules=tuple(
            (disease, rule)
            for disease in Disease
            for name in RULES
            if (rule := rules.find(name, disease, on)) is not None
        ),
        cautions=_cautions(desk, on),
        limits=_limits(desk, on),
    )


def stops_on(desk: Desk, on: date) -> dict[str, tuple[str, ...]]:
    """Return the stops of the round in force for a day, by inspector."""
    plan = plan_in_force(desk)
    rows = plan.plan.rounds if plan else ()
    return {row.inspector: tuple(stop.apiary for stop in row.stops) for row in rows if row.on == on}


def purpose_at(kept: Snapshot, apiary: str) -> str:
    """Return what a visit to an apiary is for, as far as the record tells."""
    states = {mark.state for mark in kept.marks.get(apiary, ())}
    if CaseState.IN_REINSPECTION in states:
        return "reinspection"
    return "sweep" if any(row.closed_on is None for row in kept.outbreaks) else "surveillance"


def _stops(desk: Desk, kept: Snapshot, inspector: str | None, on: date) -> tuple[SatchelStop, ...]:
    plan = plan_in_force(desk)
    if plan is None or inspector is None:
        return ()
    called = inspector_names(kept)
    mine = [row for row in plan.plan.rounds if row.on == on and row.inspector == inspector]
    rows = [stop for row in mine for stop in row.stops if stop.apiary in kept.apiaries]
    return tuple(
        SatchelStop(
            apiary=stop.apiary,
            order=number,
            arrive=clock(stop.arrive_minute),
            leave=clock(stop.leave_minute),
            why=tuple(named(row, called) for row in stop.why),
            bring=tuple(named(row, called) for row in stop.bring),
            purpose=purpose_at(kept, stop.apiary),
        )
        for number, stop in enumerate(rows, start=1)
    )


def _candidates(desk: Desk, kept: Snapshot, on: date) -> tuple[SatchelCandidate, ...]:
    best: dict[str, SatchelCandidate] = {}
    for outbreak in kept.outbreaks:
        if outbreak.closed_on is not None:
            continue
        for stop in sweep_list(desk, outbreak.outbreak, on).stops:
            name = stop.apiary.apiary
            if stop.seen_on is None and (name not in best or best[name].score < stop.score):
                best[name] = SatchelCandidate(apiary=name, score=stop.score, reasons=stop.reasons)
    ordered = sorted(best.values(), key=lambda row: (-row.score, row.apiary))
    return tuple(ordered[:MOST_CANDIDATES])


def _apiaries(kept: Snapshot, stops: Sequence[str], called: dict[str, str]) -> tuple[SatchelApiary, ...]:
    names = [row.apiary for row in kept.ground.apiaries]
    wanted = set(stops)
    for stop in stops:
        here = kept.apiaries[stop].place
        near, _ = kept.places.neighbours.within(here.longitude, here.latitude, AROUND.value)
        wanted |= {names[number] for number in near}
    found = []
    for name in sorted(wanted):
        last = kept.last_visit(name)
        found.append(
            SatchelApiary(
                apiary=kept.apiaries[name],
                case_state=gravest(kept, name),
                last_visited_on=last.visited_on if last else None,
                history=_history(kept, name, called) if name in stops else (),
            )
        )
    return tuple(found)


def _history(kept: Snapshot, apiary: str, called: dict[str, str]) -> tuple[Past, ...]:
    rows = [
        Past(
            on=visit.visited_on,
            text=say(
                "fieldbook.history_signs" if visit.saw_signs else "fieldbook.history_visit",
                inspected=visit.colonies_inspected,
                suspect=max(visit.colonies_suspect or 0, visit.colonies_confirmed),
                inspector=called.get(visit.inspector or "", visit.inspector or "–"),
            ),
        )
        for visit in kept.visits.get(apiary, ())
    ]
    for outbreak in kept.outbreaks:
        for case in outbreak.cases:
            if case.apiary == apiary:
                rows += [
                    Past(
                        on=event.happened_on,
                        text=say(
                            "fieldbook.history_event",
                            outbreak=outbreak.outbreak,
                            step=say(f"outbreak.step.{event.kind}"),
                        ),
                    )
                    for event in case.events
                ]
    rows.sort(key=lambda row: row.on, reverse=True)
    return tuple(rows[:HISTORY])


def _keepers(kept: Snapshot, apiaries: Iterable[str]) -> tuple[Keeper, ...]:
    names = {kept.apiaries[row].keeper for row in apiaries}
    return tuple(kept.keepers[name] for name in sorted(name for name in names if name in kept.keepers))


def _outbreak(kept: Snapshot, outbreak: Outbreak, radii_m: tuple[float, ...]) -> SatchelOutbreak:
    return SatchelOutbreak(
        outbreak=outbreak.outbreak,
        disease=outbreak.disease,
        radii_m=radii_m,
        cases=tuple(
            SatchelCase(
                apiary=case.apiary,
                state=state_of(case),
                longitude=place.longitude,
                latitude=place.latitude,
            )
            for case in outbreak.cases
            if is_open(case)
            for place in [kept.apiary(case.apiary).place]
        ),
    )


def _cautions(desk: Desk, on: date) -> tuple[Message, ...]:
    found = {row.key: row for row in cautions_of_a_round()}
    rules = book(desk, default_book(desk))
    for disease in Disease:
        found |= {row.key: row for row in rules.cautions(disease, on)}
    return tuple(found.values())


def _limits(desk: Desk, on: date) -> SatchelLimits:
    rules = book(desk, default_book(desk))
    found = thresholds_from(rules, on)
    return SatchelLimits(
        suspect_probability=found.suspect_probability,
        exotic_probability=found.exotic_probability,
        confirm_probability=found.confirm_probability,
        confirm_by={
            str(name): sorted(str(kind) for kind in kinds) for name, kinds in found.confirm_by.items()
        },
        radii_m={str(disease): list(rules.ring_radii_m(disease, on)) for disease in Disease},
    )
