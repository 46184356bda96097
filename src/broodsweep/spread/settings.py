"""What a run may be told: seed apart, everything that changes an answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from enum import IntEnum

from broodsweep.spread import constants
from broodsweep.spread.priors import Prior


class Kernel(IntEnum):
    """How contact falls with distance; all are 1 at no distance."""

    EXPONENTIAL = 0
    GAUSSIAN = 1
    POWER = 2
    CAUCHY = 3
    MIXED = 4
    """Exponential with a small far part."""


@dataclass(frozen=True, kw_only=True)
class Coverage:
    """What finished sweeps say of the register: apiaries seen by them, and how many of those were registered."""

    registered: int
    seen: int
    seen_registered: int

    def __post_init__(self) -> None:
        if not 0 <= self.seen_registered <= min(self.seen, self.registered):
            raise ValueError(f"Expected 0 <= seen_registered <= seen and registered, got {self}.")


@dataclass(frozen=True, kw_only=True)
class Settings:
    """How a run is made.

    Parameters
    ----------
    chains, threads
        Independent chains and the threads that run them; the answer does not depend on the threads.
    warm_sweeps, batch_sweeps, most_batches
        Sweeps thrown away, sweeps between two looks at convergence, and the limit of batches.
    updates
        Latent updates a sweep.
    draws
        Draws kept for re-weighting, all chains together.
    kernel
        Fall of contact with distance.
    unregistered
        Whether unregistered apiaries are looked for.
    coverage
        What finished sweeps say of the register; None uses the prior.
    movement_stop_on
        Day of a movement stop for the whole district.
    standstill_on
        Day of the standstill by apiary; without it the day of the finding.
    priors
        Priors instead of the disease's own.
    should_stop
        Asked between batches; True ends the run with what it has.
    """

    chains: int = 4
    threads: int = 2
    warm_sweeps: int = 2400
    batch_sweeps: int = 1000
    least_batches: int = 5
    most_batches: int = 48
    updates: int = 60
    thin: int = 20
    draws: int = 2000
    kernel: Kernel = Kernel.MIXED
    unregistered: bool = True
    coverage: Coverage | None = None
    movement_stop_on: date | None = None
    standstill_on: dict[str, date] = field(default_factory=dict)
    priors: tuple[Prior, ...] | None = None
    flight_by_month: tuple[float, ...] | None = None
    opened_by_month: tuple[float, ...] | None = None
    cut_m: float = constants.CUT_M.value
    horizon_days: int = int(constants.HORIZON_DAYS.value)
    mcse_limit: float = constants.MCSE_LIMIT.value
    rhat_limit: float = constants.RHAT_LIMIT.value
    should_stop: Callable[[], bool] | None = None

    def __post_init__(self) -> None:
        for name in ("chains", "threads", "batch_sweeps", "most_batches", "updates", "thin", "draws"):
            if getattr(self, name) < 1:
                raise ValueError(f"Expected {name} >= 1, got {getattr(self, name)}.")
        if self.warm_sweeps < 0 or self.horizon_days < 1 or not self.cut_m > 0:
            raise ValueError(f"Expected warm_sweeps >= 0, horizon_days >= 1 and cut_m > 0, got {self}.")
