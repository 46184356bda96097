"""The command `weigh`: file, standard input, questions, guides, practice; JSON as designed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from broodsweep.cli.weigh import weigh
from broodsweep.diagnosis import METHODS, NOTHING_WRONG, Condition, signs
from broodsweep.errors import BroodsweepError

APP = typer.Typer()
APP.command()(weigh)
SUSPECT = {
    "season": "summer",
    "signs": {"caps_sunken": True, "coffee_brown": True, "larva_twisted": False},
    "tests": [{"test": "ropiness", "length_mm": 35}],
}


def run(*arguments: str, given: str | None = None) -> Result:
    return CliRunner().invoke(APP, list(arguments), input=given)


def test_a_file_gives_the_designed_json(tmp_path: Path) -> None:
    path = tmp_path / "comb.json"
    path.write_text(json.dumps(SUSPECT))
    answer = json.loads(run(str(path), "--json").stdout)
    assert {"conditions", "reasons", "next_tests", "duty", "not_looked_at", "decision"} <= set(answer)
    assert {row["condition"] for row in answer["conditions"]} == {*Condition, NOTHING_WRONG}
    for row in answer["conditions"]:
        assert 0 <= row["low"] <= row["probability"] <= row["high"] <= 1
    chances = [row["probability"] for row in answer["conditions"]]
    assert chances == sorted(chances, reverse=True)
    assert answer["conditions"][0]["condition"] == "AFB"
    assert answer["decision"]["state"] == "suspected"
    assert answer["reasons"][0]["finding"] == "ropiness"


def test_standard_input_gives_the_same_as_a_file(tmp_path: Path) -> None:
    path = tmp_path / "comb.json"
    path.write_text(json.dumps(SUSPECT))
    assert run("-", "--json", given=json.dumps(SUSPECT)).stdout == run(str(path), "--json").stdout


def test_people_read_what_to_do_and_why() -> None:
    shown = run("-", given=json.dumps(SUSPECT)).stdout
    for part in ("American foulbrood", "Tell the competent authority now", "rope of 25 mm", "Not looked at"):
        assert part in shown
    assert "1.00 " not in shown.split("What follows")[0].replace("–1.00", "")


def test_a_rulebook_decides_which_evidence_confirms() -> None:
    plain = json.loads(run("-", "--json", given=json.dumps(SUSPECT)).stdout)
    there = json.loads(
        run(
            "-", "--json", "--rulebook", "new-zealand", "--on", "2026-06-01", given=json.dumps(SUSPECT)
        ).stdout
    )
    assert plain["decision"]["state"] == "suspected"
    assert there["decision"]["state"] == "confirmed"


@pytest.mark.parametrize(
    ("given", "key"),
    [
        ('{"signs": {"cap_sunken": true}}', "diagnosis.error_unknown_sign"),
        ('{"signs":', "diagnosis.error_not_json"),
        ("[]", "diagnosis.error_form"),
    ],
)
def test_what_cannot_be_read_is_refused_in_a_sentence(given: str, key: str) -> None:
    error = run("-", given=given).exception
    assert isinstance(error, BroodsweepError)
    assert error.message.key == key
    assert str(error)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    error = run(str(tmp_path / "none.json")).exception
    assert isinstance(error, BroodsweepError)
    assert error.message.key == "diagnosis.error_no_file"


def test_lists_every_sign_and_test() -> None:
    shown = run("--signs").stdout
    listed = json.loads(run("--signs", "--json").stdout)
    assert {row["sign"] for row in listed["signs"]} == set(signs())
    assert {row["test"] for row in listed["tests"]} == set(METHODS)
    assert all(sign in shown for sign in signs())


@pytest.mark.parametrize("test", [*METHODS, "scale"])
def test_a_guide_shows_its_cautions_and_steps(test: str) -> None:
    shown = run("--guide", test).stdout
    assert "Caution:" in shown
    assert "1. " in shown
    assert json.loads(run("--guide", test, "--json").stdout)["steps"]


def test_an_unknown_guide_is_refused() -> None:
    error = run("--guide", "rope").exception
    assert isinstance(error, BroodsweepError)


def test_simple_questions_lead_an_untrained_keeper_to_the_duty() -> None:
    said = "summer\nyes\nyes\nno\nyes\nno\nyes\nyes\nyes\nstop\nyes\nno\n\n\n\n"
    result = run("--simple", given=said)
    assert result.exit_code == 0
    assert "pepper-pot" in result.output
    assert "American foulbrood" in result.stdout
    assert "Tell the competent authority now" in result.stdout


def test_questions_take_a_rope_and_a_field_test() -> None:
    said = "\nn\nyes\nstop\n\n\n35\nCT\n3\nL1\n\n"
    answer = json.loads(run("--json", given=said).stdout)
    assert {test["test"]: test["outcome"] for test in answer["tests"]} == {
        "ropiness": "long",
        "lateral_flow_afb": "positive",
    }


def test_a_device_without_any_line_is_invalid() -> None:
    answer = json.loads(run("--json", given="\nstop\n\n\n\nnone\n\n\n\n").stdout)
    assert [test["outcome"] for test in answer["tests"]] == ["invalid"]


def test_without_anybody_to_answer_it_says_what_to_do() -> None:
    error = run(given="").exception
    assert isinstance(error, BroodsweepError)
    assert error.message.key == "diagnosis.error_need_terminal"


def test_practice_as_json_gives_cases_with_truth_and_picture() -> None:
    first = run("--drill", "--json", "--cases", "2", "--seed", "4").stdout
    assert first == run("--drill", "--json", "--cases", "2", "--seed", "4").stdout
    cases = json.loads(first)["cases"]
    assert len(cases) == 2
    assert all(case["picture"].startswith("<svg") and case["truth"] and case["signs"] for case in cases)


def test_practice_scores_answers_and_keeps_them(tmp_path: Path) -> None:
    record = tmp_path / "answers.jsonl"
    said = "0.5\n" * 20
    arguments = ("--drill", "--cases", "1", "--record", str(record), "--pictures", str(tmp_path / "pictures"))
    shown = run(*arguments, given=said).stdout
    assert "Brier score" in shown
    assert (tmp_path / "pictures/case-1.svg").read_text().startswith("<svg")
    kept = len(record.read_text().splitlines())
    assert kept >= 6
    again = run(*arguments, given=said).stdout
    assert len(record.read_text().splitlines()) == 2 * kept
    assert f"Of {2 * kept} answers near 0.50" in again


def test_lots_of_a_ground_folder_are_looked_up(tmp_path: Path) -> None:
    (tmp_path / "lots.csv").write_text("lot,kit,expires_on,count\nL1,lateral_flow_afb,2026-01-01,10\n")
    test = {"test": "lateral_flow_afb", "lines": ["C", "T"], "lot": "L1", "read_after_min": 3}
    given = json.dumps({"signs": {"caps_sunken": True}, "tests": [test]})
    late = run("-", "--json", "--ground", str(tmp_path), "--on", "2026-06-01", given=given)
    assert late.exit_code == 0, late.exception
    assert json.loads(late.stdout)["tests"][0]["evidential"] is False
    early = run("-", "--json", "--ground", str(tmp_path), "--on", "2025-06-01", given=given)
    assert json.loads(early.stdout)["tests"][0]["evidential"] is True
