"""Likely duplicates: offered for merging, never merged silently."""

from __future__ import annotations

from typing import Literal

from broodsweep.desk.context import Desk
from broodsweep.desk.field_draft import MERGED
from broodsweep.desk.looks import moved_looks
from broodsweep.desk.ports import Author
from broodsweep.desk.snapshot import DISMISSED
from broodsweep.errors import RefusedError
from broodsweep.register import DuplicatePair, Merged, merge_apiaries, merge_keepers

Kind = Literal["apiary", "keeper"]


def list_duplicates(desk: Desk) -> tuple[DuplicatePair, ...]:
    """Return the pairs that look like the same apiary or keeper, likeliest first."""
    return desk.snapshot().duplicates


def merge(desk: Desk, author: Author, kind: Kind, keep: str, drop: str) -> Merged:
    """Merge two rows into one on a user's word; everything that named the dropped one names the kept one.

    Raises
    ------
    NotFoundError
        If one of them is not there.
    RefusedError
        If they are the same, or the dropped one has a case.
    """
    kept = desk.snapshot()
    if kind == "apiary":
        for outbreak in kept.outbreaks:
            if any(case.apiary == drop for case in outbreak.cases):
                raise RefusedError("desk.merge_case", apiary=drop, outbreak=outbreak.outbreak)
    join = {"apiary": merge_apiaries, "keeper": merge_keepers}[kind]
    merged = join(kept.ground, keep, drop)
    with desk.store.work(author, "merge_duplicates") as work:
        for table, rows in merged.saved.items():
            work.save(table, rows)
        for table, keys in merged.removed.items():
            work.remove(table, keys)
        if kind == "apiary":
            for name, look in moved_looks(kept, drop, keep):
                work.set(name, look)
            # phones may name the old key for weeks
            work.set(MERGED, {**(kept.settings.get(MERGED) or {}), drop: keep})
    return merged


def dismiss(desk: Desk, author: Author, kind: Kind, first: str, second: str) -> None:
    """Note that two rows are not the same, so that the pair is not offered again."""
    before = {tuple(row) for row in desk.snapshot().settings.get(DISMISSED) or ()}
    pair = (str(kind), *sorted((first, second)))
    with desk.store.work(author, "dismiss_duplicate") as work:
        work.set(DISMISSED, [list(row) for row in sorted(before | {pair})])
