"""Why a step cannot be: each transition with its reason."""

from __future__ import annotations

from typing import Final

from broodsweep.constants import Disease
from broodsweep.errors import RefusedError
from broodsweep.outbreak.history import CLEARANCES, ESTABLISHED_STATES, OPEN_STATES, Progress
from broodsweep.outbreak.interval import Asked
from broodsweep.outbreak.model import CaseState, Event, EventKind
from broodsweep.rulebook import Rulebook
from broodsweep.words import Message, say

_ANY = frozenset(CaseState)
_OPENING = frozenset({CaseState.SUSPECTED, CaseState.AWAITING_RESULT, CaseState.NOT_CONFIRMED})
_IN_QUESTION = frozenset({CaseState.SUSPECTED, CaseState.AWAITING_RESULT})

ALLOWED_IN: Final = {
    EventKind.SUSPECTED: _OPENING | {CaseState.IN_REINSPECTION},
    EventKind.NOTIFIED: OPEN_STATES,
    EventKind.SAMPLE_SENT: OPEN_STATES,
    EventKind.CONFIRMED: _IN_QUESTION,
    EventKind.NOT_CONFIRMED: _IN_QUESTION,
    EventKind.NOTICE_SERVED: OPEN_STATES,
    EventKind.COLONIES_DESTROYED: ESTABLISHED_STATES,
    EventKind.COLONIES_TREATED: ESTABLISHED_STATES,
    EventKind.COMB_BURNED: ESTABLISHED_STATES,
    EventKind.EQUIPMENT_DISINFECTED: ESTABLISHED_STATES,
    EventKind.DISINFECTION_ACCEPTED: ESTABLISHED_STATES,
    EventKind.SITE_CLOSED_UP: OPEN_STATES,
    EventKind.KIT_CLEANED: OPEN_STATES,
    EventKind.ZONE_EXAMINED: ESTABLISHED_STATES,
    EventKind.REINSPECTED_CLEAN: frozenset({CaseState.IN_REINSPECTION}),
    EventKind.REINSPECTED_POSITIVE: frozenset({CaseState.IN_REINSPECTION}),
    EventKind.RELEASED: frozenset({CaseState.IN_REINSPECTION}),
    EventKind.REOPENED: frozenset({CaseState.RELEASED, CaseState.NOT_CONFIRMED}),
    EventKind.NOTE: _ANY,
    EventKind.AMENDED: _ANY,
}
"""States in which each kind of event may come; a case begins with a suspicion or a confirmation."""
BEGINNINGS = frozenset({EventKind.SUSPECTED, EventKind.CONFIRMED})


class StepRefusedError(RefusedError):
    """A step that cannot be: ``reason`` says why, ``possible`` what could be done instead."""

    def __init__(self, event: Event, reason: Message, possible: tuple[EventKind, ...]) -> None:
        self.reason, self.possible = reason, possible
        super().__init__(
            "outbreak.refused",
            step=step_said(event.kind),
            apiary=event.apiary,
            happened_on=event.happened_on,
            reason=reason,
            possible=[step_said(kind) for kind in possible] or [say("outbreak.nothing")],
        )


def step_said(kind: EventKind) -> Message:
    """Return a kind of event in words."""
    return say(f"outbreak.step.{kind}")


def state_said(state: CaseState) -> Message:
    """Return a state in words."""
    return say(f"outbreak.state.{state}")


def why_refused(progress: Progress, event: Event, book: Rulebook, disease: Disease) -> Message | None:
    """Return why an event cannot follow what has been, or None when it can."""
    kind, state = event.kind, progress.state
    if state is None:
        return None if kind in BEGINNINGS else say("outbreak.reason_nothing_found")
    if state not in ALLOWED_IN[kind]:
        return _why_not_in(state, kind)
    asked = Asked(book=book, disease=disease, progress=progress)
    if kind is EventKind.CONFIRMED:
        return _why_no_proof(asked, event)
    if kind in CLEARANCES:
        return _why_no_clearance(asked, event)
    if kind is EventKind.DISINFECTION_ACCEPTED and EventKind.EQUIPMENT_DISINFECTED not in progress.done:
        return say("outbreak.reason_not_disinfected")
    if kind is EventKind.NOTICE_SERVED:
        return _why_not_signed(asked, event, "notice.signed_by")
    if kind is EventKind.RELEASED:
        return _why_no_release(asked, event)
    return None


def _why_not_in(state: CaseState, kind: EventKind) -> Message:
    if kind in CLEARANCES and state in _IN_QUESTION:
        return say("outbreak.reason_not_confirmed_yet")
    looks = (EventKind.REINSPECTED_CLEAN, EventKind.REINSPECTED_POSITIVE)
    if kind in (*looks, EventKind.RELEASED) and state in OPEN_STATES:
        return say("outbreak.reason_not_cleared_yet")
    if state in (CaseState.RELEASED, CaseState.NOT_CONFIRMED):
        return say("outbreak.reason_reopen_first", state=state_said(state))
    return say("outbreak.reason_state", state=state_said(state))


def _why_no_proof(asked: Asked, event: Event) -> Message | None:
    proof, rule = event.detail.get("by"), asked.rule("confirm.by")
    if proof is None or rule is None or str(proof) in rule.word_list():
        return None
    words = [say(f"rulebook.word_{word}") for word in rule.word_list()]
    return say("outbreak.reason_proof", book=asked.book.title, words=words, citation=rule.citation)


def _why_no_clearance(asked: Asked, event: Event) -> Message | None:
    rule = asked.rule("clearance.permitted")
    if rule is None:
        return None
    permitted = set(rule.word_list())
    ways = {"destroyed"} if event.kind is EventKind.COLONIES_DESTROYED else {"treated", "shook_swarm"}
    if "how" in event.detail:
        ways &= {str(event.detail["how"])}
    if ways & permitted:
        return None
    words = [say(f"rulebook.word_{word}") for word in rule.word_list()]
    return say("outbreak.reason_method", book=asked.book.title, words=words, citation=rule.citation)


def _why_not_signed(asked: Asked, event: Event, name: str) -> Message | None:
    role, rule = event.detail.get("role"), asked.rule(name)
    if role is None or rule is None or str(role) in rule.word_list():
        return None
    words = [say(f"rulebook.word_{word}") for word in rule.word_list()]
    return say("outbreak.reason_signature", words=words, citation=rule.citation)


def _why_no_release(asked: Asked, event: Event) -> Message | None:
    missing = asked.measures_missing
    if missing:
        return say("outbreak.reason_measures", measures=[step_said(kind) for kind in missing])
    have, needed = asked.cleans_that_count, asked.cleans_needed
    if len(have) < needed:
        first_on = asked.reinspect_from or asked.progress.cleared_on
        rule = asked.rule("reinspect.earliest")
        citation = rule.citation if rule else asked.book.title
        return say(
            "outbreak.reason_cleans", count=needed, have=len(have), first_on=first_on, citation=citation
        )
    if asked.release_from is not None and event.happened_on < asked.release_from:
        rule = asked.rule("release.earliest") or asked.rule("reinspect.earliest")
        citation = rule.citation if rule else asked.book.title
        return say("outbreak.reason_release_early", first_on=asked.release_from, citation=citation)
    return _why_not_signed(asked, event, "release.signed_by")
