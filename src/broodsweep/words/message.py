"""A sentence not yet put into words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Message:
    """A key of the catalogue with the values for its places.

    The core makes messages; the edge (pages, commands) renders them in the user's language. The name of
    a value says how it is written: ``…_m`` is a distance, ``…_on`` a date, ``…_at`` an instant,
    ``…_probability`` two decimals, ``…_share`` a percentage; other numbers are written by locale and a
    value that is itself a message is rendered in place. ``count`` picks the plural form.
    """

    key: str
    params: Mapping[str, Any] = field(default_factory=dict)


def say(key: str, /, **params: Any) -> Message:
    """Make a message: ``say("sweep.reason_distance", distance_m=1400.0)``."""
    return Message(key, params)
