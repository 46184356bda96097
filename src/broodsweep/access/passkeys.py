"""Passkeys: signing in with the phone's or the machine's own lock, by the W3C's Web Authentication."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from hashlib import sha256
from threading import Lock
from typing import Any

import webauthn
from sqlalchemy import delete, insert, select, update
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url, options_to_json
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from broodsweep.access.constants import CHALLENGE_MIN
from broodsweep.access.file import PASSKEYS, PEOPLE, AccessFile, written
from broodsweep.access.tokens import new_token
from broodsweep.desk.access import SignInError
from broodsweep.errors import NotFoundError, RefusedError

TITLE = "Broodsweep"
LONGEST_LABEL = 100
MOST_ASKED = 1_000


@dataclass(kw_only=True)
class Passkeys:
    """Every passkey, and the questions that are under way."""

    file: AccessFile
    _asked: dict[str, tuple[bytes, str, datetime]] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def ask_for_new(self, name: str, *, host: str) -> dict[str, Any]:
        """Return what the browser needs to make a passkey for somebody who is signed in."""
        known = self.file.rows(select(PASSKEYS.c.passkey).where(PASSKEYS.c.name == name))
        options = webauthn.generate_registration_options(
            rp_id=host,
            rp_name=TITLE,
            user_name=name,
            user_id=sha256(name.encode()).digest(),
            exclude_credentials=[PublicKeyCredentialDescriptor(id=row.passkey) for row in known],
            authenticator_selection=AuthenticatorSelectionCriteria(
                resident_key=ResidentKeyRequirement.REQUIRED,
                user_verification=UserVerificationRequirement.REQUIRED,
            ),
        )
        return self._remember(options.challenge, name, options_to_json(options))

    def keep(
        self, asked: str, credential: dict[str, Any], *, name: str, label: str, host: str, origin: str
    ) -> None:
        """Keep the passkey that the browser made.

        Raises
        ------
        SignInError
            If the answer is not to a question of ours, too late, or does not hold.
        RefusedError
            If the label is blank or too long, or the passkey is known already.
        """
        if not 0 < len(label.strip()) <= LONGEST_LABEL:
            raise RefusedError("access.label_length", longest=LONGEST_LABEL)
        challenge = self._recall(asked, name)
        try:
            made = webauthn.verify_registration_response(
                credential=credential,
                expected_challenge=challenge,
                expected_rp_id=host,
                expected_origin=origin,
                require_user_verification=True,
            )
        except (WebAuthnException, ValueError, KeyError) as error:
            raise SignInError("access.passkey_refused") from error
        with self.file.change() as connection:
            known = select(PASSKEYS.c.name).where(PASSKEYS.c.passkey == made.credential_id)
            if connection.execute(known).first():
                raise RefusedError("access.passkey_known")
            connection.execute(
                insert(PASSKEYS).values(
                    passkey=made.credential_id,
                    name=name,
                    label=label.strip(),
                    public_key=made.credential_public_key,
                    used=made.sign_count,
                    added_at=written(self.file.now()),
                )
            )
            self.file.note(connection, name, "passkey_added", label.strip())

    def ask(self, *, host: str) -> dict[str, Any]:
        """Return what the browser needs to sign somebody in; it knows who."""
        options = webauthn.generate_authentication_options(
            rp_id=host, user_verification=UserVerificationRequirement.REQUIRED
        )
        return self._remember(options.challenge, "", options_to_json(options))

    def check(self, asked: str, credential: dict[str, Any], *, host: str, origin: str) -> str:
        """Return who signed in with a passkey.

        Raises
        ------
        SignInError
            If the passkey is not known, its owner left, or the answer does not hold.
        """
        challenge = self._recall(asked, "")
        try:
            named = base64url_to_bytes(str(credential["id"]))
            (row,) = self.file.rows(
                select(PASSKEYS)
                .join(PEOPLE, PEOPLE.c.name == PASSKEYS.c.name)
                .where(PASSKEYS.c.passkey == named, PEOPLE.c.retired_at.is_(None))
            )
            done = webauthn.verify_authentication_response(
                credential=credential,
                expected_challenge=challenge,
                expected_rp_id=host,
                expected_origin=origin,
                credential_public_key=row.public_key,
                credential_current_sign_count=row.used,
                require_user_verification=True,
            )
        except (WebAuthnException, ValueError, KeyError) as error:
            raise SignInError("access.passkey_refused") from error
        with self.file.change() as connection:
            connection.execute(
                update(PASSKEYS).where(PASSKEYS.c.passkey == row.passkey).values(used=done.new_sign_count)
            )
        return str(row.name)

    def of(self, name: str) -> tuple[tuple[str, str], ...]:
        """Return somebody's passkeys: (name in base64url, label)."""
        asked = select(PASSKEYS.c.passkey, PASSKEYS.c.label).where(PASSKEYS.c.name == name)
        return tuple(
            (bytes_to_base64url(row.passkey), row.label)
            for row in self.file.rows(asked.order_by(PASSKEYS.c.added_at))
        )

    def drop(self, name: str, passkey: str) -> None:
        """Take one of somebody's passkeys away.

        Raises
        ------
        NotFoundError
            If they have none of that name.
        """
        with self.file.change() as connection:
            there = (PASSKEYS.c.name == name) & (PASSKEYS.c.passkey == base64url_to_bytes(passkey))
            if not connection.execute(delete(PASSKEYS).where(there)).rowcount:
                raise NotFoundError("access.no_such_passkey")
            self.file.note(connection, name, "passkey_dropped", passkey)

    def _remember(self, challenge: bytes, name: str, options: str) -> dict[str, Any]:
        asked, until = new_token(), self.file.now() + timedelta(minutes=CHALLENGE_MIN.value)
        with self._lock:
            now = self.file.now()
            self._asked = {key: kept for key, kept in self._asked.items() if kept[2] > now}
            while len(self._asked) >= MOST_ASKED:
                self._asked.pop(next(iter(self._asked)))
            self._asked[asked] = (challenge, name, until)
        return {"asked": asked, "options": json.loads(options)}

    def _recall(self, asked: str, name: str) -> bytes:
        with self._lock:
            challenge, whose, until = self._asked.pop(asked, (b"", "", self.file.now()))
        if not challenge or whose != name or until <= self.file.now():
            raise SignInError("access.passkey_late")
        return challenge
