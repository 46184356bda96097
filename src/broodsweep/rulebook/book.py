"""A rulebook: the rules of one jurisdiction, with the book it falls back to and what was changed locally."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from broodsweep.constants import Disease
from broodsweep.rulebook.errors import BadOverrideError, NoRuleError
from broodsweep.rulebook.rule import Rule, Standing, Value
from broodsweep.rulebook.topics import TOPICS
from broodsweep.rulebook.values import check_value
from broodsweep.words import Message


@dataclass(frozen=True, kw_only=True)
class Override:
    """A value that a user put in the place of a rule's, and why."""

    name: str
    value: Value
    unit: str
    by: str
    reason: str
    diseases: frozenset[Disease]


@dataclass(frozen=True, kw_only=True)
class Rulebook:
    """What the law or the practice of one jurisdiction requires.

    Where the book is silent, the book it falls back to answers, and the rule says so: its ``book`` is then
    not the one asked.
    """

    name: str
    title: str
    language: str
    rules: tuple[Rule, ...]
    file: str = ""
    note: str = ""
    fallback: Rulebook | None = None
    overrides: tuple[Override, ...] = ()

    def find(self, name: str, disease: Disease, on: date) -> Rule | None:
        """Return the rule in force on that day, the fallback's where the book is silent, or None.

        Raises
        ------
        ValueError
            If no rule can have that name.
        """
        found = self._unchanged(name, disease, on)
        if found is None:
            return None
        for change in reversed(self.overrides):
            if change.name == name and disease in change.diseases:
                return replace(
                    found,
                    value=change.value,
                    unit=change.unit or found.unit,
                    locally_changed=True,
                    original=found,
                    changed_by=change.by,
                    changed_reason=change.reason,
                )
        return found

    def rule(self, name: str, disease: Disease, on: date) -> Rule:
        """Return the rule in force on that day, the fallback's where the book is silent.

        Raises
        ------
        NoRuleError
            If there is none.
        ValueError
            If no rule can have that name.
        """
        found = self.find(name, disease, on)
        if found is None:
            raise NoRuleError(
                "rulebook.no_rule", rule=name, disease=str(disease), on=on, book=self.title, file=self.file
            )
        return found

    def own(self, name: str, disease: Disease, on: date) -> Rule | None:
        """Return the rule only if this book has one of its own; never the fallback's."""
        found = self.find(name, disease, on)
        return None if found is None or found.is_fallback else found

    def in_force(self, disease: Disease, on: date) -> tuple[Rule, ...]:
        """Return every rule that answers on that day, in the order of the topics."""
        found = (self.find(name, disease, on) for name in TOPICS)
        return tuple(rule for rule in found if rule is not None)

    @property
    def locally_changed(self) -> tuple[str, ...]:
        """Names of the rules that were changed locally."""
        return tuple(dict.fromkeys(change.name for change in self.overrides))

    def _unchanged(self, name: str, disease: Disease, on: date) -> Rule | None:
        if name not in TOPICS:
            raise ValueError(f"Expected the name of a rule, got {name!r}.")
        for rule in self.rules:
            if rule.name == name and disease in rule.diseases and rule.in_force.holds_on(on):
                return replace(rule, asked_of=self.name)
        if self.fallback is None:
            return None
        found = self.fallback.find(name, disease, on)
        return None if found is None else replace(found, asked_of=self.name)


def override(
    book: Rulebook,
    name: str,
    value: object,
    by: str,
    reason: str,
    *,
    diseases: Iterable[Disease] = tuple(Disease),
    unit: str | None = None,
) -> Rulebook:
    """Return the book with the value of one rule changed locally; the original is kept in the rule.

    The value is checked as if it stood in the book.

    Parameters
    ----------
    book
        Book to change.
    name
        Name of the rule, for example ``sweep.first_ring``.
    value
        New value.
    by, reason
        Who changed it, and why.
    diseases
        For which diseases it holds.
    unit
        Unit of the value, if not the rule's own: a time of six weeks may become one of 40 days.

    Raises
    ------
    BadOverrideError
        If no such rule is there to change, the value is not one it may have, or who or why is missing.
    """
    chosen = frozenset(diseases)
    units = _units(book, name, chosen)
    if name not in TOPICS or not units:
        raise BadOverrideError("rulebook.nothing_to_override", rule=name, book=book.title)
    if not by.strip() or not reason.strip():
        raise BadOverrideError("rulebook.override_without_reason", rule=name)
    faults: list[Message] = []
    cleaned: Value | None = None
    for tried in sorted({unit} if unit else units):
        cleaned = check_value(TOPICS[name], value, tried, faults)
    if faults or cleaned is None:
        raise BadOverrideError("rulebook.bad_override", rule=name, faults=faults)
    change = Override(name=name, value=cleaned, unit=unit or "", by=by, reason=reason, diseases=chosen)
    kept = tuple(
        replace(old, diseases=old.diseases - chosen) if old.name == name else old for old in book.overrides
    )
    return replace(book, overrides=(*(old for old in kept if old.diseases), change))


def _units(book: Rulebook, name: str, diseases: frozenset[Disease]) -> set[str]:
    """Units in which the book, or where it is silent its fallback, states the rule."""
    found = {rule.unit for rule in book.rules if rule.name == name and rule.diseases & diseases}
    if not found and book.fallback is not None:
        return _units(book.fallback, name, diseases)
    return found


def override_all(book: Rulebook, changes: Iterable[Mapping[str, object]]) -> Rulebook:
    """Apply changes kept as plain tables (``name``, ``value``, ``by``, ``reason``; ``diseases`` and ``unit`` if wanted).

    Raises
    ------
    BadOverrideError
        If one of them is not allowed.
    """
    for change in changes:
        named = change.get("diseases")
        diseases = (
            [Disease(str(word)) for word in named] if isinstance(named, (list, tuple)) else list(Disease)
        )
        book = override(
            book,
            str(change.get("name", "")),
            change.get("value"),
            str(change.get("by", "")),
            str(change.get("reason", "")),
            diseases=diseases,
            unit=str(change["unit"]) if change.get("unit") else None,
        )
    return book


def weakest(rules: Iterable[Rule]) -> Standing | None:
    """Return the weakest standing among the rules: what an answer made of several of them may claim."""
    order = list(Standing)
    found = [order.index(rule.standing) for rule in rules]
    return order[max(found)] if found else None
