"""Typed answers to the questions that are more than one figure of one rule."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from broodsweep.constants import Disease, Goods
from broodsweep.rulebook.book import Rulebook
from broodsweep.rulebook.reckoning import after, day_of_year
from broodsweep.rulebook.rule import Rule
from broodsweep.rulebook.topics import BARRED_GOODS


@dataclass(frozen=True, kw_only=True)
class Rings:
    """The rings of the sweep, and the legal zone where there is one."""

    first: Rule
    widened: Rule
    zone: Rule | None

    @property
    def radii_m(self) -> tuple[float, ...]:
        """Radii from the smallest, each once. [m]"""
        rules = (self.zone, self.first, self.widened)
        return tuple(sorted({rule.number() for rule in rules if rule is not None}))


def rings(book: Rulebook, disease: Disease, on: date) -> Rings:
    """Return the rings to sweep round a case.

    Raises
    ------
    NoRuleError
        If neither the book nor its fallback has rings.
    """
    return Rings(
        first=book.rule("sweep.first_ring", disease, on),
        widened=book.rule("sweep.widened_ring", disease, on),
        zone=book.find("zone.radius", disease, on),
    )


@dataclass(frozen=True, kw_only=True)
class TracingWindow:
    """First and last day on which moves of a case's apiary are followed."""

    first_on: date
    last_on: date
    rules: tuple[Rule, Rule]


def tracing_window(book: Rulebook, disease: Disease, found_on: date) -> TracingWindow:
    """Return the days in which moves are followed round a finding.

    Raises
    ------
    NoRuleError
        If neither the book nor its fallback has a tracing window.
    """
    before = book.rule("trace.days_before", disease, found_on)
    behind = book.rule("trace.days_after", disease, found_on)
    return TracingWindow(
        first_on=found_on - timedelta(days=before.duration().count),
        last_on=after(found_on, behind.duration()),
        rules=(before, behind),
    )


def barred_goods(rule: Rule) -> frozenset[Goods]:
    """Return the goods of the register that a ban in the law's own words covers."""
    return frozenset().union(*(BARRED_GOODS[word] for word in rule.word_list()))


def needs_full_inspection(rule: Rule, infected: int, colonies: int) -> bool:
    """Say by ``inspect.full_when`` whether so many sick colonies call for a look into every colony."""
    if colonies <= rule.figure("small_colonies"):
        return infected > rule.figure("infected_over")
    return infected >= rule.figure("large_share") * colonies


def colonies_to_inspect(rule: Rule, colonies: int) -> int:
    """Return by ``inspect.sample`` how many colonies to look into: a share rounded up, not below the least."""
    # Rounded before rounding up, so that 5 % of 200 is not 10.000000000000002 and then 11.
    share = math.ceil(round(rule.figure("sample_share") * colonies, 9))
    return min(colonies, max(share, int(rule.figure("least_colonies"))))


def notice_limits(rule: Rule, served_at: datetime) -> tuple[datetime, datetime]:
    """Return by ``clearance.notice_limits`` the earliest and the latest time limit a notice may set."""
    return (
        served_at + timedelta(hours=rule.figure("least_hours")),
        served_at + timedelta(hours=rule.figure("most_hours")),
    )


def certificate_due_on(rule: Rule, inspected_on: date) -> date:
    """Return by ``report.certificate`` the last day for the certificate of a yearly inspection."""
    last = day_of_year(str(rule.figures()["before_day"]), inspected_on.year) - timedelta(days=1)
    return min(inspected_on + timedelta(days=rule.figure("within_days")), last)


class Severity(StrEnum):
    """How badly a colony is affected."""

    LIGHT = "light"
    MODERATE = "moderate"
    HEAVY = "heavy"


def severity(rule: Rule, *, sick_cells: int, sick_frames: int) -> Severity:
    """Grade a colony by ``severity.limits``: few cells are light, few frames moderate, more are heavy."""
    if sick_cells <= rule.figure("light_cells") and sick_frames <= 1:
        return Severity.LIGHT
    return Severity.MODERATE if sick_frames <= rule.figure("moderate_frames") else Severity.HEAVY


class WaxHeat(StrEnum):
    """Whether a wax bath is hot enough, and not too hot."""

    TOO_COLD = "too_cold"
    OK = "ok"
    FIRE_DANGER = "fire_danger"


def judge_wax(rule: Rule, celsius: float) -> WaxHeat:
    """Judge the temperature of a wax bath by ``disinfect.hot_wax``. [degree Celsius]"""
    if celsius < rule.figure("least_celsius"):
        return WaxHeat.TOO_COLD
    return WaxHeat.FIRE_DANGER if celsius > rule.figure("danger_celsius") else WaxHeat.OK


def petrol_litres(rule: Rule, boxes: int) -> float | None:
    """Return by ``kill.petrol`` how much to use for so many boxes, None beyond what the source states. [l]"""
    if boxes < 1:
        raise ValueError(f"Expected at least one box, got {boxes}.")
    if boxes <= rule.figure("small_boxes"):
        return rule.figure("small_litres")
    return rule.figure("large_litres") if boxes <= rule.figure("large_boxes") else None


@dataclass(frozen=True, kw_only=True)
class Report:
    """A finding near the place that a consignment is to leave."""

    reported_on: date
    distance_m: float
    is_pest: bool = False
    """True for small hive beetle and *Tropilaelaps*, which have a wider circle; False for the disease."""


@dataclass(frozen=True, kw_only=True)
class MoveAnswer:
    """Whether bees may leave, with the rules and the reports that stand against it."""

    is_allowed: bool
    against: tuple[Report, ...]
    is_restricted: bool
    rules: tuple[Rule, ...]


def may_move(
    book: Rulebook,
    disease: Disease,
    departs_on: date,
    reports: Iterable[Report],
    *,
    is_restricted: bool = False,
) -> MoveAnswer | None:
    """Say whether bees may leave under the rules on moves, or None where the book has no such rules.

    A report stands against the move when it lies within the circle (edge included) and not longer back than
    the days asked for, the first day included; a pest within its circle stands against it as long as reported.

    Parameters
    ----------
    book, disease
        Rulebook and disease.
    departs_on
        Day of departure.
    reports
        Findings with their distance from the place of departure.
    is_restricted
        Whether the place of departure lies in an area under restrictions.
    """
    names = ("move.clear_radius", "move.clear_before", "move.pest_clear_radius")
    found = [book.find(name, disease, departs_on) for name in names]
    radius, before, pest_radius = found
    if radius is None or before is None:
        return None
    first_on = departs_on - timedelta(days=before.duration().count)

    def stands_against(report: Report) -> bool:
        if report.is_pest:
            return pest_radius is not None and report.distance_m <= pest_radius.number()
        return report.distance_m <= radius.number() and report.reported_on >= first_on

    against = tuple(report for report in reports if stands_against(report))
    rules = tuple(rule for rule in found if rule is not None)
    return MoveAnswer(
        is_allowed=not against and not is_restricted,
        against=against,
        is_restricted=is_restricted,
        rules=rules,
    )
