"""Sessions of people who signed in: a secret in a cookie, its digest here."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from sqlalchemy import delete, insert, select, update

from broodsweep.access.constants import IDLE_H, LONGEST_SESSION_D
from broodsweep.access.file import SESSIONS, AccessFile, written
from broodsweep.access.tokens import digest_of, new_token

SEEN_EVERY = timedelta(minutes=1)
"""How exactly the last use of a session is kept."""


@dataclass(frozen=True, kw_only=True)
class Session:
    """Somebody is signed in; ``page_token`` must come with every change that a page sends."""

    name: str
    page_token: str


@dataclass(kw_only=True)
class Sessions:
    """Every session that is open."""

    file: AccessFile

    def begin(self, name: str) -> tuple[str, Session]:
        """Open a session and return its secret, for the cookie, with it."""
        token, page_token, now = new_token(), new_token(), written(self.file.now())
        with self.file.change() as connection:
            connection.execute(delete(SESSIONS).where(SESSIONS.c.seen_at < self._idle_since()))
            connection.execute(
                insert(SESSIONS).values(
                    token_hash=digest_of(token), name=name, page_token=page_token, made_at=now, seen_at=now
                )
            )
            self.file.note(connection, name, "signed_in", name)
        return token, Session(name=name, page_token=page_token)

    def of(self, token: str) -> Session | None:
        """Return the session of a cookie, None when it ended or grew too old."""
        now = self.file.now()
        rows = self.file.rows(
            select(SESSIONS).where(
                SESSIONS.c.token_hash == digest_of(token),
                SESSIONS.c.seen_at >= self._idle_since(),
                SESSIONS.c.made_at >= written(now - timedelta(days=LONGEST_SESSION_D.value)),
            )
        )
        if not rows:
            return None
        if rows[0].seen_at < written(now - SEEN_EVERY):
            with self.file.change() as connection:
                connection.execute(
                    update(SESSIONS)
                    .where(SESSIONS.c.token_hash == rows[0].token_hash)
                    .values(seen_at=written(now))
                )
        return Session(name=rows[0].name, page_token=rows[0].page_token)

    def end(self, token: str) -> None:
        """End the session of a cookie."""
        with self.file.change() as connection:
            connection.execute(delete(SESSIONS).where(SESSIONS.c.token_hash == digest_of(token)))

    def _idle_since(self) -> str:
        return written(self.file.now() - timedelta(hours=IDLE_H.value))
