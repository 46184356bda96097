"""Cuts the records of an apiary into episodes of disease: findings that lie near in time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from broodsweep.constants import Disease
from broodsweep.register import Removal, Visit
from broodsweep.rulebook import Rulebook


@dataclass(frozen=True, kw_only=True)
class Episode:
    """Findings and removals of one disease at one apiary, with the visits that follow them.

    ``last_on`` is the day of the last finding or removal; later clean visits do not prolong an episode.
    """

    apiary: str
    first_on: date
    last_on: date
    records: tuple[Visit | Removal, ...]

    def gap_to(self, other: Episode) -> timedelta:
        """Return the time between the end of the one and the beginning of the other, zero if they overlap."""
        later, earlier = max(self.first_on, other.first_on), min(self.last_on, other.last_on)
        return max(timedelta(0), later - earlier)


def _day(record: Visit | Removal) -> date:
    return record.visited_on if isinstance(record, Visit) else record.removed_on


def _order(record: Visit | Removal) -> tuple[date, int, str]:
    """Visits come before removals of the same day: what is removed was looked at first."""
    if isinstance(record, Visit):
        return record.visited_on, 0, record.visit
    return record.removed_on, 1, record.removal


def is_finding(record: Visit | Removal, disease: Disease) -> bool:
    """Say whether a record tells of the disease."""
    if record.disease != disease:
        return False
    return isinstance(record, Removal) or record.saw_signs


def episodes_of(
    disease: Disease, visits: Iterable[Visit], removals: Iterable[Removal], book: Rulebook
) -> list[Episode]:
    """Return the episodes of a disease at every apiary, by apiary and time.

    A finding later than the tracing window after the last one begins an episode of its own.
    """
    rows: dict[str, list[Visit | Removal]] = defaultdict(list)
    touched: set[str] = set()
    everything: list[Visit | Removal] = [*visits, *removals]
    for record in everything:
        if isinstance(record, Visit) or record.disease == disease:
            rows[record.apiary].append(record)
        if is_finding(record, disease):
            touched.add(record.apiary)
    found = []
    for apiary in sorted(touched):
        current: list[Visit | Removal] = []
        first_on = last_on = date.min
        for record in sorted(rows[apiary], key=_order):
            day = _day(record)
            if is_finding(record, disease):
                before, _ = book.tracing_days(disease, day)
                if current and day - last_on > timedelta(days=before):
                    found.append(
                        Episode(apiary=apiary, first_on=first_on, last_on=last_on, records=tuple(current))
                    )
                    current = []
                if not current:
                    first_on = day
                last_on = day
                current.append(record)
            elif current:
                current.append(record)
        found.append(Episode(apiary=apiary, first_on=first_on, last_on=last_on, records=tuple(current)))
    return found
