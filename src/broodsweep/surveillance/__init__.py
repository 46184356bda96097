"""How many, which, when is enough? Knows no routes."""

from __future__ import annotations

from broodsweep.surveillance.sweep import Candidate, Question, sweep, visit_reason

__all__ = ["Candidate", "Question", "sweep", "visit_reason"]
