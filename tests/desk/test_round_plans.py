"""The plan in force: kept, changed with few moves, stopped with the best so far, taken back."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta

import pytest

from broodsweep.constants import Disease
from broodsweep.desk import round_worker
from broodsweep.desk.context import Desk
from broodsweep.desk.outbreaks import open_outbreak
from broodsweep.desk.ports import Author
from broodsweep.desk.round_changes import spots
from broodsweep.desk.round_facts import Change, ChangeKind, Facts, wished
from broodsweep.desk.round_facts_record import facts_of, facts_plain
from broodsweep.desk.round_plans import (
    KEPT_PLANS,
    KeptPlan,
    Question,
    can_go_back,
    go_back,
    is_replanned,
    note,
    plan_in_force,
)
from broodsweep.desk.round_records import plain, plan_of, plan_plain, unplain
from broodsweep.desk.round_worker import Limits, RoundsPlanner, WorkState
from broodsweep.desk.rounds import RoundsAnswer, Wishes, plan_rounds
from broodsweep.errors import BroodsweepError, NotFoundError, RefusedError
from broodsweep.geo import parse_place
from broodsweep.outbreak import EventKind
from broodsweep.register import TABLES, Apiary, Ground, Inspector, Keeper, Visit
from broodsweep.rounds.travel import travel_by_distance
from broodsweep.rulebook import load_books
from broodsweep.store import MemoryStore
from broodsweep.words import render, say

WEDNESDAY = date(2026, 7, 8)
THURSDAY, FRIDAY = WEDNESDAY + timedelta(days=1), WEDNESDAY + timedelta(days=2)
NOW = datetime(2026, 7, 8, 7, tzinfo=UTC)
LEAD = Author(who="Ottar Brask")
FEW = Limits(iterations=60, seeds=(1,))


def ground() -> Ground:
    """Case C, thirteen apiaries within 3 km, X with another disease far off; two inspectors."""
    places = {f"N{n:02d}": f"OV {50000 + 170 * n} {50900 + 90 * n}" for n in range(13)}
    apiaries = [
        Apiary(apiary=name, place=parse_place(place), colonies=5, keeper="K2" if n < 6 else "K3")
        for n, (name, place) in enumerate(places.items())
    ]
    apiaries += [
        Apiary(apiary="C", place=parse_place("OV 50000 50000"), colonies=5, keeper="K1"),
        Apiary(apiary="X", place=parse_place("OV 58000 58000"), colonies=2, keeper="K1"),
    ]
    homes = {"I1": ("OV 48000 48000", "Dimsa Naskister"), "I2": ("OV 55000 52000", "Belnor Grevand")}
    return Ground(
        keepers=tuple(Keeper(keeper=key, name=f"Keeper {key}") for key in ("K1", "K2", "K3")),
        apiaries=tuple(apiaries),
        inspectors=tuple(
            Inspector(inspector=key, name=name, home=parse_place(home), day_start=time(9), day_end=time(17))
            for key, (home, name) in homes.items()
        ),
    )


def make_desk(today: date = WEDNESDAY) -> Desk:
    store = MemoryStore(now=lambda: NOW)
    with store.work(LEAD, "load") as work:
        for table in TABLES:
            work.save(table.name, getattr(ground(), table.name))
    desk = Desk(store=store, books=load_books(None), now=lambda: NOW, as_of=today)
    for disease, apiary in ((Disease.AFB, "C"), (Disease.EFB, "X")):
        open_outbreak(
            desk,
            LEAD,
            disease=disease,
            apiary=apiary,
            found_on=WEDNESDAY - timedelta(days=1),
            kind=EventKind.CONFIRMED,
            evidence="Sample 14",
            detail={"by": "laboratory"},
        )
    return desk


@pytest.fixture
def desk() -> Desk:
    return make_desk()


def planner_of(desk: Desk) -> RoundsPlanner:
    return RoundsPlanner(desk, seconds=lambda: 0.0, travel=lambda: travel_by_distance)


def planned(desk: Desk, **asked: object) -> KeptPlan:
    """Plan two days and return the plan in force."""
    planner = planner_of(desk)
    planner.plan(LEAD, Question(**{"first_on": WEDNESDAY, "days": 2, **asked}), FEW)  # type: ignore[arg-type]
    assert planner.wait(60).state is WorkState.DONE
    kept = plan_in_force(desk)
    assert kept is not None
    return kept


def changed(desk: Desk, kept: KeptPlan, **what: object) -> KeptPlan:
    """Make a change that is planned anew and return the plan in force."""
    change = Change(**what)  # type: ignore[arg-type]
    assert is_replanned(kept, change)
    planner = planner_of(desk)
    planner.change(LEAD, kept.number, change, FEW)
    done = planner.wait(60)
    assert done.state is WorkState.DONE, done.trouble
    after = plan_in_force(desk)
    assert after is not None
    return after


def first_stop(kept: KeptPlan) -> tuple[str, str, date]:
    """Give a visit of the plan that one inspector makes alone."""
    for row in kept.plan.rounds:
        for stop in row.stops:
            if stop.together_with is None:
                return stop.apiary, row.inspector, row.on
    raise AssertionError("Expected a visit that one inspector makes alone.")


def test_a_plan_is_kept_as_it_was_made(desk: Desk) -> None:
    kept = planned(desk)
    assert kept.number == 1
    assert kept.plan.rounds
    assert kept.made_by == "Ottar Brask"
    assert [row.on for row in kept.hours] == [WEDNESDAY, THURSDAY]
    assert kept.moved == ()
    again = plan_of(json.loads(json.dumps(plan_plain(kept.plan))))
    assert again == kept.plan
    assert render(again.rounds[0].stops[0].why[0]) == render(kept.plan.rounds[0].stops[0].why[0])
    assert not can_go_back(desk)


def test_the_same_question_gives_the_same_plan() -> None:
    assert planned(make_desk()).plan == planned(make_desk()).plan


def test_one_outbreak_alone_is_planned_when_asked(desk: Desk) -> None:
    kept = planned(desk, outbreak="EFB-2026-1")
    names = set(kept.plan.chosen) | {row.apiary for row in kept.plan.unplanned}
    assert names == {"X", "C"}, "C has the same keeper; the apiaries round it belong to the other outbreak"
    with pytest.raises(NotFoundError, match="No outbreak"):
        planner_of(desk).plan(LEAD, Question(first_on=WEDNESDAY, days=2, outbreak="AFB-1999-1"), FEW)


def test_a_visit_moved_by_hand_goes_there_and_stays(desk: Desk) -> None:
    kept = planned(desk)
    apiary, who, on = first_stop(kept)
    other = "I2" if who == "I1" else "I1"
    day = THURSDAY if on == WEDNESDAY else WEDNESDAY
    after = changed(desk, kept, kind=ChangeKind.PIN, apiary=apiary, inspector=other, days=(day,))
    assert after.plan.chosen[apiary] == (other, day)
    moved = {row.apiary: row for row in after.moved}
    assert render(moved[apiary].why) == "fixed there by hand"
    assert moved[apiary].before == spots(kept.plan)[apiary]
    rained = changed(desk, after, kind=ChangeKind.AWAY, name="K1", days=(day,))
    assert rained.plan.chosen[apiary] == (other, day), "the pin holds when something else changes"


def test_a_pin_where_the_visit_stands_changes_no_round(desk: Desk) -> None:
    kept = planned(desk)
    apiary, who, on = first_stop(kept)
    change = Change(kind=ChangeKind.PIN, apiary=apiary, inspector=who, days=(on,))
    assert not is_replanned(kept, change)
    after = note(desk, LEAD, kept.number, change)
    assert after.plan == kept.plan
    assert after.facts.pins == {apiary: (who, on)}
    loose = note(desk, LEAD, after.number, Change(kind=ChangeKind.UNPIN, apiary=apiary))
    assert loose.facts.pins == {}


def test_nobody_drives_on_a_day_rained_off_or_when_ill(desk: Desk) -> None:
    kept = planned(desk)
    wet = changed(desk, kept, kind=ChangeKind.RAINED_OFF, days=(WEDNESDAY,))
    assert {row.on for row in wet.plan.rounds if row.stops} == {THURSDAY}
    assert wet.hours[0].opens is None
    whys = {render(row.why) for row in wet.moved if row.before and row.before.on == WEDNESDAY}
    assert whys == {"8 Jul 2026 is rained off"}
    ill = changed(desk, wet, kind=ChangeKind.ILL, inspector="I1", days=(WEDNESDAY, THURSDAY))
    assert {row.inspector for row in ill.plan.rounds if row.stops} == {"I2"}
    assert any(render(row.why).startswith("Dimsa Naskister is ill") for row in ill.moved)
    dry = changed(desk, ill, kind=ChangeKind.DRY, days=(WEDNESDAY,))
    assert dry.facts.rained_off == frozenset()
    assert any(row.on == WEDNESDAY and row.stops for row in dry.plan.rounds)


def test_a_keeper_away_is_not_visited_and_the_rest_stays(desk: Desk) -> None:
    kept = planned(desk)
    on = min(on for _, on in kept.plan.chosen.values())
    after = changed(desk, kept, kind=ChangeKind.AWAY, name="K2", days=(on,))
    keepers = {row.apiary: row.keeper for row in ground().apiaries}
    assert all(day != on for name, (_, day) in after.plan.chosen.items() if keepers[name] == "K2")
    measures = after.plan.measures
    assert measures is not None
    assert measures.announced_visits == len(kept.plan.chosen)
    back = changed(desk, after, kind=ChangeKind.BACK, name="K2")
    assert back.facts.away == {}


def test_a_visit_done_keeps_its_place_and_its_hour(desk: Desk) -> None:
    kept = planned(desk)
    apiary, who, on = first_stop(kept)
    begin = spots(kept.plan)[apiary].begin_minute
    done = note(desk, LEAD, kept.number, Change(kind=ChangeKind.DONE, apiary=apiary))
    other = THURSDAY if on == WEDNESDAY else WEDNESDAY
    after = changed(desk, done, kind=ChangeKind.RAINED_OFF, days=(other,))
    spot = spots(after.plan)[apiary]
    assert (spot.inspector, spot.on, spot.begin_minute) == (who, on, begin)
    assert apiary not in {row.apiary for row in after.plan.unplanned}


def test_days_that_are_over_keep_only_what_was_done(desk: Desk) -> None:
    kept = planned(desk, days=3)
    on_first = [name for name, (_, on) in kept.plan.chosen.items() if on == WEDNESDAY]
    done = note(desk, LEAD, kept.number, Change(kind=ChangeKind.DONE, apiary=on_first[0]))
    desk.as_of = THURSDAY
    after = changed(desk, done, kind=ChangeKind.RAINED_OFF, days=(FRIDAY,))
    assert {name for name, (_, on) in after.plan.chosen.items() if on == WEDNESDAY} == {on_first[0]}
    desk.as_of = FRIDAY + timedelta(days=1)
    with pytest.raises(RefusedError, match="is over"):
        planner_of(desk).change(LEAD, after.number, Change(kind=ChangeKind.DRY, days=(FRIDAY,)), FEW)


def test_a_visit_written_down_in_the_register_leaves_the_rounds(desk: Desk) -> None:
    kept = planned(desk)
    apiary = next(name for name in kept.plan.chosen if name.startswith("N"))
    seen = Visit(
        visit="V1",
        apiary=apiary,
        visited_on=WEDNESDAY,
        colonies_inspected=5,
        colonies_confirmed=0,
        inspector="I1",
    )
    with desk.store.work(LEAD, "visit") as work:
        work.save("visits", [seen])
    after = changed(desk, kept, kind=ChangeKind.AWAY, name="K1", days=(THURSDAY,))
    assert apiary not in after.plan.chosen
    why = next(row.why for row in after.moved if row.apiary == apiary)
    assert render(why).startswith("no longer to be visited")


def test_going_back_takes_the_plan_before(desk: Desk) -> None:
    first = planned(desk)
    second = changed(desk, first, kind=ChangeKind.RAINED_OFF, days=(WEDNESDAY,))
    assert can_go_back(desk)
    assert go_back(desk, LEAD, second.number) == first
    with pytest.raises(RefusedError, match="no plan before"):
        go_back(desk, LEAD, first.number)
    what = [row.what for row in desk.store.journal()]
    assert {"plan_rounds", "rounds_rained_off", "go_back_in_rounds"} <= set(what)


def test_old_plans_leave_the_settings(desk: Desk) -> None:
    kept = planned(desk)
    apiary = first_stop(kept)[0]
    for turn in range(KEPT_PLANS + 2):
        kind = ChangeKind.NOT_DONE if turn % 2 else ChangeKind.DONE
        kept = note(desk, LEAD, kept.number, Change(kind=kind, apiary=apiary))
    names = [name for name in desk.snapshot().settings if name.startswith("rounds_plan.")]
    assert len(names) == KEPT_PLANS


def test_a_change_of_a_plan_no_longer_in_force_is_refused(desk: Desk) -> None:
    kept = planned(desk)
    wet = Change(kind=ChangeKind.RAINED_OFF, days=(WEDNESDAY,))
    changed(desk, kept, kind=wet.kind, days=wet.days)
    with pytest.raises(RefusedError, match="Another plan"):
        planner_of(desk).change(LEAD, kept.number, wet, FEW)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (Change(kind=ChangeKind.PIN, apiary="none", days=(WEDNESDAY,)), "none"),
        (Change(kind=ChangeKind.PIN), "which apiary"),
        (Change(kind=ChangeKind.ILL, inspector="I9", days=(WEDNESDAY,)), "no inspector I9"),
        (Change(kind=ChangeKind.ILL, days=(WEDNESDAY,)), "which inspector"),
        (Change(kind=ChangeKind.AWAY, name="K2"), "which days"),
        (Change(kind=ChangeKind.RAINED_OFF, days=(date(2026, 8, 1),)), "not a day of this plan"),
    ],
)
def test_a_change_that_names_nothing_is_refused(desk: Desk, change: Change, said: str) -> None:
    kept = planned(desk)
    with pytest.raises(BroodsweepError, match=said):
        planner_of(desk).change(LEAD, kept.number, change, FEW)
    assert plan_in_force(desk) == kept


def test_stopping_keeps_the_best_so_far(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """The planner is stopped by the user as soon as its first plan is shown; without the stop it would never end."""
    planner = planner_of(desk)

    def watched(*args: object, shown: Callable[[object], None], **more: object) -> RoundsAnswer:
        def first(plan: object) -> None:
            shown(plan)
            planner.stop()

        return plan_rounds(*args, shown=first, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(round_worker, "plan_rounds", watched)
    planner.plan(LEAD, Question(first_on=WEDNESDAY, days=2), Limits(seconds=1.0))
    done = planner.wait(60)
    assert done.state is WorkState.DONE
    assert done.is_stopped
    kept = plan_in_force(desk)
    assert kept is not None
    assert kept.plan.rounds


def test_a_failure_leaves_the_plan_in_force(desk: Desk) -> None:
    kept = planned(desk)
    planner = planner_of(desk)
    planner.plan(LEAD, Question(first_on=date(2026, 7, 11), days=2), FEW)
    done = planner.wait(60)
    assert done.state is WorkState.FAILED
    assert done.trouble is not None
    assert done.trouble.key == "rounds.no_inspector_days"
    assert plan_in_force(desk) == kept


def test_one_plan_is_made_at_a_time(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    planner = planner_of(desk)
    refused = []

    def watched(*args: object, **more: object) -> RoundsAnswer:
        try:
            planner.plan(LEAD, Question(first_on=WEDNESDAY, days=2), FEW)
        except RefusedError as error:
            refused.append(error.message.key)
        return plan_rounds(*args, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(round_worker, "plan_rounds", watched)
    planner.plan(LEAD, Question(first_on=WEDNESDAY, days=2), FEW)
    assert planner.wait(60).state is WorkState.DONE
    assert refused == ["rounds_page.busy"]


def test_facts_and_sentences_come_back_from_json() -> None:
    facts = Facts(
        pins={"A": ("I1", WEDNESDAY), "B": (None, None)},
        done={"C": ("I2", WEDNESDAY, 615)},
        away={"K1": frozenset({WEDNESDAY})},
        ill=frozenset({("I1", THURSDAY)}),
        rained_off=frozenset({FRIDAY}),
    )
    assert facts_of(json.loads(json.dumps(facts_plain(facts)))) == facts
    said = say("rounds.why_due", what=say("rounds_page.day", day_on=WEDNESDAY), outbreak="AFB-2026-1")
    assert unplain(json.loads(json.dumps(plain(said)))) == said
    changes, pins = wished(facts, THURSDAY, [THURSDAY, FRIDAY])
    assert changes.away["C"] == {THURSDAY, FRIDAY}, "done before: not visited again"
    assert set(pins) == {"A", "B"}
    assert Wishes(changes=changes, pins=pins).pins["A"].inspector == "I1"
    assert facts.from_day(THURSDAY) == Facts(done=facts.done, ill=facts.ill, rained_off=facts.rained_off), (
        "a fresh plan forgets pins and days that are over"
    )
