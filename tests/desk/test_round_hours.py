"""What the desk knows of hours: absences, keepers' hours, appointments, part days, weather, the rules of a round."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, datetime, time, timedelta

import pytest

from broodsweep.desk import rounds as desk_rounds
from broodsweep.desk.context import Desk
from broodsweep.desk.round_ahead import facts_ahead, note_ahead
from broodsweep.desk.round_facts import Change, ChangeKind, Facts, Rules
from broodsweep.desk.round_facts_record import facts_of, facts_plain
from broodsweep.desk.round_hours import Appointment, Changes, KeeperHours
from broodsweep.desk.round_plans import KeptPlan, go_back, is_replanned, plan_in_force
from broodsweep.desk.rounds import Wishes, plan_rounds
from broodsweep.errors import BroodsweepError, NotFoundError
from broodsweep.geo import parse_place
from broodsweep.register import Inspector
from broodsweep.rounds.day import ForecastHour, Thresholds
from broodsweep.rounds.model import Candidate, Hygiene, Window
from broodsweep.rounds.plan import PauseKind
from broodsweep.words import render

from .test_round_plans import (
    FEW,
    FRIDAY,
    LEAD,
    THURSDAY,
    WEDNESDAY,
    changed,
    first_stop,
    ground,
    make_desk,
    planned,
    planner_of,
)

TEN, NOON, TWO, FOUR = 600, 720, 840, 960


@pytest.fixture
def desk() -> Desk:
    return make_desk()


def weather(on: date, hours: range, celsius: float = 18.0) -> tuple[ForecastHour, ...]:
    """Give a whole day's forecast that is dry and warm in these hours and wet in the others."""
    return tuple(
        ForecastHour(
            at=datetime.combine(on, time(hour)),
            temperature_celsius=celsius,
            wind_m_per_s=2.0,
            rain_mm=0.0 if hour in hours else 3.0,
        )
        for hour in range(24)
    )


def stops(kept: KeptPlan, on: date) -> list[tuple[str, str, int, int]]:
    return [
        (row.inspector, stop.apiary, stop.begin_minute, stop.leave_minute)
        for row in kept.plan.rounds
        if row.on == on
        for stop in row.stops
    ]


