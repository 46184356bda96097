"""Phones that are enrolled: each with a token of its own, revoked one by one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import uuid4

from sqlalchemy import Select, insert, select, update

from broodsweep.access.codes import Codes, Opens
from broodsweep.access.file import DEVICES, PEOPLE, AccessFile, instant, written
from broodsweep.access.parcel import public_key
from broodsweep.access.tokens import digest_of, new_token
from broodsweep.desk.access import Device
from broodsweep.errors import NotFoundError, RefusedError

SEEN_EVERY = timedelta(seconds=5)
"""How exactly the last word of a phone is kept."""
LONGEST_LABEL = 100


@dataclass(kw_only=True)
class Devices:
    """Every phone that was ever enrolled."""

    file: AccessFile
    codes: Codes

    def enrol(self, code: str, *, label: str, seal_key: str, sign_key: str) -> tuple[Device, str]:
        """Enrol a phone by a code and return it with its token, which is told this once.

        Raises
        ------
        RefusedError
            If the label is blank or too long, or a key is not a P-256 key.
        SignInError
            If the code is unknown, used or too old.
        """
        label = label.strip()
        if not 0 < len(label) <= LONGEST_LABEL:
            raise RefusedError("access.label_length", longest=LONGEST_LABEL)
        for key in (seal_key, sign_key):
            public_key(key)
        name = self.codes.use(Opens.ENROLMENT, code)
        device, token = str(uuid4()), new_token()
        with self.file.change() as connection:
            connection.execute(
                insert(DEVICES).values(
                    device=device,
                    label=label,
                    name=name,
                    token_hash=digest_of(token),
                    seal_key=seal_key,
                    sign_key=sign_key,
                    enrolled_at=written(self.file.now()),
                )
            )
            self.file.note(connection, name, "phone_enrolled", f"{label} ({device})")
        return self.device(device), token

    def everyone(self) -> tuple[Device, ...]:
        """Return every phone, the newest first."""
        return self._found(self._asked().order_by(DEVICES.c.enrolled_at.desc()))

    def device(self, device: str) -> Device:
        """Return one phone.

        Raises
        ------
        NotFoundError
            If no phone has that name.
        """
        found = self._found(self._asked().where(DEVICES.c.device == device))
        if not found:
            raise NotFoundError("access.no_such_phone", device=device)
        return found[0]

    def of(self, token: str) -> Device | None:
        """Return the phone of a token, also when it was revoked; None when there is none."""
        found = self._found(self._asked().where(DEVICES.c.token_hash == digest_of(token)))
        if not found:
            return None
        device, now = found[0], self.file.now()
        if device.seen_at is None or device.seen_at < now - SEEN_EVERY:
            with self.file.change() as connection:
                connection.execute(
                    update(DEVICES).where(DEVICES.c.device == device.device).values(seen_at=written(now))
                )
        return device

    def revoke(self, device: str, *, by: str, wipe: bool) -> Device:
        """Take a phone's rights, and ask it to clear itself when it next asks; what it sends is set aside."""
        self.device(device)
        now = written(self.file.now())
        with self.file.change() as connection:
            here = update(DEVICES).where(DEVICES.c.device == device)
            connection.execute(here.where(DEVICES.c.revoked_at.is_(None)).values(revoked_at=now))
            if wipe:
                connection.execute(here.where(DEVICES.c.wipe_asked_at.is_(None)).values(wipe_asked_at=now))
            self.file.note(connection, by, "phone_wipe_asked" if wipe else "phone_revoked", device)
        return self.device(device)

    def wiped(self, device: str) -> None:
        """Note that a phone says it has cleared itself."""
        with self.file.change() as connection:
            connection.execute(
                update(DEVICES).where(DEVICES.c.device == device).values(wiped_at=written(self.file.now()))
            )
            self.file.note(connection, device, "phone_wiped", device)

    def _asked(self) -> Select[Any]:
        joined = DEVICES.join(PEOPLE, PEOPLE.c.name == DEVICES.c.name, isouter=True)
        return select(DEVICES, PEOPLE.c.inspector).select_from(joined)

    def _found(self, asked: Select[Any]) -> tuple[Device, ...]:
        return tuple(
            Device(
                device=row.device,
                label=row.label,
                who=row.name,
                inspector=row.inspector,
                enrolled_at=instant(row.enrolled_at),  # type: ignore[arg-type]
                revoked_at=instant(row.revoked_at),
                wipe_asked_at=instant(row.wipe_asked_at),
                seal_key=row.seal_key,
                sign_key=row.sign_key,
                seen_at=instant(row.seen_at),
                wiped_at=instant(row.wiped_at),
            )
            for row in self.file.rows(asked)
        )
