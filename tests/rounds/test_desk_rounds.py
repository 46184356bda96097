"""From the register and the outbreaks to rounds: the desk's use case and the command."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import gpxpy
import pytest
import typer
from icalendar import Calendar
from typer.testing import CliRunner

from broodsweep.cli.rounds import rounds as command
from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.outbreaks import open_outbreak, record_event
from broodsweep.desk.ports import Author
from broodsweep.desk.rounds import Changes, Wishes, plan_rounds
from broodsweep.desk.rounds_visits import visit_time
from broodsweep.errors import BroodsweepError
from broodsweep.geo import parse_place
from broodsweep.outbreak import EventKind
from broodsweep.register import TABLES, Apiary, Ground, Inspector, Keeper, Visit
from broodsweep.rounds.checker import broken_rules
from broodsweep.rounds.day import ForecastHour
from broodsweep.rounds.model import Status
from broodsweep.rounds.records import plan_record
from broodsweep.rounds.sending import geo_link, gpx_of, rounds_calendar
from broodsweep.rounds.solve import Effort
from broodsweep.rulebook import load_books
from broodsweep.store import MemoryStore
from broodsweep.words import render

WEDNESDAY = date(2026, 7, 8)
NOW = datetime(2026, 7, 8, 7, tzinfo=UTC)
LEAD = Author(who="lead")
FEW = Effort(iterations=100, seeds=(1,))


def make_ground() -> Ground:
    """Case C with seven apiaries within 5 km; three inspectors, one of them not on Fridays."""
    places = {f"N{n}": f"OV {50000 + 500 * n} {51000 + 300 * n}" for n in range(7)}
    apiaries = [
        Apiary(apiary=name, place=parse_place(place), colonies=4, keeper="K2")
        for name, place in places.items()
    ]
    apiaries.append(Apiary(apiary="C", place=parse_place("OV 50000 50000"), colonies=5, keeper="K1"))
    homes = {"I1": "OV 48000 48000", "I2": "OV 55000 52000", "I3": "OV 50000 60000"}
    return Ground(
        keepers=(Keeper(keeper="K1", name="Ottar Brask"), Keeper(keeper="K2", name="Una Selvik")),
        apiaries=tuple(apiaries),
        inspectors=tuple(
            Inspector(
                inspector=name,
                home=parse_place(home),
                works=frozenset({1, 2, 3, 4}) if name == "I3" else frozenset({1, 2, 3, 4, 5}),
                day_start=time(9),
                day_end=time(17),
            )
            for name, home in homes.items()
        ),
    )


def make_desk(ground: Ground) -> Desk:
    store = MemoryStore(now=lambda: NOW)
    with store.work(LEAD, "load") as work:
        for table in TABLES:
            work.save(table.name, getattr(ground, table.name))
    desk = Desk(store=store, books=load_books(), now=lambda: NOW, as_of=WEDNESDAY)
    if any(row.apiary == "C" for row in ground.apiaries):
        open_outbreak(
            desk, LEAD, disease=Disease.AFB, apiary="C", found_on=date(2026, 7, 7), kind=EventKind.CONFIRMED
        )
    return desk


@pytest.fixture
def desk() -> Desk:
    return make_desk(make_ground())


def test_every_apiary_in_the_rings_is_planned_or_left_out_with_a_reason(desk: Desk) -> None:
    answer = plan_rounds(desk, WEDNESDAY, 3, effort=FEW)
    assert broken_rules(answer.task, answer.plan) == ()
    planned = {stop.apiary for row in answer.plan.rounds for stop in row.stops}
    left = {row.apiary for row in answer.plan.unplanned}
    assert planned | left == {"C", *(f"N{n}" for n in range(7))}
    assert all(row.why for row in answer.plan.unplanned)
    assert all(stop.why for row in answer.plan.rounds for stop in row.stops)


def test_the_case_is_dealt_with_by_two_on_the_first_day_and_comes_last_or_before_a_wash(desk: Desk) -> None:
    answer = plan_rounds(desk, WEDNESDAY, 3, effort=FEW)
    both = [row for row in answer.plan.rounds if "C" in row.apiaries]
    assert [row.on for row in both] == [WEDNESDAY, WEDNESDAY]
    assert answer.task.by_apiary["C"].status is Status.INFECTED
    assert {stop.together_with for row in both for stop in row.stops if stop.apiary == "C"} == {
        row.inspector for row in both
    }


def test_a_reinspection_is_planned_within_its_days(desk: Desk) -> None:
    for kind, on in (
        (EventKind.NOTICE_SERVED, date(2026, 7, 7)),
        (EventKind.COLONIES_DESTROYED, date(2026, 7, 8)),
    ):
        record_event(desk, LEAD, "AFB-2026-1", "C", kind=kind, happened_on=on, detail={"colonies": 1})
    early = plan_rounds(desk, date(2026, 8, 3), 5)
    assert "C" not in early.task.by_apiary
    later = plan_rounds(desk, date(2026, 8, 17), 5, effort=FEW)
    row = later.task.by_apiary["C"]
    assert row.days == frozenset(
        date(2026, 8, 19) + timedelta(days=n) for n in range(3)
    )  # 42 days after 8 July
    assert not row.needs_two
    assert later.plan.chosen["C"][1] >= date(2026, 8, 19)


def test_nobody_works_at_the_weekend(desk: Desk) -> None:
    answer = plan_rounds(desk, WEDNESDAY, 7, effort=FEW)
    assert {row.on.isoweekday() for row in answer.plan.rounds} <= {1, 2, 3, 4, 5}
    assert not [row for row in answer.plan.rounds if row.inspector == "I3" and row.on.isoweekday() == 5]
    with pytest.raises(BroodsweepError, match="Nobody works"):
        plan_rounds(desk, date(2026, 7, 11), 2)


def test_ill_away_and_rained_off_are_kept(desk: Desk) -> None:
    changes = Changes(
        ill=frozenset({("I1", WEDNESDAY)}),
        away={"K2": frozenset({WEDNESDAY}), "N1": frozenset({WEDNESDAY + timedelta(days=1)})},
        rained_off=frozenset({WEDNESDAY + timedelta(days=2)}),
    )
    answer = plan_rounds(desk, WEDNESDAY, 3, effort=FEW, wishes=Wishes(changes=changes))
    assert not [row for row in answer.plan.rounds if row.inspector == "I1" and row.on == WEDNESDAY]
    assert {row.on for row in answer.plan.rounds} <= {WEDNESDAY, WEDNESDAY + timedelta(days=1)}
    for row in answer.plan.rounds:
        if row.on == WEDNESDAY:
            assert set(row.apiaries) == {"C"}
        assert "N1" not in row.apiaries
    assert {row.apiary: row.why[0].key for row in answer.plan.unplanned}["N1"] in {
        "rounds.not_that_day",
        "rounds.not_opening",
    }


def test_a_forecast_shortens_the_day_and_one_for_another_week_is_refused(desk: Desk) -> None:
    rows = [
        ForecastHour(at=datetime(2026, 7, 8, hour), temperature_celsius=18, wind_m_per_s=2, rain_mm=0)
        for hour in (13, 14, 15)
    ]
    answer = plan_rounds(desk, WEDNESDAY, 1, effort=FEW, forecast=rows)
    assert all(
        stop.begin_minute >= 780 and stop.leave_minute <= 960
        for row in answer.plan.rounds
        for stop in row.stops
    )
    with pytest.raises(BroodsweepError, match="The forecast is for 8 Jul 2026"):
        plan_rounds(desk, WEDNESDAY + timedelta(days=7), 2, forecast=rows)


def test_nothing_to_visit_is_said() -> None:
    ground = make_ground()
    alone = make_desk(replace(ground, apiaries=ground.apiaries[:1]))
    with pytest.raises(BroodsweepError, match="Nothing is to be visited"):
        plan_rounds(alone, WEDNESDAY, 2)


@pytest.mark.parametrize("days", [0, -1, 61])
def test_an_impossible_number_of_days_is_refused(desk: Desk, days: int) -> None:
    with pytest.raises(BroodsweepError, match="1 to 60 days"):
        plan_rounds(desk, WEDNESDAY, days)


def test_visit_times_are_learned_from_past_visits_with_a_duration(desk: Desk) -> None:
    assert visit_time(desk.snapshot()).visits == 0
    visits = tuple(
        Visit(
            visit=f"V{n}",
            apiary=f"N{n % 7}",
            visited_on=date(2025, 6, 1) + timedelta(days=n),
            colonies_inspected=1 + n % 6,
            colonies_confirmed=0,
            extra=(("minutes", str(20 + 9 * (1 + n % 6))),),
        )
        for n in range(30)
    )
    found = visit_time(make_desk(replace(make_ground(), visits=visits)).snapshot())
    assert found.visits == 30
    assert found.minutes(10) == 110


def test_the_record_has_the_keys_of_the_design(desk: Desk) -> None:
    answer = plan_rounds(desk, WEDNESDAY, 2, effort=FEW)
    record = plan_record(answer.plan, answer.zone)
    assert {"rounds", "unplanned", "measures"} <= record.keys()
    row = record["rounds"][0]
    assert {"inspector", "date", "stops", "km", "hours"} <= row.keys()
    assert {"apiary", "arrive", "leave", "why"} <= row["stops"][0].keys()
    assert row["stops"][0]["arrive"].isoformat().endswith("+01:00")


def test_a_round_goes_out_as_gpx_geo_and_calendar_and_comes_back_the_same(desk: Desk) -> None:
    answer = plan_rounds(desk, WEDNESDAY, 2, effort=FEW)
    points = dict(zip(answer.task.travel.names, answer.task.travel.points, strict=True))
    row = answer.plan.rounds[0]
    route = gpxpy.parse(gpx_of(row, points, answer.zone)).routes[0]
    assert [point.name.split()[1] for point in route.points] == list(row.apiaries)  # type: ignore[union-attr]
    first = route.points[0]
    assert (first.longitude, first.latitude) == pytest.approx(points[row.apiaries[0]], abs=1e-6)
    assert geo_link((-1.5, 59.25)) == "geo:59.250000,-1.500000"
    made = Calendar.from_ical(rounds_calendar(answer.plan, points, answer.zone, stamp_at=NOW))
    entries = made.walk("VEVENT")
    assert len(entries) == sum(len(row.stops) for row in answer.plan.rounds)
    begin = entries[0]["DTSTART"].dt
    assert begin.tzinfo is not None
    local = begin.astimezone(answer.zone)
    assert 60 * local.hour + local.minute == row.stops[0].begin_minute


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The same ground as a folder of tables."""
    ground = make_ground()
    where = tmp_path / "ground"
    where.mkdir()
    apiaries = [
        "apiary,keeper,place,colonies",
        *(f"{a.apiary},{a.keeper},{a.place.text},{a.colonies}" for a in ground.apiaries),
    ]
    (where / "apiaries.csv").write_text("\n".join(apiaries) + "\n", encoding="utf-8")
    (where / "keepers.csv").write_text("keeper,name\nK1,Ottar Brask\nK2,Una Selvik\n", encoding="utf-8")
    team = [
        "inspector,home,works,day_start,day_end",
        *(f"{i.inspector},{i.home.text},Mon Tue Wed Thu Fri,09:00,17:00" for i in ground.inspectors),
    ]
    (where / "inspectors.csv").write_text("\n".join(team) + "\n", encoding="utf-8")
    found = "visit,apiary,visited_on,colonies_present,colonies_inspected,colonies_suspect,colonies_confirmed,disease"
    (where / "visits.csv").write_text(f"{found}\nV1,C,2026-07-07,5,5,,1,AFB\n", encoding="utf-8")
    return where


