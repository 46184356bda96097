"""Rulebooks, their rules, and local changes to them."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Query

from broodsweep.constants import Disease
from broodsweep.desk import rules
from broodsweep.desk.context import Desk
from broodsweep.errors import NotFoundError
from broodsweep.rulebook import TOPICS, Rulebook
from broodsweep.web.context import ERRORS, Here, Locale, OnDay
from broodsweep.web.shapes.rules import BookShape, BookSheetShape, OverrideAsked, rule_shape

router = APIRouter(prefix="/api", responses=ERRORS, tags=["rules"])
RuleName = Annotated[str, Path(max_length=80)]


@router.get("/rulebooks")
def list_rulebooks(here: Here) -> list[BookShape]:
    """Give every rulebook."""
    return [_book(rules.book(here.desk, name)) for name in sorted(here.desk.books)]


@router.get("/rulebooks/{book}")
def rulebook_sheet(
    book: str, here: Here, on: OnDay, locale: Locale, disease: Annotated[Disease, Query()] = Disease.AFB
) -> BookSheetShape:
    """Give every rule that answers for a disease on a day, with its text and how it binds."""
    found = rules.list_rules(here.desk, book, disease, on)
    return BookSheetShape(
        book=_book(rules.book(here.desk, book)),
        disease=disease,
        on=on,
        rules=[rule_shape(rule, locale) for rule in found],
    )


@router.put("/rulebooks/{book}/rules/{rule}")
def override_rule(
    book: str, rule: RuleName, asked: OverrideAsked, here: Here, locale: Locale, on: OnDay
) -> BookShape:
    """Let another value hold in the place of a rule's own, with the reason."""
    _known(here.desk, book, rule)
    rules.override_rule(here.desk, here.author(asked.who), book, rule, asked.value, asked.reason)
    return _book(rules.book(here.desk, book))


@router.delete("/rulebooks/{book}/rules/{rule}")
def clear_override(
    book: str, rule: RuleName, here: Here, who: Annotated[str | None, Query(max_length=200)] = None
) -> BookShape:
    """Let the rulebook's own value hold again."""
    _known(here.desk, book, rule)
    rules.clear_override(here.desk, here.author(who), book, rule)
    return _book(rules.book(here.desk, book))


def _known(desk: Desk, book: str, rule: str) -> None:
    rules.book(desk, book)
    if rule not in TOPICS:
        raise NotFoundError("web.no_such_rule", rule=rule)


def _book(found: Rulebook) -> BookShape:
    return BookShape(
        name=found.name,
        title=found.title,
        language=found.language,
        note=found.note,
        changed=list(found.locally_changed),
    )
