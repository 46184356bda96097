"""Joins what lets people and phones in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from broodsweep.access.attempts import Attempts
from broodsweep.access.codes import Codes, Opens
from broodsweep.access.devices import Devices
from broodsweep.access.file import AccessFile, open_file
from broodsweep.access.parcel import Keys, keys_in, new_keys
from broodsweep.access.passkeys import Passkeys
from broodsweep.access.people import People
from broodsweep.access.sessions import Session, Sessions
from broodsweep.desk.access import Person, SignInError

FILE_NAME = "access.sqlite"
KEYS_NAME = "keys"


@dataclass(kw_only=True)
class Access:
    """The door: people, sessions, passkeys, codes, phones, and the desk's own keys."""

    file: AccessFile
    people: People
    sessions: Sessions
    passkeys: Passkeys
    codes: Codes
    devices: Devices
    attempts: Attempts
    keys: Keys

    def sign_in(self, name: str, password: str, *, address: str) -> tuple[str, Session]:
        """Open a session by password; return the cookie's secret and the session.

        Raises
        ------
        SignInError
            If name and password do not belong together; it is not said which is wrong.
        TooManyTriesError
            If the name or the address failed too often lately.
        """
        with self.attempts.counting(f"name:{name.casefold()}", f"address:{address}"):
            if not self.people.is_password(name, password):
                raise SignInError("access.wrong")
        return self.sessions.begin(name)

    def person_of(self, token: str) -> tuple[Person, Session] | None:
        """Return who is behind a cookie, None when nobody is."""
        session = self.sessions.of(token)
        if session is None:
            return None
        person = self.people.person(session.name)
        return None if person.retired_at else (person, session)

    def use_code(self, opens: Opens, code: str, *, address: str) -> str:
        """Return for whom a code is, counting wrong ones by address; it is not used up."""
        with self.attempts.counting(f"code:{address}"):
            return self.codes.whose(opens, code)

    def close(self) -> None:
        """Let go of the file."""
        self.file.close()


def open_access(home: Path | None, *, now: Callable[[], datetime]) -> Access:
    """Open what a home folder keeps of who is let in; None keeps it in memory (the tests, the demo's first look).

    Raises
    ------
    TroubleError
        If the file or the keys can neither be read nor written, or are of a newer version.
    """
    file = open_file(home / FILE_NAME if home else None, now=now)
    codes = Codes(file=file)
    return Access(
        file=file,
        people=People(file=file, codes=codes),
        sessions=Sessions(file=file),
        passkeys=Passkeys(file=file),
        codes=codes,
        devices=Devices(file=file, codes=codes),
        attempts=Attempts(now=now),
        keys=keys_in(home / KEYS_NAME) if home else new_keys(),
    )