def run(*words: object) -> tuple[int, str]:
    app = typer.Typer()
    app.command()(command)
    done = CliRunner().invoke(app, [str(word) for word in words])
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done.exit_code, done.stdout


def test_the_command_plans_from_a_folder_of_tables(folder: Path, tmp_path: Path) -> None:
    words = ("--ground", folder, "--on", "2026-07-08", "--days", 3, "--iterations", 60)
    code, out = run(*words, "--json", "--gpx", tmp_path / "gpx", "--calendar", tmp_path / "rounds.ics")
    record = json.loads(out)
    assert code in (0, 1)
    assert record["from"] == "2026-07-08"
    assert record["time_zone"] == "Europe/London"
    assert {row["inspector"] for row in record["rounds"]} <= {"I1", "I2", "I3"}
    assert sum(len(row["stops"]) for row in record["rounds"]) == record["measures"]["visits"] + 1  # C by two
    assert len(list((tmp_path / "gpx").iterdir())) == len(record["rounds"])
    assert (tmp_path / "rounds.ics").read_bytes().startswith(b"BEGIN:VCALENDAR")
    assert json.loads(run(*words, "--json")[1])["rounds"] == record["rounds"]


def test_the_command_prints_lists_and_says_what_the_times_come_from(folder: Path) -> None:
    code, out = run("--ground", folder, "--on", "2026-07-08", "--days", 2, "--seconds", 0)
    assert code in (0, 1)
    assert "By the hand rule" in out
    assert "No road file" in out
    assert "Deal with the sick colonies" in out


