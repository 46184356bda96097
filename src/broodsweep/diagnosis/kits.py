"""Field test kits: which lots run out of date, which are used up, what a lot is worth on a day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from broodsweep.diagnosis.constants import KIT_WARN_DAYS
from broodsweep.register import Lot
from broodsweep.words import Message, say


class LotState(StrEnum):
    """What is known of the lot that a test was done with."""

    GOOD = "good"
    EXPIRED = "expired"
    UNKNOWN = "unknown"
    WRONG_KIT = "wrong_kit"
    NOT_RECORDED = "not_recorded"
    NOT_CHECKED = "not_checked"


def state_of_lot(lot: str | None, lots: tuple[Lot, ...] | None, *, kit: str, on: date | None) -> LotState:
    """Return what a lot is worth on the day of the test.

    ``lots`` is the register of lots, None when there is none to look in: then a lot that was written
    down is taken as good but not checked. A kit may be used on the day it expires.
    """
    if lot is None or not lot.strip():
        return LotState.NOT_RECORDED
    if lots is None:
        return LotState.NOT_CHECKED
    found = next((entry for entry in lots if entry.lot == lot), None)
    if found is None:
        return LotState.UNKNOWN
    if found.kit != kit:
        return LotState.WRONG_KIT
    if on is None:
        return LotState.NOT_CHECKED
    return LotState.EXPIRED if on > found.expires_on else LotState.GOOD


@dataclass(frozen=True, kw_only=True)
class LotWarning:
    """A lot that needs attention, and why; ``left`` is None when nobody wrote down how many were bought."""

    lot: Lot
    state: str
    left: int | None
    text: Message


def lot_warnings(
    lots: Iterable[Lot], *, used: Iterable[str] = (), on: date, warn_days: int | None = None
) -> tuple[LotWarning, ...]:
    """List lots that have expired, expire soon or are used up, the earliest expiry first.

    Parameters
    ----------
    lots
        The lots, each with the number of kits bought.
    used
        The lot of every kit used so far.
    on
        The day of asking.
    warn_days
        How long before expiry to warn. [days]
    """
    ahead = timedelta(days=int(KIT_WARN_DAYS.value) if warn_days is None else warn_days)
    spent = list(used)
    found = []
    for lot in sorted(lots, key=lambda entry: (entry.expires_on, entry.lot)):
        left = None if lot.count is None else lot.count - spent.count(lot.lot)
        kit = say(f"diagnosis.test.{lot.kit}") if lot.kit.startswith("lateral_flow_") else lot.kit
        given = {
            "lot": lot.lot,
            "kit": kit,
            "expires_on": lot.expires_on,
            "left": "?" if left is None else max(left, 0),
        }
        if left is not None and left <= 0:
            found.append(
                LotWarning(lot=lot, state="used_up", left=0, text=say("diagnosis.lot_used_up", **given))
            )
        elif on > lot.expires_on:
            found.append(
                LotWarning(lot=lot, state="expired", left=left, text=say("diagnosis.lot_expired", **given))
            )
        elif lot.expires_on - on <= ahead:
            days = say("common.days", count=(lot.expires_on - on).days)
            text = say("diagnosis.lot_expires_soon", days=days, **given)
            found.append(LotWarning(lot=lot, state="expires_soon", left=left, text=text))
    return tuple(found)
