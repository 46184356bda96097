"""Weighing a comb and practising through the API."""

from __future__ import annotations

import json
from typing import Any
from xml.etree import ElementTree

import pytest

from broodsweep.desk.ports import RiskFigures, RiskLine
from broodsweep.desk.practice import practice_case
from broodsweep.diagnosis.network import numbers
from broodsweep.diagnosis.numbers_said import number_said
from broodsweep.words import render, say

from .conftest import TestClient

SIGNS = {"caps_sunken": True, "coffee_brown": True, "smell_putrid": True, "larva_twisted": False}
ROPE = {"test": "ropiness", "length_mm": 28}
KIT = {"test": "lateral_flow_afb", "lines": ["C", "T"], "read_after_min": 3, "lot": "LOT-7"}


def weigh(client: TestClient, **look: object) -> Any:
    answer = client.post("/api/weigh", json=look)
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_the_form_gives_signs_in_the_order_of_looking_tests_guides_and_kits(client: TestClient) -> None:
    form = client.get("/api/weigh").json()
    assert [group["group"] for group in form["looking"]][:4] == ["caps", "larva", "colour", "consistency"]
    assert all(row["question"].endswith((".", "?")) for group in form["looking"] for row in group["signs"])
    tests = {row["test"]: row for row in form["tests"]}
    assert tests["ropiness"]["entry"] == "rope"
    assert tests["lateral_flow_efb"]["entry"] == "lines"
    assert tests["pcr_bees_afb"]["entry"] == "count"
    assert tests["sugar_roll"]["entry"] == "mites"
    assert tests["culture_efb"]["waiting_days"] > 0
    timers = [step["timer_s"] for step in tests["lateral_flow_afb"]["guide"]["steps"] if step["timer_s"]]
    assert timers == [20, 180], "shake 20 s, read after 3 minutes"
    assert len(form["essential"]) == 8
    assert form["kits"][0]["state"] == "expires_soon"
    assert "LOT-7" in form["kits"][0]["text"]


def test_an_answer_has_figures_reasons_duty_and_what_was_not_looked_at(client: TestClient) -> None:
    answer = weigh(client, apiary="N", signs=SIGNS, tests=[ROPE])
    lead = answer["chances"][0]
    assert (lead["condition"], lead["name"]) == ("AFB", "American foulbrood")
    assert lead["low"] <= lead["probability"] <= lead["high"]
    assert lead["said"] in ("over 0.99", f"{lead['probability']:.2f}")
    assert answer["state"] == "suspected"
    assert answer["conditions"] == ["AFB"]
    assert 1 <= len(answer["carrying"]) <= 3
    assert answer["carrying"][0]["finding"] == "ropiness"
    duty = " ".join(answer["duty"])
    for words in (
        "Tell the competent authority now",
        "Close the hive",
        "Move nothing",
        "Wash",
        "Do not wait",
    ):
        assert words in duty
    assert any("scale" in row for row in answer["not_looked_at"])
    assert {row["disease"]: row["rule"]["citation"] != "" for row in answer["rules"]} == {
        "AFB": True,
        "EFB": True,
    }
    assert answer["stages"][0]["disease"] == "AFB"
    assert answer["assumptions"][0]["text"]


def test_what_speaks_against_the_answer_is_said_beside_what_carries_it(client: TestClient) -> None:
    answer = weigh(client, signs={**SIGNS, "hard_scale": False}, tests=[ROPE])
    assert [row["finding"] for row in answer["against"]] == ["hard_scale"]
    assert "speaks against American foulbrood" in answer["against"][0]["text"]


def test_the_record_tells_of_the_case_nearby_and_the_season(client: TestClient) -> None:
    around = weigh(client, apiary="N", signs=SIGNS)["around"]
    assert around["season"] == "summer"
    assert around["near"][0]["outbreak"] == "AFB-2026-1"
    assert around["near"][0]["nearest_m"] == pytest.approx(1000, abs=2)
    assert weigh(client, apiary="C", signs=SIGNS)["around"]["own"] == [
        {"disease": "AFB", "outbreak": "AFB-2026-1", "state": "confirmed"}
    ]
    assert weigh(client, apiary="Z/1", signs=SIGNS)["around"]["bought"]["goods"] == "nuclei"


def test_a_page_is_given_what_it_needs_to_weigh_by_itself(client: TestClient) -> None:
    place = client.get("/api/weigh/around", params={"apiary": "N", "looked_on": "2026-07-08"}).json()
    assert place["around"]["near"][0]["outbreak"] == "AFB-2026-1"
    assert place["around"]["hidden"] == [], "nobody asked for a run"
    assert place["thresholds"]["suspect_probability"] == 0.1
    assert "laboratory" in place["thresholds"]["confirm_by"]["AFB"]
    assert {row["disease"] for row in place["rules"]} == {"AFB", "EFB"}
    assert client.get("/api/weigh/around").json()["around"]["season"] == "summer"
    assert client.get("/api/weigh/around", params={"apiary": "nowhere"}).status_code == 404


