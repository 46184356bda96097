"""The whole run on small grounds: awkward input, same seed, reasons, re-weighting, worth."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from broodsweep.constants import Clearance, Disease, Goods
from broodsweep.geo import Place
from broodsweep.register import Apiary, Ground, Move, Removal, Visit
from broodsweep.spread import (
    Coverage,
    Settings,
    best_visits,
    first_look,
    hidden,
    reweight,
    worth,
    worth_of_set,
)
from broodsweep.spread.lives import lives_of

ON = date(2026, 7, 8)
QUICK = Settings(
    chains=2, threads=1, warm_sweeps=200, batch_sweeps=200, least_batches=2, most_batches=2, draws=400
)


def apiary(name, east_km=0.0, north_km=0.0, **more):
    place = Place(
        longitude=-2 + east_km / 65.4,
        latitude=54 + north_km / 111.3,
        precision_m=more.pop("precision_m", 100.0),
    )
    return Apiary(apiary=name, place=place, colonies=more.pop("colonies", 5), **more)


def visit(name, day, *, confirmed=0, opened=5, **more):
    disease = more.pop("disease", Disease.AFB if confirmed else None)
    return Visit(
        visit=f"{name}-{day}", apiary=name, visited_on=day, colonies_inspected=opened, colonies_confirmed=confirmed,
        colonies_present=more.pop("present", 5), disease=disease, **more,
    )  # fmt: skip


def few(**more):
    """Eight apiaries round a finding."""
    apiaries = [
        apiary(f"A{k}", east_km=0.7 * (k % 3), north_km=0.9 * (k // 3), keeper=f"K{k // 2}") for k in range(8)
    ]
    return Ground(apiaries=(*apiaries, *more.pop("extra", ())), **more)


FOUND = visit("A0", ON - timedelta(days=20), confirmed=2)


def figures(ground, disease=Disease.AFB, seed=1, settings=QUICK):
    record = hidden(ground, disease, ON, seed=seed, settings=settings).as_record()
    text = json.dumps(record, allow_nan=False)
    assert text
    for row in record["apiaries"]:
        if row["infected_probability"] is not None:
            assert 0 <= row["low"] <= row["infected_probability"] <= row["high"] <= 1
    assert record["unseen"]["low"] <= record["unseen"]["high"]
    return record, {row["apiary"]: row for row in record["apiaries"]}


AWKWARD = {
    "nothing on the register": Ground(),
    "one apiary": Ground(apiaries=(apiary("A0"),)),
    "one apiary, found": Ground(apiaries=(apiary("A0"),), visits=(FOUND,)),
    "no confirmed case": few(),
    "all confirmed": few(visits=tuple(visit(f"A{k}", ON - timedelta(days=k), confirmed=1) for k in range(8))),
    "two at one place": few(visits=(FOUND,), extra=(apiary("twin", precision_m=0.0), apiary("twin2", precision_m=0.0))),
    "place known to 10 km": few(visits=(FOUND,), extra=(apiary("somewhere", precision_m=10_000.0),)),
    "no colonies": few(visits=(FOUND,), extra=(apiary("empty", colonies=0),)),
    "visits before the register": few(visits=(FOUND, visit("A1", date(1998, 5, 1)))),
    "visits of nobody": few(visits=(FOUND, visit("nobody", ON - timedelta(days=3)))),
    "positive after removal": few(
        visits=(FOUND, visit("A0", ON - timedelta(days=2), confirmed=1)),
        removals=(Removal(apiary="A0", removed_on=ON - timedelta(days=15), disease=Disease.AFB, colonies=2,
                          how=Clearance.TREATED),),
    ),
    "removal without a finding": few(
        removals=(Removal(apiary="A0", removed_on=ON - timedelta(days=15), disease=Disease.AFB, colonies=2,
                          how=Clearance.DESTROYED),),
    ),
    "found in winter on the first day": few(visits=(visit("A0", date(2026, 1, 5), confirmed=1),)),
    "found today": few(visits=(visit("A0", ON, confirmed=1),)),
    "kept since last week and found": few(
        visits=(visit("new", ON, confirmed=1),), extra=(apiary("new", kept_since=ON - timedelta(days=7)),)
    ),
    "left the day before it was found": few(
        visits=(visit("gone", ON - timedelta(days=3), confirmed=1),),
        extra=(apiary("gone", left_on=ON - timedelta(days=4)),),
    ),
    "left, kept later": few(visits=(FOUND,), extra=(
        apiary("left", left_on=ON - timedelta(days=90)), apiary("future", kept_since=ON + timedelta(days=9)))),
    "moves in the future and from nowhere": few(visits=(FOUND,), moves=(
        Move(moved_on=ON + timedelta(days=5), goods=Goods.NUCLEI, from_apiary="A0", to_apiary="A3"),
        Move(moved_on=ON - timedelta(days=5), goods=Goods.NUCLEI, to_apiary="A3"),
        Move(moved_on=ON - timedelta(days=5), goods=Goods.HONEY, from_apiary="A2", quantity=80),
        Move(moved_on=ON - timedelta(days=5), goods=Goods.BOXES, from_apiary="A2", to_apiary="A2"),
    )),
}  # fmt: skip


@pytest.mark.parametrize("name", AWKWARD)
def test_awkward_input_gives_an_answer_without_nan(name):
    record, _ = figures(AWKWARD[name])
    assert math.isfinite(record["unseen"]["mean"])


def test_what_lies_in_the_future_changes_nothing_and_is_said():
    now, _ = figures(few(visits=(FOUND,)))
    later, _ = figures(few(visits=(FOUND, visit("A3", ON + timedelta(days=1), confirmed=1))))
    assert [row["infected_probability"] for row in now["apiaries"]] == [
        row["infected_probability"] for row in later["apiaries"]
    ]
    assert any("after this date" in note for note in later["notes"])


def test_same_seed_same_answer_on_one_and_two_threads():
    ground = few(visits=(FOUND,))
    one = hidden(ground, Disease.AFB, ON, seed=5, settings=QUICK).as_record()
    two = hidden(ground, Disease.AFB, ON, seed=5, settings=replace(QUICK, threads=2)).as_record()
    other = hidden(ground, Disease.AFB, ON, seed=6, settings=QUICK).as_record()
    assert json.dumps(one) == json.dumps(two)
    assert json.dumps(one) != json.dumps(other)


def test_states_and_reasons():
    ground = few(
        visits=(FOUND, visit("A1", ON - timedelta(days=42), opened=4, present=9)),
        removals=(Removal(apiary="A0", removed_on=ON - timedelta(days=15), disease=Disease.AFB, colonies=5,
                          how=Clearance.DESTROYED),),
        moves=(Move(moved_on=date(2026, 5, 3), goods=Goods.NUCLEI, from_apiary="A0", to_apiary="A4"),),
    )  # fmt: skip
    record, rows = figures(ground)
    assert rows["A0"]["state"] == "removed"
    assert rows["A0"]["found_on"] == "2026-06-18"
    assert any("same keeper as A0" in reason for reason in rows["A1"]["reasons"])
    assert any("4 of 9 colonies, 42 days ago" in reason for reason in rows["A1"]["reasons"])
    assert any("nuclei received from A0 on 3 May 2026" in reason for reason in rows["A4"]["reasons"])
    assert rows["A4"]["infected_probability"] > rows["A7"]["infected_probability"]
    assert record["sources"][0]["apiary"] == "A0"
    assert sum(share["share"] for share in record["sources"][0]["from"]) <= 1 + 1e-9


def test_second_life_begins_at_the_clearance_and_a_later_finding_ends_it():
    ground = AWKWARD["positive after removal"]
    first, second = lives_of(ground, Disease.AFB, ON)["A0"]
    assert first.cleared_on == second.since == ON - timedelta(days=15)
    assert second.finding is not None and second.finding.found_on == ON - timedelta(days=2)
    assert second.residual is Clearance.TREATED


def test_progress_can_stop_a_run():
    class StoppedError(Exception):
        pass

    def stop(share):
        if share > 0.1:
            raise StoppedError

    with pytest.raises(StoppedError):
        hidden(few(visits=(FOUND,)), Disease.AFB, ON, seed=1, settings=QUICK, progress=stop)


def test_a_run_cut_short_says_that_it_has_not_converged():
    record, _ = figures(few(visits=(FOUND,)), settings=Settings(
        chains=2, threads=1, warm_sweeps=10, batch_sweeps=100, thin=10, least_batches=1, most_batches=1))  # fmt: skip
    assert record["diagnostics"]["converged"] is False
    assert record["diagnostics"]["reasons"]


def test_reweighted_figures_agree_with_a_full_run_after_a_clean_visit():
    long = replace(
        QUICK, chains=4, threads=2, warm_sweeps=1000, batch_sweeps=2000, most_batches=4, draws=1600
    )
    ground = few(visits=(FOUND,))
    before = hidden(ground, Disease.AFB, ON, seed=1, settings=long)
    top = worth(before)[0].apiary
    clean = visit(top, ON)
    after = reweight(before, [clean])
    full = hidden(few(visits=(FOUND, clean)), Disease.AFB, ON, seed=2, settings=long)
    assert after.effective_share > 0.6
    assert not after.needs_run
    for line in full.answer.apiaries:
        if line.probability is not None:
            assert after.probability[line.apiary] == pytest.approx(line.probability, abs=0.03)
    old = {line.apiary: line.probability for line in before.answer.apiaries}
    assert after.probability[top] < old[top]


def test_a_finding_takes_the_apiary_out_and_raises_its_neighbours():
    before = hidden(few(visits=(FOUND,)), Disease.AFB, ON, seed=1, settings=QUICK)
    after = reweight(before, [visit("A1", ON, confirmed=1)])
    assert after.probability["A1"] is None
    with pytest.raises(ValueError, match="is there today"):
        reweight(before, [visit("nobody", ON)])


def test_worth_follows_the_chance_and_adds_up():
    run = hidden(few(visits=(FOUND,)), Disease.AFB, ON, seed=1, settings=QUICK)
    rows = worth(run)
    assert all(
        row.days_avoided >= 0 and row.found_probability <= row.infected_probability + 1e-12 for row in rows
    )
    assert "A0" not in {row.apiary for row in rows}
    assert worth_of_set(run, [rows[0].apiary, rows[1].apiary]) == pytest.approx(
        rows[0].days_avoided + rows[1].days_avoided
    )
    assert best_visits(run, 2) == rows[:2]
    by_hour = best_visits(run, 8, hours={rows[0].apiary: 1000.0})
    assert by_hour[0].apiary != rows[0].apiary


def test_first_look_orders_by_nearness():
    rough = first_look(few(visits=(FOUND,)), Disease.AFB, ON)
    assert "A0" not in rough
    assert rough["A1"] > rough["A7"]
    assert np.isfinite(list(rough.values())).all()


def test_both_diseases_run():
    record, _ = figures(
        few(visits=(visit("A0", ON - timedelta(days=9), confirmed=1, disease=Disease.EFB),)), Disease.EFB
    )
    assert any("carry it without signs" in note for note in record["notes"])


def test_finished_sweeps_say_how_many_unregistered_apiaries_are_looked_for():
    # Chapman: (8 + 1)(12 + 1) / (6 + 1) - 1 = 15.7 apiaries in all, 7.7 of them unregistered.
    few_known = Coverage(registered=8, seen=12, seen_registered=6)
    all_known = Coverage(registered=8, seen=8, seen_registered=8)
    ground = few(visits=(FOUND,))
    many, _ = figures(ground, settings=replace(QUICK, coverage=few_known))
    none, _ = figures(ground, settings=replace(QUICK, coverage=all_known))
    assert many["unregistered"]["by_sweeps"] is True
    assert many["unregistered"]["count"] == pytest.approx(9 * 13 / 7 - 1 - 8)
    assert many["unseen"]["unregistered_mean"] > 0.0
    assert none["unregistered"]["count"] == 0.0
    assert none["cells"] == []


def test_no_figure_is_zero_or_one():
    suspect = visit("A1", ON - timedelta(days=1), colonies_suspect=3, disease=Disease.AFB)
    record, _ = figures(few(visits=(FOUND, suspect)))
    shown = [
        row["infected_probability"] for row in record["apiaries"] if row["infected_probability"] is not None
    ]
    assert min(shown) >= 1e-6
    assert max(shown) <= 0.999
