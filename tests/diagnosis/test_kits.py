"""Lots: warnings before expiry, counts, states."""

from __future__ import annotations

from datetime import date

from broodsweep.diagnosis import lot_warnings
from broodsweep.register import Lot

DAY = date(2026, 6, 1)


def lot(name: str, expires_on: date, count: int | None = 10) -> Lot:
    return Lot(lot=name, kit="lateral_flow_efb", expires_on=expires_on, count=count)


def test_lots_that_expire_soon_are_named_before_they_do_the_earliest_first() -> None:
    lots = [
        lot("late", date(2027, 6, 1)),
        lot("soon", date(2026, 7, 1)),
        lot("gone", date(2026, 5, 31)),
        lot("sooner", date(2026, 6, 10)),
    ]
    found = lot_warnings(lots, on=DAY)
    assert [(w.lot.lot, w.state) for w in found] == [
        ("gone", "expired"),
        ("sooner", "expires_soon"),
        ("soon", "expires_soon"),
    ]


def test_warning_days_can_be_chosen_and_the_last_day_counts() -> None:
    lots = [lot("a", date(2026, 6, 11))]
    assert not lot_warnings(lots, on=DAY, warn_days=9)
    assert lot_warnings(lots, on=DAY, warn_days=10)[0].state == "expires_soon"
    assert lot_warnings(lots, on=date(2026, 6, 11), warn_days=0)[0].state == "expires_soon"
    assert lot_warnings(lots, on=date(2026, 6, 12), warn_days=0)[0].state == "expired"


def test_used_kits_are_counted_and_a_used_up_lot_is_named() -> None:
    lots = [lot("a", date(2026, 6, 11), 2), lot("b", date(2026, 6, 12), None)]
    found = lot_warnings(lots, used=["a", "a", "b"], on=DAY)
    assert [(w.state, w.left) for w in found] == [("used_up", 0), ("expires_soon", None)]
    assert lot_warnings(lots, used=["a"], on=DAY)[0].left == 1
