"""The root of every error that a user can meet: a sentence from the catalogue, with the way out."""

from __future__ import annotations

from typing import Any

from broodsweep.words import Message, render


class BroodsweepError(Exception):
    """Something a user can understand and mend; its sentence comes from the catalogue.

    Parameters
    ----------
    key
        Key of the sentence in the catalogue, for example ``geo.unknown_letters``.
    params
        Values for the places in the sentence.
    """

    def __init__(self, key: str, /, **params: Any) -> None:
        self.message = Message(key, params)
        super().__init__(key, params)

    def __str__(self) -> str:
        return render(self.message)


class RefusedError(BroodsweepError):
    """The step is not allowed in the present state; the sentence says why and what would be."""


class NotFoundError(BroodsweepError):
    """Something that was named is not there."""


class TroubleError(BroodsweepError):
    """The machine got in the way: disk full, file locked, no right to write."""
