"""Answers about what a rulebook requires."""

from __future__ import annotations

from datetime import date
from typing import Any

from pydantic import Field

from broodsweep.constants import Disease
from broodsweep.rulebook import Rule, Standing
from broodsweep.rulebook.topics import TOPICS, Kind
from broodsweep.web.shapes.base import Name, Shape, Signed
from broodsweep.words import Message, render, say

PERCENT = 100.0


class RuleShape(Shape):
    """A rule as it answers: its value, its text, how it binds, and what was changed locally."""

    name: str
    label: str
    value_text: str
    value: Any = Field(description="The value as the rulebook file writes it.")
    unit: str
    kind: str
    choices: list[str] = Field(description="Words that the value may hold; empty when it is not words.")
    citation: str
    standing: Standing
    standing_text: str
    bound: str
    in_force_from: date | None
    in_force_to: date | None
    checked_on: date
    checked: str
    note: str
    book: str
    is_fallback: bool
    locally_changed: bool
    changed_by: str
    changed_reason: str
    own_value_text: str | None


class BookShape(Shape):
    """A rulebook in the list of rulebooks."""

    name: str
    title: str
    language: str
    note: str
    changed: list[str]


class BookSheetShape(Shape):
    """A rulebook with every rule that answers for a disease on a day."""

    book: BookShape
    disease: Disease
    on: date
    rules: list[RuleShape]


class OverrideAsked(Signed):
    """A value to hold in the place of a rule's own, with the reason."""

    value: bool | int | float | str | list[str] | dict[str, float | str]
    reason: str = Field(min_length=1, max_length=1000)


class RuleNameAsked(Signed):
    """A rule whose local change is taken back."""

    rule: Name


def rule_shape(rule: Rule, locale: str) -> RuleShape:
    """Return a rule as an answer."""
    topic = TOPICS[rule.name]
    return RuleShape(
        name=rule.name,
        label=render(rule.label, locale),
        value_text=render(value_said(rule), locale),
        value=list(rule.value) if isinstance(rule.value, tuple) else rule.value,
        unit=rule.unit,
        kind=topic.kind.value,
        choices=list(topic.words),
        citation=rule.citation,
        standing=rule.standing,
        standing_text=render(rule.standing_said, locale),
        bound=str(rule.bound),
        in_force_from=rule.in_force_from,
        in_force_to=rule.in_force_to,
        checked_on=rule.checked_on,
        checked=str(rule.checked),
        note=rule.note,
        book=rule.book,
        is_fallback=rule.is_fallback,
        locally_changed=rule.locally_changed,
        changed_by=rule.changed_by,
        changed_reason=rule.changed_reason,
        own_value_text=render(value_said(rule.original), locale) if rule.original else None,
    )


def value_said(rule: Rule) -> Message:
    """Return the value of a rule in words, with its bound where it is a limit."""
    bound = str(rule.bound).replace(" ", "_")
    return say(f"web.bound_{bound}", value=_plain_value(rule))


def _plain_value(rule: Rule) -> Message:
    match TOPICS[rule.name].kind:
        case Kind.TIME:
            return rule.duration().said
        case Kind.DISTANCE:
            return say("web.value_distance", value_m=rule.number())
        case Kind.COUNT:
            return say("web.value_count", value=rule.number())
        case Kind.YES_NO:
            return say("web.yes" if rule.is_yes() else "web.no")
        case Kind.WORD | Kind.WORDS:
            words = [say(f"rulebook.word_{word}") for word in rule.word_list()]
            return say("web.value_words", words=words or [say("web.none")])
        case Kind.FIGURES:
            return say(
                "web.value_words",
                words=[_figure_said(name, value) for name, value in rule.figures().items()],
            )


def _figure_said(name: str, value: float | str) -> Message:
    """Say one figure of a rule; a share as a percentage with as many decimals as it has."""
    label = say(f"rulebook.figure_{name}")
    if name.endswith("_share") and isinstance(value, (int, float)):
        return say("web.value_figure_percent", name=label, percent=round(value * PERCENT, 4))
    return say("web.value_figure", name=label, value=value)
