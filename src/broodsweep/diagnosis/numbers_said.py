"""Says in words which number of the model of brood diseases is meant."""

from __future__ import annotations

from broodsweep.diagnosis.conditions import name_of
from broodsweep.words import Message, say


def number_said(where: str) -> Message:
    """Return in words which number of the model is meant."""
    kind, _, rest = where.partition("/")
    first, _, place = rest.partition("/")
    if kind == "sign":
        condition, _, stage = place.partition(".")
        key = "weigh.number_sign" if condition != "healthy" else "weigh.number_sign_healthy"
        at = name_of(condition) if condition != "healthy" else ""
        if stage:
            at = say("weigh.number_stage", condition=at, stage=say(f"weigh.stage_{stage}"))
        return say(key, sign=say(f"diagnosis.sign.{first}"), condition=at)
    if kind == "stage":
        return say("weigh.number_stage_share", condition=name_of(first))
    if kind in ("prior", "season"):
        return say(f"weigh.number_{kind}", condition=name_of(first))
    if kind == "context":
        return say(f"weigh.number_context_{first}")
    if kind == "sample":
        sample, _, stage = place.partition("/")
        key = "weigh.number_sample_without" if stage == "without" else "weigh.number_sample"
        return say(key, condition=name_of(first), sample=say(f"weigh.sample_{sample}"))
    if kind == "test":
        key = "weigh.number_test_held" if place.startswith("held") else "weigh.number_test_free"
        return say(key, test=say(f"diagnosis.test.{first}"))
    return say("weigh.number_misread" if kind == "misread" else "weigh.number_other")
