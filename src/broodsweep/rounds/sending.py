"""A round for other programs: GPX for navigation, ``geo:`` links, iCalendar for the calendar."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from types import MappingProxyType
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

import gpxpy.gpx
from icalendar import Calendar, Event

from broodsweep.rounds.plan import Plan, PlannedStop, Round
from broodsweep.rounds.records import instant
from broodsweep.words import render, say

Points = Mapping[str, tuple[float, float]]
"""Longitude and latitude of each apiary. [degree]"""
PRODUCT = "-//Broodsweep//Rounds//EN"
_NAMES = UUID("5b6c9f0e-9a4d-5f0b-8f77-7f1f2c5f3f21")
"""Namespace of calendar entries: a visit keeps its name while it stays with the same inspector and day."""
_DIGITS = 6


def gpx_of(
    row: Round,
    points: Points,
    zone: ZoneInfo,
    *,
    locale: str = "en",
    called: Mapping[str, str] = MappingProxyType({}),
    contacts: Mapping[str, Sequence[str]] = MappingProxyType({}),
) -> str:
    """Return the round as a GPX 1.1 route: its stops in order, with the hour of each and why.

    Parameters
    ----------
    row
        The round.
    points
        Where the apiaries are.
    zone
        Clock of the district.
    locale
        Language of the sentences.
    called
        Names of the inspectors by their keys.
    contacts
        Lines for each apiary: who keeps the bees, telephone, address.
    """
    gpx = gpxpy.gpx.GPX()
    gpx.creator = "Broodsweep"
    route = gpxpy.gpx.GPXRoute(
        name=render(say("rounds.sent_name", inspector=_name(row, called), round_on=row.on), locale)
    )
    for number, stop in enumerate(row.stops, start=1):
        longitude, latitude = points[stop.apiary]
        at = instant(row.on, stop.begin_minute, zone)
        route.points.append(
            gpxpy.gpx.GPXRoutePoint(
                latitude=round(latitude, _DIGITS),
                longitude=round(longitude, _DIGITS),
                time=at.astimezone(UTC),
                name=f"{number} {stop.apiary} {at:%H:%M}",
                description="; ".join(
                    (*contacts.get(stop.apiary, ()), *(render(why, locale) for why in stop.why))
                ),
            )
        )
    gpx.routes.append(route)
    return str(gpx.to_xml(version="1.1"))


def geo_link(point: tuple[float, float]) -> str:
    """Return the link that opens a place in the phone's map (RFC 5870: latitude first)."""
    longitude, latitude = point
    return f"geo:{latitude:.{_DIGITS}f},{longitude:.{_DIGITS}f}"


def rounds_calendar(
    plan: Plan,
    points: Points,
    zone: ZoneInfo,
    *,
    stamp_at: datetime,
    inspectors: Iterable[str] | None = None,
    locale: str = "en",
    called: Mapping[str, str] = MappingProxyType({}),
    contacts: Mapping[str, Sequence[str]] = MappingProxyType({}),
) -> bytes:
    """Return the rounds as an iCalendar file: one entry a visit, in UTC, with place and reasons.

    Parameters
    ----------
    plan
        The plan.
    points
        Where the apiaries are.
    zone
        Clock of the district.
    stamp_at
        Instant of making, with a time zone. [UTC]
    inspectors
        Whose rounds; None: everyone's.
    locale
        Language of the sentences.
    called
        Names of the inspectors by their keys.
    contacts
        Lines for each apiary: who keeps the bees, telephone, address.

    Raises
    ------
    ValueError
        If ``stamp_at`` has no time zone.

    References
    ----------
    RFC 5545, sections 3.6.1 and 3.8.1.6 (GEO).
    """
    if stamp_at.tzinfo is None:
        raise ValueError(f"Expected stamp_at with a time zone, got {stamp_at}.")
    wanted = None if inspectors is None else set(inspectors)
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("name", render(say("rounds.sent_calendar"), locale))
    for row in plan.rounds:
        if wanted is None or row.inspector in wanted:
            for stop in row.stops:
                entry = _entry(row, stop, points[stop.apiary], zone, stamp_at)
                entry.add(
                    "summary",
                    render(
                        say("rounds.sent_visit", apiary=stop.apiary, inspector=_name(row, called)), locale
                    ),
                )
                said = (render(part, locale) for part in (*stop.why, *stop.bring))
                entry.add("description", "\n".join((*contacts.get(stop.apiary, ()), *said)))
                calendar.add_component(entry)
    return bytes(calendar.to_ical())


def _entry(
    row: Round,
    stop: PlannedStop,
    point: tuple[float, float],
    zone: ZoneInfo,
    stamp_at: datetime,
) -> Event:
    entry = Event()
    entry.add("uid", str(uuid5(_NAMES, f"{row.inspector}|{row.on.isoformat()}|{stop.apiary}")))
    entry.add("dtstamp", stamp_at.astimezone(UTC))
    entry.add("dtstart", instant(row.on, stop.begin_minute, zone).astimezone(UTC))
    entry.add("dtend", instant(row.on, stop.leave_minute, zone).astimezone(UTC))
    entry.add("location", geo_link(point))
    entry.add("geo", (round(point[1], _DIGITS), round(point[0], _DIGITS)))
    return entry


def _name(row: Round, called: Mapping[str, str]) -> str:
    return called.get(row.inspector, row.inspector)
