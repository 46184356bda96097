"""Takes in what phones wrote: every line kept, each effect once, in one work."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from broodsweep.desk.access import Device
from broodsweep.desk.context import Desk
from broodsweep.desk.field_draft import Draft
from broodsweep.desk.field_effects import settle, visits_of
from broodsweep.desk.field_lines import Arrived, folded_visits, is_readable, names_in, sort_in, told_of
from broodsweep.desk.field_ports import COUNTING, KeptLine, LineState, Refusal
from broodsweep.desk.ports import Author, Work
from broodsweep.errors import NotFoundError, RefusedError
from broodsweep.fieldbook import effect_name, fold_found, found_rows, read_line
from broodsweep.register import Apiary, Keeper
from broodsweep.words import Message, say

APIARY = "apiary"
"""What a refusal is about when an apiary found on the way no longer is as the phone found it."""


@dataclass(frozen=True, kw_only=True)
class LineAnswer:
    """What a phone is told of one line: ``kept``, ``already`` or ``set_aside`` with the reason."""

    line: str
    answer: str
    why: Message | None = None


@dataclass(frozen=True, kw_only=True)
class Taken:
    """What a phone is told of the lines it handed in, and which of its photos are still wanted."""

    answers: tuple[LineAnswer, ...]
    photos_wanted: tuple[str, ...]


def take_lines(desk: Desk, device: Device, lines: Sequence[object]) -> Taken:
    """Keep the lines of a phone and bring the record to what they say; handing them in again changes nothing.

    Everything is read and written within one work, so that several phones may come at once. What the rules
    refuse is kept as a refusal and tried again whenever lines come.

    Raises
    ------
    TroubleError
        If the store cannot write; nothing was kept then.
    """
    author = Author(who=device.who, device=device.device)
    with desk.store.work(author, "take_lines") as work:
        there = {row.key: row for row in _standing(desk, lines)}
        arrived = sort_in(device, lines, there, desk.now())
        new = [row.kept for row in arrived if row.is_new]
        work.keep_lines(new)
        _follow(desk, work, new)
    return Taken(answers=tuple(_answer(row) for row in arrived), photos_wanted=photos_wanted(desk, arrived))


def decide_line(desk: Desk, author: Author, key: str, *, take_in: bool) -> KeptLine:
    """Take in a line that was set aside, or leave it: a person's word, which may be changed.

    Raises
    ------
    NotFoundError
        If there is no such line.
    RefusedError
        If the line was never set aside, or cannot be read here and so cannot count.
    """
    with desk.store.work(author, "take_in_line" if take_in else "leave_line") as work:
        found = desk.store.lines(keys=[key])
        if not found:
            raise NotFoundError("fieldbook.no_such_line", line=key)
        before = found[0]
        if before.state is LineState.KEPT:
            raise RefusedError("fieldbook.not_set_aside", line=key)
        if take_in and not is_readable(before):
            raise RefusedError("fieldbook.cannot_take_in", why=before.why or say("fieldbook.not_a_line"))
        after = replace(before, state=LineState.TAKEN_IN if take_in else LineState.LEFT)
        work.keep_lines([after])
        _follow(desk, work, [after])
    return after


def try_again(desk: Desk, author: Author) -> tuple[Refusal, ...]:
    """Try once more whatever was refused; return what still is."""
    with desk.store.work(author, "settle_visits") as work:
        _follow(desk, work, [], clear_found=True)
    return desk.store.refusals()


def photos_wanted(desk: Desk, arrived: Iterable[Arrived]) -> tuple[str, ...]:
    """Return the photos that lines name and that are not whole here, in order of their names."""
    named = set()
    for row in arrived:
        if row.kept.kind in ("photo_taken", "visit_amended"):
            body = told_of(row.kept)
            photo = (body if row.kept.kind == "photo_taken" else body.get("body") or {}).get("photo")
            if isinstance(photo, str) and is_readable(row.kept):
                named.add(photo)
    whole = {row.photo for row in desk.store.kept_photos(named)}
    return tuple(sorted(named - whole))


def _standing(desk: Desk, lines: Iterable[object]) -> tuple[KeptLine, ...]:
    names = names_in(lines)
    aside = desk.store.lines(states=(LineState.SET_ASIDE, LineState.TAKEN_IN, LineState.LEFT))
    return (*desk.store.lines(names=names), *(row for row in aside if row.line is None))


def _answer(row: Arrived) -> LineAnswer:
    if not row.is_new:
        return LineAnswer(line=row.line, answer="already")
    return LineAnswer(line=row.line, answer=row.kept.state.value, why=row.kept.why)


def _follow(desk: Desk, work: Work, changed: Sequence[KeptLine], *, clear_found: bool = False) -> None:
    """Bring the record to what the lines say, those that changed among them."""
    # nobody else can write while a work is open: what is read here stays true until it ends
    draft = Draft(desk=desk, kept=desk.snapshot())
    touched = {row.visit for row in changed if row.visit is not None}
    standing = [row for row in desk.store.refusals() if row.what != APIARY or clear_found]
    again = touched | visits_of(standing)
    found_refused = _find(draft, changed)
    folded = folded_visits(desk.store, again, changed)
    refused = settle(draft, folded)
    draft.save(work)
    work.keep_refusals(again, (*refused, *found_refused))


def _find(draft: Draft, changed: Sequence[KeptLine]) -> tuple[Refusal, ...]:
    """Enter apiaries found on the way; one that the desk has changed since is left as the desk has it."""
    keys = {row.apiary for row in changed if row.kind == "apiary_found" and row.apiary}
    if not keys:
        return ()
    rows = {row.key: row for row in draft.desk.store.lines(kinds=["apiary_found"]) if row.apiary in keys}
    before = _found_by(rows.values())
    after = _found_by((rows | {row.key: row for row in changed if row.apiary in keys}).values())
    refused = []
    for key, (apiary, keeper) in after.items():
        there = draft.kept.apiaries.get(key)
        told = before.get(key)
        is_merged = draft.key_of(key) != key
        if (there is None and told is None and not is_merged) or (told is not None and there == told[0]):
            draft.apiaries[key] = apiary
        elif told is None or told[0] != apiary:
            name = effect_name(key, "apiary")
            why = say("fieldbook.found_changed", apiary=key)
            refused.append(Refusal(refusal=name, visit=key, what=APIARY, happened_on=None, why=why))
            continue
        else:
            continue
        if keeper is not None:
            draft.keepers[keeper.keeper] = keeper
    return tuple(refused)


def _found_by(rows: Iterable[KeptLine]) -> dict[str, tuple[Apiary, Keeper | None]]:
    counting = [row for row in rows if row.state in COUNTING and is_readable(row)]
    who = {row.apiary: row.who for row in sorted(counting, key=lambda row: (row.number or 0, row.key))}
    lines = [read_line(json.loads(row.content)) for row in counting]
    return {row.apiary: found_rows(row, inspector=who.get(row.apiary)) for row in fold_found(lines)}
