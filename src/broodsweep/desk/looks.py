"""Looks at an apiary that belong to no case: kept as they were weighed, never changed, and a case can be opened on one.

A look is kept under a setting of its own, ``look/<number>``: every change of a setting is in the journal, so that what
was seen, by whom and when cannot be altered without a trace.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.evidence import WEIGHING, evidence_text, kept_weighing
from broodsweep.desk.ports import Author
from broodsweep.desk.snapshot import Snapshot
from broodsweep.desk.weighing import Look, weigh_look
from broodsweep.diagnosis import Reading, Season, State
from broodsweep.errors import NotFoundError, RefusedError
from broodsweep.words import Message

LOOK = "look/"
"""Beginning of the names of the settings that keep looks."""
_GRAVE = frozenset({State.SUSPECTED, State.CONFIRMED})


@dataclass(frozen=True, kw_only=True)
class KeptLook:
    """A look at an apiary as it was kept: what was entered, how it was weighed then, in which words.

    ``conditions`` are the most probable ones with probability, low and high, as they were then. ``outbreak`` is the
    one that the look was attached to later, None while it belongs to no case.
    """

    number: int
    apiary: str
    looked_on: date
    who: str
    state: State
    conditions: tuple[tuple[str, float, float, float], ...]
    text: str
    look: Look
    lots: tuple[str, ...]
    outbreak: str | None = None

    @property
    def suspects(self) -> Disease | None:
        """The foulbrood that a case can be opened for on this look, None when it does not lead to suspicion."""
        if self.state not in _GRAVE:
            return None
        return next((Disease(name) for name, *_ in self.conditions if name in tuple(Disease)), None)


def keep_look(desk: Desk, author: Author, look: Look, *, write: Callable[[Message], str]) -> KeptLook:
    """Keep a look at an apiary, weighed anew, and return it; nothing follows from it by itself.

    Parameters
    ----------
    write
        Puts a sentence into the words of the record.

    Raises
    ------
    RefusedError
        If no apiary is named, or nothing was seen or tested.
    """
    if look.apiary is None:
        raise RefusedError("weigh.needs_apiary")
    if not look.signs and not look.tests:
        raise RefusedError("weigh.needs_look")
    weighed = weigh_look(desk, look)
    kept = {
        "apiary": look.apiary,
        "looked_on": look.looked_on.isoformat(),
        "who": author.who,
        "text": evidence_text(weighed, write),
        "weighing": kept_weighing(weighed),
        "look": _plain(look),
    }
    with desk.store.work(author, "keep_look") as work:
        number = 1 + max((n for n, _ in _rows(desk.snapshot())), default=0)
        work.set(f"{LOOK}{number}", kept)
    return kept_look(desk, number)


def looks_at(desk: Desk, apiary: str) -> tuple[KeptLook, ...]:
    """Return the looks at an apiary, the newest first."""
    snapshot = desk.snapshot()
    attached = dict(_attached(snapshot))
    found = [
        _look_of(number, row, attached.get(number))
        for number, row in _rows(snapshot)
        if row["apiary"] == apiary
    ]
    return tuple(sorted(found, key=lambda row: (row.looked_on, row.number), reverse=True))


def kept_look(desk: Desk, number: int) -> KeptLook:
    """Return a look by its number.

    Raises
    ------
    NotFoundError
        If there is no such look.
    """
    snapshot = desk.snapshot()
    row = dict(_rows(snapshot)).get(number)
    if row is None:
        raise NotFoundError("weigh.no_such_look", number=number)
    return _look_of(number, row, dict(_attached(snapshot)).get(number))


def lots_of_looks(snapshot: Snapshot) -> Iterator[str]:
    """Give the lot of every kit that a look used which belongs to no case; those of cases are counted there."""
    attached = dict(_attached(snapshot))
    for number, row in _rows(snapshot):
        if number not in attached:
            yield from (str(lot) for lot in row["weighing"].get("lots", ()))


def moved_looks(snapshot: Snapshot, drop: str, keep: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Give the settings that take the looks at one apiary over to another, when the two turn out to be one."""
    for number, row in _rows(snapshot):
        if row["apiary"] == drop:
            yield f"{LOOK}{number}", {**row, "apiary": keep}


def _rows(snapshot: Snapshot) -> Iterator[tuple[int, Mapping[str, Any]]]:
    for name, value in snapshot.settings.items():
        if name.startswith(LOOK) and name.removeprefix(LOOK).isdecimal() and isinstance(value, Mapping):
            yield int(name.removeprefix(LOOK)), value


def _attached(snapshot: Snapshot) -> Iterator[tuple[int, str]]:
    """Give the number of every look that became evidence of a case, with the outbreak."""
    for outbreak in snapshot.outbreaks:
        for case in outbreak.cases:
            for event in case.events:
                weighing = event.detail.get(WEIGHING)
                if isinstance(weighing, Mapping) and weighing.get("look") is not None:
                    yield int(weighing["look"]), outbreak.outbreak


def _plain(look: Look) -> dict[str, Any]:
    tests = []
    for reading in look.tests:
        row = {name: value for name, value in asdict(reading).items() if value is not None}
        if reading.lines is not None:
            row["lines"] = sorted(reading.lines)
        if reading.done_on is not None:
            row["done_on"] = reading.done_on.isoformat()
        tests.append(row)
    return {
        "signs": dict(look.signs),
        "tests": tests,
        "season": None if look.season is None else str(look.season),
        "observer": look.observer,
        "bought_in": look.bought_in,
        "fed_honey": look.fed_honey,
        "uses_hidden": look.uses_hidden,
    }


def _look_of(number: int, row: Mapping[str, Any], outbreak: str | None) -> KeptLook:
    given, weighing = row["look"], row["weighing"]
    looked_on = date.fromisoformat(row["looked_on"])
    plain = Look(
        looked_on=looked_on,
        apiary=row["apiary"],
        signs=given["signs"],
        tests=tuple(_reading(entry) for entry in given["tests"]),
        observer=given["observer"],
        bought_in=given["bought_in"],
        fed_honey=given["fed_honey"],
        uses_hidden=given["uses_hidden"],
    )
    return KeptLook(
        number=number,
        apiary=row["apiary"],
        looked_on=looked_on,
        who=row["who"],
        state=State(weighing["state"]),
        conditions=tuple(
            (str(n), float(p), float(low), float(high)) for n, p, low, high in weighing["conditions"]
        ),
        text=row["text"],
        look=replace(plain, season=Season(given["season"]) if given["season"] else None),
        lots=tuple(weighing.get("lots", ())),
        outbreak=outbreak,
    )


def _reading(entry: Mapping[str, Any]) -> Reading:
    made = dict(entry)
    if "lines" in made:
        made["lines"] = frozenset(made["lines"])
    if "done_on" in made:
        made["done_on"] = date.fromisoformat(made["done_on"])
    return Reading(**made)
