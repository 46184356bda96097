"""Numbers that the store chose for itself, each with the reason."""

from __future__ import annotations

from broodsweep.sources import Sourced

WAIT = Sourced(
    value=5.0,
    unit="s",
    source="project choice",
    locator="how long a writer waits for another: longer than saving 60,000 apiaries took here, shorter than a person's patience",
    standing="project choice",
)

BACKUP_STEP = Sourced(
    value=256,
    unit="pages",
    source="project choice",
    locator="pages copied between two calls of progress: 1 MiB at 4 KiB a page",
    standing="project choice",
)

KEYS_AT_ONCE = Sourced(
    value=500,
    unit="keys",
    source="project choice",
    locator="keys in one IN list; SQLite's own limit was 999 before its version 3.32",
    standing="project choice",
)

FREE_SPACE_WANTED = Sourced(
    value=100e6,
    unit="byte",
    source="project choice",
    locator="room for a backup and a growing write-ahead log; less makes doctor warn",
    standing="project choice",
)

PHOTO_SPACE_WANTED = Sourced(
    value=50e6,
    unit="byte",
    source="project choice",
    locator="room that photos leave free: the lines of visits must still find room when photos no longer do",
    standing="project choice",
)

APPLICATION_ID = 0x42724453
"""Written in the file's header (bytes 68 to 71, ASCII ``BrDS``): an SQLite file without it is not ours."""

GENESIS = "0" * 64
"""What stands for the previous hash of the journal's first entry."""
