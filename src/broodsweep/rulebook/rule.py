"""One rule: what is required, by which text, since when, how far that was checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from broodsweep.constants import Disease
from broodsweep.words import Message, say

Value = bool | int | float | str | tuple[str, ...] | Mapping[str, float | str]


class Standing(StrEnum):
    """How a rule binds."""

    LAW = "law"
    OFFICIAL_PRACTICE = "official practice"
    COMMON_PRACTICE = "common practice"
    PROJECT_CHOICE = "project choice"
    """Nobody's rule: a default we chose because a number is needed. Never passed off as practice."""


class Checked(StrEnum):
    """How far a rule was checked on ``checked_on``."""

    READ = "read"
    """The text, or a passage or reprint of it, was seen."""
    MEMORY = "memory"
    """Recalled, not seen: to be opened before it decides anything."""
    CHOSEN = "chosen"
    """There is nothing to check: the value is our own choice."""


class Bound(StrEnum):
    """Whether the value is exact or a limit."""

    EXACTLY = "exactly"
    AT_LEAST = "at least"
    AT_MOST = "at most"
    USUALLY = "usually"


class Unit(StrEnum):
    """Units of time in which rules count."""

    HOURS = "hours"
    DAYS = "days"
    WEEKS = "weeks"
    MONTHS = "months"


@dataclass(frozen=True, kw_only=True)
class Duration:
    """A stretch of time as the rule counts it: calendar days, weeks or calendar months."""

    count: int
    unit: Unit

    @property
    def is_at_once(self) -> bool:
        """Say whether the rule gives no time at all."""
        return self.count == 0

    @property
    def said(self) -> Message:
        """The stretch in words."""
        return say("rulebook.at_once") if self.is_at_once else say(f"rulebook.{self.unit}", count=self.count)


@dataclass(frozen=True, kw_only=True)
class InForce:
    """First and last day on which a rule holds, as far as known.

    ``first`` or ``last`` None: no limit is known. ``first_seen`` and ``last_seen`` say whether the day itself
    was stated by the book; a book that knows only the year counts from its 1 January, to its 31 December.
    """

    first: date | None = None
    last: date | None = None
    first_seen: bool = True
    last_seen: bool = True

    def holds_on(self, day: date) -> bool:
        """Say whether the rule holds on that day."""
        return (self.first is None or self.first <= day) and (self.last is None or day <= self.last)

    def overlaps(self, other: InForce) -> bool:
        """Say whether there is a day on which both hold."""
        starts = max(self.first or date.min, other.first or date.min)
        return starts <= min(self.last or date.max, other.last or date.max)


@dataclass(frozen=True, kw_only=True)
class Rule:
    """What one jurisdiction requires in one matter, for one or both diseases.

    ``book`` is the book that the rule stands in, ``asked_of`` (``asked_title``) the one that was asked: they differ when the
    book asked knows nothing of its own. A rule changed locally keeps the one it replaces as ``original``.
    """

    name: str
    book: str
    diseases: frozenset[Disease]
    value: Value
    unit: str
    citation: str
    standing: Standing
    in_force: InForce
    checked_on: date
    checked: Checked
    bound: Bound = Bound.EXACTLY
    note: str = ""
    asked_of: str = ""
    asked_title: str = ""
    locally_changed: bool = False
    original: Rule | None = None
    changed_by: str = ""
    changed_reason: str = ""

    @property
    def is_fallback(self) -> bool:
        """Say whether the book asked had nothing of its own, so that another book answers."""
        return bool(self.asked_of) and self.asked_of != self.book

    @property
    def in_force_from(self) -> date | None:
        """First day on which the rule holds; None when it is not known."""
        return self.in_force.first

    @property
    def in_force_to(self) -> date | None:
        """Last day on which the rule holds; None while it does."""
        return self.in_force.last

    @property
    def label(self) -> Message:
        """What the rule is about, in words."""
        return say(f"rulebook.topic_{self.name.replace('.', '_')}")

    @property
    def standing_said(self) -> Message:
        """How the rule binds, in words; says so when it was changed locally or comes from another book."""
        standing = say(f"rulebook.standing_{self.standing.replace(' ', '_')}")
        if self.locally_changed:
            return say("rulebook.locally_changed", standing=standing, who=self.changed_by)
        if self.is_fallback:
            return say("rulebook.fallen_back", standing=standing, asked=self.asked_title)
        return standing

    def duration(self) -> Duration:
        """Return the value as a stretch of time.

        Raises
        ------
        ValueError
            If the rule is not about a stretch of time.
        """
        if isinstance(self.value, bool) or not isinstance(self.value, int):
            raise ValueError(f"Expected a rule that counts time, got {self.name} = {self.value!r}.")
        return Duration(count=self.value, unit=Unit(self.unit))

    def number(self) -> float:
        """Return the value as a number.

        Raises
        ------
        ValueError
            If the value is not a number.
        """
        if isinstance(self.value, bool) or not isinstance(self.value, (int, float)):
            raise ValueError(f"Expected a rule with a number, got {self.name} = {self.value!r}.")
        return float(self.value)

    def is_yes(self) -> bool:
        """Return the value of a yes-or-no rule.

        Raises
        ------
        ValueError
            If the value is not true or false.
        """
        if not isinstance(self.value, bool):
            raise ValueError(f"Expected a rule with true or false, got {self.name} = {self.value!r}.")
        return self.value

    def word_list(self) -> tuple[str, ...]:
        """Return the value as words of the closed list of its topic.

        Raises
        ------
        ValueError
            If the value is not words.
        """
        if isinstance(self.value, str):
            return (self.value,)
        if not isinstance(self.value, tuple):
            raise ValueError(f"Expected a rule with words, got {self.name} = {self.value!r}.")
        return self.value

    def figures(self) -> Mapping[str, float | str]:
        """Return the value as named figures.

        Raises
        ------
        ValueError
            If the value is not a table of figures.
        """
        if not isinstance(self.value, Mapping):
            raise ValueError(f"Expected a rule with named figures, got {self.name} = {self.value!r}.")
        return self.value

    def figure(self, name: str) -> float:
        """Return one named figure as a number.

        Raises
        ------
        ValueError
            If the rule has no such figure, or it is not a number.
        """
        found = self.figures().get(name)
        if not isinstance(found, (int, float)):
            raise ValueError(f"Expected {self.name} to have the figure {name}, got {found!r}.")
        return float(found)
