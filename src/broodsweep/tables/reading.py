"""What came out of reading a source: the rows, what was refused and why, what else there was to say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from broodsweep.errors import RefusedError
from broodsweep.register import Ground, Plan, plan_changes
from broodsweep.tables.complaints import Complaint, RefusedRow, UnknownColumn
from broodsweep.words import Message


@dataclass(frozen=True, kw_only=True)
class Reading:
    """Everything read from a source, and everything wrong with it at once.

    Attributes
    ----------
    ground
        The rows; empty unless ``is_usable``.
    given
        Table → columns (ours and extra) that it had: what was not there changes nothing.
    counts
        Table → number of sound rows, also when the reading is not usable.
    complaints
        What is wrong with whole files.
    refused
        Rows that were not taken, with what was wrong with each.
    warnings
        What is worth a look and was taken all the same.
    unknown_columns
        Columns that are not ours; kept with the rows.
    notes
        What was detected or done on the way.
    is_usable
        Whether ``ground`` may be used: all was sound, or bad rows were to be skipped and no file was bad.
    """

    ground: Ground = field(default_factory=Ground)
    given: Mapping[str, frozenset[str]] = field(default_factory=dict)
    counts: Mapping[str, int] = field(default_factory=dict)
    complaints: tuple[Complaint, ...] = ()
    refused: tuple[RefusedRow, ...] = ()
    warnings: tuple[Complaint, ...] = ()
    unknown_columns: tuple[UnknownColumn, ...] = ()
    notes: tuple[Message, ...] = ()
    is_usable: bool = True

    @property
    def is_sound(self) -> bool:
        """Say whether nothing at all was wrong."""
        return not self.complaints and not self.refused

    @property
    def all_complaints(self) -> tuple[Complaint, ...]:
        """Everything wrong, files first, then row by row."""
        return self.complaints + tuple(one for row in self.refused for one in row.complaints)


def plan(reading: Reading, ground: Ground) -> Plan:
    """Return what saving a reading would change on the register; loading twice changes nothing.

    Raises
    ------
    RefusedError
        If the reading is not usable.
    """
    if not reading.is_usable:
        raise RefusedError("tables.not_sound", count=len(reading.all_complaints))
    return plan_changes(reading.ground, ground, reading.given)
