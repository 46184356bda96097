"""Broodsweep: from the first suspect cell to the all-clear."""

from __future__ import annotations

__version__ = "0.1.0"
