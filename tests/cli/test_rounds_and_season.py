"""`rounds` and `season` from a folder of tables: names for keys, weeks and hours, what will not do said plainly."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import Done

Run = Callable[..., Done]
HEAD = "inspector,name,home,works,day_start,day_end\n"
TEAM = (
    HEAD
    + 'I1,Dimsa Naskister,OV 48000 48000,"1,2,3,4,5",09:00,17:00\n'
    + 'I2,Belnor Grevand,OV 55000 52000,"1,2,3,4,5",09:00,17:00\n'
)
DAY = ("--on", "2026-07-08")


@pytest.fixture
def team(ground: Path) -> Path:
    (ground / "inspectors.csv").write_text(TEAM)
    return ground


def planned(run: Run, folder: Path, *words: object) -> Done:
    return run("rounds", "--ground", folder, *DAY, "--days", 3, "--seconds", 0, *words)


def test_rounds_say_names_and_what_the_keeper_is_called(run: Run, team: Path) -> None:
    done = planned(run, team)
    assert done.code in (0, 1)
    assert "Dimsa Naskister, 8 Jul 2026:" in done.out
    record = planned(run, team, "--json").answer
    assert {row["name"] for row in record["rounds"]} <= {"Dimsa Naskister", "Belnor Grevand"}
    assert {row["inspector"] for row in record["rounds"]} <= {"I1", "I2"}
    said = " ".join(why for row in record["unplanned"] for why in row["why"])
    assert "I1" not in said.split()


def test_the_season_is_planned_from_a_folder(run: Run, team: Path) -> None:
    done = run("season", "--ground", team, *DAY, "--weeks", 4, "--training", "2026-07-15", "--json")
    assert done.code in (0, 1)
    record = done.answer
    assert [week["week"] for week in record["weeks"]] == [
        "2026-07-08",
        "2026-07-13",
        "2026-07-20",
        "2026-07-27",
    ]
    assert record["weeks"][0]["capacity_minutes"] == 6 * 390
    assert record["weeks"][1]["by_kind"]["training"] == 2 * 390
    assert record["measures"]["bound"] <= record["measures"]["cost"]
    names = [duty["apiary"] for week in record["weeks"] for duty in week["duties"]]
    assert len(names) == len(set(names)), "nobody is visited twice for the same thing"
    shown = run("season", "--ground", team, *DAY, "--weeks", 2)
    assert "8 Jul 2026 to 12 Jul 2026" in shown.out


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("", "Nobody works on these days"),
        ("I1,Dimsa Naskister,,,09:00,17:00\n", "home"),
        (
            "I1,Dimsa Naskister,OV 48000 48000,,17:00,09:00\n",
            "the day ends before it starts (17:00)",
        ),
    ],
)
def test_a_team_that_cannot_drive_is_said(run: Run, ground: Path, rows: str, said: str) -> None:
    (ground / "inspectors.csv").write_text(HEAD + rows)
    done = planned(run, ground)
    assert done.code == 3
    assert said in done.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--days", 0), "1 to 60 days, not 0"),
        (("--roads", "nowhere.osm.pbf"), "There is no road file"),
        (("--roads", "BROKEN"), "cannot be read"),
        (
            ("--forecast", "WRONG"),
            "The forecast is for 20 Aug 2026 to 20 Aug 2026, but the plan is for 8 Jul",
        ),
        (("--forecast", "TORN"), "lacks rain, wind"),
        (("--from", "2026-12-23"), "opened"),
    ],
)
def test_what_will_not_do_is_said(
    run: Run, team: Path, tmp_path: Path, words: tuple[object, ...], said: str
) -> None:
    files = {
        "BROKEN": ("broken.osm.pbf", "this is no road file"),
        "WRONG": ("wrong.csv", "time,temperature,wind,rain\n2026-08-20T10:00,18,2,0\n"),
        "TORN": ("torn.csv", "time,temperature\n2026-07-08T10:00,18\n"),
    }
    for name, content in files.values():
        (tmp_path / name).write_text(content)
    real = [tmp_path / files[str(word)][0] if str(word) in files else word for word in words]
    done = planned(run, team, *real)
    assert said in done.out + done.err
    assert done.code in (1, 3, 4)


def test_weeks_that_make_no_season_are_refused(run: Run, team: Path) -> None:
    done = run("season", "--ground", team, *DAY, "--weeks", 99)
    assert done.code == 3
    assert "1 to 53 weeks, not 99" in done.err
