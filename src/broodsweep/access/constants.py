"""How long things last and how often one may try: one place for each number."""

from __future__ import annotations

from broodsweep.sources import Sourced

NIST = "NIST SP 800-63B-4, Digital Identity Guidelines: Authentication"


def _ours(value: float, unit: str, reason: str) -> Sourced:
    return Sourced(value=value, unit=unit, source="this project", locator=reason, standing="project choice")


def _recalled(value: float, unit: str, source: str, locator: str) -> Sourced:
    return Sourced(value=value, unit=unit, source=source, locator=locator, standing="memory")


SHORTEST_PASSWORD = _recalled(
    15, "characters", NIST, "3.1.1.2: a password that is the only factor has at least 15 characters"
)
LONGEST_PASSWORD = _ours(
    256, "characters", f"{NIST}, 3.1.1.2 asks for at least 64; longer ones only cost time"
)
IDLE_H = _ours(12.0, "h", "a working day: whoever signed in in the morning stays in until the evening")
LONGEST_SESSION_D = _recalled(30.0, "d", NIST, "2.1.3: sign in again at least every 30 days")
CODE_MIN = _ours(
    10.0, "min", "long enough to find the phone's camera, short enough for a code that lies on a screen"
)
INVITATION_D = _ours(3.0, "d", "an invitation outlives a weekend")
CHALLENGE_MIN = _recalled(
    5.0, "min", "W3C Web Authentication Level 3", "5.4, timeout: 300,000 to 600,000 ms are recommended"
)
TRIES = _ours(
    8, "tries", "in a quarter of an hour, by name and by address; OWASP asks for a limit, not for a number"
)
TRIES_MIN = _ours(15.0, "min", "see TRIES")
CERTIFICATE_D = _recalled(
    397.0,
    "d",
    "CA/Browser Forum, Baseline Requirements",
    "6.3.2: subscriber certificates of at most 398 days; some phones refuse longer ones",
)
AUTHORITY_D = _ours(3650.0, "d", "ten years: trusting it on a phone is a chore that nobody wants to repeat")
TOKEN_BYTES = 32
"""Bytes of chance in a token: 256 bits."""
CODE_LETTERS = 12
"""Letters of an enrolment code or an invitation: 60 bits in Crockford's base 32."""