def test_a_visit_that_no_day_allows_stays_out_when_its_keeper_is_away(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No day at all is not any day: the day of the absence was taken from every day of the plan."""
    found = desk_rounds.candidates(desk, WEDNESDAY, 2)
    never = next(row for row in found if row.apiary == "N07")

    def chosen(desk: Desk, start: date, days: int, only: str | None) -> tuple[Candidate, ...]:
        return tuple(replace(row, days=frozenset()) if row is never else row for row in found)

    monkeypatch.setattr(desk_rounds, "candidates", chosen)
    wishes = Wishes(changes=Changes(away={"K3": frozenset({WEDNESDAY + timedelta(days=1)})}))
    answer = plan_rounds(desk, WEDNESDAY, 2, wishes=wishes)
    assert "N07" not in answer.plan.chosen
    assert answer.task.by_apiary["N07"].days == frozenset()
    assert answer.task.by_apiary["N08"].days == frozenset({WEDNESDAY})


def test_the_forecast_shortens_a_day_and_says_so(desk: Desk) -> None:
    kept = planned(desk)
    assert any(begin >= NOON for _, _, begin, _ in stops(kept, WEDNESDAY))
    after = changed(desk, kept, kind=ChangeKind.WEATHER, weather=weather(WEDNESDAY, range(10, 12)))
    row = next(row for row in after.hours if row.on == WEDNESDAY)
    assert (row.opens, row.closes) == ("10:00", "12:00")
    assert all(begin >= TEN and end <= NOON for _, _, begin, end in stops(after, WEDNESDAY))
    whys = {render(row.why) for row in after.moved if row.before and row.before.on == WEDNESDAY}
    assert "on 8 Jul 2026 hives may be opened 10:00 to 12:00" in whys
    shut = changed(desk, after, kind=ChangeKind.WEATHER, weather=weather(WEDNESDAY, range(0)))
    assert stops(shut, WEDNESDAY) == []
    back = changed(desk, shut, kind=ChangeKind.NO_WEATHER, days=(WEDNESDAY,))
    assert back.facts.weather == {}
    assert stops(back, WEDNESDAY)


def test_a_forecast_for_the_wrong_week_is_refused(desk: Desk) -> None:
    kept = planned(desk)
    wrong = Change(kind=ChangeKind.WEATHER, weather=weather(date(2026, 7, 20), range(10, 16)))
    with pytest.raises(BroodsweepError, match="20 Jul 2026 to 20 Jul 2026, but the plan is for 8 Jul 2026"):
        planner_of(desk).change(LEAD, kept.number, wrong, FEW)
    assert plan_in_force(desk) == kept


def test_the_weather_in_which_hives_may_be_opened_is_the_services_to_set(desk: Desk) -> None:
    kept = planned(desk)
    cool = changed(desk, kept, kind=ChangeKind.WEATHER, weather=weather(WEDNESDAY, range(10, 17), 12.0))
    assert stops(cool, WEDNESDAY) == []
    hardy = Rules(thresholds=Thresholds(least_celsius=11.0))
    after = changed(desk, cool, kind=ChangeKind.RULES, rules=hardy)
    assert stops(after, WEDNESDAY)
    assert after.facts.rules == hardy
    assert go_back(desk, LEAD, after.number) == cool


def test_without_a_wash_nobody_goes_from_a_diseased_apiary_to_a_clean_one(desk: Desk) -> None:
    kept = planned(desk)
    strict = Rules(hygiene=Hygiene(decontamination_minutes=None))
    after = changed(desk, kept, kind=ChangeKind.RULES, rules=strict)
    assert not [pause for row in after.plan.rounds for pause in row.pauses if pause.kind is PauseKind.WASH]
    for row in after.plan.rounds:
        diseased = [stop.apiary in ("C", "X") for stop in row.stops]
        assert diseased == sorted(diseased), "diseased last"


def test_an_appointment_is_kept_on_its_day_and_in_its_hours(desk: Desk) -> None:
    kept = planned(desk)
    apiary, _, on = first_stop(kept)
    day = THURSDAY if on == WEDNESDAY else WEDNESDAY
    agreed = {"apiary": apiary, "days": (day,), "windows": (Window(TWO, FOUR),)}
    after = changed(desk, kept, kind=ChangeKind.AGREED, **agreed)
    (made,) = [row for row in stops(after, day) if row[1] == apiary]
    assert made[2] >= TWO
    assert made[3] <= FOUR
    why = next(row.why for row in after.moved if row.apiary == apiary)
    assert render(why) == f"agreed with the keeper for {'9' if day == THURSDAY else '8'} Jul 2026"
    loose = changed(desk, after, kind=ChangeKind.NOT_AGREED, apiary=apiary)
    assert loose.facts.agreed == {}


def test_an_appointment_is_a_visit_even_when_no_list_asks_for_it(desk: Desk) -> None:
    with desk.store.work(LEAD, "add") as work:
        work.save(
            "apiaries", [replace(ground().apiaries[0], apiary="Q", place=parse_place("OV 70000 70000"))]
        )
    kept = planned(desk)
    assert "Q" not in kept.plan.chosen
    after = changed(desk, kept, kind=ChangeKind.AGREED, apiary="Q", days=(THURSDAY,))
    assert after.plan.chosen["Q"][1] == THURSDAY
    later = changed(desk, after, kind=ChangeKind.AGREED, apiary="Q", days=(date(2026, 7, 20),))
    assert "Q" not in later.plan.chosen, "agreed for after the plan: not now"


def test_a_keeper_is_visited_in_one_of_several_windows_of_the_day(desk: Desk) -> None:
    kept = planned(desk)
    windows = (Window(TEN, TEN + 100), Window(TWO + 30, FOUR))
    after = changed(desk, kept, kind=ChangeKind.HOURS, name="K2", windows=windows)
    mine = {row.apiary for row in ground().apiaries if row.keeper == "K2"}
    made = [row for on in (WEDNESDAY, THURSDAY) for row in stops(after, on) if row[1] in mine]
    assert made
    for _, apiary, begin, end in made:
        assert any(w.start_minute <= begin and end <= w.end_minute for w in windows), apiary
    weekdays = changed(
        desk, after, kind=ChangeKind.HOURS, name="K2", weekdays=frozenset({4}), windows=windows
    )
    assert not [row for row in stops(weekdays, WEDNESDAY) if row[1] in mine]
    free = changed(desk, weekdays, kind=ChangeKind.ANY_HOUR, name="K2")
    assert free.facts.hours == {}


def test_an_inspector_works_part_of_a_day(desk: Desk) -> None:
    kept = planned(desk)
    after = changed(
        desk, kept, kind=ChangeKind.PART_DAY, inspector="I1", days=(WEDNESDAY,), windows=(Window(540, NOON),)
    )
    row = next((row for row in after.plan.rounds if (row.inspector, row.on) == ("I1", WEDNESDAY)), None)
    assert row is None or row.back_minute <= NOON
    whys = {render(row.why) for row in after.moved}
    assert "Dimsa Naskister works 09:00 to 12:00 on 8 Jul 2026" in whys
    whole = changed(desk, after, kind=ChangeKind.WHOLE_DAY, inspector="I1", days=(WEDNESDAY,))
    assert whole.facts.part_days == {}


def test_what_is_noted_before_the_first_plan_holds_in_it(desk: Desk) -> None:
    note_ahead(desk, LEAD, Change(kind=ChangeKind.RAINED_OFF, days=(WEDNESDAY,)))
    note_ahead(desk, LEAD, Change(kind=ChangeKind.AWAY, name="K2", days=(THURSDAY,)))
    assert facts_ahead(desk).rained_off == {WEDNESDAY}
    kept = planned(desk)
    assert stops(kept, WEDNESDAY) == []
    assert kept.facts.away == {"K2": frozenset({THURSDAY})}
    with pytest.raises(NotFoundError, match="No rounds are planned"):
        note_ahead(desk, LEAD, Change(kind=ChangeKind.PIN, apiary="N01"))
    with pytest.raises(NotFoundError, match="N99"):
        note_ahead(desk, LEAD, Change(kind=ChangeKind.AGREED, apiary="N99", days=(WEDNESDAY,)))


def test_the_facts_come_back_from_json() -> None:
    facts = Facts(
        hours={"K1": KeeperHours(weekdays=frozenset({1, 3}), windows=(Window(TEN, NOON),))},
        agreed={"A": Appointment(on=FRIDAY, window=Window(TWO, FOUR)), "B": Appointment(on=FRIDAY)},
        part_days={("I1", THURSDAY): Window(540, NOON)},
        weather={FRIDAY: weather(FRIDAY, range(9, 12))},
        rules=Rules(
            hygiene=Hygiene(decontamination_minutes=None, wash_at_home=True),
            thresholds=Thresholds(least_celsius=11.5, between=Window(TEN, NOON)),
        ),
    )
    assert facts_of(json.loads(json.dumps(facts_plain(facts)))) == facts
    assert facts.from_day(FRIDAY) == replace(facts, part_days={})


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (Change(kind=ChangeKind.HOURS, name="K2"), "at which hours"),
        (Change(kind=ChangeKind.AGREED, apiary="N01"), "which days"),
        (Change(kind=ChangeKind.PART_DAY, inspector="I1", days=(WEDNESDAY,)), "at which hours"),
        (Change(kind=ChangeKind.WEATHER), "no rows"),
    ],
)
def test_a_change_that_says_too_little_is_refused(desk: Desk, change: Change, said: str) -> None:
    kept = planned(desk)
    assert is_replanned(kept, change)
    with pytest.raises(BroodsweepError, match=said):
        planner_of(desk).change(LEAD, kept.number, change, FEW)


def test_an_inspector_whose_day_ends_before_it_begins_is_left_out_and_named(desk: Desk) -> None:
    wrong = Inspector(
        inspector="I3",
        name="Ysolde Hamrick",
        home=parse_place("OV 50000 52000"),
        day_start=time(17),
        day_end=time(9),
    )
    with desk.store.work(LEAD, "add") as work:
        work.save("inspectors", [wrong])
    answer = plan_rounds(desk, WEDNESDAY, 2)
    assert {row.inspector for row in answer.plan.rounds} <= {"I1", "I2"}
    said = [render(note) for note in answer.plan.notes]
    assert any("Ysolde Hamrick" in note and "17:00" in note for note in said)
