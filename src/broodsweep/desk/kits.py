"""Test kits: the lots on the register, how many are left of each, and what must be said of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.evidence import WEIGHING
from broodsweep.desk.looks import lots_of_looks
from broodsweep.desk.ports import Author
from broodsweep.desk.snapshot import Snapshot
from broodsweep.desk.weighing import kit_test
from broodsweep.diagnosis import lot_warnings
from broodsweep.register import Lot
from broodsweep.words import Message

WHERE = "where"
"""Column of the table of lots, beside ours, that says where the kits lie."""


@dataclass(frozen=True, kw_only=True)
class Kit:
    """A lot of test kits: the test it is for, how many are left, and what must be said of it.

    ``state`` is ``good``, ``expires_soon``, ``expired`` or ``used_up``; ``text`` is None for a good one.
    """

    lot: Lot
    test: str | None
    state: str
    left: int | None
    text: Message | None

    @property
    def where(self) -> str | None:
        """Where the kits lie, as somebody wrote it down."""
        return dict(self.lot.extra).get(WHERE)


def keep_lot(
    desk: Desk,
    author: Author,
    *,
    lot: str,
    disease: Disease,
    expires_on: date,
    count: int | None,
    where: str | None = None,
) -> Lot:
    """Enter a lot of field tests in the register, or correct the one of that name, and return it.

    Parameters
    ----------
    count
        Kits bought; None when nobody knows.
    where
        Where they lie, in the user's words.
    """
    known = next((row for row in desk.snapshot().ground.lots if row.lot == lot), None)
    extra = {**dict(known.extra if known else ()), **({WHERE: where} if where else {})}
    if not where:
        extra.pop(WHERE, None)
    same_kit = known is not None and kit_test(known.kit) == kit_test(f"{disease} field test")
    kept = Lot(
        lot=lot,
        kit=known.kit if known and same_kit else f"{disease} field test",
        expires_on=expires_on,
        count=count,
        extra=tuple(sorted(extra.items())),
    )
    with desk.store.work(author, "keep_lot") as work:
        work.save("lots", [kept])
    return kept


def kits(desk: Desk, on: date) -> tuple[Kit, ...]:
    """Return every lot on the register, the earliest date first, less the kits that weighings have used."""
    kept = desk.snapshot()
    used = list(used_lots(kept))
    named = [replace(lot, kit=kit_test(lot.kit) or lot.kit) for lot in kept.ground.lots]
    warned = {warning.lot.lot: warning for warning in lot_warnings(named, used=used, on=on)}
    found = []
    for lot in sorted(kept.ground.lots, key=lambda row: (row.expires_on, row.lot)):
        warning = warned.get(lot.lot)
        left = None if lot.count is None else max(lot.count - used.count(lot.lot), 0)
        found.append(
            Kit(
                lot=lot,
                test=kit_test(lot.kit),
                state=warning.state if warning else "good",
                left=left,
                text=warning.text if warning else None,
            )
        )
    return tuple(found)


def used_lots(kept: Snapshot) -> Iterator[str]:
    """Give the lot of every kit that a weighing used: as evidence of a case, or at a look that was kept."""
    yield from lots_of_looks(kept)
    for outbreak in kept.outbreaks:
        for case in outbreak.cases:
            for event in case.events:
                weighing = event.detail.get(WEIGHING)
                if isinstance(weighing, Mapping):
                    yield from (str(lot) for lot in weighing.get("lots", ()))
