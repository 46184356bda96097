"""What can be wrong with what a plan is asked from."""

from __future__ import annotations

from broodsweep.errors import BroodsweepError


class RoundsError(BroodsweepError):
    """A plan that cannot be made as asked; the sentence says what is wrong and the way out."""


class BrokenPlanError(BroodsweepError):
    """A plan broke a hard rule and was held back: a fault of the tool, never shown as a plan."""