def test_an_inspector_without_a_home_is_refused_with_the_row(folder: Path) -> None:
    (folder / "inspectors.csv").write_text("inspector,home\nI1,\n", encoding="utf-8")
    with pytest.raises(BroodsweepError, match="home"):
        run("--ground", folder, "--on", "2026-07-08", "--seconds", 0)


def test_roads_are_kept_in_the_home_and_used_from_then_on(tmp_path: Path) -> None:
    path = tmp_path / "some.osm"
    path.write_text(
        '<osm version="0.6"><node id="1" lat="59" lon="-1"/><node id="2" lat="59.1" lon="-1"/>'
        '<way id="1"><nd ref="1"/><nd ref="2"/><tag k="highway" v="primary"/></way></osm>',
        encoding="utf-8",
    )
    code, out = run("roads", path, "--home", tmp_path / "home")
    assert code == 0
    assert "2 points" in out
    assert (tmp_path / "home" / "roads.osm").is_file()
    assert run("streets", path, "--home", tmp_path / "home")[0] == 2


def test_sentences_of_the_plan_are_all_in_the_catalogue(desk: Desk) -> None:
    answer = plan_rounds(desk, WEDNESDAY, 1)
    said = [answer.plan.method, answer.plan.travel_method, *(day.why for day in answer.hours)]
    said += [part for row in answer.plan.unplanned for part in (*row.why, *row.would_help)]
    assert all(render(part) for part in said)
