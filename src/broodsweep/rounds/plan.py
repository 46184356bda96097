"""What a plan of rounds is: who drives where, when, why; what was left out and what it costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from broodsweep.words import Message

MINUTES_PER_HOUR = 60.0


class PauseKind(StrEnum):
    """Time on a round that is neither drive nor visit."""

    BREAK = "break"
    WASH = "wash"
    """Decontamination: full change and wash."""


@dataclass(frozen=True, kw_only=True)
class Pause:
    """A break or a decontamination stop; ``at`` names the place in the travel table. [min of the day]"""

    kind: PauseKind
    start_minute: int
    end_minute: int
    at: str


@dataclass(frozen=True, kw_only=True)
class PlannedStop:
    """A visit of a round.

    ``begin_minute`` is later than ``arrive_minute`` when the inspector waits. [min of the day]
    """

    apiary: str
    arrive_minute: int
    begin_minute: int
    leave_minute: int
    why: tuple[Message, ...] = ()
    bring: tuple[Message, ...] = ()
    together_with: str | None = None


@dataclass(frozen=True, kw_only=True)
class Round:
    """One inspector's day: leaves, visits in order, comes back. [min of the day]"""

    inspector: str
    on: date
    leave_minute: int
    back_minute: int
    stops: tuple[PlannedStop, ...]
    pauses: tuple[Pause, ...] = ()
    km: float = 0.0
    drive_minutes: int = 0
    overtime_minutes: int = 0

    @property
    def hours(self) -> float:
        """Hours from leaving to being back."""
        return (self.back_minute - self.leave_minute) / MINUTES_PER_HOUR

    @property
    def apiaries(self) -> tuple[str, ...]:
        """Apiaries in order."""
        return tuple(stop.apiary for stop in self.stops)


@dataclass(frozen=True, kw_only=True)
class Unplanned:
    """A visit that was left out: why, and what would make it fit."""

    apiary: str
    why: tuple[Message, ...] = ()
    would_help: tuple[Message, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Cost:
    """What a plan costs, by part. [infected apiary-days]

    ``unseen`` is the expected number of infected apiary-days that pass unseen: each visit's worth times the
    days until it, and times the delay charged when it is left out.
    """

    unseen: float
    driving: float
    missed_deadlines: float
    broken_appointments: float
    unmet_pins: float
    moved: float
    overtime: float = 0.0

    @property
    def total(self) -> float:
        """Sum of the parts."""
        return (
            self.unseen
            + self.driving
            + self.missed_deadlines
            + self.broken_appointments
            + self.unmet_pins
            + self.moved
            + self.overtime
        )


@dataclass(frozen=True, kw_only=True)
class Measures:
    """What a plan comes to, beside the plan that a sensible person makes by hand. ``None``: not worked out.

    ``bound`` is a cost that no plan can go below; ``within_share`` how far this plan is above it at most. Of the
    ``moved_visits``, ``inevitable_moves`` could not have stayed: their inspector or day is not to be had any more.
    """

    visits: int
    left_out: int
    km: float
    hours: float
    overtime_hours: float
    unseen_infected_days: float
    missed_deadlines: int
    cost: float
    by_hand_unseen_infected_days: float | None = None
    by_hand_km: float | None = None
    by_hand_visits: int | None = None
    by_hand_cost: float | None = None
    bound: float | None = None
    within_share: float | None = None
    moved_visits: int | None = None
    announced_visits: int | None = None
    inevitable_moves: int | None = None


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Rounds, what was left out, and how the plan was made. It is a draft: a person signs it."""

    rounds: tuple[Round, ...]
    unplanned: tuple[Unplanned, ...]
    cost: Cost
    method: Message
    travel_method: Message
    notes: tuple[Message, ...] = ()
    measures: Measures | None = None
    chosen: Mapping[str, tuple[str, date]] = field(default_factory=dict)
    """Who visits when, by apiary (the first of two where two go)."""
