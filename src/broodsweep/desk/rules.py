"""Which rulebook holds for an outbreak, what it says, and what was changed locally."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.errors import NotFoundError
from broodsweep.outbreak import Outbreak
from broodsweep.rulebook import COMMON_PRACTICE, Rule, Rulebook, override, override_all

OVERRIDES = "rule_changes"
"""Setting that keeps the local changes: book → list of {name, value, by, reason, diseases, unit}."""
RULEBOOK = "rulebook"
"""Setting that names the rulebook for new outbreaks."""


def default_book(desk: Desk) -> str:
    """Name of the rulebook for new outbreaks."""
    return str(desk.snapshot().settings.get(RULEBOOK) or COMMON_PRACTICE)


def book(desk: Desk, name: str) -> Rulebook:
    """Return the rulebook of that name with the local changes made to it.

    Raises
    ------
    NotFoundError
        If there is no such rulebook.
    BadOverrideError
        If a local change no longer fits the book.
    """
    if name not in desk.books:
        raise NotFoundError("desk.no_such_rulebook", rulebook=name, known=", ".join(sorted(desk.books)))
    return override_all(desk.books[name], _changes(desk).get(name, ()))


def book_of(desk: Desk, outbreak: Outbreak) -> Rulebook:
    """Return the rulebook an outbreak is handled under, or the one that the desk was told to look by."""
    return book(desk, desk.rulebook or outbreak.rulebook)


def list_rules(desk: Desk, name: str, disease: Disease, on: date) -> tuple[Rule, ...]:
    """Return what the rulebook says for a disease on a day; what it takes from another book says so."""
    return book(desk, name).in_force(disease, on)


def choose_book(desk: Desk, author: Author, name: str) -> None:
    """Choose the rulebook for new outbreaks.

    Raises
    ------
    NotFoundError
        If there is no such rulebook.
    """
    book(desk, name)
    with desk.store.work(author, "choose_rulebook") as work:
        work.set(RULEBOOK, name)


def override_rule(
    desk: Desk,
    author: Author,
    name: str,
    rule: str,
    value: Any,
    reason: str,
    *,
    diseases: Sequence[Disease] = tuple(Disease),
    unit: str | None = None,
) -> Rulebook:
    """Change a rule's value locally and return the book; the pages then say "locally changed".

    Raises
    ------
    BadOverrideError
        If the value is not one the rule may have, or no reason is given.
    """
    changed = override(book(desk, name), rule, value, author.who, reason, diseases=diseases, unit=unit)
    change = {
        "name": rule,
        "value": value,
        "by": author.who,
        "reason": reason,
        "diseases": [str(disease) for disease in diseases],
        "unit": unit,
    }
    _keep(desk, author, "override_rule", name, [*_without(desk, name, rule), change])
    return changed


def clear_override(desk: Desk, author: Author, name: str, rule: str) -> None:
    """Take a local change back: the rulebook's own value holds again."""
    _keep(desk, author, "clear_override", name, _without(desk, name, rule))


def _changes(desk: Desk) -> dict[str, list[Mapping[str, Any]]]:
    kept: dict[str, list[Mapping[str, Any]]] = desk.snapshot().settings.get(OVERRIDES) or {}
    return dict(kept)


def _without(desk: Desk, name: str, rule: str) -> list[Mapping[str, Any]]:
    return [change for change in _changes(desk).get(name, []) if change["name"] != rule]


def _keep(desk: Desk, author: Author, what: str, name: str, changes: list[Mapping[str, Any]]) -> None:
    every = {key: rows for key, rows in _changes(desk).items() if key != name}
    if changes:
        every[name] = changes
    with desk.store.work(author, what) as work:
        work.set(OVERRIDES, every or None)
