"""What did a phone write down, and what does it add up to? Knows no storage and no cases."""

from __future__ import annotations

from broodsweep.fieldbook.effects import (
    Effects,
    Unmet,
    Wish,
    count_of,
    diseases_of,
    effect_name,
    effects_of,
    found_rows,
    is_look,
)
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
from broodsweep.fieldbook.forms import SHA256_FORM
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
from broodsweep.fieldbook.meeting import Meeting, meetings

__all__ = [
    "SHA256_FORM",
    "UNREAD",
    "Amended",
    "ColonyNow",
    "Effects",
    "FoundNow",
    "Line",
    "LineError",
    "Meeting",
    "SampleNow",
    "Unmet",
    "VisitNow",
    "Wish",
    "as_json",
    "as_mapping",
    "content_of",
    "count_of",
    "digest_of",
    "diseases_of",
    "effect_name",
    "effects_of",
    "envelope_of",
    "fold",
    "fold_found",
    "fold_visit",
    "found_rows",
    "is_look",
    "meetings",
    "read_line",
]
