"""Both outbreaks: in order, agreeing with tables and truth, and possible under the rules."""

from __future__ import annotations

import json
from collections import Counter
from datetime import date, timedelta
from pathlib import Path

from broodsweep.constants import Clearance, Disease
from broodsweep.demo import DEMO_DAY, Island
from broodsweep.outbreak import EventKind, Outbreak
from broodsweep.outbreak.steps import add_event, close_outbreak
from broodsweep.rulebook import get_book, load_books


def by_disease(island: Island, disease: Disease) -> Outbreak:
    return next(one for one in island.outbreaks if one.disease is disease)


def day_of(outbreak: Outbreak, kind: EventKind) -> dict[str, date]:
    """Return apiary → day of the first event of a kind."""
    return {
        case.apiary: event.happened_on
        for case in outbreak.cases
        for event in reversed(case.events)
        if event.kind is kind
    }


def test_the_demo_day_finds_cases_in_every_state(island: Island) -> None:
    afb = by_disease(island, Disease.AFB)
    confirmed = day_of(afb, EventKind.CONFIRMED)
    destroyed = day_of(afb, EventKind.COLONIES_DESTROYED)
    refuted = day_of(afb, EventKind.NOT_CONFIRMED)
    waiting = {case.apiary for case in afb.cases} - set(confirmed) - set(refuted)
    assert 3 <= len(confirmed) <= 6
    assert destroyed
    assert any(day == DEMO_DAY - timedelta(days=2) for a, day in confirmed.items() if a not in destroyed)
    assert waiting
    assert all(case.events[-1].kind is EventKind.SAMPLE_SENT for case in afb.cases if case.apiary in waiting)
    assert timedelta(days=20) < DEMO_DAY - afb.opened_on < timedelta(days=45)
    assert afb.closed_on is None


def test_the_sweep_is_partly_done(island: Island) -> None:
    """Some apiaries near the confirmed ones have been seen since, and some have not."""
    at = {row["apiary"]: (float(row["easting"]), float(row["northing"])) for row in island.true_apiaries}
    afb = by_disease(island, Disease.AFB)
    cases = day_of(afb, EventKind.CONFIRMED)
    registered = {
        row["apiary"] for row in island.true_apiaries if row["registered"] == "yes" and not row["left_on"]
    }
    ring = {
        apiary
        for apiary in registered - set(cases)
        if any(abs(complex(*at[apiary]) - complex(*at[case])) <= 3_000 for case in cases)
    }
    seen = {visit.apiary for visit in island.ground.visits if visit.visited_on >= afb.opened_on}
    assert 0.3 < len(ring & seen) / len(ring) < 0.97
    assert len(ring) > 40


def test_the_older_outbreak_is_closed(island: Island) -> None:
    efb = by_disease(island, Disease.EFB)
    assert efb.closed_on is not None
    assert efb.closed_on.year == 2025
    released = day_of(efb, EventKind.RELEASED)
    confirmed = day_of(efb, EventKind.CONFIRMED)
    assert set(confirmed) == set(released)
    assert len(confirmed) >= 3
    assert any(row.how is Clearance.SHOOK_SWARM for row in island.ground.removals)


def test_the_rules_allow_every_step(island: Island) -> None:
    """Play both outbreaks back through the room that checks each transition."""
    for outbreak in island.outbreaks:
        book = get_book(load_books(), outbreak.rulebook)
        again = Outbreak(
            outbreak=outbreak.outbreak,
            disease=outbreak.disease,
            rulebook=outbreak.rulebook,
            opened_on=outbreak.opened_on,
        )
        events = [event for case in outbreak.cases for event in case.events]
        for event in sorted(events, key=lambda event: (event.happened_on, event.event)):
            again = add_event(again, event, book)
        if outbreak.closed_on is not None:
            again = close_outbreak(again, outbreak.closed_on)
        assert again.closed_on == outbreak.closed_on
        assert {case.apiary for case in again.cases} == {case.apiary for case in outbreak.cases}


