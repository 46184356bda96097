"""The matters that a rule can be about, and what its value may be: the vocabulary of every book."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from broodsweep.constants import Clearance, Goods


class Kind(StrEnum):
    """What the value of a rule is."""

    TIME = "time"
    DISTANCE = "distance"
    COUNT = "count"
    YES_NO = "yes or no"
    WORD = "word"
    WORDS = "words"
    FIGURES = "figures"


UNITS: Mapping[Kind, tuple[str, ...]] = {
    Kind.TIME: ("days", "weeks", "months", "hours"),
    Kind.DISTANCE: ("m",),
    Kind.COUNT: ("count",),
    Kind.YES_NO: ("yes or no",),
    Kind.WORD: ("word",),
    Kind.WORDS: ("words",),
    Kind.FIGURES: ("figures",),
}


@dataclass(frozen=True, kw_only=True)
class Topic:
    """One matter: its kind, and the words or the figures that its value may hold.

    Figures marked as optional may be left out; text figures are days of the year written ``MM-DD``.
    """

    kind: Kind
    words: tuple[str, ...] = ()
    figures: tuple[str, ...] = ()
    optional: tuple[str, ...] = field(default=())


EVIDENCE = ("signs", "field_kit", "laboratory", "veterinary_examination")
PEOPLE = (
    "authorised_person",
    "inspector",
    "competent_authority",
    "official_veterinarian",
    "cantonal_veterinarian",
    "agency",
    "approved_keeper",
    "department",
    "provincial_officer",
)
ADDRESSEES = ("inspectorate", "competent_authority", "agency", "department")
MOMENTS = ("finding", "confirmation", "clearance")
STARTS = ("suspicion", "confirmation", "notice")
MEASURES = (
    "notice_served",
    "comb_burned",
    "equipment_disinfected",
    "disinfection_accepted",
    "site_closed_up",
    "kit_cleaned",
)
CONDITIONS = (
    "sick_colonies_gone",
    "clean_reinspection",
    "disinfection_accepted",
    "ended_in_writing",
    "zone_examined",
)
METHODS = ("scorching", "hypochlorite", "hot_wax", "gamma", "caustic_soda", "ethylene_oxide")
USELESS = ("steam", "alcohol", "washing_soda", "smoker_flame")
CAUTIONS = ("fire", "petrol", "pit", "hot_wax", "caustic", "bleach", "stings", "supervision")
SCOPES = ("sick_and_suspect", "whole_apiary", "sick_or_whole_apiary")
BARRED_GOODS: Mapping[str, frozenset[Goods]] = {
    "bees": frozenset({Goods.COLONIES, Goods.NUCLEI, Goods.QUEENS}),
    "hives": frozenset({Goods.COLONIES, Goods.NUCLEI, Goods.BOXES}),
    "combs": frozenset({Goods.BROOD_COMB, Goods.DRAWN_COMB, Goods.COLONIES, Goods.NUCLEI}),
    "bee_products": frozenset({Goods.HONEY}),
    "wax": frozenset({Goods.BROOD_COMB, Goods.DRAWN_COMB}),
    "honey_for_feeding": frozenset({Goods.HONEY}),
    "stores": frozenset({Goods.HONEY}),
    "debris": frozenset(),
    "appliances": frozenset({Goods.BOXES, Goods.EXTRACTOR}),
    "anything_liable_to_spread": frozenset(Goods),
}
"""Goods in the words of the laws, and which goods of the register each of them covers."""

_BARRED = tuple(BARRED_GOODS)
_TIME = Topic(kind=Kind.TIME)
_DISTANCE = Topic(kind=Kind.DISTANCE)
_COUNT = Topic(kind=Kind.COUNT)
_YES_NO = Topic(kind=Kind.YES_NO)

TOPICS: Mapping[str, Topic] = {
    "notify.notifiable": _YES_NO,
    "notify.on_suspicion": _YES_NO,
    "notify.within": _TIME,
    "notify.to": Topic(kind=Kind.WORD, words=ADDRESSEES),
    "confirm.suspected_by": Topic(kind=Kind.WORDS, words=EVIDENCE),
    "confirm.by": Topic(kind=Kind.WORDS, words=EVIDENCE),
    "weigh.limits": Topic(kind=Kind.FIGURES, figures=("suspect_share", "confirm_share")),
    "sweep.first_ring": _DISTANCE,
    "sweep.widened_ring": _DISTANCE,
    "zone.radius": _DISTANCE,
    "zone.examine_within": _TIME,
    "zone.goods_out": Topic(kind=Kind.WORDS, words=_BARRED),
    "zone.goods_in": Topic(kind=Kind.WORDS, words=_BARRED),
    "notice.within": _TIME,
    "notice.signed_by": Topic(kind=Kind.WORDS, words=PEOPLE),
    "clearance.permitted": Topic(kind=Kind.WORDS, words=tuple(Clearance)),
    "clearance.scope": Topic(kind=Kind.WORD, words=SCOPES),
    "clearance.within": _TIME,
    "clearance.notice_limits": Topic(kind=Kind.FIGURES, figures=("least_hours", "most_hours")),
    "measures.required": Topic(kind=Kind.WORDS, words=MEASURES),
    "measures.within": _TIME,
    "standstill.from": Topic(kind=Kind.WORD, words=STARTS),
    "standstill.goods_out": Topic(kind=Kind.WORDS, words=_BARRED),
    "standstill.goods_in": Topic(kind=Kind.WORDS, words=_BARRED),
    "reinspect.counted_from": Topic(kind=Kind.WORD, words=MOMENTS),
    "reinspect.earliest": _TIME,
    "reinspect.latest": _TIME,
    "reinspect.clean_needed": _COUNT,
    "release.earliest": _TIME,
    "release.needs": Topic(kind=Kind.WORDS, words=CONDITIONS),
    "release.signed_by": Topic(kind=Kind.WORDS, words=PEOPLE),
    "trace.days_before": _TIME,
    "trace.days_after": _TIME,
    "cautions.shown": Topic(kind=Kind.WORDS, words=CAUTIONS),
    "kill.petrol": Topic(
        kind=Kind.FIGURES,
        figures=(
            "small_boxes",
            "small_litres",
            "large_boxes",
            "large_litres",
            "wait_minutes",
            "wait_to_minutes",
        ),
    ),
    "dispose.pit": Topic(kind=Kind.FIGURES, figures=("cover_cm",)),
    "disinfect.allowed": Topic(kind=Kind.WORDS, words=METHODS),
    "disinfect.does_not_kill": Topic(kind=Kind.WORDS, words=USELESS),
    "disinfect.hypochlorite": Topic(
        kind=Kind.FIGURES,
        figures=("strength_share", "minutes"),
        optional=("bleach_share", "bleach_parts", "water_parts"),
    ),
    "disinfect.hot_wax": Topic(
        kind=Kind.FIGURES, figures=("least_celsius", "minutes", "danger_celsius"), optional=("flash_celsius",)
    ),
    "disinfect.gamma": Topic(kind=Kind.FIGURES, figures=("least_kgy",), optional=("most_kg",)),
    "disinfect.ethylene_oxide": Topic(kind=Kind.FIGURES, figures=("mg_per_litre", "celsius", "hours")),
    "inspect.full_when": Topic(kind=Kind.FIGURES, figures=("small_colonies", "infected_over", "large_share")),
    "inspect.sample": Topic(kind=Kind.FIGURES, figures=("sample_share", "least_colonies")),
    "inspect.season": Topic(kind=Kind.FIGURES, figures=("first_day", "last_day")),
    "report.certificate": Topic(kind=Kind.FIGURES, figures=("within_days", "before_day")),
    "report.annual_return": Topic(kind=Kind.FIGURES, figures=("by_day",)),
    "report.finding_within": _TIME,
    "severity.limits": Topic(kind=Kind.FIGURES, figures=("light_cells", "moderate_frames")),
    "move.clear_radius": _DISTANCE,
    "move.pest_clear_radius": _DISTANCE,
    "move.clear_before": _TIME,
}
DAY_FIGURES = frozenset({"first_day", "last_day", "before_day", "by_day"})
"""Figures that are a day of the year, written ``MM-DD``."""
