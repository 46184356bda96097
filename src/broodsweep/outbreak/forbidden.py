"""What is forbidden now, at which case or in which zone, and why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from broodsweep.constants import Goods
from broodsweep.outbreak.due import rule_record
from broodsweep.outbreak.history import OPEN_STATES, progress_of
from broodsweep.outbreak.interval import Asked
from broodsweep.outbreak.model import Case, EventKind, Outbreak
from broodsweep.rulebook import Rule, Rulebook, barred_goods
from broodsweep.words import Message, say


class Direction(StrEnum):
    """Which way the goods may not go."""

    OUT = "out"
    IN = "in"


@dataclass(frozen=True, kw_only=True)
class Forbidden:
    """Goods that may not leave, or may not be brought to, an apiary or the zone round it.

    ``radius_m`` is None at the apiary itself, else the radius of the zone round it.
    """

    outbreak: str
    apiary: str
    key: str
    direction: Direction
    radius_m: float | None
    words: tuple[str, ...]
    goods: frozenset[Goods]
    what: Message
    why: Message
    until: Message
    since_on: date
    rule: Rule

    def as_record(self) -> dict[str, Any]:
        """Return the ban as a plain table; its sentences are still to be put into words."""
        return {
            "outbreak": self.outbreak,
            "apiary": self.apiary,
            "key": self.key,
            "direction": self.direction,
            "radius_m": self.radius_m,
            "goods": sorted(self.goods),
            "what": self.what,
            "why": self.why,
            "until": self.until,
            "since_on": self.since_on,
            **rule_record(self.rule),
        }


def forbidden(outbreak: Outbreak, book: Rulebook, on: date) -> tuple[Forbidden, ...]:
    """Return what may not be moved on a day, at each open case and in the zone round it.

    At the case a ban runs from the day that the rulebook names (suspicion, confirmation, notice) until the
    release; in a zone it runs from the confirmation.
    """
    return tuple(ban for case in outbreak.cases for ban in _bans(outbreak, case, book, on))


def _bans(outbreak: Outbreak, case: Case, book: Rulebook, on: date) -> Iterator[Forbidden]:
    progress = progress_of(case, on)
    if progress.state not in OPEN_STATES:
        return
    asked = Asked(book=book, disease=outbreak.disease, progress=progress)
    starts = asked.rule("standstill.from")
    since = {
        "suspicion": progress.held_since,
        "confirmation": progress.confirmed_on,
        "notice": progress.done.get(EventKind.NOTICE_SERVED),
    }[str(starts.value) if starts else "suspicion"]
    zone = asked.rule("zone.radius")
    places: list[tuple[str, date | None, float | None]] = [("standstill", since, None)]
    if zone is not None:
        places.append(("zone", progress.confirmed_on, zone.number()))
    for place, since_on, radius_m in places:
        for direction in Direction:
            rule = asked.rule(f"{place}.goods_{direction}")
            if rule is not None and since_on is not None and rule.word_list():
                yield _ban(asked, outbreak, case, place, direction, rule, since_on, radius_m)


def _ban(
    asked: Asked,
    outbreak: Outbreak,
    case: Case,
    place: str,
    direction: Direction,
    rule: Rule,
    since_on: date,
    radius_m: float | None,
) -> Forbidden:
    words = [say(f"rulebook.word_{word}") for word in rule.word_list()]
    signs = asked.rule("release.signed_by")
    who = [say(f"rulebook.word_{word}") for word in signs.word_list()] if signs else []
    until = say("outbreak.until_release", who=who)
    key = f"{place}_{direction}"
    params: dict[str, object] = {"apiary": case.apiary, "goods": words}
    if radius_m is not None:
        params["radius_m"] = radius_m
    return Forbidden(
        outbreak=outbreak.outbreak,
        apiary=case.apiary,
        key=key,
        direction=direction,
        radius_m=radius_m,
        words=rule.word_list(),
        goods=barred_goods(rule),
        what=say(f"outbreak.forbidden.{key}", **params),
        why=say(
            "outbreak.forbidden_why",
            since_on=since_on,
            citation=rule.citation,
            standing=rule.standing_said,
            until=until,
        ),
        until=until,
        since_on=since_on,
        rule=rule,
    )