def test_events_agree_with_visits_and_removals(island: Island) -> None:
    visits = {(row.apiary, row.visited_on, row.disease): row for row in island.ground.visits}
    removed = {(row.apiary, row.disease): row for row in island.ground.removals}
    for outbreak in island.outbreaks:
        confirmed = day_of(outbreak, EventKind.CONFIRMED)
        cleared = day_of(outbreak, EventKind.COLONIES_DESTROYED) | day_of(
            outbreak, EventKind.COLONIES_TREATED
        )
        for apiary, suspected_on in day_of(outbreak, EventKind.SUSPECTED).items():
            visit = visits[(apiary, suspected_on, outbreak.disease)]
            assert visit.colonies_suspect
            assert visit.colonies_confirmed == (visit.colonies_suspect if apiary in confirmed else 0)
        assert cleared == {
            a: row.removed_on for (a, disease), row in removed.items() if disease is outbreak.disease
        }
        for apiary, cleared_on in cleared.items():
            assert day_of(outbreak, EventKind.SUSPECTED)[apiary] < confirmed[apiary] < cleared_on < DEMO_DAY
        for case in outbreak.cases:
            days = [event.happened_on for event in case.events]
            assert days == sorted(days)
            assert all(event.recorded_at.date() >= event.happened_on for event in case.events)
            assert all(event.recorded_at.utcoffset() == timedelta(0) for event in case.events)
    confirmed_visits = [row for row in island.ground.visits if row.colonies_confirmed]
    assert len(confirmed_visits) == sum(len(day_of(one, EventKind.CONFIRMED)) for one in island.outbreaks)


def test_nothing_confirmed_that_is_not_infected_in_truth(island: Island) -> None:
    truth = {(row["apiary"], row["disease"]): row for row in island.true_infections}
    for visit in island.ground.visits:
        if visit.colonies_confirmed:
            row = truth[(visit.apiary, str(visit.disease))]
            assert row["infected_on"] < row["signs_on"] <= visit.visited_on.isoformat()
            assert row["found_on"] == visit.visited_on.isoformat()
    for removal in island.ground.removals:
        row = truth[(removal.apiary, removal.disease)]
        assert row["removed_on"] == removal.removed_on.isoformat()
        assert row["how"] == removal.how
    found = {key for key, row in truth.items() if row["found_on"]}
    assert found == {
        (v.apiary, str(v.disease)) for v in island.ground.visits if v.colonies_suspect
    } - _false_alarms(island)


def _false_alarms(island: Island) -> set[tuple[str, str]]:
    return {
        (apiary, str(one.disease))
        for one in island.outbreaks
        for apiary in day_of(one, EventKind.NOT_CONFIRMED)
    }


def test_infection_is_hidden_and_came_by_every_route(island: Island) -> None:
    afb = [row for row in island.true_infections if row["disease"] == "AFB"]
    hidden = [row for row in afb if not row["found_on"]]
    assert len(hidden) >= 4
    assert any(row["registered"] == "no" for row in hidden)
    assert {"background", "near", "same_keeper", "move"} <= {row["route"] for row in afb}
    recorded = {(m.moved_on.isoformat(), m.from_apiary, m.to_apiary) for m in island.ground.moves}
    by_move = [row for row in afb if row["route"] == "move"]
    assert any((row["infected_on"], row["source"], row["apiary"]) in recorded for row in by_move)
    keeper = {row["apiary"]: row["keeper"] for row in island.true_apiaries}
    assert all(keeper[row["apiary"]] == keeper[row["source"]] for row in afb if row["route"] == "same_keeper")


def test_every_source_was_infected_first(island: Island) -> None:
    when = {(row["apiary"], row["disease"]): row for row in island.true_infections}
    for row in island.true_infections:
        if row["source"] != "background":
            source = when[(row["source"], row["disease"])]
            assert source["infected_on"] < row["infected_on"]
            assert not source["removed_on"] or row["infected_on"] <= source["removed_on"]


def test_a_standstill_holds_moves_back(island: Island) -> None:
    for outbreak in island.outbreaks:
        until = day_of(outbreak, EventKind.RELEASED)
        for apiary, suspected_on in day_of(outbreak, EventKind.SUSPECTED).items():
            if apiary in day_of(outbreak, EventKind.NOT_CONFIRMED):
                continue
            last = until.get(apiary, DEMO_DAY) - timedelta(days=4)
            held = [
                m
                for m in island.ground.moves
                if apiary in (m.from_apiary, m.to_apiary) and suspected_on <= m.moved_on < last
            ]
            assert not held


def test_outbreaks_are_written_as_plain_data(island: Island, folder: Path) -> None:
    plain = json.loads((folder / "outbreaks.json").read_text(encoding="utf-8"))
    assert [one["disease"] for one in plain] == ["EFB", "AFB"]
    kinds = Counter(event["kind"] for one in plain for case in one["cases"] for event in case["events"])
    assert set(kinds) <= set(EventKind)
    names = [event["event"] for one in plain for case in one["cases"] for event in case["events"]]
    assert len(set(names)) == len(names)
    for one, made in zip(plain, island.outbreaks, strict=True):
        assert set(one) == {"outbreak", "disease", "rulebook", "opened_on", "cases", "closed_on"}
        assert date.fromisoformat(one["opened_on"]) == made.opened_on
