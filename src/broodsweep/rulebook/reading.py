"""Reads rulebooks from TOML; every fault of every file is reported at once."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any, TypeVar

from broodsweep.constants import Disease
from broodsweep.rulebook.book import Rulebook
from broodsweep.rulebook.errors import BadBookError, NoBookError
from broodsweep.rulebook.rule import Bound, Checked, InForce, Rule, Standing
from broodsweep.rulebook.topics import TOPICS
from broodsweep.rulebook.values import check_value
from broodsweep.words import Message, say

HERE = Path(__file__).parent / "books"
COMMON_PRACTICE = "common-practice"
"""The book that answers where the others are silent."""

_BOOK_KEYS = frozenset({"book", "title", "language", "falls_back_to", "note", "rules"})
_RULE_KEYS = frozenset(
    {"name", "diseases", "value", "unit", "bound", "citation", "standing", "in_force_from", "in_force_to"}
    | {"checked_on", "checked", "note"}
)
_UNKNOWN = "unknown"
_YEARS = range(1800, 2200)
_Word = TypeVar("_Word", bound=StrEnum)


@dataclass
class _Draft:
    """A book read but not yet joined to its fallback."""

    book: Rulebook
    falls_back_to: str | None


class _Faults:
    """Collects faults, each with its file and, inside a rule, which rule."""

    def __init__(self, file: str, rule: str = "", kept: list[Message] | None = None) -> None:
        self.file, self.rule = file, rule
        self.kept: list[Message] = [] if kept is None else kept

    def within(self, rule: str) -> _Faults:
        """Return the same collector, speaking of one rule."""
        return _Faults(self.file, rule, self.kept)

    def add(self, what: Message) -> None:
        """Keep one fault."""
        if self.rule:
            self.kept.append(say("rulebook.fault_in_rule", file=self.file, rule=self.rule, what=what))
        else:
            self.kept.append(say("rulebook.fault_in_file", file=self.file, what=what))


def load_books(folder: Path | None = None) -> dict[str, Rulebook]:
    """Return the packaged rulebooks, and those of a folder of the user's own, by name.

    A user's book may carry the name of a packaged one and then takes its place.

    Raises
    ------
    BadBookError
        If any file has a fault; it holds every fault of every file.
    """
    faults: list[Message] = []
    drafts: dict[str, _Draft] = {}
    for place in (HERE, folder):
        if place is None:
            continue
        if not place.is_dir():
            raise NoBookError("rulebook.no_folder", folder=str(place))
        own: dict[str, _Draft] = {}
        for path in sorted(place.glob("*.toml")):
            draft = _read_file(path, faults)
            if draft is None:
                continue
            if draft.book.name in own:
                first = own[draft.book.name].book.file
                what = say("rulebook.fault_same_book", book=draft.book.name, other=first)
                faults.append(say("rulebook.fault_in_file", file=path.name, what=what))
                continue
            own[draft.book.name] = draft
        drafts |= own
    books = _join(drafts, faults)
    if faults:
        raise BadBookError(faults)
    return books


def get_book(books: Mapping[str, Rulebook], name: str) -> Rulebook:
    """Return the book of that name.

    Raises
    ------
    NoBookError
        If there is none; the sentence lists those that there are.
    """
    if name not in books:
        raise NoBookError("rulebook.no_book", book=name, known=sorted(books))
    return books[name]


def read_book(text: str, file: str) -> Rulebook:
    """Return one book from its text, not joined to any other.

    Raises
    ------
    BadBookError
        If it has faults; it holds all of them.
    """
    faults: list[Message] = []
    draft = _read_text(text, file, faults)
    if faults or draft is None:
        raise BadBookError(faults)
    return draft.book


def _read_file(path: Path, faults: list[Message]) -> _Draft | None:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (UnicodeDecodeError, OSError) as error:
        what = say("rulebook.fault_unreadable", reason=str(error))
        faults.append(say("rulebook.fault_in_file", file=path.name, what=what))
        return None
    return _read_text(text, path.name, faults)


def _read_text(text: str, file: str, kept: list[Message]) -> _Draft | None:
    faults = _Faults(file, kept=kept)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        faults.add(say("rulebook.fault_not_toml", reason=str(error)))
        return None
    _refuse_unknown(table, _BOOK_KEYS, faults)
    name, title, language = (_text(table, key, faults) for key in ("book", "title", "language"))
    rows = table.get("rules", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        faults.add(say("rulebook.fault_rules_not_tables"))
        rows = []
    rules = [rule for number, row in enumerate(rows, 1) if (rule := _rule(row, number, name, faults))]
    _refuse_double(rules, faults)
    fallback = table.get("falls_back_to", None if name == COMMON_PRACTICE else COMMON_PRACTICE)
    book = Rulebook(
        name=name,
        title=title,
        language=language,
        rules=tuple(rules),
        file=file,
        note=str(table.get("note", "")),
    )
    return _Draft(book, None if fallback is None else str(fallback))


def _rule(row: Mapping[str, Any], number: int, book: str, file_faults: _Faults) -> Rule | None:
    name = row.get("name")
    faults = file_faults.within(str(name or f"#{number}"))
    before = len(faults.kept)
    _refuse_unknown(row, _RULE_KEYS, faults)
    topic = TOPICS.get(name) if isinstance(name, str) else None
    if topic is None:
        faults.add(say("rulebook.fault_unknown_rule", near=_near(str(name), TOPICS)))
    unit = _text(row, "unit", faults)
    value = None
    if topic is not None and unit:
        found: list[Message] = []
        value = check_value(topic, row.get("value"), unit, found)
        for what in found:
            faults.add(what)
    standing = _word(Standing, row, "standing", faults)
    checked = _word(Checked, row, "checked", faults)
    bound = _word(Bound, {"bound": Bound.EXACTLY, **row}, "bound", faults)
    in_force = _in_force(row, faults)
    checked_on = _day(row, "checked_on", faults)
    citation = _text(row, "citation", faults)
    diseases = _diseases(row, faults)
    if standing is Standing.LAW and checked is Checked.CHOSEN:
        faults.add(say("rulebook.fault_chosen_law"))
    if len(faults.kept) > before or value is None or None in (standing, checked, bound, in_force, checked_on):
        return None
    assert standing and checked and bound and in_force and checked_on
    return Rule(
        name=str(name),
        book=book,
        diseases=diseases,
        value=value,
        unit=unit,
        citation=citation,
        standing=standing,
        in_force=in_force,
        checked_on=checked_on,
        checked=checked,
        bound=bound,
        note=str(row.get("note", "")),
    )


def _text(table: Mapping[str, Any], key: str, faults: _Faults) -> str:
    found = table.get(key)
    if isinstance(found, str) and found.strip():
        return found.strip()
    faults.add(say("rulebook.fault_missing", what=key))
    return ""


def _word(kind: type[_Word], row: Mapping[str, Any], key: str, faults: _Faults) -> _Word | None:
    found = row.get(key)
    if found in list(kind):
        return kind(found)
    faults.add(say("rulebook.fault_choice", what=key, got=str(found), words=[str(word) for word in kind]))
    return None


def _day(row: Mapping[str, Any], key: str, faults: _Faults) -> date | None:
    found = row.get(key)
    if isinstance(found, date) and not isinstance(found, datetime):
        return found
    faults.add(say("rulebook.fault_day", what=key, got=str(found)))
    return None


def _limit(found: object, key: str, faults: _Faults) -> tuple[date | None, bool]:
    """Read a limit of time in force: a day, a year of which the day is not known, or unknown."""
    if found == _UNKNOWN:
        return None, False
    if isinstance(found, date) and not isinstance(found, datetime):
        return found, True
    if isinstance(found, int) and not isinstance(found, bool) and found in _YEARS:
        return (date(found, 1, 1) if key == "in_force_from" else date(found, 12, 31)), False
    faults.add(say("rulebook.fault_in_force", what=key, got=str(found)))
    return None, False


def _in_force(row: Mapping[str, Any], faults: _Faults) -> InForce | None:
    before = len(faults.kept)
    first, first_seen = _limit(row.get("in_force_from"), "in_force_from", faults)
    last, last_seen = None, True
    if "in_force_to" in row:
        last, last_seen = _limit(row["in_force_to"], "in_force_to", faults)
    if first is not None and last is not None and last < first:
        faults.add(say("rulebook.fault_in_force_order", first_on=first, last_on=last))
    if len(faults.kept) > before:
        return None
    return InForce(first=first, last=last, first_seen=first_seen, last_seen=last_seen)


def _diseases(row: Mapping[str, Any], faults: _Faults) -> frozenset[Disease]:
    found = row.get("diseases")
    known = [str(disease) for disease in Disease]
    if isinstance(found, list) and found and all(word in known for word in found):
        return frozenset(Disease(word) for word in found)
    faults.add(say("rulebook.fault_choice", what="diseases", got=str(found), words=known))
    return frozenset()


def _refuse_unknown(table: Mapping[str, Any], known: frozenset[str], faults: _Faults) -> None:
    for key in table:
        if key not in known:
            faults.add(say("rulebook.fault_unknown_key", got=key, near=_near(key, known)))


def _refuse_double(rules: list[Rule], faults: _Faults) -> None:
    """Two rules on one matter, for one disease, on one day would leave open which of them holds."""
    for index, rule in enumerate(rules):
        for other in rules[:index]:
            both = rule.diseases & other.diseases
            if rule.name == other.name and both and rule.in_force.overlaps(other.in_force):
                faults.within(rule.name).add(
                    say("rulebook.fault_double", diseases=sorted(str(disease) for disease in both))
                )


def _near(word: str, known: Iterable[str]) -> str:
    every = list(known)
    return ", ".join(difflib.get_close_matches(word, every, n=3, cutoff=0.4) or sorted(every))


def _join(drafts: Mapping[str, _Draft], faults: list[Message]) -> dict[str, Rulebook]:
    """Give every book its fallback; a circle or a missing book is a fault."""
    joined: dict[str, Rulebook] = {}

    def join(name: str, seen: tuple[str, ...]) -> Rulebook:
        if name in joined:
            return joined[name]
        draft = drafts[name]
        target = draft.falls_back_to
        fallback = None
        if target is not None and (target not in drafts or target in (*seen, name)):
            what = say("rulebook.fault_fallback", got=target, known=sorted(drafts))
            faults.append(say("rulebook.fault_in_file", file=draft.book.file, what=what))
        elif target is not None:
            fallback = join(target, (*seen, name))
        joined[name] = replace(draft.book, fallback=fallback)
        return joined[name]

    return {name: join(name, ()) for name in sorted(drafts)}
