"""Makes of a visit what should follow from it: each effect once, and what is refused with its reason."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from broodsweep.constants import Disease
from broodsweep.desk.field_draft import Draft
from broodsweep.desk.field_lines import Folded, fold_rows
from broodsweep.desk.field_ports import Refusal
from broodsweep.desk.rules import book_of
from broodsweep.errors import RefusedError
from broodsweep.fieldbook import Effects, Wish, diseases_of, effect_name, effects_of
from broodsweep.outbreak import (
    Case,
    CaseState,
    Event,
    EventKind,
    Outbreak,
    add_event,
    effective_events,
    is_open,
    state_of,
)
from broodsweep.register import Move
from broodsweep.words import Message, say

ESTABLISHED = (CaseState.CONFIRMED, CaseState.UNDER_MEASURES)
"""States in which one more suspicion says nothing new."""
_ORDER = {kind: number for number, kind in enumerate(("suspected", "sample_sent", "reinspected_clean"))}


def settle(draft: Draft, visits: Mapping[str, Folded]) -> tuple[Refusal, ...]:
    """Bring the record to what the visits say; return what was refused.

    Rows of the register come first, steps of cases after them in order of their days, whatever the order in
    which the lines arrived.
    """
    refused: list[Refusal] = []
    wishes: list[tuple[Folded, Wish]] = []
    for name, folded in sorted(visits.items()):
        should = effects_of(folded.now, inspector=folded.who, key_of=draft.key_of, zone=draft.desk.zone)
        refused += _row(draft, name, should)
        refused += _moves(draft, name, should)
        refused += [
            Refusal(refusal=row.name, visit=name, what=row.what, happened_on=row.happened_on, why=row.why)
            for row in should.unmet
        ]
        wishes += [(folded, wish) for wish in should.wishes]
    wishes.sort(key=lambda row: (row[1].happened_on, _ORDER[row[1].kind], row[1].name))
    for folded, wish in wishes:
        refused += _wish(draft, folded, wish)
    for name, folded in sorted(visits.items()):
        refused += _gone_suspicions(draft, name, folded)
    return tuple(refused)


def _row(draft: Draft, visit: str, should: Effects) -> list[Refusal]:
    row = should.row
    if row is None:
        if draft.visit(visit) is not None:
            draft.visits[visit] = None
        return []
    why = _why_not_there(draft, row.apiary) or _why_in_future(draft, row.visited_on)
    if why is not None:
        name = effect_name(visit, "visit")
        return [Refusal(refusal=name, visit=visit, what="visit", happened_on=row.visited_on, why=why)]
    before = draft.visit(visit)
    draft.visits[visit] = replace(
        row,
        extra=before.extra if before else (),
        colonies_confirmed=before.colonies_confirmed if before else 0,
    )
    return []


def _moves(draft: Draft, visit: str, should: Effects) -> list[Refusal]:
    refused = []
    for move in should.moves:
        ends = [end for end in (move.from_apiary, move.to_apiary) if end is not None]
        whys = [_why_not_there(draft, end) for end in ends] + [_why_in_future(draft, move.moved_on)]
        why = next((row for row in whys if row is not None), None)
        if why is not None:
            name = effect_name(visit, "move", move.move)
            refused.append(
                Refusal(refusal=name, visit=visit, what="move", happened_on=move.moved_on, why=why)
            )
        elif draft.move(move.move) is None:
            draft.moves[move.move] = move
    wanted = {move.move for move in should.moves}
    for move in draft.moves_told_at(visit):
        if move.move not in wanted:
            draft.moves[move.move] = _told_elsewhere(draft, visit, move.move)
    return refused


def _told_elsewhere(draft: Draft, visit: str, key: str) -> Move | None:
    """Return the same move as another visit tells it, None when no other does."""
    told = draft.desk.store.lines(kinds=("keeper_said", "visit_amended"))
    others = {row.visit for row in told if row.visit not in (None, visit)}
    rows = draft.desk.store.lines(visits=[name for name in others if name])
    for folded in fold_rows(rows).values():
        should = effects_of(folded.now, inspector=None, key_of=draft.key_of, zone=draft.desk.zone)
        for move in should.moves:
            if move.move == key:
                return move
    return None


def _wish(draft: Draft, folded: Folded, wish: Wish) -> list[Refusal]:
    on_record = _names_on_record(draft)
    if wish.name in on_record:
        return []
    refused = []
    why = _why_not_there(draft, wish.apiary) or _why_in_future(draft, wish.happened_on)
    if why is not None:
        return [_refusal(folded, wish, wish.name, why)]
    if wish.kind == EventKind.SUSPECTED and wish.disease is not None:
        why = _suspect(draft, folded, wish, wish.disease)
        return [] if why is None else [_refusal(folded, wish, wish.name, why)]
    is_met = False
    for outbreak in draft.every_outbreak():
        name = effect_name(wish.name, outbreak.outbreak)
        if name in on_record:
            is_met = True
            continue
        if wish.disease not in (None, outbreak.disease) or not _has_open_case(outbreak, wish.apiary):
            continue
        is_met = True
        why = _step(draft, folded, replace(wish, name=name), outbreak)
        if why is not None:
            refused.append(_refusal(folded, wish, name, why))
    if not is_met and wish.kind == EventKind.REINSPECTED_CLEAN:
        refused.append(_refusal(folded, wish, wish.name, say("fieldbook.no_open_case", apiary=wish.apiary)))
    return refused


def _suspect(draft: Draft, folded: Folded, wish: Wish, disease: Disease) -> Message | None:
    mine = [
        (row, case)
        for row in draft.every_outbreak()
        for case in row.cases
        if row.disease is disease and case.apiary == wish.apiary and row.closed_on is None
    ]
    open_one = next(((row, case) for row, case in mine if is_open(case)), None)
    if open_one is not None and state_of(open_one[1]) in ESTABLISHED:
        return None
    outbreak = open_one[0] if open_one else mine[0][0] if mine else None
    if outbreak is None:
        outbreak = draft.near(wish.apiary, disease, wish.happened_on)
    if outbreak is None:
        outbreak = draft.new_outbreak(disease, wish.happened_on)
    # a finding that reaches the desk late may be older than the one that opened the outbreak
    outbreak = replace(outbreak, opened_on=min(outbreak.opened_on, wish.happened_on))
    if all(case.apiary != wish.apiary for case in outbreak.cases):
        outbreak = replace(outbreak, cases=(*outbreak.cases, Case(apiary=wish.apiary)))
    return _step(draft, folded, wish, outbreak)


def _step(draft: Draft, folded: Folded, wish: Wish, outbreak: Outbreak) -> Message | None:
    event = Event(
        event=wish.name,
        apiary=wish.apiary,
        kind=EventKind(wish.kind),
        happened_on=wish.happened_on,
        recorded_at=draft.desk.now(),
        who=folded.who or folded.now.device,
        evidence=f"visit {folded.now.visit}",
        detail=wish.detail,
    )
    try:
        draft.outbreaks[outbreak.outbreak] = add_event(outbreak, event, book_of(draft.desk, outbreak))
    except RefusedError as err:
        return err.message
    return None


def _gone_suspicions(draft: Draft, visit: str, folded: Folded) -> list[Refusal]:
    """Return the suspicions on record that a visit no longer bears out: a person withdraws them, not the desk."""
    still = frozenset() if folded.now.is_dropped else frozenset(diseases_of(folded.now))
    names = {effect_name(visit, "suspected", row): row for row in Disease if row not in still}
    refused = []
    for outbreak in draft.every_outbreak():
        for case in outbreak.cases:
            for event in effective_events(case):
                if event.event in names:
                    why = say("fieldbook.suspicion_gone", outbreak=outbreak.outbreak, apiary=case.apiary)
                    name = effect_name(event.event, "gone")
                    refused.append(
                        Refusal(
                            refusal=name,
                            visit=visit,
                            what="suspected",
                            happened_on=event.happened_on,
                            why=why,
                        )
                    )
    return refused


def _names_on_record(draft: Draft) -> frozenset[str]:
    return frozenset(
        event.event for row in draft.every_outbreak() for case in row.cases for event in case.events
    )


def _has_open_case(outbreak: Outbreak, apiary: str) -> bool:
    return any(case.apiary == apiary and is_open(case) for case in outbreak.cases)


def _why_not_there(draft: Draft, apiary: str) -> Message | None:
    return None if draft.apiary(apiary) else say("desk.no_such_apiary", apiary=apiary)


def _why_in_future(draft: Draft, day: date) -> Message | None:
    today = draft.desk.today()
    return say("fieldbook.in_future", happened_on=day, today_on=today) if day > today else None


def _refusal(folded: Folded, wish: Wish, name: str, why: Message) -> Refusal:
    return Refusal(
        refusal=name, visit=folded.now.visit, what=wish.kind, happened_on=wish.happened_on, why=why
    )


def visits_of(rows: Iterable[Refusal]) -> frozenset[str]:
    """Return the visits that refusals stand against."""
    return frozenset(row.visit for row in rows)
