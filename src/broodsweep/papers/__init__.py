"""The notice, letter, return, calendar as a document. Knows no storage."""

from __future__ import annotations

from broodsweep.papers.calendar import calendar_of

__all__ = ["calendar_of"]