def test_the_answer_says_that_a_run_on_hidden_infection_spoke_first(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = RiskLine(probability=0.4, low=0.3, high=0.5, reasons=())
    risk = client.app.state.context.desk.risk  # type: ignore[attr-defined]
    figures = RiskFigures(method=say("hidden.how_converged"), lines={"N": line})
    monkeypatch.setattr(risk, "figures", lambda disease, on: figures)
    answer = weigh(client, apiary="N", signs=SIGNS)
    told = answer["around"]["hidden"][0]
    assert told["apiary_probability"] == 0.4
    assert told["low"] < told["probability"] < told["high"] < 0.4
    assert answer["notes"][0] == told["text"]
    assert "gives the apiary 0.40" in told["text"]
    without = weigh(client, apiary="N", signs=SIGNS, uses_hidden=False)
    assert told["text"] not in without["notes"]
    assert without["around"]["hidden"], "it is still offered"


def test_a_look_is_kept_at_its_apiary_and_taken_up_when_a_case_is_opened(client: TestClient) -> None:
    entered = {"apiary": "N", "signs": SIGNS, "tests": [KIT], "looked_on": "2026-07-07"}
    kept = client.post("/api/weigh/looks", json={"look": entered, "who": "Una"})
    assert kept.status_code == 201, kept.text
    row = kept.json()
    assert (row["who"], row["suspects"]) == ("Una", "AFB")
    assert row["look"]["signs"] == SIGNS
    assert row["look"]["tests"][0]["lines"] == ["C", "T"]
    assert row["chances"][0]["said"]
    listed = client.get("/api/weigh/looks", params={"apiary": "N"}).json()
    assert listed == [row]
    attached = client.post(
        "/api/weigh/attach",
        json={"look": row["look"], "disease": "AFB", "kind": "suspected", "kept_look": row["number"]},
    )
    assert attached.status_code == 201, attached.text
    (again,) = client.get("/api/weigh/looks", params={"apiary": "N"}).json()
    assert again["outbreak"] == attached.json()["outbreak"]
    assert client.get("/api/weigh/looks", params={"apiary": "nowhere"}).status_code == 404
    assert client.post("/api/weigh/looks", json={"look": {"signs": SIGNS}}).status_code == 409


def test_an_answer_is_never_certain_in_words(client: TestClient) -> None:
    answer = weigh(client, signs=SIGNS, tests=[ROPE, KIT, {**KIT, "sample": "2"}])
    said = {row["said"] for row in answer["chances"]} | {row["said_low"] for row in answer["chances"]}
    assert "over 0.99" in said
    assert not {"1.00", "0.00"} & said


def test_a_clean_look_never_says_all_is_well(client: TestClient) -> None:
    looked = weigh(client, signs={"caps_sunken": False, "patchy": False})
    assert looked["state"] == "look_further"
    assert "does not clear" in str(looked["text"])
    assert looked["not_looked_at"]


def test_what_would_tell_most_comes_with_its_time_and_cost(client: TestClient) -> None:
    rows = weigh(client, signs={"coffee_brown": True})["next_tests"]
    assert rows
    for row in rows:
        assert row["bits"] > 0
        assert row["minutes"] > 0
        assert row["is_test"] == (row["how"] is None)


@pytest.mark.parametrize(
    ("look", "status", "words"),
    [
        ({"signs": {"caps_sunk": True}}, 400, "caps_sunken"),
        ({"tests": [{"test": "rope"}]}, 400, "ropiness"),
        ({"tests": [{"test": "ropiness", "length_mm": 900}]}, 400, "900 mm"),
        ({"tests": [{"test": "sugar_roll", "mites": 3, "bees": 0}]}, 400, "3 mites"),
        ({"tests": [{"test": "culture_afb", "outcome": "perhaps"}]}, 400, "perhaps"),
        ({"apiary": "nowhere", "signs": {}}, 404, "nowhere"),
        ({"signs": {"patchy": "yes please"}}, 422, "signs.patchy"),
        ({"sings": {}}, 422, "sings"),
    ],
)
def test_what_cannot_be_is_refused_in_words(
    client: TestClient, look: dict[str, object], status: int, words: str
) -> None:
    answer = client.post("/api/weigh", json=look)
    assert answer.status_code == status
    assert words in answer.json()["error"]["text"]


def test_weighing_writes_nothing(client: TestClient) -> None:
    before = client.get("/api/session").json()["record_version"]
    weigh(client, apiary="N", signs=SIGNS, tests=[ROPE, KIT])
    client.post("/api/weigh/question", json={"asked": ["patchy"]})
    assert client.get("/api/session").json()["record_version"] == before


def test_questions_are_in_simple_words_and_end(client: TestClient) -> None:
    asked: list[str] = []
    for number in range(1, 30):
        row = client.post("/api/weigh/question", json={"asked": asked, "observer": "untrained"}).json()
        if row["sign"] is None:
            break
        assert row["number"] == number
        assert row["text"].endswith((".", "?"))
        asked.append(row["sign"])
    assert row["sign"] is None
    assert len(asked) <= row["most"]


def test_a_weighing_is_attached_and_stands_in_the_case_and_the_journal(client: TestClient) -> None:
    look = {"apiary": "E", "signs": {"larva_twisted": True, "dead_in_open": True, "smell_sour": True}}
    sent = {"look": look, "disease": "EFB", "kind": "suspected", "who": "I. Moe"}
    opened = client.post("/api/weigh/attach", json=sent)
    assert opened.status_code == 201
    sheet = client.get(f"/api/outbreaks/{opened.json()['outbreak']}").json()
    event = sheet["cases"][0]["events"][0]
    assert (event["kind"], event["who"]) == ("suspected", "I. Moe")
    assert event["evidence"].startswith("Weighed: European foulbrood")
    assert event["detail"]["weighing"]["signs"] == look["signs"]
    refused = client.post("/api/weigh/attach", json=sent)
    assert refused.status_code == 409, "it has an open case by now"


def test_a_confirmation_needs_evidence_that_confirms(client: TestClient) -> None:
    sent = {
        "look": {"apiary": "N", "signs": SIGNS, "tests": [ROPE]},
        "disease": "AFB",
        "kind": "confirmed",
        "outbreak": "AFB-2026-1",
    }
    assert client.post("/api/weigh/attach", json=sent).status_code == 409
    sent["look"]["tests"].append(KIT)
    assert client.post("/api/weigh/attach", json=sent).status_code == 201
    case = client.get("/api/outbreaks/AFB-2026-1").json()["cases"][1]
    assert (case["state"], case["events"][0]["detail"]["by"]) == ("confirmed", "field_kit")
    assert client.get("/api/weigh").json()["kits"][0]["left"] == 11


def test_a_lot_is_entered_and_then_counts_as_evidence(client: TestClient) -> None:
    look = {"signs": SIGNS, "tests": [{**KIT, "lot": "NEW-1"}]}
    assert weigh(client, **look)["results"][0]["is_evidential"] is False
    sent = {"lot": "NEW-1", "disease": "AFB", "expires_on": "2027-01-31", "count": 20, "where": "van 2"}
    kits = client.post("/api/weigh/kits", json=sent).json()
    assert [kit["where"] for kit in kits if kit["lot"] == "NEW-1"] == ["van 2"]
    assert weigh(client, **look)["results"][0]["is_evidential"] is True


def test_a_practice_case_shows_a_picture_and_keeps_its_truth(client: TestClient) -> None:
    row = client.get("/api/practice/cases/7").json()
    assert ElementTree.fromstring(row["picture"]).tag.endswith("svg")
    assert "truth" not in json.dumps(row)
    asked = {one["condition"] for one in row["conditions"]}
    assert {"AFB", "EFB", "nothing_wrong"} < asked
    drawn = {one["sign"] for one in row["signs"]} & practice_case(7).case.seen
    assert len(drawn) == 1, "one sign that is in the picture, one that is not"


def test_answers_are_scored_kept_and_shown_by_finding(client: TestClient) -> None:
    row = client.get("/api/practice/cases/7").json()
    said = {one["condition"]: 0.5 for one in row["conditions"]}
    signs = {one["sign"]: 0.8 for one in row["signs"]}
    sent = {"seed": 7, "conditions": said, "signs": signs, "who": "I. Moe"}
    marked = client.post("/api/practice/answers", json=sent).json()
    assert marked["brier"] == pytest.approx(0.25), "half and half is a coin tossed"
    assert marked["truth"] == ["starved or neglected brood"]
    assert marked["record"]["cases"] == 1
    again = client.get("/api/practice/record", params={"who": "I. Moe"}).json()
    assert again == marked["record"]
    assert {one["finding"] for one in again["by_finding"] if one["is_sign"]} == set(signs)
    assert client.get("/api/practice/record").json()["cases"] == 0, "another person's record"
    wrong = client.post("/api/practice/answers", json={**sent, "conditions": {"AFB": 0.5}})
    assert wrong.status_code == 400
    assert client.post("/api/practice/answers", json={**sent, "signs": {"patchy": 2}}).status_code == 422


def test_the_pseudo_locale_reaches_every_sentence_of_an_answer(client: TestClient) -> None:
    look = {"apiary": "N", "signs": SIGNS, "tests": [ROPE, KIT]}
    answer = client.post("/api/weigh", json=look, params={"locale": "en-XA"}).json()
    texts = [answer["text"], *answer["duty"], *answer["notes"], *answer["not_looked_at"], answer["about"]]
    texts += [
        row["text"] for name in ("carrying", "against", "next_tests", "assumptions") for row in answer[name]
    ]
    texts += [row["name"] for row in answer["chances"]]
    assert [text for text in texts if any(letter in text for letter in "aeiou")] == []


def test_every_number_of_the_model_can_be_named() -> None:
    for number in numbers():
        assert render(number_said(number.where))
