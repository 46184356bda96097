"""Outbreaks that plain tables tell by themselves: from visits and removals."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from broodsweep.constants import Clearance, Disease
from broodsweep.outbreak.episodes import Episode, episodes_of
from broodsweep.outbreak.history import Progress, apply
from broodsweep.outbreak.interval import Asked
from broodsweep.outbreak.model import Case, CaseState, Event, EventKind, Outbreak
from broodsweep.register import Removal, Visit
from broodsweep.rulebook import Rulebook
from broodsweep.words import Message, say

Near = Callable[[str, float], Collection[str]]
"""Gives the apiaries within so many metres of an apiary."""


@dataclass(frozen=True, kw_only=True)
class Told:
    """Outbreaks that tables tell, and what in the tables did not fit together."""

    outbreaks: tuple[Outbreak, ...]
    remarks: tuple[Message, ...]


def outbreaks_from_records(
    visits: Iterable[Visit],
    removals: Iterable[Removal],
    book: Rulebook,
    *,
    near: Near,
    recorded_at: datetime | None = None,
) -> tuple[Outbreak, ...]:
    """Return the outbreaks that visits and removals tell; see `read_records` for how."""
    return read_records(visits, removals, book, near=near, recorded_at=recorded_at).outbreaks


def read_records(
    visits: Iterable[Visit],
    removals: Iterable[Removal],
    book: Rulebook,
    *,
    near: Near,
    recorded_at: datetime | None = None,
) -> Told:
    """Return the outbreaks that visits and removals tell, with remarks on what does not fit.

    A visit with confirmed colonies confirms, one with suspect colonies only suspects; a removal clears. After
    a clearance a clean visit counts as a re-inspection when that was its purpose or the interval of the
    rulebook is over. A suspicion that was never confirmed is taken as not confirmed after a clean visit when
    that interval is over. A positive visit after a clearance begins the case anew. Nothing in the tables
    says that a standstill was lifted, so no case is released.

    Cases of one disease belong together when they lie within the widest ring of one another (single linkage)
    and no more than the tracing window lies between the end of one and the beginning of the other. Outbreaks
    are named by disease, year and order of the first finding, then of the apiary.

    Parameters
    ----------
    visits, removals
        Rows of the tables, in any order.
    book
        Rulebook, for the rings, the tracing window and the re-inspection interval.
    near
        Gives the apiaries within so many metres of an apiary.
    recorded_at
        Instant to write in the events; without it noon UTC of the day of each.
    """
    visits, removals = tuple(visits), tuple(removals)
    remarks: list[Message] = []
    groups: dict[Disease, list[list[Episode]]] = {}
    for disease in Disease:
        found = episodes_of(disease, visits, removals, book)
        groups[disease] = _linked(found, disease, book, near)
    for visit in visits:
        if visit.saw_signs and visit.disease is None:
            remarks.append(say("outbreak.remark_no_disease", visit=visit.visit, apiary=visit.apiary))
    outbreaks = []
    for disease, clusters in groups.items():
        counts: dict[int, int] = defaultdict(int)
        for cluster in sorted(clusters, key=lambda rows: (rows[0].first_on, rows[0].apiary)):
            opened_on = cluster[0].first_on
            counts[opened_on.year] += 1
            outbreaks.append(
                Outbreak(
                    outbreak=f"{disease}-{opened_on.year}-{counts[opened_on.year]}",
                    disease=disease,
                    rulebook=book.name,
                    opened_on=opened_on,
                    cases=_cases(cluster, disease, book, recorded_at, remarks),
                )
            )
    return Told(outbreaks=tuple(outbreaks), remarks=tuple(remarks))


def _linked(found: list[Episode], disease: Disease, book: Rulebook, near: Near) -> list[list[Episode]]:
    """Group episodes by single linkage in place and time; each group in order of its first finding."""
    root = list(range(len(found)))

    def top(number: int) -> int:
        while root[number] != number:
            root[number] = root[root[number]]
            number = root[number]
        return number

    at: dict[str, list[int]] = defaultdict(list)
    for number, row in enumerate(found):
        at[row.apiary].append(number)
    for number, row in enumerate(found):
        before, _ = book.tracing_days(disease, row.first_on)
        radius_m = book.ring_radii_m(disease, row.first_on)[-1]
        for apiary in {*near(row.apiary, radius_m), row.apiary}:
            for other in at.get(apiary, ()):
                if row.gap_to(found[other]) <= timedelta(days=before):
                    root[top(other)] = top(number)
    groups: dict[int, list[Episode]] = defaultdict(list)
    for number in range(len(found)):
        groups[top(number)].append(found[number])
    return [sorted(rows, key=lambda row: (row.first_on, row.apiary)) for rows in groups.values()]


def _cases(
    cluster: list[Episode],
    disease: Disease,
    book: Rulebook,
    recorded_at: datetime | None,
    remarks: list[Message],
) -> tuple[Case, ...]:
    by_apiary: dict[str, list[Episode]] = defaultdict(list)
    for row in cluster:
        by_apiary[row.apiary].append(row)
    cases = []
    for apiary, rows in by_apiary.items():
        teller = _Teller(apiary, disease, book, recorded_at, remarks)
        for row in rows:
            for record in row.records:
                teller.take(record)
        cases.append(Case(apiary=apiary, events=tuple(teller.events)))
    return tuple(cases)


class _Teller:
    """Turns the records of one apiary, in order, into the events of its case."""

    def __init__(
        self,
        apiary: str,
        disease: Disease,
        book: Rulebook,
        recorded_at: datetime | None,
        remarks: list[Message],
    ) -> None:
        self.apiary, self.disease, self.book = apiary, disease, book
        self.recorded_at, self.remarks = recorded_at, remarks
        self.events: list[Event] = []
        self.progress = Progress()
        self.sick = 0
        self.gone = 0

    def take(self, record: Visit | Removal) -> None:
        """Add what one record tells."""
        if isinstance(record, Removal):
            self._clear(record)
        elif record.colonies_confirmed and record.disease == self.disease:
            self._confirm(record)
        elif record.colonies_suspect and record.disease == self.disease:
            self._suspect(record)
        elif is_clean_look(record):
            self._look(record)

    def _confirm(self, visit: Visit) -> None:
        state, day = self.progress.state, visit.visited_on
        if state is CaseState.IN_REINSPECTION:
            self._remark("outbreak.remark_positive_after_clearance", day, visit.visit)
            self._add(EventKind.REINSPECTED_POSITIVE, visit)
            self.sick, self.gone = visit.colonies_confirmed, 0
            return
        if state is CaseState.NOT_CONFIRMED:
            self._remark("outbreak.remark_positive_after_not_confirmed", day, visit.visit)
            self._add(EventKind.REOPENED, visit)
        if self.progress.confirmed_on is None:
            self._add(EventKind.CONFIRMED, visit)
        self.sick = max(self.sick, visit.colonies_confirmed)

    def _suspect(self, visit: Visit) -> None:
        if self.progress.state is CaseState.NOT_CONFIRMED:
            self._add(EventKind.REOPENED, visit)
        elif self.progress.state in (None, CaseState.SUSPECTED, CaseState.IN_REINSPECTION):
            self._add(EventKind.SUSPECTED, visit)

    def _clear(self, removal: Removal) -> None:
        if self.progress.state is CaseState.NOT_CONFIRMED:
            self._add(EventKind.REOPENED, removal)
        if self.progress.confirmed_on is None:
            self._remark("outbreak.remark_removal_without_finding", removal.removed_on, "")
            self._add(EventKind.CONFIRMED, removal)
        self.gone += removal.colonies
        left = max(0, self.sick - self.gone)
        if left:
            self._remark("outbreak.remark_colonies_left", removal.removed_on, "", count=left)
        destroyed = removal.how is Clearance.DESTROYED
        permitted = self.book.find("clearance.permitted", self.disease, removal.removed_on)
        if permitted is not None and removal.how not in permitted.word_list():
            how = say(f"rulebook.word_{removal.how}")
            self._remark(
                "outbreak.remark_not_permitted", removal.removed_on, "", how=how, book=self.book.title
            )
        kind = EventKind.COLONIES_DESTROYED if destroyed else EventKind.COLONIES_TREATED
        self._add(kind, removal, how=str(removal.how), colonies=removal.colonies, colonies_left=left)

    def _look(self, visit: Visit) -> None:
        state, day = self.progress.state, visit.visited_on
        if state is CaseState.IN_REINSPECTION:
            asked = Asked(book=self.book, disease=self.disease, progress=self.progress)
            is_late_enough = asked.reinspect_from is not None and day >= asked.reinspect_from
            if is_reinspection(visit) or is_late_enough:
                self._add(EventKind.REINSPECTED_CLEAN, visit)
        elif state is CaseState.SUSPECTED and self.progress.found_on is not None:
            # Counted as if everything had been cleared on the day of the suspicion.
            as_if = Progress(
                state=state,
                found_on=self.progress.found_on,
                confirmed_on=self.progress.found_on,
                cleared_on=self.progress.found_on,
            )
            first_on = Asked(book=self.book, disease=self.disease, progress=as_if).reinspect_from
            if first_on is not None and day >= first_on:
                self._remark("outbreak.remark_suspicion_lapsed", day, visit.visit)
                self._add(EventKind.NOT_CONFIRMED, visit)

    def _add(self, kind: EventKind, record: Visit | Removal, **detail: object) -> None:
        if isinstance(record, Visit):
            day, key, who = record.visited_on, f"visit:{record.visit}", record.inspector or ""
        else:
            day, key, who = record.removed_on, f"removal:{record.removal}", ""
        event = Event(
            event=f"{key}:{kind}",
            apiary=self.apiary,
            kind=kind,
            happened_on=day,
            recorded_at=self.recorded_at or datetime.combine(day, time(12), UTC),
            who=who,
            evidence=key,
            detail={"from": "tables", **detail},
        )
        self.events.append(event)
        self.progress = apply(self.progress, event)

    def _remark(self, key: str, day: date, visit: str, **params: object) -> None:
        self.remarks.append(
            Message(key, {"apiary": self.apiary, "happened_on": day, "visit": visit, **params})
        )


def is_clean_look(visit: Visit) -> bool:
    """Say whether a visit saw no sign and looked at something, or found no colonies left."""
    return visit.is_look and not visit.saw_signs


def is_reinspection(visit: Visit) -> bool:
    """Say whether the purpose of a visit was a re-inspection, however it is spelled."""
    letters = "".join(letter for letter in (visit.purpose or "").lower() if letter.isalpha())
    return letters.startswith("reinspect")
