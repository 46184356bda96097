"""What a user can meet when rulebooks are read, asked or changed."""

from __future__ import annotations

from collections.abc import Sequence

from broodsweep.errors import BroodsweepError, NotFoundError
from broodsweep.words import Message


class BadBookError(BroodsweepError):
    """Rulebooks that cannot be used; ``faults`` holds every fault of every file, none left out."""

    def __init__(self, faults: Sequence[Message]) -> None:
        self.faults = tuple(faults)
        super().__init__("rulebook.bad_books", count=len(self.faults), faults=self.faults)


class NoRuleError(NotFoundError):
    """Neither the book nor the one it falls back to has a rule for that day."""


class NoBookError(NotFoundError):
    """No book of that name was loaded."""


class BadOverrideError(BroodsweepError):
    """A local change that the rule does not allow; ``faults`` says why."""

    def __init__(self, key: str, /, *, faults: Sequence[Message] = (), **params: object) -> None:
        self.faults = tuple(faults)
        super().__init__(key, faults=self.faults, **params)
