"""The network as one plain structure for the phone, so that both places compute from the same numbers."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from broodsweep.diagnosis import constants as c
from broodsweep.diagnosis.catalogue import CATALOGUE
from broodsweep.diagnosis.conditions import (
    EXOTICS,
    FOULBROODS,
    NOTHING_WRONG,
    PARTS,
    SEASONS,
    STAGES,
    Condition,
)
from broodsweep.diagnosis.decide import ESSENTIAL, Thresholds
from broodsweep.diagnosis.guides import guides
from broodsweep.diagnosis.infer import HIGH, LOW
from broodsweep.diagnosis.looking import LOOKING, entry_of
from broodsweep.diagnosis.matrix import minutes_to_look, signs
from broodsweep.diagnosis.methods import POOLS
from broodsweep.diagnosis.network import numbers, sections
from broodsweep.diagnosis.next_test import NOT_SIGNS_TO_LOOK_FOR
from broodsweep.diagnosis.questions import AT_ONCE_MIN, MOST_QUESTIONS, OPENING, WORTH_ASKING_BITS

_FORMAT = 2


def compiled_model() -> dict[str, Any]:
    """Return the whole network as plain data: numbers, structure, tests, reading limits, guides.

    ``numbers.kinds`` lists each different number once as [value, spread, is_ratio, word, low, high, source,
    is_published]; ``numbers.slots`` says for every slot which of them it is. ``version`` changes when anything else does.
    """
    model = {
        "format": _FORMAT,
        "numbers": _numbers(),
        "conditions": list(Condition),
        "nothing": NOTHING_WRONG,
        "stages": list(STAGES),
        "seasons": list(SEASONS),
        "foulbroods": [list(Condition).index(name) for name in FOULBROODS],
        "exotics": [list(Condition).index(name) for name in EXOTICS],
        "parts": [
            [list(Condition).index(part.condition), -1 if part.stage is None else STAGES.index(part.stage)]
            for part in PARTS
        ],
        "most_together": int(c.MOST_CONDITIONS_TOGETHER.value),
        "looking": {group: list(members) for group, members in LOOKING.items()},
        "signs": list(signs()),
        "sign_minutes": [minutes_to_look(sign) for sign in signs()],
        "not_to_look_for": sorted(NOT_SIGNS_TO_LOOK_FOR),
        "pools": [[list(Condition).index(target), str(sample)] for target, sample in POOLS],
        "methods": _methods(),
        "reading": _reading(),
        "context": {"near_m": c.NEAR_M.value, "neighbourhood_m": c.NEIGHBOURHOOD_M.value},
        "thresholds": _thresholds(),
        "questions": {
            "opening": list(OPENING),
            "most": MOST_QUESTIONS,
            "worth_bits": WORTH_ASKING_BITS,
            "at_once_min": AT_ONCE_MIN,
        },
        "essential": [[name, list(members)] for name, members in ESSENTIAL],
        "effort": {
            "minutes_per_cost": c.MINUTES_PER_COST.value,
            "minutes_per_waiting_day": c.MINUTES_PER_WAITING_DAY.value,
            "settled": c.DECISION_SETTLED.value,
        },
        "guides": {
            guide.test: {
                "cautions": [message.key for message in guide.cautions],
                "steps": [[step.text.key, step.timer_s] for step in guide.steps],
            }
            for guide in guides()
        },
    }
    text = json.dumps(model, sort_keys=True, ensure_ascii=False)
    return {"version": hashlib.sha256(text.encode()).hexdigest()[:16], **model}


def compiled_text() -> str:
    """Return the compiled network as the file that the phone's build reads."""
    return json.dumps(compiled_model(), ensure_ascii=False, separators=(",", ":")) + "\n"


def _numbers() -> dict[str, Any]:
    words = list(c.Frequency)
    sources = list(dict.fromkeys(number.source for number in numbers()))
    kinds: list[list[float | int]] = []
    slots = []
    for number in numbers():
        kind: list[float | int] = [
            number.value,
            number.sd,
            int(number.kind == "ratio"),
            -1 if number.word is None else words.index(number.word),
            number.low,
            number.high,
            sources.index(number.source),
            int(number.is_published),
        ]
        if kind not in kinds:
            kinds.append(kind)
        slots.append(kinds.index(kind))
    start, starts = 0, {}
    for name, members in sections().items():
        starts[name] = start
        start += len(members)
    return {
        "kinds": kinds,
        "slots": slots,
        "starts": starts,
        "sources": sources,
        "words": len(words),
        "share_of_word": c.SHARE_OF_WORD_IN_VARIANCE.value,
        "seed": int(c.SEED.value),
        "draws": int(c.DRAWS.value),
        "interval_z": c.INTERVAL_Z,
        "low": LOW,
        "high": HIGH,
    }


def _methods() -> list[dict[str, Any]]:
    order, pools = list(Condition), list(POOLS)
    return [
        {
            "name": method.name,
            "entry": entry_of(method.name),
            "sample": str(method.sample),
            "target": order.index(method.target),
            "pool": pools.index((method.target, method.sample)),
            "outcomes": list(method.outcomes),
            "positives": [name in method.positives for name in method.outcomes],
            "confuser": -1 if method.confuser is None else order.index(method.confuser),
            "confirms": method.confirms,
            "specific": method.is_specific,
            "evidence": str(method.evidence),
            "minutes": method.minutes,
            "cost": method.cost,
            "waiting_days": method.waiting_days,
        }
        for method in CATALOGUE
    ]


def _reading() -> dict[str, float]:
    return {
        "rope_doubtful_mm": c.ROPE_DOUBTFUL_MM.value,
        "rope_positive_mm": c.ROPE_POSITIVE_MM.value,
        "rope_long_mm": c.ROPE_LONG_MM.value,
        "rope_longest_mm": c.ROPE_LONGEST_MM.value,
        "read_after_min": c.READ_AFTER_MIN.value,
        "read_not_before_min": c.READ_NOT_BEFORE_MIN.value,
        "read_not_after_min": c.READ_NOT_AFTER_MIN.value,
        "trust_read_early": c.TRUST_READ_EARLY.value,
        "trust_read_late": c.TRUST_READ_LATE.value,
        "trust_time_unknown": c.TRUST_TIME_UNKNOWN.value,
        "trust_expired": c.TRUST_EXPIRED.value,
        "trust_unknown_lot": c.TRUST_UNKNOWN_LOT.value,
        "bees_half_clinical_log10": c.AFB_BEES_HALF_CLINICAL_LOG10.value,
        "debris_half_clinical_log10": c.AFB_DEBRIS_HALF_CLINICAL_LOG10.value,
        "mites_treat_per_100": c.MITES_TREAT_PER_100.value,
    }


def _thresholds() -> dict[str, Any]:
    default = Thresholds()
    return {
        "suspect_probability": default.suspect_probability,
        "exotic_probability": default.exotic_probability,
        "confirm_probability": default.confirm_probability,
        "confirm_by": {str(name): sorted(kinds) for name, kinds in default.confirm_by.items()},
    }


if __name__ == "__main__":
    print(compiled_text(), end="")
