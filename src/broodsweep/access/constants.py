"""How long things last and how often one may try: one place for each number."""

from __future__ import annotations

from broodsweep.sources import Sourced

NIST = "NIST SP 800-63B-4, Digital Identity Guidelines: Authentication"

SHORTEST_PASSWORD = Sourced(
    value=15,
    unit="characters",
    source=NIST,
    locator="3.1.1.2: a password that is the only factor has at least 15 characters",
    standing="memory",
)
LONGEST_PASSWORD = Sourced(
    value=256,
    unit="characters",
    source=NIST,
    locator="3.1.1.2: at least 64 are allowed; longer ones only cost time",
    standing="memory",
)
IDLE_H = Sourced(
    value=12.0,
    unit="h",
    source="project choice",
    locator="a working day: whoever signed in in the morning stays in until the evening",
    standing="project choice",
)
LONGEST_SESSION_D = Sourced(
    value=30.0,
    unit="d",
    source=NIST,
    locator="2.1.3: sign in again at least every 30 days",
    standing="memory",
)
CODE_MIN = Sourced(
    value=10.0,
    unit="min",
    source="project choice",
    locator="long enough to find the phone's camera, short enough for a code that lies on a screen",
    standing="project choice",
)
INVITATION_D = Sourced(
    value=3.0,
    unit="d",
    source="project choice",
    locator="an invitation outlives a weekend",
    standing="project choice",
)
CHALLENGE_MIN = Sourced(
    value=5.0,
    unit="min",
    source="W3C Web Authentication Level 3",
    locator="5.4, timeout: 300,000 to 600,000 ms are recommended",
    standing="memory",
)
TRIES = Sourced(
    value=8,
    unit="tries",
    source="project choice",
    locator="in a quarter of an hour, by name and by address; OWASP asks for a limit, not for a number",
    standing="project choice",
)
TRIES_MIN = Sourced(
    value=15.0,
    unit="min",
    source="project choice",
    locator="see TRIES",
    standing="project choice",
)
CERTIFICATE_D = Sourced(
    value=397.0,
    unit="d",
    source="CA/Browser Forum, Baseline Requirements",
    locator="6.3.2: subscriber certificates of at most 398 days; some phones refuse longer ones",
    standing="memory",
)
AUTHORITY_D = Sourced(
    value=3650.0,
    unit="d",
    source="project choice",
    locator="ten years: trusting it on a phone is a chore that nobody wants to repeat",
    standing="project choice",
)
TOKEN_BYTES = 32
"""Bytes of chance in a token: 256 bits."""
CODE_LETTERS = 12
"""Letters of an enrolment code or an invitation: 60 bits in Crockford's base 32."""
