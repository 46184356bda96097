"""Who may do what: people with their roles, phones that are enrolled, and how far each role reaches."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from broodsweep.errors import BroodsweepError, RefusedError


class Role(StrEnum):
    """What a person is here for."""

    LEAD = "lead"
    """Leads the team: may do everything, and lets others in."""
    INSPECTOR = "inspector"
    """Visits apiaries: writes visits, weighs, records what was done; loads no tables, changes no rules."""
    READER = "reader"
    """May look at everything and change nothing."""


class Reach(StrEnum):
    """How far an act reaches."""

    LOOK = "look"
    RECORD = "record"
    """Write down what was seen or done."""
    LEAD = "lead"
    """Change what others work with: tables, rules, settings, people, phones, releases."""


REACH = {
    Role.READER: frozenset({Reach.LOOK}),
    Role.INSPECTOR: frozenset({Reach.LOOK, Reach.RECORD}),
    Role.LEAD: frozenset(Reach),
}
"""What each role may do."""


@dataclass(frozen=True, kw_only=True)
class Person:
    """Someone who may sign in; ``inspector`` is their key in the register's table of inspectors."""

    name: str
    role: Role
    added_at: datetime
    inspector: str | None = None
    retired_at: datetime | None = None
    has_password: bool = False
    passkeys: int = 0

    def may(self, reach: Reach) -> bool:
        """Say whether the person's role reaches that far."""
        return self.retired_at is None and reach in REACH[self.role]


@dataclass(frozen=True, kw_only=True)
class Device:
    """A phone that was enrolled; its keys are SubjectPublicKeyInfo (P-256) in base64."""

    device: str
    label: str
    who: str
    inspector: str | None
    enrolled_at: datetime
    revoked_at: datetime | None
    wipe_asked_at: datetime | None
    seal_key: str
    sign_key: str
    seen_at: datetime | None = None
    wiped_at: datetime | None = None


class SignInError(BroodsweepError):
    """Nobody is signed in, or what was given does not open the door."""


class NotYoursError(RefusedError):
    """The role of the person does not reach this far."""


class TooManyTriesError(RefusedError):
    """Too many tries in a short time; the sentence says when to try again."""
