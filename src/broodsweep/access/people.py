"""People who may sign in: added by a lead, invited by a code, known by a password."""

from __future__ import annotations

from dataclasses import dataclass, field
from threading import Semaphore

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import ColumnElement, delete, func, insert, select, update

from broodsweep.access.codes import Codes, Opens
from broodsweep.access.constants import LONGEST_PASSWORD, SHORTEST_PASSWORD
from broodsweep.access.file import PASSKEYS, PEOPLE, SESSIONS, AccessFile, instant, written
from broodsweep.desk.access import Person, Role, SignInError
from broodsweep.errors import NotFoundError, RefusedError

AT_ONCE = 2
"""Passwords checked side by side: each takes 64 MiB."""
LONGEST_NAME = 200


@dataclass(kw_only=True)
class People:
    """Everyone who may sign in."""

    file: AccessFile
    codes: Codes
    hasher: PasswordHasher = field(default_factory=PasswordHasher)
    _turns: Semaphore = field(default_factory=lambda: Semaphore(AT_ONCE))
    _nobody: str = ""

    def __post_init__(self) -> None:
        self._nobody = self.hasher.hash("whoever is not there takes as long to refuse")

    def everyone(self) -> tuple[Person, ...]:
        """Return all people, those who left included, by name."""
        return self._found()

    def _found(self, *which: ColumnElement[bool]) -> tuple[Person, ...]:
        counted = select(PASSKEYS.c.name, func.count().label("passkeys")).group_by(PASSKEYS.c.name).subquery()
        rows = self.file.rows(
            select(PEOPLE, counted.c.passkeys)
            .join(counted, counted.c.name == PEOPLE.c.name, isouter=True)
            .where(*which)
            .order_by(PEOPLE.c.name)
        )
        return tuple(
            Person(
                name=row.name,
                role=Role(row.role),
                inspector=row.inspector,
                added_at=instant(row.added_at),  # type: ignore[arg-type]
                retired_at=instant(row.retired_at),
                has_password=row.password is not None,
                passkeys=row.passkeys or 0,
            )
            for row in rows
        )

    def person(self, name: str) -> Person:
        """Return one of them.

        Raises
        ------
        NotFoundError
            If nobody has that name.
        """
        found = self._found(PEOPLE.c.name == name)
        if not found:
            raise NotFoundError("access.no_such_person", who=name)
        return found[0]

    def are_there(self) -> bool:
        """Say whether anybody may sign in: from then on everybody must."""
        return bool(self.file.rows(select(PEOPLE.c.name).where(PEOPLE.c.retired_at.is_(None)).limit(1)))

    def add(self, name: str, role: Role, *, by: str, inspector: str | None = None) -> str:
        """Add somebody and return the code with which they choose their password.

        Raises
        ------
        RefusedError
            If the name is blank, too long or taken.
        """
        name = name.strip()
        if not 0 < len(name) <= LONGEST_NAME:
            raise RefusedError("access.name_length", longest=LONGEST_NAME)
        if any(person.name.casefold() == name.casefold() for person in self.everyone()):
            raise RefusedError("access.name_taken", who=name)
        with self.file.change() as connection:
            connection.execute(
                insert(PEOPLE).values(
                    name=name, role=role, inspector=inspector, added_at=written(self.file.now())
                )
            )
            self.file.note(connection, by, "person_added", f"{name} ({role})")
        return self.codes.make(Opens.INVITATION, name, by=by)

    def invite(self, name: str, *, by: str) -> str:
        """Return a new code for somebody who lost the way in; their sessions end."""
        self.person(name)
        self.end_sessions(name)
        return self.codes.make(Opens.INVITATION, name, by=by)

    def change(self, name: str, *, by: str, role: Role, inspector: str | None) -> Person:
        """Give somebody another role or another inspector.

        Raises
        ------
        RefusedError
            If nobody would be left to lead.
        """
        before = self.person(name)
        if before.role is Role.LEAD and role is not Role.LEAD:
            self._keep_a_lead(name)
        with self.file.change() as connection:
            connection.execute(
                update(PEOPLE).where(PEOPLE.c.name == name).values(role=role, inspector=inspector)
            )
            self.file.note(connection, by, "person_changed", f"{name} ({role})")
        return self.person(name)

    def retire(self, name: str, *, by: str) -> None:
        """Let somebody in no more; what they wrote stays.

        Raises
        ------
        RefusedError
            If nobody would be left to lead.
        """
        if self.person(name).role is Role.LEAD:
            self._keep_a_lead(name)
        with self.file.change() as connection:
            connection.execute(
                update(PEOPLE)
                .where(PEOPLE.c.name == name)
                .values(retired_at=written(self.file.now()), password=None)
            )
            connection.execute(delete(PASSKEYS).where(PASSKEYS.c.name == name))
            connection.execute(delete(SESSIONS).where(SESSIONS.c.name == name))
            self.file.note(connection, by, "person_retired", name)

    def set_password(
        self, name: str, password: str, *, code: str | None = None, old: str | None = None
    ) -> Person:
        """Keep a new password, opened by an invitation's code or by the old password.

        Raises
        ------
        RefusedError
            If the password is too short, too long or the name itself.
        SignInError
            If neither the code nor the old password is right.
        """
        self._require_strong(name, password)
        if code is not None:
            if self.codes.use(Opens.INVITATION, code) != name:
                raise SignInError("access.code_spent")
        elif old is None or not self.is_password(name, old):
            raise SignInError("access.wrong")
        hashed = self._hash(password)
        with self.file.change() as connection:
            connection.execute(
                update(PEOPLE).where(PEOPLE.c.name == name).values(password=hashed, retired_at=None)
            )
            connection.execute(delete(SESSIONS).where(SESSIONS.c.name == name))
            self.file.note(connection, name, "password_set", name)
        return self.person(name)

    def is_password(self, name: str, password: str) -> bool:
        """Say whether the password is right; whoever is not there takes as long."""
        rows = self.file.rows(
            select(PEOPLE.c.password).where(PEOPLE.c.name == name, PEOPLE.c.retired_at.is_(None))
        )
        kept = rows[0].password if rows else None
        with self._turns:
            try:
                self.hasher.verify(kept or self._nobody, password[: int(LONGEST_PASSWORD.value)])
            except (VerificationError, InvalidHashError):
                return False
        if kept is None:
            return False
        if self.hasher.check_needs_rehash(kept):
            hashed = self._hash(password)
            with self.file.change() as connection:
                connection.execute(update(PEOPLE).where(PEOPLE.c.name == name).values(password=hashed))
        return True

    def end_sessions(self, name: str) -> None:
        """Sign somebody out everywhere."""
        with self.file.change() as connection:
            connection.execute(delete(SESSIONS).where(SESSIONS.c.name == name))

    def _hash(self, password: str) -> str:
        with self._turns:
            return self.hasher.hash(password)

    def _keep_a_lead(self, leaving: str) -> None:
        others = (p for p in self.everyone() if p.name != leaving and p.retired_at is None)
        if not any(person.role is Role.LEAD for person in others):
            raise RefusedError("access.last_lead", who=leaving)

    def _require_strong(self, name: str, password: str) -> None:
        shortest, longest = int(SHORTEST_PASSWORD.value), int(LONGEST_PASSWORD.value)
        if not shortest <= len(password) <= longest:
            raise RefusedError("access.password_length", shortest=shortest, longest=longest)
        if len(set(password.casefold())) < shortest // 3 or name.casefold() in password.casefold():
            raise RefusedError("access.password_plain")
