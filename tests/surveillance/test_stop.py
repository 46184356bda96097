"""When may a sweep stop: the figures move as they should and name what binds."""

from __future__ import annotations

from datetime import date

import pytest

from broodsweep.surveillance import stop
from broodsweep.surveillance.freedom import probability_free, system_sensitivity


def at_risk(name: str, weight: float, sensitivity: float, visited: date | None = None) -> stop.AtRisk:
    return stop.AtRisk(apiary=name, weight=weight, sensitivity=sensitivity, last_visited_on=visited)


def linear(days: float) -> float:
    return min(1.0, days / 200.0)


def test_equal_risks_give_the_finite_two_stage_sensitivity_for_one_infected() -> None:
    rows = [at_risk(f"A{n}", 1.0, 0.85 if n < 60 else 0.0) for n in range(120)]
    assert stop.sweep_sensitivity(rows) == pytest.approx(system_sensitivity(120, 1, 60, 0.85))


def test_freedom_rises_with_every_useful_visit_until_the_target() -> None:
    rows = [at_risk(f"A{n}", 1.0 / (n + 1), 0.0) for n in range(10)]
    steps = stop.visits_that_help(rows, 0.99, 0.5, stop.Targets(free=0.9))
    figures = [figure for _, figure in steps]
    assert [name for name, _ in steps] == [f"A{n}" for n in range(len(steps))]
    assert figures == sorted(figures)
    assert figures[-1] >= 0.9 > figures[-2]


def test_no_visit_helps_once_the_target_is_reached() -> None:
    assert stop.visits_that_help([at_risk("A", 1.0, 0.99)], 0.9, 0.1, stop.Targets()) == ()


def test_a_visit_before_the_last_exposure_shows_nothing() -> None:
    rows = [at_risk("A", 1.0, 0.9, date(2026, 6, 1)), at_risk("B", 1.0, 0.9, date(2027, 4, 1))]
    figure = stop.shown_figure(rows, date(2026, 7, 1), linear, stop.Targets())
    assert figure.value == 0.0
    assert not figure.is_reached


def test_the_last_visit_of_the_worst_apiary_decides() -> None:
    rows = [at_risk("A", 1.0, 0.9, date(2026, 10, 9)), at_risk("B", 1.0, 0.9, date(2027, 4, 1))]
    figure = stop.shown_figure(rows, date(2026, 7, 1), linear, stop.Targets())
    assert figure.value == pytest.approx(0.5)


def test_the_law_binds_before_the_figures() -> None:
    figures = [stop.freedom_figure([at_risk("A", 1.0, 0.0)], 0.5, stop.Targets())]
    assert stop.binding(figures, {"reinspection": False}) == "reinspection"
    assert stop.binding(figures, {"reinspection": True}) == "free"


def test_an_interval_is_read_at_its_cautious_end() -> None:
    sure = stop.Figure(name=stop.FigureName.NONE_LEFT, value=0.96, low=0.95, high=0.97, target=0.95)
    unsure = stop.Figure(name=stop.FigureName.NONE_LEFT, value=0.96, low=0.90, high=0.99, target=0.95)
    assert sure.is_reached
    assert not unsure.is_reached
    assert stop.binding([sure, unsure], {}) == "none_left"


def test_freedom_without_any_visit_is_the_prior() -> None:
    figure = stop.freedom_figure([at_risk("A", 1.0, 0.0)], 0.3, stop.Targets())
    assert figure.value == pytest.approx(probability_free(0.3, 0.0)) == pytest.approx(0.7)


def test_targets_outside_the_unit_interval_are_refused() -> None:
    with pytest.raises(ValueError, match="Expected free"):
        stop.Targets(free=1.0)
