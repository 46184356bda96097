"""What can be wrong with what was entered."""

from __future__ import annotations

from broodsweep.errors import BroodsweepError


class ObservationError(BroodsweepError):
    """Something entered about the comb or a test cannot be read."""
