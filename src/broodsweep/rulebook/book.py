"""A rulebook: the rules of one jurisdiction, with the book it falls back to and what was changed locally."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from broodsweep.constants import Disease
from broodsweep.rulebook.errors import BadOverrideError, NoRuleError
from broodsweep.rulebook.rule import Rule, Standing
from broodsweep.rulebook.topics import TOPICS
from broodsweep.rulebook.values import check_value
from broodsweep.words import Message, say


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

    def find(self, name: str, disease: Disease, on: date) -> Rule | None:
        """Return the rule in force on that day, the fallback's where the book is silent, or None.

        Raises
        ------
        ValueError
            If no rule can have that name.
        """
        if name not in TOPICS:
            raise ValueError(f"Expected the name of a rule, got {name!r}.")
        for rule in self.rules:
            if rule.name == name and disease in rule.diseases and rule.in_force.holds_on(on):
                return replace(rule, asked_of=self.name, asked_title=self.title)
        if self.fallback is None:
            return None
        found = self.fallback.find(name, disease, on)
        return None if found is None else replace(found, asked_of=self.name, asked_title=self.title)

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
        return tuple(dict.fromkeys(rule.name for rule in self.rules if rule.locally_changed))

    def ring_radii_m(self, disease: Disease, on: date) -> tuple[float, ...]:
        """Radii of the rings to sweep and of the legal zone, smallest first, each once. [m]

        Raises
        ------
        NoRuleError
            If there is no rule on the first or the widened ring.
        """
        zone = self.find("zone.radius", disease, on)
        found = [self.rule(name, disease, on) for name in ("sweep.first_ring", "sweep.widened_ring")]
        return tuple(sorted({rule.number() for rule in (*found, *([zone] if zone else []))}))

    def tracing_days(self, disease: Disease, on: date) -> tuple[int, int]:
        """Days before and after a finding in which moves are followed. [days]

        Raises
        ------
        NoRuleError
            If there is no rule on the tracing window.
        """
        before = self.rule("trace.days_before", disease, on).duration().count
        return before, self.rule("trace.days_after", disease, on).duration().count

    def cautions(self, disease: Disease, on: date) -> tuple[Message, ...]:
        """Cautions to show wherever work that can hurt people is asked for."""
        rule = self.find("cautions.shown", disease, on)
        return () if rule is None else tuple(say(f"rulebook.caution_{word}") for word in rule.word_list())

    def signatories(self, name: str, disease: Disease, on: date) -> tuple[Message, ...]:
        """Who may sign, in words; ``name`` is ``notice.signed_by`` or ``release.signed_by``."""
        rule = self.find(name, disease, on)
        return () if rule is None else tuple(say(f"rulebook.word_{word}") for word in rule.word_list())


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
    own = [rule for rule in book.rules if rule.name == name and rule.diseases & chosen]
    borrowed = [] if book.fallback is None else _every(book.fallback, name, chosen)
    if own:
        # A fallback in another unit counts otherwise: the same figure would mean something else there.
        borrowed = [rule for rule in borrowed if rule.unit in {known.unit for known in own}]
    if name not in TOPICS or not (own or borrowed):
        raise BadOverrideError("rulebook.nothing_to_override", rule=name, book=book.title)
    if not by.strip() or not reason.strip():
        raise BadOverrideError("rulebook.override_without_reason", rule=name)
    faults: list[Message] = []
    for tried in sorted({unit} if unit else {rule.unit for rule in (*own, *borrowed)}):
        check_value(TOPICS[name], value, tried, faults)
    if faults:
        raise BadOverrideError("rulebook.bad_override", rule=name, faults=faults)

    def change(rule: Rule) -> Rule:
        return _changed(rule, value, unit, chosen, by=by.strip(), reason=reason.strip())

    rules: list[Rule] = []
    for rule in book.rules:
        if rule not in own:
            rules.append(rule)
            continue
        rules.append(change(rule))
        if rule.diseases - chosen:
            rules.append(replace(rule, diseases=rule.diseases - chosen))
    # Behind the book's own: they answer only for diseases and days on which it is silent.
    known = {(rule.book, rule.in_force, rule.diseases) for rule in rules if rule.name == name}
    extra = [change(rule) for rule in borrowed]
    rules += [rule for rule in extra if (rule.book, rule.in_force, rule.diseases) not in known]
    return replace(book, rules=tuple(rules))


def _changed(
    rule: Rule, value: object, unit: str | None, diseases: frozenset[Disease], *, by: str, reason: str
) -> Rule:
    """Return the rule with another value, already found good, and its original beside it."""
    original = rule.original or rule
    cleaned = check_value(TOPICS[rule.name], value, unit or original.unit, [])
    return replace(
        rule,
        value=original.value if cleaned is None else cleaned,
        unit=unit or original.unit,
        diseases=rule.diseases & diseases,
        locally_changed=True,
        original=original,
        changed_by=by,
        changed_reason=reason,
    )


def _every(book: Rulebook, name: str, diseases: frozenset[Disease]) -> list[Rule]:
    """Rules of that name in the book and in those it falls back to, nearest first."""
    found = [rule for rule in book.rules if rule.name == name and rule.diseases & diseases]
    return found if book.fallback is None else found + _every(book.fallback, name, diseases)


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
