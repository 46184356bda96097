"""What state is this case in, what is due, what is forbidden now? Knows no statistics."""

from __future__ import annotations

from broodsweep.outbreak.due import Due, DueState, due
from broodsweep.outbreak.forbidden import Direction, Forbidden, forbidden
from broodsweep.outbreak.history import (
    OPEN_STATES,
    Progress,
    effective_events,
    is_open,
    progress_of,
    state_of,
    state_since,
)
from broodsweep.outbreak.model import Case, CaseState, Event, EventKind, Outbreak
from broodsweep.outbreak.records import Near, Told, outbreaks_from_records, read_records
from broodsweep.outbreak.refusals import StepRefusedError, state_said, step_said
from broodsweep.outbreak.steps import add_event, allowed_steps, close_outbreak
from broodsweep.outbreak.summary import DueSummary, steps_that_settle, summarise

__all__ = [
    "OPEN_STATES",
    "Case",
    "CaseState",
    "Direction",
    "Due",
    "DueState",
    "DueSummary",
    "Event",
    "EventKind",
    "Forbidden",
    "Near",
    "Outbreak",
    "Progress",
    "StepRefusedError",
    "Told",
    "add_event",
    "allowed_steps",
    "close_outbreak",
    "due",
    "effective_events",
    "forbidden",
    "is_open",
    "outbreaks_from_records",
    "progress_of",
    "read_records",
    "state_of",
    "state_said",
    "state_since",
    "step_said",
    "steps_that_settle",
    "summarise",
]
