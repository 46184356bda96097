"""Codes that open one thing once: an invitation to choose a password, the enrolment of a phone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum

from sqlalchemy import delete, insert, select, update

from broodsweep.access.constants import CODE_MIN, INVITATION_D
from broodsweep.access.file import CODES, AccessFile, written
from broodsweep.access.tokens import digest_of_code, new_code
from broodsweep.desk.access import SignInError


class Opens(StrEnum):
    """What a code opens."""

    INVITATION = "invitation"
    ENROLMENT = "enrolment"


LASTS = {
    Opens.INVITATION: timedelta(days=INVITATION_D.value),
    Opens.ENROLMENT: timedelta(minutes=CODE_MIN.value),
}


@dataclass(kw_only=True)
class Codes:
    """Makes codes and takes them, each once."""

    file: AccessFile

    def make(self, opens: Opens, name: str, *, by: str) -> str:
        """Return a new code for somebody; earlier ones of the same kind for them are void."""
        code, now = new_code(), self.file.now()
        with self.file.change() as connection:
            connection.execute(delete(CODES).where(CODES.c.name == name, CODES.c.opens == opens))
            connection.execute(
                insert(CODES).values(
                    code_hash=digest_of_code(code),
                    opens=opens,
                    name=name,
                    until_at=written(now + LASTS[opens]),
                )
            )
            self.file.note(connection, by, f"{opens}_made", name)
        return code

    def whose(self, opens: Opens, code: str) -> str:
        """Return for whom a code is, without using it up.

        Raises
        ------
        SignInError
            If it is unknown, used or too old.
        """
        rows = self.file.rows(
            select(CODES.c.name).where(
                CODES.c.code_hash == digest_of_code(code),
                CODES.c.opens == opens,
                CODES.c.used_at.is_(None),
                CODES.c.until_at > written(self.file.now()),
            )
        )
        if not rows:
            raise SignInError("access.code_spent")
        return str(rows[0].name)

    def use(self, opens: Opens, code: str) -> str:
        """Use a code up and return for whom it was; of two at the same moment one gets it.

        Raises
        ------
        SignInError
            If it is unknown, used or too old.
        """
        now = written(self.file.now())
        with self.file.change() as connection:
            used = connection.execute(
                update(CODES)
                .where(
                    CODES.c.code_hash == digest_of_code(code),
                    CODES.c.opens == opens,
                    CODES.c.used_at.is_(None),
                    CODES.c.until_at > now,
                )
                .values(used_at=now)
                .returning(CODES.c.name)
            ).first()
        if used is None:
            raise SignInError("access.code_spent")
        return str(used.name)
