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
    NOTIFIED = "notified"
    """The authority was told."""
    SAMPLE_SENT = "sample_sent"
    CONFIRMED = "confirmed"
    NOT_CONFIRMED = "not_confirmed"
    NOTICE_SERVED = "notice_served"
    COLONIES_DESTROYED = "colonies_destroyed"
    COLONIES_TREATED = "colonies_treated"
    COMB_BURNED = "comb_burned"
    EQUIPMENT_DISINFECTED = "equipment_disinfected"
    DISINFECTION_ACCEPTED = "disinfection_accepted"
    """The authority accepted the disinfection, where the law asks for it."""
    SITE_CLOSED_UP = "site_closed_up"
    KIT_CLEANED = "kit_cleaned"
    ZONE_EXAMINED = "zone_examined"
    """All colonies in the restricted zone were examined, where the law has one."""
    REINSPECTED_CLEAN = "reinspected_clean"
    REINSPECTED_POSITIVE = "reinspected_positive"
    RELEASED = "released"
    REOPENED = "reopened"
    NOTE = "note"
    AMENDED = "amended"
    """Corrects an earlier event, which stays in the record as it was written.

    ``detail`` names it: ``event``, and either ``withdrawn`` true or the corrected ``happened_on``, ``who``,
    ``evidence`` or ``detail``.
    """


class CaseState(StrEnum):
    """Where a case stands.

    Confirmed: established and nothing done yet. Under measures: a notice was served or a measure done. In
    re-inspection: the diseased colonies are destroyed or treated and a clean look is awaited; measures still
    outstanding stay in the list of what is due.
    """

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

    ``happened_on`` is the day it was done, ``recorded_at`` the instant (UTC) it was written down. What ``detail``
    may hold that counts: ``by`` with a confirmation (``laboratory``, ``field_kit``, ``signs``), ``how`` with a
    treatment (``treated``, ``shook_swarm``), ``colonies`` and ``colonies_left`` with a clearance (colonies left
    keep the case under measures), ``role`` with a notice or a release (who signs, in the rulebook's words).
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
