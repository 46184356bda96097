"""Rehearsals made behind the desk: the newest for each disease and day, with progress, and stopped when not wanted."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING

from broodsweep.constants import Disease
from broodsweep.desk.hidden_runs import CancelledError, HiddenRuns
from broodsweep.desk.hidden_standing import RunState
from broodsweep.desk.rehearsing import Rehearsed, rehearse_strategies
from broodsweep.errors import BroodsweepError, RefusedError
from broodsweep.spread.rehearsal import Strategy
from broodsweep.words import Message, say

if TYPE_CHECKING:
    from broodsweep.spread.engine import Hidden

LOG = logging.getLogger("broodsweep.desk")
SEED = 1


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What was asked to be rehearsed."""

    strategies: tuple[Strategy, ...]
    days: int
    futures: int
    seed: int = SEED


@dataclass(frozen=True, kw_only=True)
class Rehearsal:
    """How a rehearsal stands.

    ``made`` is what came of each strategy, in order. ``version`` is the record's number of the run of hidden infection
    that the futures start from; ``is_trusted`` says whether its chains agreed.
    """

    state: RunState = RunState.NONE
    progress_share: float = 0.0
    asked: Asked | None = None
    made: tuple[Rehearsed, ...] = ()
    version: int | None = None
    is_trusted: bool = False
    why: Message | None = None


@dataclass(kw_only=True, eq=False)
class _Work:
    """One rehearsal under way."""

    progress_share: float = 0.0
    is_cancelled: bool = False
    thread: threading.Thread | None = field(default=None, repr=False)

    def report(self, share: float) -> None:
        if self.is_cancelled:
            raise CancelledError
        self.progress_share = share


class Rehearsals:
    """The rehearsals of one desk, from its newest runs of hidden infection.

    Parameters
    ----------
    runs
        Where the runs come from.
    rehearse
        Makes a rehearsal; as `rehearse_strategies`.
    """

    def __init__(
        self, runs: HiddenRuns, *, rehearse: Callable[..., tuple[Rehearsed, ...]] = rehearse_strategies
    ) -> None:
        self.runs, self._rehearse = runs, rehearse
        self._lock = threading.RLock()
        self._turn = threading.Lock()
        self._kept: dict[tuple[Disease, date], Rehearsal] = {}
        self._work: dict[tuple[Disease, date], _Work] = {}

    def look(self, disease: Disease, on: date) -> Rehearsal:
        """Return how the newest rehearsal stands."""
        with self._lock:
            kept = self._kept.get((disease, on), Rehearsal())
            work = self._work.get((disease, on))
            return replace(kept, progress_share=work.progress_share) if work else kept

    def start(self, disease: Disease, on: date, asked: Asked) -> Rehearsal:
        """Begin a rehearsal in the place of any other of this disease and day.

        Raises
        ------
        RefusedError
            If there is no run of hidden infection to start from.
        """
        standing = self.runs.standing(disease, on)
        if standing.base is None:
            raise RefusedError("hidden.rehearse_needs_run")
        with self._lock:
            self._drop(disease, on)
            work = self._work[disease, on] = _Work()
            begun = self._kept[disease, on] = Rehearsal(
                state=RunState.RUNNING,
                asked=asked,
                version=standing.version,
                is_trusted=standing.base.answer.diagnostics.converged,
            )
            work.thread = threading.Thread(
                target=self._live,
                args=(work, begun, standing.base, disease, on),
                daemon=True,
                name="rehearse",
            )
            work.thread.start()
            return begun

    def cancel(self, disease: Disease, on: date) -> Rehearsal:
        """Stop the rehearsal that is under way."""
        with self._lock:
            if self._drop(disease, on):
                kept = self._kept[disease, on]
                self._kept[disease, on] = replace(
                    kept, state=RunState.CANCELLED, why=say("hidden.rehearse_cancelled")
                )
            return self.look(disease, on)

    def wait(self, disease: Disease, on: date) -> None:
        """Wait until the rehearsal under way has ended."""
        work = self._work.get((disease, on))
        if work is not None and work.thread is not None:
            work.thread.join()

    def _drop(self, disease: Disease, on: date) -> bool:
        work = self._work.pop((disease, on), None)
        if work is not None:
            work.is_cancelled = True
        return work is not None

    def _live(self, work: _Work, begun: Rehearsal, found: Hidden, disease: Disease, on: date) -> None:
        ended = begun
        asked = begun.asked
        assert asked is not None
        with self._turn:
            try:
                work.report(0.0)
                made = self._rehearse(
                    found,
                    asked.strategies,
                    days=asked.days,
                    futures=asked.futures,
                    seed=asked.seed,
                    progress=work.report,
                )
                ended = replace(begun, state=RunState.READY, made=made, progress_share=1.0)
            except CancelledError:
                return
            except BroodsweepError as error:
                ended = replace(begun, state=RunState.FAILED, why=error.message)
            except Exception as error:
                LOG.exception("A rehearsal failed unforeseen.", exc_info=error)
                ended = replace(begun, state=RunState.FAILED, why=say("hidden.rehearse_failed"))
        with self._lock:
            if self._work.get((disease, on)) is work:
                del self._work[disease, on]
                self._kept[disease, on] = ended
