"""What an examination of the store found."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from broodsweep.words import Message, say


@dataclass(frozen=True, kw_only=True)
class Check:
    """One question put to the store.

    ``is_warning`` marks what is sound but wants looking after.
    """

    name: str
    is_sound: bool
    detail: Message
    is_warning: bool = False

    @property
    def label(self) -> Message:
        """Name of the check in words."""
        return say(f"store.check_{self.name}")


@dataclass(frozen=True, kw_only=True)
class LastBackup:
    """The newest backup made of, or restored to, this store: where, when, up to which entry."""

    path: str
    at: datetime
    version: int
    hash: str


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """Whether the store is sound, check by check.

    Parameters
    ----------
    checks
        Every check that was made.
    is_sound
        Whether all of them came out sound.
    version
        Number of the last change.
    schema_version
        Number of the last step of the schema.
    head
        Hash of the journal's last entry.
    first_broken_seq
        First entry at which the journal's chain breaks, None when it does not.
    free_bytes
        Room on the disk. [byte]
    log_bytes
        Size of the write-ahead log. [byte]
    last_backup
        None when there was none.
    """

    checks: tuple[Check, ...]
    is_sound: bool
    version: int
    schema_version: int
    head: str
    first_broken_seq: int | None
    free_bytes: int
    log_bytes: int
    last_backup: LastBackup | None

    def check(self, name: str) -> Check:
        """Return the check of that name.

        Raises
        ------
        KeyError
            If there is none.
        """
        return {check.name: check for check in self.checks}[name]
