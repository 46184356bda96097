"""Likely duplicates: offered for merging, never merged silently."""

from __future__ import annotations

from broodsweep.desk.context import Desk
from broodsweep.desk.ports import Author
from broodsweep.register import DuplicatePair, likely_duplicates, merge_apiaries, merge_keepers

DISMISSED = "dismissed_duplicates"
"""Setting that keeps the pairs a user said are not the same: a list of [kind, first, second]."""


def list_duplicates(desk: Desk) -> tuple[DuplicatePair, ...]:
    """Return the pairs that look like the same apiary or keeper, likeliest first."""
    kept = desk.snapshot()
    return likely_duplicates(kept.ground, kept.places, dismissed=_dismissed(desk))


def count_duplicates(desk: Desk) -> int:
    """Count the likely duplicates."""
    return len(list_duplicates(desk))


def merge(desk: Desk, author: Author, kind: str, keep: str, drop: str) -> None:
    """Merge two rows into one on a user's word; everything that named the dropped one names the kept one."""
    join = {"apiary": merge_apiaries, "keeper": merge_keepers}[kind]
    merged = join(desk.snapshot().ground, keep, drop)
    with desk.store.work(author, "merge_duplicates") as work:
        for table, rows in merged.saved.items():
            work.save(table, rows)
        for table, keys in merged.removed.items():
            work.remove(table, keys)


def dismiss(desk: Desk, author: Author, kind: str, first: str, second: str) -> None:
    """Note that two rows are not the same, so that the pair is not offered again."""
    kept = sorted(_dismissed(desk) | {(kind, *sorted((first, second)))})
    with desk.store.work(author, "dismiss_duplicate") as work:
        work.set(DISMISSED, [list(row) for row in kept])


def _dismissed(desk: Desk) -> frozenset[tuple[str, str, str]]:
    kept = desk.snapshot().settings.get(DISMISSED) or []
    return frozenset((str(a), str(b), str(c)) for a, b, c in kept) if isinstance(kept, list) else frozenset()
