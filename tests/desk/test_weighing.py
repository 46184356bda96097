"""Weighing a comb at the desk: what the record adds, which rules hold, and what is kept as evidence."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import pytest

from broodsweep.constants import Disease, Goods
from broodsweep.desk import outbreaks
from broodsweep.desk.context import Desk
from broodsweep.desk.evidence import WEIGHING, attach
from broodsweep.desk.kits import keep_lot, kits
from broodsweep.desk.ports import RiskFigures, RiskLine
from broodsweep.desk.practice import KEPT_CASES, keep_answers, mark, practice_case, practice_record
from broodsweep.desk.rules import choose_book, override_rule
from broodsweep.desk.surroundings import season_of, surroundings
from broodsweep.desk.weighing import Look, kit_test, lots_for_tests, question_after, weigh_look
from broodsweep.diagnosis import LOOKING, Evidence, ObservationError, Reading, Season, State, signs
from broodsweep.diagnosis.constants import SICK_SHARE
from broodsweep.errors import NotFoundError, RefusedError
from broodsweep.outbreak import CaseState, EventKind
from broodsweep.register import Lot, Move
from broodsweep.words import render, say

from .conftest import LEAD, TODAY

ROPY = {"caps_sunken": True, "coffee_brown": True, "smell_putrid": True}
LONG_ROPE = Reading(test="ropiness", length_mm=30)
POSITIVE = Reading(
    test="lateral_flow_afb", lines=frozenset("CT"), read_after_min=3.0, lot="T-31", done_on=TODAY
)


def look(apiary: str | None = "N", **more: object) -> Look:
    return Look(looked_on=TODAY, apiary=apiary, **more)  # type: ignore[arg-type]


def confirm_c(desk: Desk, on: date = date(2026, 7, 1)) -> str:
    opened = outbreaks.open_outbreak(
        desk,
        LEAD,
        disease=Disease.AFB,
        apiary="C",
        found_on=on,
        kind=EventKind.CONFIRMED,
        detail={"by": "laboratory"},
    )
    return opened.outbreak


def afb(desk: Desk, given: Look) -> float:
    answer = weigh_look(desk, given).answer
    return next(row.probability for row in answer.conditions if row.condition == "AFB")


def test_every_sign_of_the_model_stands_once_in_the_order_of_looking() -> None:
    listed = [sign for group in LOOKING.values() for sign in group]
    assert sorted(listed) == sorted(signs())


@pytest.mark.parametrize(
    ("on", "latitude", "season"),
    [
        (date(2026, 1, 15), 55.0, Season.WINTER),
        (date(2026, 3, 1), 55.0, Season.SPRING),
        (date(2026, 8, 31), 55.0, Season.SUMMER),
        (date(2026, 11, 30), 55.0, Season.AUTUMN),
        (date(2026, 12, 1), 55.0, Season.WINTER),
        (date(2026, 1, 15), -37.0, Season.SUMMER),
        (date(2026, 10, 1), -37.0, Season.SPRING),
        (date(2026, 7, 8), None, None),
    ],
)
def test_the_season_follows_the_month_and_the_hemisphere(
    on: date, latitude: float | None, season: Season | None
) -> None:
    assert season_of(on, latitude) is season


def test_a_known_case_nearby_raises_the_probability_and_one_far_away_does_not(desk: Desk) -> None:
    before = {name: afb(desk, look(name, signs=ROPY)) for name in ("N", "F", "Z")}
    confirm_c(desk)
    after = {name: afb(desk, look(name, signs=ROPY)) for name in ("N", "F", "Z")}
    assert after["N"] > before["N"]
    assert after["F"] == before["F"], "4 km off, beyond the neighbourhood"
    assert after["Z"] == before["Z"]
    near = surroundings(desk, "N", TODAY).near
    assert [(case.apiary, case.disease) for case in near] == [("C", Disease.AFB)]
    assert near[0].nearest_m == pytest.approx(1000, abs=2)


def test_a_square_that_straddles_the_line_counts_with_its_nearest_corner(desk: Desk) -> None:
    confirm_c(desk)
    assert surroundings(desk, "E", TODAY).near[0].nearest_m < 3000


def test_a_suspected_case_is_not_a_known_one(desk: Desk) -> None:
    outbreaks.open_outbreak(
        desk, LEAD, disease=Disease.AFB, apiary="C", found_on=TODAY, kind=EventKind.SUSPECTED
    )
    assert surroundings(desk, "N", TODAY).near == ()


def test_what_came_in_within_the_year_counts_as_bought_until_somebody_says_otherwise(desk: Desk) -> None:
    assert surroundings(desk, "M", TODAY).bought is not None
    assert surroundings(desk, "F", TODAY).bought is None, "seven years back"
    told = afb(desk, look("M", signs=ROPY))
    assert told > afb(desk, look("M", signs=ROPY, bought_in=False))
    with desk.store.work(LEAD, "load") as work:
        work.save("moves", [Move(moved_on=TODAY, goods=Goods.HONEY, from_apiary="C", to_apiary="F")])
    assert surroundings(desk, "F", TODAY).bought is None, "honey is not bees, comb or boxes"


@dataclass
class GivenRisk:
    """What a run on hidden infection would say, as given."""

    lines: dict[tuple[Disease, date], dict[str, RiskLine]]

    def figures(self, disease: Disease, on: date) -> RiskFigures:
        return RiskFigures(method=say("hidden.how_converged"), lines=self.lines.get((disease, on), {}))


def line(probability: float | None, low: float | None = None, high: float | None = None) -> RiskLine:
    return RiskLine(probability=probability, low=low, high=high, reasons=(), is_found=probability is None)


def test_a_run_on_hidden_infection_speaks_before_the_comb_does(desk: Desk) -> None:
    plain = afb(desk, look())
    desk.risk = GivenRisk({(Disease.AFB, TODAY): {"N": line(0.4, 0.3, 0.55)}})
    (told,) = surroundings(desk, "N", TODAY).hidden
    assert (told.run_on, told.apiary_probability) == (TODAY, 0.4)
    assert told.colony.probability == pytest.approx(0.4 * SICK_SHARE[Disease.AFB].value)
    weighed = weigh_look(desk, look())
    lead = next(row for row in weighed.answer.conditions if row.condition == "AFB")
    assert lead.probability == pytest.approx(told.colony.probability, rel=0.1)
    assert lead.low < lead.probability < lead.high
    assert afb(desk, look(uses_hidden=False)) == pytest.approx(plain), "the user may switch it off"


def test_what_the_run_knows_already_is_not_counted_again(desk: Desk) -> None:
    confirm_c(desk)
    lines = {"N": line(0.4, 0.3, 0.55), "M": line(0.02, 0.01, 0.04)}
    desk.risk = GivenRisk({(disease, TODAY): lines for disease in Disease})
    near = surroundings(desk, "N", TODAY)
    assert near.near, "a case lies 1 km off"
    assert weigh_look(desk, look(signs=ROPY)).observed.context.outbreak_m, (
        "known, and not counted beside the run"
    )
    assert afb(desk, look(signs=ROPY)) == pytest.approx(afb(desk, look(signs=ROPY, bought_in=False)))
    without = afb(desk, look("M", signs=ROPY, uses_hidden=False))
    assert afb(desk, look("M", signs=ROPY)) < without, "the purchase at M is in the run's figure"
    assert afb(desk, look(signs=ROPY, bought_in=True)) > afb(desk, look(signs=ROPY)), (
        "the register has no move to N"
    )
    assert afb(desk, look("M", signs=ROPY, bought_in=True)) == pytest.approx(afb(desk, look("M", signs=ROPY)))
    assert afb(desk, look(signs=ROPY, fed_honey=True)) > afb(desk, look(signs=ROPY))


def test_a_small_apiary_has_at_least_one_sick_colony(desk: Desk) -> None:
    desk.risk = GivenRisk({(Disease.AFB, TODAY): {"L": line(0.3, 0.2, 0.4), "N": line(0.0, 0.0, 0.01)}})
    (three,) = surroundings(desk, "L", TODAY).hidden
    assert three.colony.probability == pytest.approx(0.3 / 3)
    (none,) = surroundings(desk, "N", TODAY).hidden
    assert 0.0 < none.colony.low <= none.colony.probability, "a prior is never certain"


def test_without_a_run_or_where_the_disease_was_found_the_record_speaks_itself(desk: Desk) -> None:
    desk.risk = GivenRisk({(Disease.AFB, TODAY): {"C": line(None)}})
    assert surroundings(desk, "C", TODAY).hidden == ()
    assert surroundings(desk, "N", TODAY).hidden == ()
    assert surroundings(desk, None, TODAY).hidden == ()


def test_a_run_of_today_counts_for_a_look_of_another_day_and_its_day_is_told(desk: Desk) -> None:
    desk.risk = GivenRisk({(Disease.AFB, desk.today()): {"N": line(0.4, 0.3, 0.55)}})
    (told,) = surroundings(desk, "N", date(2026, 7, 6)).hidden
    assert told.run_on == desk.today()


def test_the_rulebook_says_from_which_probability_a_case_is_suspected(desk: Desk) -> None:
    given = look(signs={"caps_sunken": True, "coffee_brown": True})
    assert weigh_look(desk, given).answer.decision.state is State.SUSPECTED
    override_rule(
        desk,
        LEAD,
        "common-practice",
        "weigh.limits",
        value={"suspect_share": 0.9, "confirm_share": 0.99},
        reason="Reviewed by the inspectorate",
    )
    weighed = weigh_look(desk, given)
    assert weighed.thresholds.suspect_probability == 0.9
    assert weighed.answer.decision.state is State.LOOK_FURTHER


def test_an_apiary_that_is_not_on_the_register_is_said(desk: Desk) -> None:
    with pytest.raises(NotFoundError):
        weigh_look(desk, look("nowhere", signs=ROPY))


def test_what_was_not_looked_at_is_not_absent(desk: Desk) -> None:
    unlooked = afb(desk, look(signs=ROPY))
    assert afb(desk, look(signs=ROPY | {"hard_scale": False})) < unlooked


def test_the_rulebook_says_which_evidence_confirms(desk: Desk) -> None:
    given = look(signs=ROPY, tests=(LONG_ROPE,))
    assert weigh_look(desk, given).answer.decision.state is State.SUSPECTED
    choose_book(desk, LEAD, "new-zealand")
    weighed = weigh_look(desk, given)
    assert weighed.rules[Disease.AFB].citation.startswith("Biosecurity")
    assert weighed.answer.decision.state is State.CONFIRMED, "there a case is a colony with signs"


def test_a_case_is_weighed_under_the_rulebook_of_its_own_outbreak(desk: Desk) -> None:
    outbreaks.open_outbreak(
        desk,
        LEAD,
        disease=Disease.AFB,
        apiary="N",
        found_on=TODAY,
        kind=EventKind.SUSPECTED,
        rulebook="new-zealand",
    )
    weighed = weigh_look(desk, look(signs=ROPY, tests=(LONG_ROPE,)))
    assert weighed.answer.decision.state is State.CONFIRMED
    assert (
        weigh_look(desk, look("Z", signs=ROPY, tests=(LONG_ROPE,))).answer.decision.state is State.SUSPECTED
    )


@pytest.mark.parametrize(
    ("kit", "test"),
    [
        ("lateral_flow_efb", "lateral_flow_efb"),
        ("AFB lateral flow", "lateral_flow_afb"),
        ("Field kit, European foulbrood", "lateral_flow_efb"),
        ("AFB-LAMP field DNA", "isothermal_afb"),
        ("AFB and EFB twin pack", None),
        ("Foulbrood kit", None),
        ("Safbeam", None),
    ],
)
def test_the_free_words_of_a_kit_name_its_test(kit: str, test: str | None) -> None:
    assert kit_test(kit) == test


def test_a_kit_in_date_is_evidence_and_one_past_its_date_is_kept_without_being_it(desk: Desk) -> None:
    good = weigh_look(desk, look(signs=ROPY, tests=(POSITIVE,)))
    assert good.answer.results[0].is_evidential
    assert good.answer.decision.state is State.CONFIRMED
    late = replace(look(signs=ROPY, tests=(replace(POSITIVE, done_on=None),)), looked_on=date(2026, 7, 31))
    kept = weigh_look(desk, late)
    assert kept.answer.results[0].outcome == "positive"
    assert not kept.answer.results[0].is_evidential
    assert kept.answer.decision.state is State.SUSPECTED


def test_a_lot_whose_kit_names_no_disease_is_taken_as_it_was_used() -> None:
    lots = (Lot(lot="T-31", kit="field kit", expires_on=TODAY),)
    assert lots_for_tests(lots, (POSITIVE,))[0].kit == "lateral_flow_afb"
    assert lots_for_tests(lots, ())[0].kit == "field kit"


def test_a_weighing_opens_an_outbreak_and_is_kept_with_what_was_not_looked_at(desk: Desk) -> None:
    given = look(signs=ROPY | {"larva_twisted": False}, tests=(LONG_ROPE, POSITIVE))
    opened = attach(desk, LEAD, given, disease=Disease.AFB, kind=EventKind.CONFIRMED, write=render)
    event = opened.cases[0].events[0]
    assert (event.kind, event.apiary, event.detail["by"]) == (EventKind.CONFIRMED, "N", "field_kit")
    assert event.evidence is not None
    for words in ("American foulbrood", "sunken caps", "twisted", "rope of 25 mm", "Not looked at", "scale"):
        assert words in event.evidence
    kept = event.detail[WEIGHING]
    assert kept["signs"] == given.signs
    assert kept["lots"] == ["T-31"]
    assert kept["conditions"][0][0] == "AFB"
    again = weigh_look(desk, replace(given, apiary=None, season=Season(kept["season"])))
    assert again.answer.lead.condition == "AFB"


def test_a_weighing_joins_an_outbreak_as_a_case_and_a_case_as_evidence(desk: Desk) -> None:
    name = confirm_c(desk)
    more = {"disease": Disease.AFB, "write": render, "outbreak": name}
    joined = attach(desk, LEAD, look(signs=ROPY), kind=EventKind.SUSPECTED, **more)
    assert [case.apiary for case in joined.cases] == ["C", "N"]
    noted = attach(desk, LEAD, look(signs=ROPY, tests=(LONG_ROPE,)), kind=EventKind.NOTE, **more)
    assert [event.kind for event in noted.cases[1].events] == [EventKind.SUSPECTED, EventKind.NOTE]
    proven = attach(desk, LEAD, look(signs=ROPY, tests=(POSITIVE,)), kind=EventKind.CONFIRMED, **more)
    assert proven.cases[1].events[-1].kind is EventKind.CONFIRMED
    sheet = outbreaks.outbreak_sheet(desk, name, TODAY)
    assert sheet.cases[1].state is CaseState.CONFIRMED


def test_a_confirmation_names_only_evidence_that_counts(desk: Desk) -> None:
    choose_book(desk, LEAD, "new-zealand")
    given = look(signs=ROPY, tests=(LONG_ROPE, replace(POSITIVE, lot=None)))
    opened = attach(desk, LEAD, given, disease=Disease.AFB, kind=EventKind.CONFIRMED, write=render)
    assert opened.cases[0].events[0].detail["by"] == "signs", "a kit without a lot is no evidence"


@pytest.mark.parametrize(
    ("given", "kind", "key"),
    [
        (look(None, signs=ROPY), EventKind.SUSPECTED, "weigh.needs_apiary"),
        (look(), EventKind.SUSPECTED, "weigh.needs_look"),
        (look(signs=ROPY), EventKind.CONFIRMED, "weigh.not_confirmed"),
        (look(signs=ROPY, tests=(replace(POSITIVE, lot=None),)), EventKind.CONFIRMED, "weigh.not_confirmed"),
    ],
)
def test_what_cannot_be_kept_is_refused_with_the_way_out(
    desk: Desk, given: Look, kind: EventKind, key: str
) -> None:
    with pytest.raises(RefusedError) as refused:
        attach(desk, LEAD, given, disease=Disease.AFB, kind=kind, write=render)
    assert refused.value.message.key == key
    assert desk.snapshot().outbreaks == ()


def test_evidence_of_one_disease_is_not_added_to_an_outbreak_of_the_other(desk: Desk) -> None:
    name = confirm_c(desk)
    with pytest.raises(RefusedError) as refused:
        attach(
            desk,
            LEAD,
            look(signs={"larva_twisted": True}),
            disease=Disease.EFB,
            kind=EventKind.SUSPECTED,
            write=render,
            outbreak=name,
        )
    assert refused.value.message.key == "weigh.other_disease"


def test_kits_are_counted_less_those_that_weighings_used(desk: Desk) -> None:
    assert [(kit.lot.lot, kit.left, kit.state) for kit in kits(desk, TODAY)] == [("T-31", 10, "expires_soon")]
    attach(
        desk,
        LEAD,
        look(signs=ROPY, tests=(POSITIVE, replace(POSITIVE, sample="2"))),
        disease=Disease.AFB,
        kind=EventKind.SUSPECTED,
        write=render,
    )
    assert kits(desk, TODAY)[0].left == 8
    after = kits(desk, date(2026, 7, 31))[0]
    assert after.state == "expired"
    assert after.text is not None
    assert kits(desk, TODAY - timedelta(days=365))[0].text is None


def test_a_lot_is_entered_by_hand_and_corrected_without_losing_its_other_columns(desk: Desk) -> None:
    with desk.store.work(LEAD, "load") as work:
        work.save(
            "lots", [Lot(lot="T-40", kit="EFB lateral flow", expires_on=TODAY, extra=(("price", "9"),))]
        )
    day = date(2027, 1, 31)
    keep_lot(desk, LEAD, lot="T-40", disease=Disease.EFB, expires_on=day, count=6, where="van 2")
    kit = next(kit for kit in kits(desk, TODAY) if kit.lot.lot == "T-40")
    assert (kit.lot.kit, kit.lot.expires_on, kit.left, kit.where) == ("EFB lateral flow", day, 6, "van 2")
    assert dict(kit.lot.extra)["price"] == "9"
    keep_lot(desk, LEAD, lot="T-40", disease=Disease.AFB, expires_on=day, count=6)
    kit = next(kit for kit in kits(desk, TODAY) if kit.lot.lot == "T-40")
    assert (kit.test, kit.where) == ("lateral_flow_afb", None)


def test_questions_begin_with_what_a_keeper_can_see_and_come_to_an_end(desk: Desk) -> None:
    given, asked = look(observer="untrained"), []
    while (
        sign := question_after(desk, replace(given, signs=dict.fromkeys(asked, False)), frozenset(asked))
    ) is not None:
        assert sign not in asked
        asked.append(sign)
    assert asked[0] == "patchy"
    assert 7 <= len(asked) <= 18


def test_the_same_number_gives_the_same_case_and_the_truth_is_among_what_is_asked() -> None:
    first, again = practice_case(11), practice_case(11)
    assert first == again
    for seed in range(20):
        case = practice_case(seed)
        assert set(case.truth) <= set(case.conditions)
        assert set(case.told) | set(case.drawn) == case.case.seen


def test_saying_what_is_so_scores_nought_and_its_contrary_one() -> None:
    case = practice_case(3)
    right = {name: float(name in case.truth) for name in case.conditions}
    assert mark(case, right, {}).score.brier == 0.0
    assert mark(case, {name: 1.0 - said for name, said in right.items()}, {}).score.brier == 1.0
    with pytest.raises(ObservationError):
        mark(case, {**right, "AFB": 1.5}, {})
    with pytest.raises(ObservationError):
        mark(case, {"AFB": 0.5}, {})
    with pytest.raises(ObservationError):
        mark(case, right, {"no_such_sign": 0.5})


def test_answers_are_kept_by_person_and_the_oldest_go(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("broodsweep.desk.practice.KEPT_CASES", 4)
    assert KEPT_CASES > 4
    other = replace(LEAD, who="lead/2")
    for seed in range(6):
        case = practice_case(seed)
        said = dict.fromkeys(case.conditions, 0.5)
        shown = dict.fromkeys(case.signs, 0.9)
        keep_answers(desk, LEAD, mark(case, said, shown), said, shown, TODAY)
    record = practice_record(desk, LEAD.who)
    assert record.cases == 4
    assert record.brier == pytest.approx(0.25)
    assert {round(row.said_probability, 2) for row in record.bins} == {0.5, 0.9}
    assert practice_record(desk, other.who).cases == 0
    assert sum(step.count for step in record.steps["AFB"]) == 4, "each finding has its answers in turn"
    assert record.steps["AFB"][0].said_probability == pytest.approx(0.5)
    numbers = sorted(name for name in desk.snapshot().settings if name.startswith("practice/"))
    assert numbers == [f"practice/lead/{number}" for number in range(3, 7)]


def test_evidence_words_are_those_of_the_rulebook() -> None:
    assert {str(kind) for kind in Evidence} <= {"signs", "field_kit", "laboratory", "veterinary_examination"}
