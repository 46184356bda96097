"""How much of what stands there the register knows, as finished sweeps tell it.

The two lists of the capture–recapture estimate are the register as it was and what a sweep saw on the ground. It can
be reckoned only where a sweep looked at the ground and not just at the list: where the team has ever entered an
apiary as found on the way.
"""

from __future__ import annotations

from datetime import date

from broodsweep.desk.context import Desk
from broodsweep.desk.rules import book_of
from broodsweep.desk.snapshot import Snapshot
from broodsweep.desk.sweeping import sweep_centres
from broodsweep.fieldbook.effects import FOUND_BY
from broodsweep.geo import Answer, ring
from broodsweep.outbreak import Outbreak
from broodsweep.register import Apiary
from broodsweep.spread.settings import Coverage

FINISHED_SHARE = 0.9
"""Share of the registered apiaries of the narrowest ring that a sweep must have seen to count as finished: our choice;
below it the unseen ones might differ from the seen."""


def was_found(apiary: Apiary) -> bool:
    """Say whether an apiary came on the register by being found on the way."""
    return any(header == FOUND_BY for header, _ in apiary.extra)


def coverage_of(desk: Desk, on: date) -> Coverage | None:
    """Return what the finished sweeps up to a day say of the register, together; None when none says anything.

    Counted are the apiaries that lie certainly within the narrowest ring round a case; an apiary in two rings once.
    """
    kept = desk.snapshot()
    if not any(map(was_found, kept.ground.apiaries)):
        return None
    registered: set[str] = set()
    seen: set[str] = set()
    for outbreak in kept.outbreaks:
        if outbreak.opened_on > on:
            continue
        inside = _inside(desk, kept, outbreak, on)
        looked = {name for name in inside if _is_seen(kept, name, outbreak.opened_on, on)}
        known = {name for name in inside if not was_found(kept.apiary(name))}
        if known and len(looked & known) >= FINISHED_SHARE * len(known):
            registered |= known
            seen |= looked
    if not registered:
        return None
    return Coverage(registered=len(registered), seen=len(seen), seen_registered=len(seen & registered))


def _inside(desk: Desk, kept: Snapshot, outbreak: Outbreak, on: date) -> set[str]:
    narrowest = min(book_of(desk, outbreak).ring_radii_m(outbreak.disease, on))
    found: set[str] = set()
    for case in sweep_centres(outbreak, on):
        answer = ring(kept.apiary(case).place, kept.places, (narrowest,))
        found |= {
            kept.ground.apiaries[int(number)].apiary
            for number in answer.index
            if answer.answer(int(number))[0] is Answer.IN
        }
    return {name for name in found if kept.apiary(name).is_kept_on(on)}


def _is_seen(kept: Snapshot, apiary: str, since: date, until: date) -> bool:
    return any(row.is_look and since <= row.visited_on <= until for row in kept.visits.get(apiary, ()))
