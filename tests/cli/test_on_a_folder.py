"""The commands on a folder of tables: what `--json` gives is stable."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from pyproj import Geod
from tests.cli.conftest import Done

Run = Callable[..., Done]
ON = ("--on", "2026-07-08")


def test_locate_gives_the_stable_keys(run: Run) -> None:
    answer = run("locate", "OV 123 456", "--json").answer
    assert answer["precision_m"] == 100
    assert (answer["notation"], answer["epsg"]) == ("british_grid", 27700)
    assert (answer["easting"], answer["northing"]) == (512350.0, 545650.0)
    assert {"longitude", "latitude"} <= answer.keys()


def test_locate_says_what_it_understood(run: Run) -> None:
    """Two bare numbers may stand either way round, and a square of sea is a likely slip: both are said."""
    shown = run("locate", "1.7179 31").out
    assert "latitude" in shown.splitlines()[-1]
    sea = run("locate", "OV 123 456")
    assert "100 m" in sea.out
    assert "National Grid reference" in sea.out
    assert run("locate", "SA 12 34", "--json").answer["notes"]


def test_ring_answers_for_every_apiary_nearest_first(run: Run, ground: Path) -> None:
    answer = run("ring", "--at", "OV 50000 50000", "--radii", "3km,5km", "--ground", ground, "--json").answer
    rows = {row["apiary"]: row for row in answer["apiaries"]}
    assert list(rows) == ["C", "N", "E", "F", "Z", "M"]
    assert rows["N"]["answers"] == ["in", "in"]
    assert rows["E"]["answers"] == ["cannot_tell", "in"]
    assert rows["F"]["answers"] == ["out", "in"]
    assert rows["Z"]["answers"] == ["out", "out"]
    assert rows["Z"]["nearest_m"] == pytest.approx(40_000, rel=1e-3)


def test_ring_takes_an_apiary_as_its_centre_and_agrees_with_pyproj(run: Run, ground: Path) -> None:
    answer = run("ring", "--at", "C", "--ground", ground, "--json", "--near-only").answer
    rows = {row["apiary"]: row for row in answer["apiaries"]}
    places = [run("locate", text, "--json").answer for text in ("OV 50000 50000", "OV 50000 51000")]
    a, b = places
    middle = Geod(ellps="WGS84").inv(a["longitude"], a["latitude"], b["longitude"], b["latitude"])[2]
    assert rows["N"]["nearest_m"] < middle < rows["N"]["farthest_m"]
    assert "Z" not in rows


def test_due_names_the_outbreak_the_thing_the_rule_and_the_day(run: Run, ground: Path) -> None:
    answer = run("due", "--ground", ground, *ON, "--json").answer
    lines = {row["key"]: row for row in answer["due"]}
    assert all({"outbreak", "what", "rule", "due_on", "state"} <= row.keys() for row in answer["due"])
    assert lines["reinspection"]["outbreak"] == "AFB-2026-1"
    assert lines["reinspection"]["due_on"] == "2026-08-14"  # six weeks after the destruction on 3 July
    assert answer["forbidden"]


def test_due_follows_the_rulebook_named(run: Run, ground: Path) -> None:
    """Switzerland: destroyed within 10 days; all colonies in the zone checked within 30 days (TSV arts 271-272)."""
    answer = run("due", "--ground", ground, *ON, "--rulebook", "switzerland", "--json").answer
    lines = {row["key"]: row for row in answer["due"]}
    assert lines["zone_examined"]["due_on"] == "2026-07-31"


def test_sweep_lists_who_and_why(run: Run, ground: Path) -> None:
    answer = run("sweep", "--ground", ground, *ON, "--json").answer
    stops = answer["sweeps"][0]["stops"]
    assert {row["apiary"] for row in stops} == {"N", "E", "F", "Z", "M"}
    assert [row["rank"] for row in stops] == [1, 2, 3, 4, 5]
    assert any("nuclei received from C" in reason for row in stops for reason in row["reasons"])


def test_tables_for_people_are_shown_without_json(run: Run, ground: Path) -> None:
    assert "cannot tell" in run("ring", "--at", "C", "--ground", ground).out
    assert "re-inspect" in run("due", "--ground", ground, *ON).out.lower()
    assert "same keeper as C" in run("sweep", "--ground", ground, *ON).out


@pytest.mark.parametrize(
    ("words", "key"),
    [
        (("locate", "QQ 12 3"), "geo."),
        (("ring", "--at", "C", "--radii", "3 miles"), "cli.bad_radius"),
        (("due", "--rulebook", "atlantis"), "desk.no_such_rulebook"),
        (("sweep", "AFB-1999-1"), "desk.no_such_outbreak"),
    ],
)
def test_an_error_is_a_sentence_and_an_exit_code(
    run: Run, ground: Path, words: tuple[str, ...], key: str
) -> None:
    more = () if words[0] == "locate" else ("--ground", ground, *(() if words[0] == "ring" else ON))
    done = run(*words, *more, "--json")
    assert done.code == 3
    error = json.loads(done.err)["error"]
    assert error["key"].startswith(key)
    assert error["text"].endswith((".", "?"))
    plain = run(*words, *more)
    assert plain.code == 3
    assert plain.err.strip() == error["text"]


def test_a_centre_with_nobody_near_or_that_is_nothing_is_said(run: Run, ground: Path) -> None:
    lone = run("ring", "--at", "OV 05 05", "--ground", ground)
    assert (lone.code, lone.out) == (0, "No apiary lies within 5 km of OV 05 05.\n")
    typo = run("ring", "--at", "Hillend", "--ground", ground)
    assert typo.code == 3
    assert typo.err.startswith("Hillend is neither an apiary on the register nor a place")


def test_due_writes_each_rule_and_each_ban_once(run: Run, ground: Path) -> None:
    with (ground / "visits.csv").open("a") as file:
        file.write("V3,N,2026-07-02,9,9,,2,AFB\n")
    shown = run("due", "--ground", ground, *ON).out
    assert "C, N: these may not leave: bees" in shown
    rules = shown.partition("By these rules:\n")[2].partition("Forbidden now:")[0].splitlines()
    assert [int(rule.split()[0]) for rule in rules] == list(range(1, len(rules) + 1))
    assert len({rule.split(maxsplit=1)[1] for rule in rules}) == len(rules)
    assert "at once, since 2 Jul 2026" in shown


def test_a_window_is_shown_from_its_first_to_its_last_day(run: Run, ground: Path) -> None:
    """Germany: again two to nine months after killing or treatment (BienSeuchV § 11(1)); destroyed on 3 July."""
    shown = run("due", "--ground", ground, *ON, "--rulebook", "germany").out
    assert "3 Sept 2026 to 3 Apr 2027" in shown


def test_an_unsound_folder_is_refused_with_the_first_reason(run: Run, ground: Path) -> None:
    (ground / "apiaries.csv").write_text("apiary,place,colonies\nC,OV 1,-3\n")
    done = run("sweep", "--ground", ground, *ON)
    assert done.code == 3
    assert "apiaries.csv" in done.err
    assert not done.out


def test_a_folder_that_is_not_there_is_said(run: Run, tmp_path: Path) -> None:
    done = run("due", "--ground", tmp_path / "nowhere")
    assert done.code == 3
    assert "nowhere" in done.err


def test_wrong_use_exits_with_two(run: Run) -> None:
    assert run("ring").code == 2
    assert run("due", "--on", "yesterday").code == 2
    assert run("fly").code == 2


def test_a_case_of_a_folder_is_swept_round_no_more_after_its_clean_look(run: Run, ground: Path) -> None:
    """A folder cannot say that a standstill was lifted; the clean look after the interval ends the sweep."""
    with (ground / "visits.csv").open("a") as file:
        file.write("V3,C,2026-08-20,4,4,,0,\n")
    before = run("sweep", "--ground", ground, "--on", "2026-08-19", "--json").answer["sweeps"][0]
    after = run("sweep", "--ground", ground, "--on", "2026-09-01", "--json").answer["sweeps"][0]
    assert len(before["stops"]) == 5
    assert after["stops"] == []
