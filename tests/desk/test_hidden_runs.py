"""Runs of hidden infection behind the desk: begun, followed, re-weighted, cancelled, failed; and the rule without one."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from tests.desk.conftest import LEAD, TODAY, make_desk, small_ground

from broodsweep.constants import Clearance, Disease
from broodsweep.desk import outbreaks, sweeping
from broodsweep.desk.apiaries import record_visit
from broodsweep.desk.context import Desk
from broodsweep.desk.hidden import look_for_hidden
from broodsweep.desk.hidden_rehearsals import Asked, Rehearsals
from broodsweep.desk.hidden_runs import HiddenRuns
from broodsweep.desk.hidden_standing import RunState, Standing
from broodsweep.desk.known_cases import ground_with_cases
from broodsweep.errors import RefusedError
from broodsweep.outbreak import EventKind
from broodsweep.register import Removal, Visit
from broodsweep.spread import Settings
from broodsweep.spread.engine import Hidden
from broodsweep.spread.rehearsal import Strategy
from broodsweep.words import render

QUICK = Settings(
    chains=2,
    threads=1,
    warm_sweeps=300,
    batch_sweeps=300,
    least_batches=2,
    most_batches=2,
    draws=200,
    rhat_limit=100.0,
    mcse_limit=1.0,
)
"""A run that ends at once and counts as converged."""
AFB = Disease.AFB


def desk_with_case(kind: EventKind = EventKind.CONFIRMED) -> Desk:
    """A desk on the small district with one outbreak at C, confirmed by a laboratory: C has no visit that says so."""
    desk = make_desk(small_ground())
    outbreaks.open_outbreak(
        desk,
        LEAD,
        disease=AFB,
        apiary="C",
        found_on=date(2026, 7, 1),
        kind=kind,
        detail={"by": "laboratory"} if kind is EventKind.CONFIRMED else {},
    )
    return desk


@pytest.fixture(scope="module")
def found() -> Hidden:
    """One real run on the small district."""
    return look_for_hidden(desk_with_case(), AFB, TODAY, settings=QUICK)


@pytest.fixture
def desk() -> Desk:
    return desk_with_case()


class Looks:
    """Stands in for the engine: gives a run that was made before, counts, and waits when told to."""

    def __init__(self, found: Hidden | Exception) -> None:
        self.found, self.calls = found, 0
        self.gate = threading.Event()
        self.gate.set()
        self.begun = threading.Event()

    def __call__(self, desk: Desk, disease: Disease, on: date, **more: Any) -> Hidden:
        self.calls += 1
        self.begun.set()
        self.gate.wait()
        more["progress"](0.5)
        if isinstance(self.found, Exception):
            raise self.found
        ground = ground_with_cases(desk.snapshot(), disease, on)
        return replace(self.found, setup=replace(self.found.setup, ground=ground))


def ready(desk: Desk, look: Callable[..., Hidden]) -> HiddenRuns:
    """Make the runs of a desk with one finished."""
    runs = desk.risk = HiddenRuns(desk, settings=QUICK, look=look)
    runs.start(AFB, TODAY)
    runs.wait(AFB, TODAY)
    return runs


def listed(desk: Desk) -> Any:
    return sweeping.sweep_list(desk, "AFB-2026-1", TODAY)


def figure(standing: Standing, apiary: str) -> float | None:
    assert standing.found is not None
    return next(row.probability for row in standing.found.answer.apiaries if row.apiary == apiary)


def visit(desk: Desk, apiary: str, confirmed: int = 0, on: date = TODAY) -> None:
    row = Visit(
        visit=f"T-{apiary}-{on}",
        apiary=apiary,
        visited_on=on,
        colonies_inspected=desk.snapshot().apiaries[apiary].colonies,
        colonies_confirmed=confirmed,
        disease=AFB if confirmed else None,
    )
    record_visit(desk, LEAD, row)


def test_without_a_run_the_list_keeps_the_rule_and_says_so(desk: Desk) -> None:
    by_rule = listed(desk)
    desk.risk = HiddenRuns(desk, settings=QUICK)
    kept = listed(desk)
    assert kept.stops == by_rule.stops
    assert render(kept.method) == f"Hidden infection has not been reckoned yet. {render(by_rule.method)}"


def test_where_nothing_was_confirmed_there_is_nothing_to_reckon_from(found: Hidden) -> None:
    desk = desk_with_case(EventKind.SUSPECTED)
    look = Looks(found)
    runs = ready(desk, look)
    assert runs.standing(AFB, TODAY).state is RunState.TOO_THIN
    assert look.calls == 0
    assert "has not been confirmed at any apiary" in render(listed(desk).method)
    assert all(stop.probability is None for stop in listed(desk).stops)


def test_a_case_confirmed_later_ends_the_thinness_by_itself(found: Hidden) -> None:
    desk = desk_with_case(EventKind.SUSPECTED)
    runs = ready(desk, Looks(found))
    outbreaks.record_event(
        desk,
        LEAD,
        "AFB-2026-1",
        "C",
        kind=EventKind.CONFIRMED,
        happened_on=TODAY,
        detail={"by": "laboratory"},
    )
    assert runs.standing(AFB, TODAY).state is RunState.NONE
    assert runs.start(AFB, TODAY).state is RunState.RUNNING


def test_a_finished_run_orders_the_list_with_figure_range_and_reasons(desk: Desk) -> None:
    ready(desk, look_for_hidden)
    stops = listed(desk).stops
    chances = [stop.probability for stop in stops]
    assert None not in chances
    assert chances == sorted(chances, reverse=True)
    assert [stop.rank for stop in stops] == list(range(1, len(stops) + 1))
    assert all(stop.low <= stop.probability <= stop.high for stop in stops)
    assert {stop.apiary.apiary for stop in stops[:2]} == {"M", "N"}, (
        "nuclei from the case; 9 colonies 1 km off"
    )
    said = {stop.apiary.apiary: [render(reason) for reason in stop.reasons] for stop in stops}
    assert "1.0 km from C, the nearest confirmed apiary" in said["N"]
    assert "last clean visit 4 of 9 colonies, 42 days ago" in said["N"]
    assert "nuclei received from C on 3 May 2026" in said["M"]
    assert "Ordered by the chance of being infected on 8 Jul 2026" in render(listed(desk).method)


def test_a_run_that_has_not_converged_is_marked_in_the_list(desk: Desk) -> None:
    runs = desk.risk = HiddenRuns(desk, settings=replace(QUICK, mcse_limit=1e-12))
    runs.start(AFB, TODAY)
    runs.wait(AFB, TODAY)
    assert not runs.standing(AFB, TODAY).is_trusted
    assert "has not converged: read ranges" in render(listed(desk).method)


def test_a_clean_visit_re_weights_at_once_and_a_full_run_follows(desk: Desk, found: Hidden) -> None:
    look = Looks(found)
    runs = ready(desk, look)
    before = figure(runs.standing(AFB, TODAY), "N")
    look.gate.clear()
    visit(desk, "N")
    now = runs.standing(AFB, TODAY)
    assert now.state is RunState.RUNNING
    assert now.update is not None
    assert [row.apiary for row in now.update.visits] == ["N"]
    after = figure(now, "N")
    assert after is not None
    assert before is not None
    assert after < before
    line = next(row for row in now.found.answer.apiaries if row.apiary == "N")  # type: ignore[union-attr]
    assert line.low is not None
    assert line.high is not None
    assert line.low <= after <= line.high
    assert render(line.reasons[0]) == "last clean visit 9 of 9 colonies, 0 days ago"
    assert "Re-weighted by 1 visit since the run" in render(listed(desk).method)
    look.gate.set()
    runs.wait(AFB, TODAY)
    through = runs.standing(AFB, TODAY)
    assert (through.state, through.update, look.calls) == (RunState.READY, None, 2)
    assert through.version == desk.snapshot().version


def test_a_finding_leaves_the_figures_and_heads_the_list(desk: Desk, found: Hidden) -> None:
    look = Looks(found)
    runs = ready(desk, look)
    look.gate.clear()
    visit(desk, "F", confirmed=1)
    now = runs.standing(AFB, TODAY)
    assert figure(now, "F") is None
    assert now.found is not None
    assert next(row.state for row in now.found.answer.apiaries if row.apiary == "F") == "found"
    first = listed(desk).stops[0]
    assert (first.apiary.apiary, first.probability, first.score) == ("F", None, 100.0)
    look.gate.set()


def test_a_finding_that_no_draw_foresaw_is_not_to_be_relied_on(desk: Desk, found: Hidden) -> None:
    node = int(found.setup.now[[row.apiary for row in found.setup.ground.apiaries].index("M")])
    blind = replace(found, draws=replace(found.draws, node=_without(found, node)))
    look = Looks(blind)
    runs = ready(desk, look)
    look.gate.clear()
    visit(desk, "M", confirmed=1)
    now = runs.standing(AFB, TODAY)
    assert now.update is not None
    assert not now.is_trusted
    assert "hardly foreseen" in render(now.update.warnings[-1])
    look.gate.set()


def _without(found: Hidden, node: int) -> Any:
    """The infected of the draws, with another in the place of a node."""
    other = int(found.setup.now[0])
    nodes = found.draws.node.copy()
    nodes[nodes == node] = other
    return nodes


def test_another_change_keeps_the_old_figures_marked_until_the_new_run(desk: Desk, found: Hidden) -> None:
    look = Looks(found)
    runs = ready(desk, look)
    look.gate.clear()
    with desk.store.work(LEAD, "count") as work:
        work.save("apiaries", [replace(desk.snapshot().apiaries["N"], colonies=20)])
    now = runs.standing(AFB, TODAY)
    assert (now.is_stale, now.is_trusted, now.state) == (True, False, RunState.RUNNING)
    assert figure(now, "N") is not None
    assert "The record has changed since" in render(listed(desk).method)
    look.gate.set()
    runs.wait(AFB, TODAY)
    assert not runs.standing(AFB, TODAY).is_stale


def test_what_does_not_bear_on_it_changes_nothing(desk: Desk, found: Hidden) -> None:
    look = Looks(found)
    runs = ready(desk, look)
    with desk.store.work(LEAD, "name") as work:
        work.set("title", "Another title")
    assert runs.standing(AFB, TODAY).is_trusted
    assert look.calls == 1


def test_a_run_that_fails_leaves_the_rule_and_is_not_begun_again_unasked(desk: Desk) -> None:
    look = Looks(FloatingPointError("overflow"))
    runs = ready(desk, look)
    assert runs.standing(AFB, TODAY).state is RunState.FAILED
    assert render(listed(desk).method).startswith("The run of hidden infection failed")
    assert all(stop.probability is None for stop in listed(desk).stops)
    assert look.calls == 1
    runs.start(AFB, TODAY)
    runs.wait(AFB, TODAY)
    assert look.calls == 2


def test_a_run_is_cancelled_and_what_was_there_stays(desk: Desk, found: Hidden) -> None:
    look = Looks(found)
    runs = ready(desk, look)
    look.gate.clear()
    look.begun.clear()
    visit(desk, "N")
    thread = runs.standing(AFB, TODAY)
    assert thread.state is RunState.RUNNING
    look.begun.wait()
    cancelled = runs.cancel(AFB, TODAY)
    look.gate.set()
    assert cancelled.state is RunState.CANCELLED
    assert cancelled.update is not None
    assert runs.standing(AFB, TODAY).state is RunState.CANCELLED, "not begun again for the same record"
    assert runs.start(AFB, TODAY).state is RunState.RUNNING
    runs.wait(AFB, TODAY)
    assert runs.standing(AFB, TODAY).state is RunState.READY


def test_each_day_has_a_run_of_its_own(desk: Desk, found: Hidden) -> None:
    runs = ready(desk, Looks(found))
    assert runs.standing(AFB, TODAY - timedelta(days=3)).state is RunState.NONE


def test_a_case_without_a_visit_of_its_own_is_put_among_the_tables(desk: Desk) -> None:
    ground = ground_with_cases(desk.snapshot(), AFB, TODAY)
    added = [row for row in ground.visits if row.colonies_confirmed]
    assert [(row.apiary, row.visited_on, row.disease) for row in added] == [("C", date(2026, 7, 1), AFB)]
    assert ground_with_cases(desk.snapshot(), AFB, date(2026, 6, 30)) is desk.snapshot().ground
    assert ground_with_cases(desk.snapshot(), Disease.EFB, TODAY) is desk.snapshot().ground


def test_a_case_that_has_its_visit_and_removal_is_not_told_twice(desk: Desk) -> None:
    visit(desk, "C", confirmed=1, on=date(2026, 7, 2))
    assert ground_with_cases(desk.snapshot(), AFB, TODAY) is desk.snapshot().ground
    outbreaks.record_event(
        desk,
        LEAD,
        "AFB-2026-1",
        "C",
        kind=EventKind.COLONIES_DESTROYED,
        happened_on=date(2026, 7, 3),
        detail={},
    )
    told = ground_with_cases(desk.snapshot(), AFB, TODAY).removals
    assert [(row.apiary, row.removed_on, row.how) for row in told] == [
        ("C", date(2026, 7, 3), Clearance.DESTROYED)
    ]
    with desk.store.work(LEAD, "removal") as work:
        work.save(
            "removals",
            [
                Removal(
                    apiary="C",
                    removed_on=date(2026, 7, 4),
                    disease=AFB,
                    colonies=5,
                    how=Clearance.DESTROYED,
                )
            ],
        )
    assert len(ground_with_cases(desk.snapshot(), AFB, TODAY).removals) == 1


ASKED = Asked(strategies=(Strategy(name="near"), Strategy(name="far", radius_m=5000.0)), days=30, futures=2)


def test_rehearsing_needs_a_run(desk: Desk) -> None:
    with pytest.raises(RefusedError, match="starts from a run of hidden infection"):
        Rehearsals(HiddenRuns(desk, settings=QUICK)).start(AFB, TODAY, ASKED)


def test_a_rehearsal_ends_with_what_came_of_each_strategy(desk: Desk, found: Hidden) -> None:
    kept = Rehearsals(ready(desk, Looks(found)))
    assert kept.start(AFB, TODAY, ASKED).state is RunState.RUNNING
    kept.wait(AFB, TODAY)
    ended = kept.look(AFB, TODAY)
    assert (ended.state, [row.strategy.name for row in ended.made]) == (RunState.READY, ["near", "far"])
    assert ended.made[0].differences is None
    assert ended.made[1].differences is not None
    assert len(ended.made[0].active_mean) == 30


def test_a_rehearsal_is_cancelled_and_a_failing_one_says_so(desk: Desk, found: Hidden) -> None:
    gate, begun = threading.Event(), threading.Event()

    def slow(*_: Any, progress: Callable[[float], None], **__: Any) -> Any:
        begun.set()
        gate.wait()
        progress(0.5)
        raise FloatingPointError("overflow")

    kept = Rehearsals(ready(desk, Looks(found)), rehearse=slow)
    kept.start(AFB, TODAY, ASKED)
    begun.wait()
    assert kept.cancel(AFB, TODAY).state is RunState.CANCELLED
    gate.set()
    kept.start(AFB, TODAY, ASKED)
    kept.wait(AFB, TODAY)
    assert kept.look(AFB, TODAY).state is RunState.FAILED
