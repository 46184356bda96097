"""The two outbreaks of Skarnsey as the desk would have written them down, event by event."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

from broodsweep.constants import Clearance, Disease
from broodsweep.demo.constants import DEMO_DAY
from broodsweep.demo.ground import Labels
from broodsweep.demo.inspections import Officer, next_working_day
from broodsweep.demo.population import LAST_DAY, day_of
from broodsweep.demo.response import Campaign, Doubt, Found
from broodsweep.outbreak import Case, Event, EventKind, Outbreak

RULEBOOK = "common-practice"
_Step = tuple[EventKind, int, str | None, dict[str, object]]


def make_outbreaks(
    efb: Campaign, afb: Campaign, officers: tuple[Officer, ...], labels: Labels
) -> tuple[Outbreak, ...]:
    """Return the closed outbreak of EFB and the one of AFB in progress, up to the morning of the demo day."""
    closed = _outbreak("EFB-2025-1", Disease.EFB, efb, officers, labels)
    last_on = max(event.happened_on for case in closed.cases for event in case.events)
    return replace(closed, closed_on=last_on), _outbreak("AFB-2026-1", Disease.AFB, afb, officers, labels)


def _outbreak(
    name: str, disease: Disease, campaign: Campaign, officers: tuple[Officer, ...], labels: Labels
) -> Outbreak:
    cases: dict[str, list[Event]] = {}
    everyone: list[Found | Doubt] = [*campaign.found, *campaign.doubts]
    for case in everyone:
        apiary = labels.apiaries[case.apiary]
        steps = _case_steps(case, disease) if isinstance(case, Found) else _doubt_steps(case, disease)
        events = cases.setdefault(apiary, [])
        for kind, day, evidence, detail in steps:
            if day >= LAST_DAY:
                continue
            on = day_of(day)
            events.append(
                Event(
                    event=f"{name}-{apiary}-{len(events) + 1:02d}", apiary=apiary, kind=kind, happened_on=on,
                    recorded_at=_evening(on, len(events)), who=officers[case.officer].officer, evidence=evidence,
                    detail=detail,
                )
            )  # fmt: skip
    rows = [Case(apiary=apiary, events=tuple(events)) for apiary, events in cases.items() if events]
    rows.sort(key=lambda row: (row.events[0].happened_on, row.apiary))
    return Outbreak(
        outbreak=name,
        disease=disease,
        rulebook=RULEBOOK,
        opened_on=rows[0].events[0].happened_on,
        cases=tuple(rows),
    )


def _case_steps(case: Found, disease: Disease) -> Iterator[_Step]:
    """Yield what was done at a case, in order: kind, day, evidence and detail."""
    sample = f"Sample {disease}-{case.apiary + 100}-{case.suspected_day}"
    colonies: dict[str, object] = {"colonies": case.colonies}
    yield (
        EventKind.SUSPECTED,
        case.suspected_day,
        f"Signs in {case.colonies} of the colonies opened",
        colonies,
    )
    yield EventKind.SAMPLE_SENT, case.suspected_day, sample, {}
    yield EventKind.CONFIRMED, case.confirmed_day, f"{sample}: laboratory report", {"by": "laboratory"}
    yield EventKind.NOTICE_SERVED, case.confirmed_day, "Handed to the keeper", {}
    day = case.cleared_day
    if case.how is Clearance.DESTROYED:
        yield (
            EventKind.COLONIES_DESTROYED,
            day,
            "Photographs of the pit before and after",
            colonies | {"how": "destroyed"},
        )
        yield EventKind.COMB_BURNED, day, "Photographs of the pit before and after", {}
    else:
        yield (
            EventKind.COLONIES_TREATED,
            day,
            "Shook swarm on new foundation",
            colonies | {"how": str(case.how)},
        )
        yield EventKind.COMB_BURNED, day, "Old comb burned after the shook swarm", {}
    yield EventKind.SITE_CLOSED_UP, day, None, {}
    yield EventKind.KIT_CLEANED, day, None, {}
    yield EventKind.EQUIPMENT_DISINFECTED, next_working_day(day + 1), "Boxes and floors scorched", {}
    if case.reinspected_day is not None:
        yield EventKind.REINSPECTED_CLEAN, case.reinspected_day, "No signs of disease", {}
        yield (
            EventKind.RELEASED,
            next_working_day(case.reinspected_day + 1),
            "Standstill lifted in writing",
            {},
        )


def _doubt_steps(doubt: Doubt, disease: Disease) -> Iterator[_Step]:
    """Yield what was done about a false alarm."""
    sample = f"Sample {disease}-{doubt.apiary + 100}-{doubt.suspected_day}"
    yield (
        EventKind.SUSPECTED,
        doubt.suspected_day,
        "One larva looked wrong to keeper and inspector",
        {"colonies": 1},
    )
    yield EventKind.SAMPLE_SENT, doubt.suspected_day, sample, {}
    yield EventKind.NOT_CONFIRMED, doubt.answered_day, f"{sample}: laboratory report, negative", {}


def _evening(on: date, number: int) -> datetime:
    """Return the instant of writing down: the evening of the day, but never after the demo day's morning."""
    latest = datetime.combine(DEMO_DAY, time(7, 30), UTC)
    return min(datetime.combine(on, time(16, 0), UTC) + timedelta(minutes=7 * number), latest)
