"""An outbreak, its cases and what happened to each: the record, from which every state is computed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from broodsweep.constants import Disease


class EventKind(StrEnum):
    """What can happen to a case."""

    SUSPECTED = "suspected"
    SAMPLE_SENT = "sample_sent"
    CONFIRMED = "confirmed"
    NOT_CONFIRMED = "not_confirmed"
    NOTICE_SERVED = "notice_served"
    COLONIES_DESTROYED = "colonies_destroyed"
    COLONIES_TREATED = "colonies_treated"
    COMB_BURNED = "comb_burned"
    EQUIPMENT_DISINFECTED = "equipment_disinfected"
    SITE_CLOSED_UP = "site_closed_up"
    KIT_CLEANED = "kit_cleaned"
    REINSPECTED_CLEAN = "reinspected_clean"
    REINSPECTED_POSITIVE = "reinspected_positive"
    RELEASED = "released"
    REOPENED = "reopened"
    NOTE = "note"


class CaseState(StrEnum):
    """Where a case stands."""

    SUSPECTED = "suspected"
    AWAITING_RESULT = "awaiting_result"
    CONFIRMED = "confirmed"
    UNDER_MEASURES = "under_measures"
    IN_REINSPECTION = "in_reinspection"
    RELEASED = "released"
    NOT_CONFIRMED = "not_confirmed"


@dataclass(frozen=True, kw_only=True)
class Event:
    """One thing that happened to a case: who, when, with what evidence.

    ``happened_on`` is the day it was done, ``recorded_at`` the instant (UTC) it was written down.
    """

    event: str
    apiary: str
    kind: EventKind
    happened_on: date
    recorded_at: datetime
    who: str
    evidence: str | None = None
    detail: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Case:
    """One apiary with one disease, within an outbreak; its state is computed from its events."""

    apiary: str
    events: tuple[Event, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Outbreak:
    """Cases of one disease that are handled together, under one rulebook."""

    outbreak: str
    disease: Disease
    rulebook: str
    opened_on: date
    cases: tuple[Case, ...] = ()
    closed_on: date | None = None
