"""Runs of hidden infection: the newest for each disease and day, made behind the desk and kept up with the record.

A run is begun when somebody asks for one. From then on it is kept up: a visit re-weights its draws at once, and a full
run follows behind. Any other change leaves the old figures standing, marked as of before, until the new run is there.
Without a run, or when it failed or there is nothing to reckon from, sweep lists keep the documented rule and say so.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.hidden import look_for_hidden, standstills
from broodsweep.desk.hidden_standing import RunState, Standing, risk_of, too_thin
from broodsweep.desk.known_cases import ground_with_cases, has_finding
from broodsweep.desk.ports import RiskFigures
from broodsweep.errors import BroodsweepError
from broodsweep.register import Ground, Visit
from broodsweep.spread import Settings
from broodsweep.words import Message, say

if TYPE_CHECKING:
    from broodsweep.desk.hidden_update import Updated
    from broodsweep.spread.engine import Hidden

LOG = logging.getLogger("broodsweep.desk")
MOST_KEPT = 6
"""Runs that are kept at a time; the oldest goes when another comes."""
PATIENT = Settings(most_batches=60)
"""Behind the desk a run may take its time: it ends as soon as the chains agree and the figures are exact enough."""
Look = Callable[..., "Hidden"]
_CAN_BEGIN = frozenset({RunState.NONE, RunState.CANCELLED, RunState.FAILED, RunState.TOO_THIN})


class CancelledError(Exception):
    """The run was cancelled while it was being made."""


@dataclass(frozen=True, kw_only=True)
class _Inputs:
    """What a run depends on."""

    version: int
    ground: Ground
    standstills: Mapping[str, date]


@dataclass(kw_only=True, eq=False)
class _Run:
    """One run under way."""

    inputs: _Inputs
    progress_share: float = 0.0
    is_cancelled: bool = False
    thread: threading.Thread | None = field(default=None, repr=False)

    def report(self, share: float) -> None:
        """Note the share done; stops the work when the run was cancelled."""
        if self.is_cancelled:
            raise CancelledError
        self.progress_share = min(1.0, max(0.0, share))


@dataclass(kw_only=True, eq=False)
class _Kept:
    """What is kept for one disease and day.

    ``seen_version`` is the version of the record that the figures were last brought up to, ``given_up_version`` the
    one at which a run failed or was cancelled: for the same record none is begun again unasked.
    """

    state: RunState = RunState.NONE
    stamp: int = 0
    why: Message | None = None
    run: _Run | None = None
    found: Hidden | None = None
    inputs: _Inputs | None = None
    made_at: datetime | None = None
    update: Updated | None = None
    is_stale: bool = False
    seen_version: int | None = None
    given_up_version: int | None = None

    def turn(self, state: RunState, why: Message | None = None) -> None:
        """Enter a state; there is something new to show."""
        self.state, self.why = state, why
        self.stamp += 1

    def drop_run(self) -> None:
        """Let the run under way come to nothing."""
        if self.run is not None:
            self.run.is_cancelled = True
            self.run = None

    def standing(self) -> Standing:
        """Return it as it is told."""
        return Standing(
            state=self.state,
            progress_share=self.run.progress_share if self.run else 0.0,
            stamp=self.stamp,
            base=self.found,
            update=self.update,
            version=self.inputs.version if self.inputs else None,
            made_at=self.made_at,
            is_stale=self.is_stale,
            why=self.why,
        )


class HiddenRuns:
    """The runs of one desk, made one at a time in the background; gives the sweep lists their figures.

    Parameters
    ----------
    desk
        The desk.
    settings
        How runs are made.
    look
        Makes a run; as `look_for_hidden`.
    """

    def __init__(self, desk: Desk, *, settings: Settings = PATIENT, look: Look = look_for_hidden) -> None:
        self.desk, self.settings, self._look = desk, settings, look
        self._kept: dict[tuple[Disease, date], _Kept] = {}
        self._lock = threading.RLock()
        self._turn = threading.Lock()

    def standing(self, disease: Disease, on: date) -> Standing:
        """Return how it stands now, brought up to the record; a run asked for before is made anew behind it."""
        with self._lock:
            kept = self._kept.get((disease, on))
            if kept is None:
                if has_finding(self._inputs(disease, on).ground, disease, on):
                    return Standing(state=RunState.NONE)
                return Standing(state=RunState.TOO_THIN, why=too_thin(disease))
            self._catch_up(kept, disease, on)
            return kept.standing()

    def start(self, disease: Disease, on: date) -> Standing:
        """Begin a run unless one of the present record is there or under way; return how it stands."""
        with self._lock:
            kept = self._kept.setdefault((disease, on), _Kept())
            kept.given_up_version = None
            while len(self._kept) > MOST_KEPT:
                self._kept.pop(next(iter(self._kept))).drop_run()
            self._catch_up(kept, disease, on)
            if kept.state in _CAN_BEGIN:
                self._begin(kept, disease, on)
            return kept.standing()

    def cancel(self, disease: Disease, on: date) -> Standing:
        """Stop the run that is under way; what was there before stays."""
        with self._lock:
            kept = self._kept.get((disease, on))
            if kept is not None and kept.run is not None:
                kept.drop_run()
                kept.given_up_version = self.desk.snapshot().version
                kept.turn(RunState.CANCELLED, say("hidden.state_cancelled"))
        return self.standing(disease, on)

    def wait(self, disease: Disease, on: date) -> None:
        """Wait until the run that is under way has ended."""
        kept = self._kept.get((disease, on))
        run = kept.run if kept else None
        if run is not None and run.thread is not None:
            run.thread.join()

    def figures(self, disease: Disease, on: date) -> RiskFigures:
        """Return what is known of a disease on a day; the documented rule with the reason when there is no run."""
        return risk_of(self.standing(disease, on), on)

    def _inputs(self, disease: Disease, on: date) -> _Inputs:
        snapshot = self.desk.snapshot()
        return _Inputs(
            version=snapshot.version,
            ground=ground_with_cases(snapshot, disease, on),
            standstills=standstills(self.desk, disease, on),
        )

    def _catch_up(self, kept: _Kept, disease: Disease, on: date) -> None:
        """Bring the figures up to the record, and begin a run behind them when it has moved on."""
        version = self.desk.snapshot().version
        if kept.seen_version != version:
            kept.seen_version = version
            now = self._inputs(disease, on)
            if not has_finding(now.ground, disease, on):
                kept.drop_run()
                kept.found = kept.update = kept.inputs = None
                kept.turn(RunState.TOO_THIN, too_thin(disease))
                return
            if kept.state is RunState.TOO_THIN:
                kept.turn(RunState.NONE)
            _follow(kept, now, on)
        is_behind = kept.found is not None and (kept.is_stale or kept.update is not None)
        if is_behind and kept.run is None and kept.given_up_version != version:
            self._begin(kept, disease, on)

    def _begin(self, kept: _Kept, disease: Disease, on: date) -> None:
        inputs = self._inputs(disease, on)
        if not has_finding(inputs.ground, disease, on):
            kept.turn(RunState.TOO_THIN, too_thin(disease))
            return
        run = kept.run = _Run(inputs=inputs)
        kept.turn(RunState.RUNNING)
        run.thread = threading.Thread(
            target=self._work, args=(kept, run, disease, on), daemon=True, name=f"hidden-{disease}-{on}"
        )
        run.thread.start()

    def _work(self, kept: _Kept, run: _Run, disease: Disease, on: date) -> None:
        made: Hidden | None = None
        why: Message | None = None
        with self._turn:
            try:
                run.report(0.0)
                made = self._look(self.desk, disease, on, settings=self.settings, progress=run.report)
            except CancelledError:
                return
            except BroodsweepError as error:
                why = error.message
            except Exception as error:
                LOG.exception("A run of hidden infection failed unforeseen.", exc_info=error)
                why = say("hidden.state_failed")
        with self._lock:
            if kept.run is not run:
                return
            kept.run = None
            if made is None:
                kept.given_up_version = run.inputs.version
                kept.turn(RunState.FAILED, why)
                return
            # The tables that the run read are its own; the record may have moved on while it was made.
            kept.inputs = _Inputs(
                version=run.inputs.version, ground=made.setup.ground, standstills=run.inputs.standstills
            )
            kept.found, kept.update, kept.is_stale = made, None, False
            kept.made_at, kept.seen_version = self.desk.now(), None
            kept.turn(RunState.READY)


def _follow(kept: _Kept, now: _Inputs, on: date) -> None:
    """Re-weight by the visits that came since the run, or mark its figures as of before."""
    from broodsweep.desk.hidden_update import can_follow, with_visits

    if kept.found is None or kept.inputs is None:
        return
    visits = _new_visits(kept.inputs, now, on)
    kept.is_stale = visits is None or not can_follow(kept.found, visits)
    kept.update = with_visits(kept.found, visits) if visits and not kept.is_stale else None
    if kept.is_stale or visits:
        kept.stamp += 1


def _new_visits(made: _Inputs, now: _Inputs, on: date) -> tuple[Visit, ...] | None:
    """Return the visits up to a day that a run did not know; None when anything else has changed."""
    same = (
        made.ground.apiaries == now.ground.apiaries
        and made.ground.moves == now.ground.moves
        and made.ground.removals == now.ground.removals
        and made.standstills == now.standstills
    )
    if not same:
        return None
    known = {row.visit: row for row in made.ground.visits if row.visited_on <= on}
    ours = {row.visit: row for row in now.ground.visits if row.visited_on <= on}
    if any(ours.get(name) != row for name, row in known.items()):
        return None
    return tuple(row for name, row in ours.items() if name not in known)
