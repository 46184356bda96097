"""Which rulebook holds for an outbreak, what it says, and what was changed locally."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.errors import NotFoundError
from broodsweep.outbreak import Outbreak
from broodsweep.rulebook import Rule, Rulebook, override

OVERRIDES = "rule_overrides"
"""Setting that keeps the local changes: a list of {book, rule, disease, value, by, reason}."""


def book(desk: Desk, name: str) -> Rulebook:
    """Return the rulebook of that name with the local changes made to it.

    Raises
    ------
    NotFoundError
        If there is no such rulebook.
    """
    if name not in desk.books:
        raise NotFoundError("desk.no_such_rulebook", rulebook=name, known=", ".join(sorted(desk.books)))
    found = desk.books[name]
    for change in _changes(desk):
        if change["book"] == name:
            found = override(found, change["rule"], change["value"], by=change["by"], reason=change["reason"])
    return found


def book_of(desk: Desk, outbreak: Outbreak) -> Rulebook:
    """Return the rulebook an outbreak is handled under."""
    return book(desk, outbreak.rulebook)


def radii_of(rules: Rulebook, disease: Disease, on: date) -> tuple[float, ...]:
    """Radii of the rings, smallest first. [m]"""
    return rules.ring_radii_m(disease, on)


def changed_rules(rules: Rulebook) -> tuple[str, ...]:
    """Names of the rules that were changed locally."""
    return tuple(rule.name for rule in rules.rules if rule.locally_changed)


def list_rules(desk: Desk, name: str, disease: Disease, on: date) -> tuple[Rule, ...]:
    """Return what the rulebook says for a disease on a day, with what falls back to common practice marked."""
    return book(desk, name).in_force(disease, on)


def override_rule(desk: Desk, author: Author, name: str, rule: str, value: Any, reason: str) -> Rule | None:
    """Change a rule's value locally; the pages then say "locally changed"."""
    changed = override(book(desk, name), rule, value, by=author.who, reason=reason)
    kept = [row for row in _changes(desk) if (row["book"], row["rule"]) != (name, rule)]
    kept.append({"book": name, "rule": rule, "value": value, "by": author.who, "reason": reason})
    with desk.store.work(author, "override_rule") as work:
        work.set(OVERRIDES, kept)
    return next((row for row in changed.rules if row.name == rule), None)


def clear_override(desk: Desk, author: Author, name: str, rule: str) -> None:
    """Take a local change back: the rulebook's own value holds again."""
    kept = [row for row in _changes(desk) if (row["book"], row["rule"]) != (name, rule)]
    with desk.store.work(author, "clear_override") as work:
        work.set(OVERRIDES, kept or None)


def _changes(desk: Desk) -> list[Mapping[str, Any]]:
    kept = desk.snapshot().settings.get(OVERRIDES) or []
    return list(kept) if isinstance(kept, list) else []
