"""Attach a weighing to a case as evidence, and count the kits that weighings have used."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from broodsweep.constants import Disease
from broodsweep.desk.context import Desk
from broodsweep.desk.outbreaks import add_case, open_outbreak, record_event
from broodsweep.desk.ports import Author
from broodsweep.desk.snapshot import Snapshot
from broodsweep.desk.weighing import Look, Weighed, kit_test, prior_notes, weigh_look
from broodsweep.diagnosis import Belief, Condition, Evidence, State, lot_warnings, name_of
from broodsweep.diagnosis.decide import in_words
from broodsweep.diagnosis.reasons import result_text
from broodsweep.errors import RefusedError
from broodsweep.outbreak import EventKind, Outbreak
from broodsweep.register import Lot
from broodsweep.words import Message, say

WEIGHING = "weighing"
"""Name under which an event keeps the weighing it rests on."""
WHERE = "where"
"""Column of the table of lots, beside ours, that says where the kits lie."""
_KEPT_CONDITIONS, _TOLD_CONDITIONS = 5, 3
_LONGEST = 2000
_STRONGEST_FIRST = (Evidence.LABORATORY, Evidence.FIELD_TEST, Evidence.FIELD_LOOK)


@dataclass(frozen=True, kw_only=True)
class Kit:
    """A lot of test kits: the test it is for, how many are left, and what must be said of it.

    ``state`` is ``good``, ``expires_soon``, ``expired`` or ``used_up``; ``text`` is None for a good one.
    """

    lot: Lot
    test: str | None
    state: str
    left: int | None
    text: Message | None

    @property
    def where(self) -> str | None:
        """Where the kits lie, as somebody wrote it down."""
        return dict(self.lot.extra).get(WHERE)


def keep_lot(
    desk: Desk,
    author: Author,
    *,
    lot: str,
    disease: Disease,
    expires_on: date,
    count: int | None,
    where: str | None = None,
) -> Lot:
    """Enter a lot of field tests in the register, or correct the one of that name, and return it.

    Parameters
    ----------
    count
        Kits bought; None when nobody knows.
    where
        Where they lie, in the user's words.
    """
    known = next((row for row in desk.snapshot().ground.lots if row.lot == lot), None)
    extra = {**dict(known.extra if known else ()), **({WHERE: where} if where else {})}
    if not where:
        extra.pop(WHERE, None)
    same_kit = known is not None and kit_test(known.kit) == kit_test(f"{disease} field test")
    kept = Lot(
        lot=lot,
        kit=known.kit if known and same_kit else f"{disease} field test",
        expires_on=expires_on,
        count=count,
        extra=tuple(sorted(extra.items())),
    )
    with desk.store.work(author, "keep_lot") as work:
        work.save("lots", [kept])
    return kept


def kits(desk: Desk, on: date) -> tuple[Kit, ...]:
    """Return every lot on the register, the earliest date first, less the kits that weighings have used."""
    kept = desk.snapshot()
    used = list(used_lots(kept))
    named = [replace(lot, kit=kit_test(lot.kit) or lot.kit) for lot in kept.ground.lots]
    warned = {warning.lot.lot: warning for warning in lot_warnings(named, used=used, on=on)}
    found = []
    for lot in sorted(kept.ground.lots, key=lambda row: (row.expires_on, row.lot)):
        warning = warned.get(lot.lot)
        left = None if lot.count is None else max(lot.count - used.count(lot.lot), 0)
        found.append(
            Kit(
                lot=lot,
                test=kit_test(lot.kit),
                state=warning.state if warning else "good",
                left=left,
                text=warning.text if warning else None,
            )
        )
    return tuple(found)


def used_lots(kept: Snapshot) -> Iterator[str]:
    """Give the lot of every kit that an attached weighing used."""
    for outbreak in kept.outbreaks:
        for case in outbreak.cases:
            for event in case.events:
                weighing = event.detail.get(WEIGHING)
                if isinstance(weighing, Mapping):
                    yield from (str(lot) for lot in weighing.get("lots", ()))


def attach(
    desk: Desk,
    author: Author,
    look: Look,
    *,
    disease: Disease,
    kind: EventKind,
    write: Callable[[Message], str],
    outbreak: str | None = None,
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
