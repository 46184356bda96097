"""What did a phone write down, and what does it add up to? Knows no storage and no cases."""

from __future__ import annotations

from broodsweep.fieldbook.fold import (
    Amended,
    ColonyNow,
    FoundNow,
    SampleNow,
    VisitNow,
    as_json,
    fold,
    fold_found,
    fold_visit,
)
from broodsweep.fieldbook.lines import (
    UNREAD,
    Line,
    LineError,
    as_mapping,
    content_of,
    digest_of,
    envelope_of,
    read_line,
)

__all__ = [
    "UNREAD",
    "Amended",
    "ColonyNow",
    "FoundNow",
    "Line",
    "LineError",
    "SampleNow",
    "VisitNow",
    "as_json",
    "as_mapping",
    "content_of",
    "digest_of",
    "envelope_of",
    "fold",
    "fold_found",
    "fold_visit",
    "read_line",
]
