"""Rulebook values against the texts they cite.

Source of every value: the trade reference of the project, written 25 November 2026; its status word stands in
the column ``status`` (read: a passage of the text was seen; memory: recalled; computed: arithmetic from those).
The numbers of its check table (section 11) stand beside the checks. Exact, unless a tolerance is shown.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from broodsweep.constants import Disease
from broodsweep.rulebook import (
    Bound,
    Checked,
    Report,
    Severity,
    Standing,
    WaxHeat,
    after,
    certificate_due_on,
    colonies_to_inspect,
    judge_wax,
    load_books,
    may_move,
    needs_full_inspection,
    notice_limits,
    petrol_litres,
    severity,
)

BOOKS = load_books()
ON = date(2026, 6, 1)
AFB, EFB = Disease.AFB, Disease.EFB
LAW, OFFICIAL, COMMON = Standing.LAW, Standing.OFFICIAL_PRACTICE, Standing.COMMON_PRACTICE
READ, MEMORY = Checked.READ, Checked.MEMORY

# book, rule, disease, value, unit, standing, part of the citation, status
VALUES = [
    ("england-and-wales", "notify.within", AFB, 0, "days", LAW, "SI 2006/342", READ),  # art. 3: immediately
    ("england-and-wales", "notify.on_suspicion", EFB, True, "yes or no", LAW, "art. 3", READ),
    ("england-and-wales", "confirm.by", AFB, ("laboratory", "field_kit"), "words", LAW, "art. 7(1)", READ),
    ("england-and-wales", "clearance.permitted", AFB, ("destroyed",), "words", LAW, "art. 7(2)", READ),
    ("england-and-wales", "reinspect.earliest", EFB, 6, "weeks", COMMON, "May 2021", READ),
    ("england-and-wales", "sweep.first_ring", AFB, 3000, "m", OFFICIAL, "3 km", READ),
    ("scotland", "reinspect.earliest", EFB, 6, "weeks", OFFICIAL, "control plan 2020", READ),
    ("scotland", "reinspect.counted_from", EFB, "confirmation", "word", OFFICIAL, "after diagnosis", READ),
    ("scotland", "sweep.first_ring", AFB, 3000, "m", OFFICIAL, "25 May 2021", READ),
    ("scotland", "sweep.widened_ring", AFB, 5000, "m", OFFICIAL, "16 July 2010", READ),
    ("eu-baseline", "move.clear_radius", AFB, 3000, "m", LAW, "2020/688 art. 48", READ),
    ("eu-baseline", "move.clear_before", AFB, 30, "days", LAW, "2020/688 art. 48", READ),
    ("eu-baseline", "move.pest_clear_radius", AFB, 100_000, "m", LAW, "2020/688 art. 48", READ),
    ("germany", "zone.radius", AFB, 1000, "m", LAW, "§ 10(1)", READ),
    ("germany", "zone.examine_within", AFB, 0, "days", LAW, "§ 11(1)", READ),
    ("germany", "reinspect.earliest", AFB, 2, "months", LAW, "§ 11(1)", READ),
    ("germany", "reinspect.latest", AFB, 9, "months", LAW, "§ 11(1)", READ),
    ("germany", "clearance.permitted", AFB, ("destroyed", "treated"), "words", LAW, "§ 9", MEMORY),
    ("switzerland", "zone.radius", AFB, 2000, "m", LAW, "TSV", READ),
    ("switzerland", "zone.radius", EFB, 1000, "m", LAW, "TSV", READ),
    ("switzerland", "zone.examine_within", AFB, 30, "days", LAW, "30 days", READ),
    ("switzerland", "clearance.within", AFB, 10, "days", LAW, "art. 271", READ),
    ("switzerland", "release.earliest", EFB, 60, "days", LAW, "60 days", READ),
    ("new-zealand", "notify.within", AFB, 7, "days", LAW, "SR 1998/260", READ),
    ("new-zealand", "clearance.within", AFB, 7, "days", LAW, "SR 1998/260", READ),
    (
        "new-zealand",
        "confirm.by",
        AFB,
        ("signs", "laboratory", "field_kit"),
        "words",
        LAW,
        "any clinical sign",
        READ,
    ),
    ("common-practice", "sweep.first_ring", AFB, 3000, "m", COMMON, "", READ),
    ("common-practice", "sweep.widened_ring", AFB, 5000, "m", COMMON, "", READ),
    ("common-practice", "reinspect.earliest", AFB, 6, "weeks", COMMON, "", READ),
    ("common-practice", "clearance.permitted", AFB, ("destroyed",), "words", COMMON, "", READ),
]


@pytest.mark.parametrize(
    ("book", "name", "disease", "value", "unit", "standing", "citation", "status"), VALUES
)
def test_a_value_is_what_its_text_says(
    book: str,
    name: str,
    disease: Disease,
    value: object,
    unit: str,
    standing: Standing,
    citation: str,
    status: Checked,
) -> None:
    rule = BOOKS[book].rule(name, disease, ON)
    assert (rule.value, rule.unit, rule.standing, rule.checked) == (value, unit, standing, status)
    assert rule.book == book and citation in rule.citation


def test_a_disease_that_is_not_notifiable_in_a_place_is_said_not_to_be() -> None:
    # Germany, New Zealand: American foulbrood only (read).
    for book in ("germany", "new-zealand"):
        assert BOOKS[book].rule("notify.notifiable", AFB, ON).is_yes()
        assert not BOOKS[book].rule("notify.notifiable", EFB, ON).is_yes()


def test_no_radius_is_invented_where_the_law_has_none() -> None:
    # England, Wales, Scotland: infected areas are for pests; NZ, California, Florida, Australia: none (read).
    for book in (
        "england-and-wales",
        "scotland",
        "new-zealand",
        "california",
        "florida",
        "western-australia",
    ):
        assert BOOKS[book].find("zone.radius", AFB, ON) is None


def test_the_german_zone_is_at_least_its_radius_and_the_swiss_usually() -> None:
    assert BOOKS["germany"].rule("zone.radius", AFB, ON).bound is Bound.AT_LEAST  # § 10(1)
    assert BOOKS["switzerland"].rule("zone.radius", AFB, ON).bound is Bound.USUALLY


def test_northern_ireland_answers_by_the_instrument_in_force() -> None:
    # SR 1998/191 art. 8 was read, the articles of SR 2007/246 on destruction were not.
    book = BOOKS["northern-ireland"]
    old = book.rule("clearance.permitted", EFB, date(2005, 6, 1))
    assert old.value == ("destroyed", "treated") and "SR 1998/191 art. 8" in old.citation
    assert book.rule("clearance.permitted", EFB, ON).is_fallback


def test_16_17_six_weeks_are_two_worker_cycles_and_end_on_13_july() -> None:
    # 16: S46 (Scottish EFB control plan 2020), 2 x 21 days; 17: computed.
    span = BOOKS["common-practice"].rule("reinspect.earliest", AFB, ON).duration()
    assert after(ON, span) == date(2026, 7, 13)
    assert after(ON, span) - ON == timedelta(days=2 * 21)


def test_4_the_tracing_window_holds_what_shows_within_six_months() -> None:
    # S12 (Goodwin & Van Eaton 1999): per cent of colonies by month from feeding of spores to signs.
    by_month = [19, 30, 11, 14, 11, 6]
    assert [sum(by_month[:months]) for months in (2, 3, 6)] == [49, 60, 91]
    before_days, _ = BOOKS["common-practice"].tracing_days(AFB, ON)
    assert before_days >= 6 * 31
    assert BOOKS["common-practice"].rule("trace.days_before", AFB, ON).standing is Standing.PROJECT_CHOICE


def test_18_switzerland_efb_is_lifted_on_31_july_at_the_earliest() -> None:
    span = BOOKS["switzerland"].rule("release.earliest", EFB, ON).duration()
    assert after(ON, span) == date(2026, 7, 31)  # S87, computed from read


def test_19_switzerland_afb_is_destroyed_by_11_june_and_the_zone_checked_by_1_july() -> None:
    book = BOOKS["switzerland"]
    assert after(ON, book.rule("clearance.within", AFB, ON).duration()) == date(2026, 6, 11)  # S87
    assert after(ON, book.rule("zone.examine_within", AFB, ON).duration()) == date(2026, 7, 1)  # S87


def test_20_germany_looks_again_from_1_august_to_1_march() -> None:
    book = BOOKS["germany"]
    assert after(ON, book.rule("reinspect.earliest", AFB, ON).duration()) == date(2026, 8, 1)  # S85 § 11
    assert after(ON, book.rule("reinspect.latest", AFB, ON).duration()) == date(2027, 3, 1)  # S85 § 11


@pytest.mark.parametrize(
    ("reported_on", "distance_m", "is_pest", "is_allowed"),
    [
        (date(2026, 6, 2), 2900.0, False, False),  # 21
        (date(2026, 6, 1), 2900.0, False, False),  # the first of the 30 days counts (our reading)
        (date(2026, 5, 31), 2900.0, False, True),  # 21
        (date(2026, 6, 2), 3100.0, False, True),  # 21, if not restricted
        (date(2026, 6, 2), 99_000.0, True, False),  # 22
        (date(2026, 6, 2), 101_000.0, True, True),  # 22
    ],
)
def test_21_22_moves_between_states_of_the_union(
    reported_on: date, distance_m: float, is_pest: bool, is_allowed: bool
) -> None:
    report = Report(reported_on=reported_on, distance_m=distance_m, is_pest=is_pest)
    departs_on = date(2026, 7, 1)
    answer = may_move(BOOKS["eu-baseline"], AFB, departs_on, [report])
    assert answer is not None and answer.is_allowed is is_allowed  # S84, Del. Reg. (EU) 2020/688 art. 48
    held = may_move(BOOKS["eu-baseline"], AFB, departs_on, [], is_restricted=True)
    assert held is not None and not held.is_allowed
    assert may_move(BOOKS["scotland"], AFB, departs_on, [report]) is None


@pytest.mark.parametrize(
    ("infected", "total", "is_full"),
    [(2, 99, False), (3, 99, True), (2, 100, True), (2, 150, False), (3, 150, True)],
)
def test_23_california_inspects_every_colony_beyond_the_limit(
    infected: int, total: int, is_full: bool
) -> None:
    rule = BOOKS["california"].rule("inspect.full_when", AFB, ON)  # S93, § 29200(b)
    assert needs_full_inspection(rule, infected, total) is is_full


def test_24_california_sets_a_limit_of_24_to_48_hours() -> None:
    rule = BOOKS["california"].rule("clearance.notice_limits", AFB, ON)  # S93, § 29206
    served_at = datetime(2026, 6, 1, 8, 0, tzinfo=UTC)
    assert notice_limits(rule, served_at) == (
        datetime(2026, 6, 2, 8, 0, tzinfo=UTC),
        datetime(2026, 6, 3, 8, 0, tzinfo=UTC),
    )


@pytest.mark.parametrize(
    ("colonies", "sample"), [(8, 8), (10, 10), (150, 10), (200, 10), (201, 11), (300, 15)]
)
def test_25_florida_inspects_a_twentieth_and_at_least_ten(colonies: int, sample: int) -> None:
    rule = BOOKS["florida"].rule("inspect.sample", AFB, ON)  # S94; rounding up is ours
    assert colonies_to_inspect(rule, colonies) == sample


def test_26_new_zealand_certificate_is_due_within_14_days_and_before_15_december() -> None:
    rule = BOOKS["new-zealand"].rule("report.certificate", AFB, ON)  # S90, cl. 32
    assert certificate_due_on(rule, date(2026, 9, 20)) == date(2026, 10, 4)
    assert certificate_due_on(rule, date(2026, 11, 30)) == date(2026, 12, 14)


def test_27_new_zealand_learnt_on_3_march_is_told_and_destroyed_by_10_march() -> None:
    for name in ("notify.within", "clearance.within"):
        span = BOOKS["new-zealand"].rule(name, AFB, ON).duration()
        assert after(date(2026, 3, 3), span) == date(2026, 3, 10)  # S111


@pytest.mark.parametrize(
    ("cells", "frames", "grade"),
    [(2, 1, Severity.LIGHT), (40, 4, Severity.MODERATE), (200, 5, Severity.HEAVY)],
)
def test_28_new_zealand_grades_by_cells_and_frames(cells: int, frames: int, grade: Severity) -> None:
    rule = BOOKS["new-zealand"].rule("severity.limits", AFB, ON)  # S111
    assert severity(rule, sick_cells=cells, sick_frames=frames) is grade


def test_40_one_part_of_bleach_in_five_of_water_is_half_a_per_cent() -> None:
    rule = BOOKS["common-practice"].rule("disinfect.hypochlorite", AFB, ON)  # S100
    parts = rule.figure("bleach_parts")
    mixed = rule.figure("bleach_share") * parts / (parts + rule.figure("water_parts"))
    assert mixed == pytest.approx(rule.figure("strength_share"), abs=1e-9)


def test_41_least_strengths_of_the_methods() -> None:
    common, florida = BOOKS["common-practice"], BOOKS["florida"]
    bleach = common.rule("disinfect.hypochlorite", AFB, ON)  # S100
    assert (bleach.figure("strength_share"), bleach.figure("minutes")) == (0.005, 20)
    wax = common.rule("disinfect.hot_wax", AFB, ON)  # S101
    assert (wax.figure("least_celsius"), wax.figure("minutes")) == (160, 10)
    assert common.rule("disinfect.gamma", AFB, ON).figure("least_kgy") == 15  # S102
    assert florida.rule("disinfect.gamma", AFB, ON).figure("least_kgy") == 20  # S94


@pytest.mark.parametrize(
    ("celsius", "heat"), [(159, WaxHeat.TOO_COLD), (160, WaxHeat.OK), (176, WaxHeat.FIRE_DANGER)]
)
def test_42_wax_is_neither_too_cold_nor_about_to_burn(celsius: float, heat: WaxHeat) -> None:
    assert judge_wax(BOOKS["western-australia"].rule("disinfect.hot_wax", AFB, ON), celsius) is heat  # S101


@pytest.mark.parametrize(("boxes", "litres"), [(1, 0.5), (2, 0.5), (3, 1.0), (4, 1.0), (5, None)])
def test_43_petrol_by_boxes_and_nothing_beyond_the_source(boxes: int, litres: float | None) -> None:
    assert petrol_litres(BOOKS["new-zealand"].rule("kill.petrol", AFB, ON), boxes) == litres  # S12


def test_44_two_feet_of_cover_in_centimetres() -> None:
    cover = BOOKS["california"].rule("dispose.pit", AFB, ON).figure("cover_cm")  # S93, § 29207
    assert cover == pytest.approx(2 * 12 * 2.54, abs=0.01)


def test_what_does_not_kill_spores_is_never_a_method() -> None:
    # Section 6: steam, alcohol, washing soda and the smoker's flame do not kill spores of P. larvae.
    for book in BOOKS.values():
        useless = set(book.rule("disinfect.does_not_kill", AFB, ON).word_list())
        assert useless == {"steam", "alcohol", "washing_soda", "smoker_flame"}
        assert not useless & set(book.rule("disinfect.allowed", AFB, ON).word_list())
