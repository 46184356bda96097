"""Secrets that are handed out once and kept as digests only."""

from __future__ import annotations

import hashlib
import secrets

from broodsweep.access.constants import CODE_LETTERS, TOKEN_BYTES

LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Crockford's base 32: no letter that reads like a figure."""
MISREAD = str.maketrans({"O": "0", "I": "1", "L": "1", "-": None, " ": None})


def new_token() -> str:
    """Return a new secret for a cookie or a header."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def new_code() -> str:
    """Return a new code that a person can read out, in groups of four."""
    letters = "".join(secrets.choice(LETTERS) for _ in range(CODE_LETTERS))
    return "-".join(letters[start : start + 4] for start in range(0, CODE_LETTERS, 4))


def digest_of(secret: str) -> str:
    """Return what is kept of a token: SHA-256 in hex. Tokens are chance enough, no salt is needed."""
    return hashlib.sha256(secret.encode()).hexdigest()


def digest_of_code(code: str) -> str:
    """Return what is kept of a code, forgiving how it was written."""
    return digest_of(code.upper().translate(MISREAD))
