"""Signing in, people, passkeys, phones."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from pydantic import Field, SecretStr

from broodsweep.desk.access import Role
from broodsweep.web.shapes.base import Asked, Name, Shape


class SignInAsked(Asked):
    """A name and a password."""

    name: Name
    password: SecretStr = Field(max_length=1000)


class CodeAsked(Asked):
    """A code that was handed out."""

    code: str = Field(min_length=1, max_length=60)


class InvitationShape(Shape):
    """Whom an invitation is for, and what a password must be."""

    name: str
    shortest_password: int


class InvitationAsked(CodeAsked):
    """The invitation and the password that was chosen."""

    password: SecretStr = Field(max_length=1000)


class PasswordAsked(Asked):
    """The old password and the new one."""

    old: SecretStr = Field(max_length=1000)
    new: SecretStr = Field(max_length=1000)


class PasskeyQuestionShape(Shape):
    """What the browser is asked: ``options`` as Web Authentication describes them in JSON."""

    asked: str
    options: dict[str, Any]


class PasskeyAsked(Asked):
    """What the browser answered."""

    asked: str = Field(max_length=100)
    credential: dict[str, Any]
    label: str = Field(default="", max_length=200)


class PasskeyShape(Shape):
    """A passkey that is kept."""

    passkey: str
    label: str


class PersonShape(Shape):
    """Somebody who may sign in."""

    name: str
    role: Role
    inspector: str | None
    added_at: datetime
    retired_at: datetime | None
    has_password: bool
    passkeys: int


class MineShape(Shape):
    """Who is signed in, with their passkeys."""

    person: PersonShape
    passkeys: list[PasskeyShape]


class PersonAsked(Asked):
    """Somebody to add."""

    name: Name
    role: Role
    inspector: str | None = Field(default=None, max_length=200)


class PersonChangeAsked(Asked):
    """Another role or another inspector."""

    role: Role
    inspector: str | None = Field(default=None, max_length=200)


class InvitedShape(Shape):
    """A code that was just made: told this once."""

    name: str
    code: str
    address: str
    square: str
    """The address as a QR code, SVG."""
    is_within_min: int


class PhoneShape(Shape):
    """A phone that was enrolled."""

    device: str
    label: str
    who: str
    inspector: str | None
    enrolled_at: datetime
    seen_at: datetime | None
    revoked_at: datetime | None
    wipe_asked_at: datetime | None
    wiped_at: datetime | None


class PhoneCodeAsked(Asked):
    """For whom a phone is to be enrolled; for whoever asks when left out."""

    name: str | None = Field(default=None, max_length=200)


class RevokeAsked(Asked):
    """Whether the phone shall clear itself too."""

    wipe: bool


class EnrolAsked(CodeAsked):
    """A phone that wants in, with its keys (SubjectPublicKeyInfo, P-256, base64)."""

    label: str = Field(min_length=1, max_length=200)
    seal_key: str = Field(max_length=400)
    sign_key: str = Field(max_length=400)


class EnrolledShape(Shape):
    """A phone is in: its token is told this once."""

    device: str
    token: str
    who: str
    inspector: str | None
    desk_seal_key: str
    desk_sign_key: str


class PhoneStateShape(Shape):
    """How a phone stands with the desk."""

    who: str
    is_revoked: bool
    wipe: bool


class WipeShape(Shape):
    """Whether a phone shall clear itself."""

    wipe: bool


class ActShape(Shape):
    """Who let whom in or out."""

    seq: int
    at: datetime
    who: str
    what: str
    about: str
