"""What does the law or the practice here require? Knows no cases."""

from __future__ import annotations

from broodsweep.rulebook.answers import (
    MoveAnswer,
    Report,
    Rings,
    Severity,
    TracingWindow,
    WaxHeat,
    barred_goods,
    certificate_due_on,
    colonies_to_inspect,
    judge_wax,
    may_move,
    needs_full_inspection,
    notice_limits,
    petrol_litres,
    rings,
    severity,
    tracing_window,
)
from broodsweep.rulebook.book import Rulebook, override, override_all, weakest
from broodsweep.rulebook.errors import BadBookError, BadOverrideError, NoBookError, NoRuleError
from broodsweep.rulebook.reading import COMMON_PRACTICE, get_book, load_books, read_book
from broodsweep.rulebook.reckoning import add_months, after
from broodsweep.rulebook.rule import Bound, Checked, Duration, InForce, Rule, Standing, Unit, Value
from broodsweep.rulebook.topics import TOPICS, Kind, Topic

__all__ = [
    "COMMON_PRACTICE",
    "TOPICS",
    "BadBookError",
    "BadOverrideError",
    "Bound",
    "Checked",
    "Duration",
    "InForce",
    "Kind",
    "MoveAnswer",
    "NoBookError",
    "NoRuleError",
    "Report",
    "Rings",
    "Rule",
    "Rulebook",
    "Severity",
    "Standing",
    "Topic",
    "TracingWindow",
    "Unit",
    "Value",
    "WaxHeat",
    "add_months",
    "after",
    "barred_goods",
    "certificate_due_on",
    "colonies_to_inspect",
    "get_book",
    "judge_wax",
    "load_books",
    "may_move",
    "needs_full_inspection",
    "notice_limits",
    "override",
    "override_all",
    "petrol_litres",
    "read_book",
    "rings",
    "severity",
    "tracing_window",
    "weakest",
]
