"""Times of a round: drives, waits, washes, breaks; and what cannot be."""

from __future__ import annotations

from broodsweep.rounds.model import Hygiene, Status, Window
from broodsweep.rounds.plan import PauseKind
from broodsweep.rounds.timetable import timetable
from tests.rounds.tasks import line, task_of, visit, workday


def test_the_inspector_leaves_just_in_time_for_the_opening_of_hives() -> None:
    task = task_of([visit("A")], [workday()], line({"home": 0, "A": 20}))
    made = timetable(task, task.days[0], ["A"])
    assert made is not None
    assert (made.leave_minute, made.stops[0].begin_minute, made.stops[0].leave_minute) == (580, 600, 630)
    assert made.back_minute == 650
    assert made.km == 40.0


def test_a_drive_may_lie_outside_the_opening_hours_but_not_outside_the_working_hours() -> None:
    day = workday(work=Window(540, 1000), opening=Window(600, 990))
    task = task_of([visit("A", service_minutes=390)], [day], line({"home": 0, "A": 10}))
    assert timetable(task, day, ["A"]) is not None
    late = workday(work=Window(540, 999), opening=Window(600, 990))
    task = task_of([visit("A", service_minutes=390)], [late], line({"home": 0, "A": 10}))
    assert timetable(task, late, ["A"]) is None


def test_overtime_lets_the_day_end_later_and_is_counted() -> None:
    day = workday(work=Window(540, 960), opening=Window(600, 960), overtime_minutes=30)
    task = task_of([visit("A", service_minutes=360)], [day], line({"home": 0, "A": 20}))
    made = timetable(task, day, ["A"])
    assert made is not None
    assert made.overtime_minutes == 20


def test_from_a_diseased_apiary_to_a_clean_one_there_is_a_wash_of_full_length() -> None:
    rows = [visit("sick", status=Status.INFECTED), visit("clean")]
    task = task_of(rows, [workday()], line({"home": 0, "sick": 10, "clean": 20}))
    made = timetable(task, task.days[0], ["sick", "clean"])
    assert made is not None
    (wash,) = made.pauses
    assert wash.kind is PauseKind.WASH
    assert (wash.at, wash.end_minute - wash.start_minute) == ("sick", 45)
    assert made.stops[1].arrive_minute == 630 + 45 + 10


def test_the_wash_can_be_at_home() -> None:
    rows = [visit("sick", status=Status.INFECTED), visit("clean")]
    hygiene = Hygiene(wash_at_home=True)
    task = task_of(rows, [workday()], line({"home": 0, "sick": 10, "clean": 20}), hygiene=hygiene)
    made = timetable(task, task.days[0], ["sick", "clean"])
    assert made is not None
    assert made.pauses[0].at == "home"
    assert made.stops[1].arrive_minute == 630 + 10 + 45 + 20
    assert made.km == 10 + 10 + 20 + 20


def test_without_a_wash_no_clean_apiary_follows_a_diseased_one_but_the_other_way_round_it_may() -> None:
    rows = [visit("sick", status=Status.INFECTED), visit("clean")]
    hygiene = Hygiene(decontamination_minutes=None)
    task = task_of(rows, [workday()], line({"home": 0, "sick": 10, "clean": 20}), hygiene=hygiene)
    assert timetable(task, task.days[0], ["sick", "clean"]) is None
    assert timetable(task, task.days[0], ["clean", "sick"]) is not None


def test_who_comes_soiled_washes_first() -> None:
    day = workday(soiled=Status.INFECTED)
    task = task_of([visit("A")], [day], line({"home": 0, "A": 10}))
    made = timetable(task, day, ["A"])
    assert made is not None
    assert made.pauses[0].start_minute == 540
    assert made.stops[0].begin_minute == 600


def test_a_long_round_has_its_break_between_two_visits() -> None:
    day = workday(break_minutes=30)
    rows = [visit("A", service_minutes=150), visit("B", service_minutes=150)]
    task = task_of(rows, [day], line({"home": 0, "A": 20, "B": 40}))
    made = timetable(task, day, ["A", "B"])
    assert made is not None
    (rest,) = made.pauses
    assert (rest.kind, rest.start_minute, rest.end_minute) == (PauseKind.BREAK, 750, 780)


def test_a_round_of_one_long_visit_has_its_break_there() -> None:
    day = workday(break_minutes=30)
    task = task_of([visit("A", service_minutes=325)], [day], line({"home": 0, "A": 30}))
    made = timetable(task, day, ["A"])
    assert made is not None
    (rest,) = made.pauses
    stop = made.stops[0]
    assert stop.leave_minute - stop.begin_minute == 355
    assert stop.begin_minute <= rest.start_minute < rest.end_minute <= stop.leave_minute


def test_a_short_round_has_no_break() -> None:
    day = workday(break_minutes=30)
    task = task_of([visit("A", service_minutes=200)], [day], line({"home": 0, "A": 20}))
    made = timetable(task, day, ["A"])
    assert made is not None
    assert made.pauses == ()


def test_the_whole_visit_lies_in_the_keepers_hours() -> None:
    day = workday()
    at_noon = visit("A", window=Window(720, 750))
    task = task_of([at_noon], [day], line({"home": 0, "A": 20}))
    made = timetable(task, day, ["A"])
    assert made is not None
    assert made.stops[0].begin_minute == 720
    short = visit("A", window=Window(720, 749))
    assert timetable(task_of([short], [day], line({"home": 0, "A": 20})), day, ["A"]) is None


def test_the_first_of_the_keepers_hours_that_holds_the_visit_is_taken() -> None:
    day = workday()
    hours = {day.on: (Window(780, 860), Window(600, 640), Window(870, 960))}
    row = visit("A", service_minutes=60, day_windows=hours)
    made = timetable(task_of([row], [day], line({"home": 0, "A": 20})), day, ["A"])
    assert made is not None
    assert (made.stops[0].begin_minute, made.stops[0].leave_minute) == (780, 840)
    closed = visit("A", service_minutes=60, day_windows={day.on: ()})
    assert timetable(task_of([closed], [day], line({"home": 0, "A": 20})), day, ["A"]) is None
