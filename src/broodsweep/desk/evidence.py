"""Attach a weighing to a case as evidence."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.outbreaks import add_case, open_outbreak, record_event
from broodsweep.desk.ports import Author
from broodsweep.desk.weighing import Look, Weighed, prior_notes, weigh_look
from broodsweep.diagnosis import Belief, Condition, Evidence, State, name_of
from broodsweep.diagnosis.decide import in_words
from broodsweep.diagnosis.reasons import result_text
from broodsweep.errors import RefusedError
from broodsweep.outbreak import EventKind, Outbreak
from broodsweep.words import Message, say

WEIGHING = "weighing"
"""Name under which an event keeps the weighing it rests on."""
_KEPT_CONDITIONS, _TOLD_CONDITIONS = 5, 3
_LONGEST = 2000
_STRONGEST_FIRST = (Evidence.LABORATORY, Evidence.FIELD_TEST, Evidence.FIELD_LOOK)


def attach(
    desk: Desk,
    author: Author,
    look: Look,
    *,
    disease: Disease,
    kind: EventKind,
    write: Callable[[Message], str],
    outbreak: str | None = None,
    kept_look: int | None = None,
) -> Outbreak:
    """Attach a look, weighed anew, to a case as evidence and return the outbreak.

    With no outbreak named one is opened; in a named one the apiary becomes a case, or its case gets the
    evidence (``note``) or the confirmation (``confirmed``).

    Parameters
    ----------
    kind
        ``suspected`` or ``confirmed`` for a finding; ``note`` or ``confirmed`` for a case on record.
    write
        Puts a sentence into the words of the record.
    kept_look
        Number of the look at the apiary that this is, when it was kept before.

    Raises
    ------
    RefusedError
        If no apiary is named, nothing was seen or tested, the evidence does not confirm, or the step is
        not possible now.
    """
    if look.apiary is None:
        raise RefusedError("weigh.needs_apiary")
    if not look.signs and not look.tests:
        raise RefusedError("weigh.needs_look")
    weighed = weigh_look(desk, look)
    detail: dict[str, Any] = {WEIGHING: kept_weighing(weighed)}
    if kept_look is not None:
        detail[WEIGHING]["look"] = kept_look
    if kind is EventKind.CONFIRMED:
        detail["by"] = _proof(weighed, disease)
    said = evidence_text(weighed, write)
    if outbreak is None:
        return open_outbreak(
            desk,
            author,
            disease=disease,
            apiary=look.apiary,
            found_on=look.looked_on,
            kind=kind,
            evidence=said,
            detail=detail,
        )
    kept = desk.snapshot().outbreak(outbreak)
    if kept.disease is not disease:
        raise RefusedError("weigh.other_disease", outbreak=outbreak, disease=say(f"disease.{kept.disease}"))
    if any(case.apiary == look.apiary for case in kept.cases):
        return record_event(
            desk,
            author,
            outbreak,
            look.apiary,
            kind=kind,
            happened_on=look.looked_on,
            evidence=said,
            detail=detail,
        )
    return add_case(
        desk,
        author,
        outbreak,
        apiary=look.apiary,
        found_on=look.looked_on,
        kind=kind,
        evidence=said,
        detail=detail,
    )


def _proof(weighed: Weighed, disease: Disease) -> str:
    """Return by what the disease is confirmed, in the rulebook's words."""
    decision, target = weighed.answer.decision, Condition(disease.value)
    kinds = {
        result.method.evidence
        for result in weighed.answer.results
        if result.is_positive
        and result.is_evidential
        and result.method.target is target
        and weighed.thresholds.is_confirmed_by(result.method)
    }
    proofs = [kind for kind in _STRONGEST_FIRST if kind in kinds]
    if decision.state is not State.CONFIRMED or target not in decision.conditions or not proofs:
        raise RefusedError("weigh.not_confirmed", disease=say(f"disease.{disease}"))
    return str(proofs[0])


def kept_weighing(weighed: Weighed) -> dict[str, Any]:
    """Return the weighing as plain values for the record: enough to weigh it again."""
    observed = weighed.observed
    return {
        "conditions": [
            [str(row.condition), round(row.probability, 4), round(row.low, 4), round(row.high, 4)]
            for row in weighed.answer.conditions[:_KEPT_CONDITIONS]
        ],
        "state": str(weighed.answer.decision.state),
        "signs": dict(observed.signs),
        "tests": [
            {"test": r.method.name, "outcome": r.outcome or "invalid", "evidential": r.is_evidential}
            for r in weighed.answer.results
        ],
        "lots": [reading.lot for reading in observed.tests if reading.lot],
        "season": str(observed.season) if observed.season else None,
        "observer": observed.observer,
        "prior": {
            str(name): [
                round(value, 4) for value in (row.probability, row.low, row.high) if value is not None
            ]
            for name, row in observed.prior.items()
        },
        "outbreak_m": {str(name): round(m) for name, m in observed.context.outbreak_m.items()},
    }


def evidence_text(weighed: Weighed, write: Callable[[Message], str]) -> str:
    """Return the weighing as sentences that a person can sign."""
    answer, observed = weighed.answer, weighed.observed
    figures = [_figure(row) for row in answer.conditions[:_TOLD_CONDITIONS]]
    parts = [say("weigh.evidence_weighed", figures=figures)]
    for is_seen, key in ((True, "weigh.evidence_seen"), (False, "weigh.evidence_absent")):
        signs = [say(f"diagnosis.sign.{sign}") for sign, seen in observed.signs.items() if seen is is_seen]
        if signs:
            parts.append(say(key, signs=signs))
    if answer.results:
        parts.append(say("weigh.evidence_tests", tests=[result_text(result) for result in answer.results]))
    parts += prior_notes(weighed)
    if answer.decision.not_looked_at:
        parts.append(say("weigh.evidence_unseen", unseen=list(answer.decision.not_looked_at)))
    return " ".join(write(part) for part in parts)[:_LONGEST]


def _figure(row: Belief) -> Message:
    said, low, high = (in_words(value) for value in (row.probability, row.low, row.high))
    if said == low == high:  # over 0.99 all through
        return say("weigh.figure_alone", condition=name_of(row.condition), said=said)
    return say("weigh.figure", condition=name_of(row.condition), said=said, low=low, high=high)
