"""How hidden infection stands for a disease on a day, and how a sweep list tells it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from broodsweep.desk.ports import RiskFigures, RiskLine
from broodsweep.words import Message, say

if TYPE_CHECKING:
    from broodsweep.desk.hidden_update import Updated
    from broodsweep.spread.engine import Hidden


class RunState(StrEnum):
    """How the newest run of a disease on a day stands."""

    NONE = "none"
    """Nobody has asked for one."""
    TOO_THIN = "too_thin"
    """The disease was confirmed nowhere: there is nothing to reckon from."""
    RUNNING = "running"
    READY = "ready"
    FAILED = "failed"
    CANCELLED = "cancelled"


@dataclass(frozen=True, kw_only=True)
class Standing:
    """How hidden infection stands for a disease on a day.

    ``base`` is the newest finished run, made from version ``version`` of the record at ``made_at``; it stays while
    another run is under way, and after one failed. ``update`` holds its figures after the visits that came since.
    ``is_stale`` says that the record changed in a way that re-weighting cannot follow. ``stamp`` grows whenever there
    is something new to show.
    """

    state: RunState
    progress_share: float = 0.0
    stamp: int = 0
    base: Hidden | None = None
    update: Updated | None = None
    version: int | None = None
    made_at: datetime | None = None
    is_stale: bool = False
    why: Message | None = None

    @property
    def found(self) -> Hidden | None:
        """The figures to show: of the newest run, re-weighted by the visits that came since."""
        return self.update.found if self.update else self.base

    @property
    def is_trusted(self) -> bool:
        """Whether the figures may stand by themselves: the chains agree and the record has not moved on."""
        return self.found is not None and self.found.answer.diagnostics.converged and not self.is_stale


def too_thin(disease: str) -> Message:
    """Return why there can be no run: the disease was confirmed nowhere."""
    return say("hidden.too_thin", disease=say(f"disease.{disease}"))


def risk_of(standing: Standing, on: date) -> RiskFigures:
    """Return the figures of a sweep list; none, with the reason, where the documented rule must do."""
    if standing.found is None:
        why = standing.why or say(f"hidden.state_{standing.state}")
        return RiskFigures(method=say("hidden.method_rule", why=why, rule=say("surveillance.method_rule")))
    lines = {
        row.apiary: RiskLine(
            probability=row.probability,
            low=row.low,
            high=row.high,
            reasons=row.reasons,
            is_found=row.state == "found",
        )
        for row in standing.found.answer.apiaries
    }
    method = say("hidden.method_run", how=how_made(standing), on=on)
    return RiskFigures(method=method, lines=lines, is_trusted=standing.is_trusted)


def how_made(standing: Standing) -> Message:
    """Return in a sentence how far the figures may be relied on."""
    visits = len(standing.update.visits) if standing.update else 0
    if standing.is_stale:
        return say("hidden.how_stale")
    if not standing.is_trusted:
        return say("hidden.how_reweighted_loosely" if visits else "hidden.how_not_converged", count=visits)
    if visits:
        return say("hidden.how_reweighted", count=visits)
    return say("hidden.how_converged")
