"""What state is this case in, what is due, what is forbidden now? Knows no statistics."""

from __future__ import annotations

from broodsweep.outbreak.model import Case, CaseState, Event, EventKind, Outbreak

__all__ = ["Case", "CaseState", "Event", "EventKind", "Outbreak"]
