"""Merges two rows into one on a user's word: the rows that change, and those that go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from broodsweep.errors import NotFoundError, RefusedError
from broodsweep.register.model import Ground, Move, Removal, Row
from broodsweep.words import Message, say


@dataclass(frozen=True, kw_only=True)
class Merged:
    """What a merge changes: save ``saved`` in its order, then take out ``removed``.

    ``kept`` takes the place of ``dropped`` wherever else it is named. ``notes`` say what could not be kept.
    """

    kept: str
    dropped: str
    saved: Mapping[str, tuple[Row, ...]]
    removed: Mapping[str, tuple[str, ...]]
    notes: tuple[Message, ...] = ()


def merge_apiaries(ground: Ground, keep: str, drop: str) -> Merged:
    """Return what changes when two apiaries are one: its moves, visits and removals go over to ``keep``.

    What ``keep`` does not say is filled from ``drop``; where both speak, ``keep`` is right. Kept since the
    earlier day. A move between the two goes, for nothing moved. A removal that both have is one.

    Raises
    ------
    NotFoundError
        If the register lacks one of them.
    RefusedError
        If they are the same apiary.
    """
    rows = {row.apiary: row for row in ground.apiaries}
    first, second = _both(rows, keep, drop, "register.no_such_apiary")
    since = [day for day in (first.kept_since, second.kept_since) if day]
    kept = replace(_filled(first, second), kept_since=min(since, default=None))
    saved_moves, gone_moves, between = _moves(ground, keep, drop)
    saved_removals, gone_removals, twice = _removals(ground, keep, drop)
    visits = tuple(replace(row, apiary=keep) for row in ground.visits if row.apiary == drop)
    notes = [say("register.merge_moves_between", count=between)] if between else []
    notes += [say("register.merge_removals_twice", count=twice)] if twice else []
    return Merged(
        kept=keep,
        dropped=drop,
        saved={
            "apiaries": (kept,),
            "moves": saved_moves,
            "visits": visits,
            "removals": saved_removals,
        },
        removed={"moves": gone_moves, "removals": gone_removals, "apiaries": (drop,)},
        notes=tuple(notes),
    )


def merge_keepers(ground: Ground, keep: str, drop: str) -> Merged:
    """Return what changes when two keepers are one: the apiaries of ``drop`` go over to ``keep``.

    Raises
    ------
    NotFoundError
        If the register lacks one of them.
    RefusedError
        If they are the same keeper.
    """
    rows = {row.keeper: row for row in ground.keepers}
    first, second = _both(rows, keep, drop, "register.no_such_keeper")
    apiaries = tuple(replace(row, keeper=keep) for row in ground.apiaries if row.keeper == drop)
    saved: dict[str, tuple[Row, ...]] = {"keepers": (_filled(first, second),), "apiaries": apiaries}
    return Merged(kept=keep, dropped=drop, saved=saved, removed={"keepers": (drop,)})


def _both(rows: Mapping[str, Any], keep: str, drop: str, key: str) -> tuple[Any, Any]:
    for name in (keep, drop):
        if name not in rows:
            raise NotFoundError(key, name=name)
    if keep == drop:
        raise RefusedError("register.merge_itself", name=keep)
    return rows[keep], rows[drop]


def _filled(first: Any, second: Any) -> Any:
    blank = [
        name for name in first.__dataclass_fields__ if getattr(first, name) is None and name != "left_on"
    ]
    extra = dict(second.extra) | dict(first.extra)
    return replace(
        first, **{name: getattr(second, name) for name in blank}, extra=tuple(sorted(extra.items()))
    )


def _moves(ground: Ground, keep: str, drop: str) -> tuple[tuple[Move, ...], tuple[str, ...], int]:
    saved: dict[str, Move] = {}
    gone: list[str] = []
    between = 0
    for row in ground.moves:
        if drop not in (row.from_apiary, row.to_apiary):
            continue
        gone.append(row.move)
        source = keep if row.from_apiary == drop else row.from_apiary
        target = keep if row.to_apiary == drop else row.to_apiary
        if source == target:
            between += 1
            continue
        moved = replace(row, from_apiary=source, to_apiary=target)
        saved[moved.move] = moved
    return tuple(saved.values()), tuple(gone), between


def _removals(ground: Ground, keep: str, drop: str) -> tuple[tuple[Removal, ...], tuple[str, ...], int]:
    have = {row.removal: row for row in ground.removals if row.apiary == keep}
    saved: list[Removal] = []
    gone: list[str] = []
    twice = 0
    for row in ground.removals:
        if row.apiary != drop:
            continue
        gone.append(row.removal)
        moved = replace(row, apiary=keep)
        other = have.get(moved.removal)
        if other is None:
            saved.append(moved)
        else:
            twice += 1
            if moved.colonies > other.colonies:
                saved.append(moved)
    return tuple(saved), tuple(gone), twice
