"""Turns the desk's larger answers into shapes, with their rules and sentences in the user's language."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from broodsweep.constants import Clearance
from broodsweep.desk import rules
from broodsweep.desk.answers import CaseSheet, OutbreakSheet, Today
from broodsweep.desk.context import Desk
from broodsweep.outbreak import Due, Event, EventKind, Forbidden
from broodsweep.web.shapes.base import shape
from broodsweep.web.shapes.ground import ApiaryShape, KeeperShape, LotShape
from broodsweep.web.shapes.outbreaks import (
    BannedPlaceShape,
    CaseShape,
    DueShape,
    EventShape,
    FindingShape,
    ForbiddenShape,
    OutbreakLineShape,
    OutbreakSheetShape,
    StepOptionsShape,
    TodayShape,
)
from broodsweep.web.shapes.rules import rule_shape
from broodsweep.words import Message, has_key, render, say


@dataclass(frozen=True)
class Shaper:
    """Shapes answers of one desk in one language."""

    desk: Desk
    locale: str

    def say(self, message: Message) -> str:
        """Put a sentence into words."""
        return render(message, self.locale)

    def due(self, row: Due, on: date) -> DueShape:
        """Shape a line of what is due."""
        kept = self.desk.snapshot()
        apiary = kept.apiaries.get(row.apiary)
        return DueShape(
            outbreak=row.outbreak,
            apiary=row.apiary,
            keeper_name=kept.keeper_name(apiary) if apiary else None,
            key=row.key,
            round=row.round,
            what=self.say(row.what),
            due_on=row.due_on,
            earliest_on=row.earliest_on,
            since_on=row.since_on,
            done_on=row.done_on,
            is_at_once=row.is_at_once,
            days=(row.due_on - on).days if row.due_on else None,
            state=row.state,
            rule=rule_shape(row.rule, self.locale),
        )

    def forbidden(self, rows: Sequence[Forbidden]) -> list[ForbiddenShape]:
        """Shape the bans: one for each rule, with the cases at which it holds."""
        groups: dict[tuple[object, ...], list[Forbidden]] = {}
        for row in rows:
            groups.setdefault((row.key, row.direction, row.radius_m, row.words, row.rule.name), []).append(
                row
            )
        return [self._ban(group) for group in groups.values()]

    def _ban(self, rows: list[Forbidden]) -> ForbiddenShape:
        first = rows[0]
        goods = [say(f"rulebook.word_{word}") for word in first.words]
        zone = "" if first.radius_m is None else "_zone"
        said = Message(
            f"web.ban{zone}_{first.direction}", {"goods": goods, "radius_m": first.radius_m or 0.0}
        )
        return ForbiddenShape(
            what=self.say(said),
            direction=str(first.direction),
            radius_m=first.radius_m,
            rule=rule_shape(first.rule, self.locale),
            places=[
                BannedPlaceShape(
                    apiary=row.apiary, since_on=row.since_on, until=self.say(row.until), why=self.say(row.why)
                )
                for row in rows
            ],
        )

    def today(self, answer: Today) -> TodayShape:
        """Shape what a day asks for."""
        return TodayShape(
            on=answer.on,
            overdue=[self.due(row, answer.on) for row in answer.overdue],
            at_once=[self.due(row, answer.on) for row in answer.at_once],
            due_this_week=[self.due(row, answer.on) for row in answer.due_this_week],
            findings=[shape(FindingShape, row, self.locale) for row in answer.findings],
            outbreaks=[shape(OutbreakLineShape, row, self.locale) for row in answer.outbreaks],
            lots=[shape(LotShape, row, self.locale) for row in answer.lots],
            apiaries=answer.apiaries,
            keepers=answer.keepers,
            likely_duplicates=answer.likely_duplicates,
        )

    def outbreak(self, answer: OutbreakSheet) -> OutbreakSheetShape:
        """Shape an outbreak's sheet."""
        labels = [f"rulebook.topic_{name.replace('.', '_')}" for name in answer.locally_changed]
        return OutbreakSheetShape(
            line=shape(OutbreakLineShape, answer.line, self.locale),
            on=answer.on,
            radii_m=list(answer.radii_m),
            cases=[self.case(row, answer.on) for row in answer.cases],
            due=[self.due(row, answer.on) for row in answer.due],
            forbidden=self.forbidden(answer.forbidden),
            cautions=[self.say(row) for row in answer.cautions],
            options=self.options(answer),
            rulebook_title=answer.rulebook_title,
            locally_changed=[self.say(say(key)) for key in labels if has_key(key)],
        )

    def options(self, answer: OutbreakSheet) -> StepOptionsShape:
        """Give the words that the rulebook allows with a step."""
        book = rules.book(self.desk, answer.line.rulebook)

        def words(name: str) -> list[str]:
            rule = book.find(name, answer.line.disease, answer.on)
            return list(rule.word_list()) if rule else []

        permitted = words("clearance.permitted")
        return StepOptionsShape(
            by=words("confirm.by"),
            how=[word for word in permitted if word != Clearance.DESTROYED],
            notice_role=words("notice.signed_by"),
            release_role=words("release.signed_by"),
        )

    def case(self, row: CaseSheet, on: date) -> CaseShape:
        """Shape a case; events that a later entry corrects are marked."""
        corrected = {str(e.detail.get("event")) for e in row.events if e.kind is EventKind.AMENDED}
        return CaseShape(
            apiary=shape(ApiaryShape, row.apiary, self.locale),
            keeper=shape(KeeperShape, row.keeper, self.locale) if row.keeper else None,
            state=row.state,
            since=row.since,
            events=[self.event(event, amended=event.event in corrected) for event in row.events],
            allowed=list(row.allowed),
            due=[self.due(one, on) for one in row.due],
        )

    @staticmethod
    def event(row: Event, *, amended: bool) -> EventShape:
        """Shape an event."""
        return EventShape(
            event=row.event,
            kind=row.kind,
            happened_on=row.happened_on,
            recorded_at=row.recorded_at,
            who=row.who,
            evidence=row.evidence,
            detail=dict(row.detail),
            amended=amended,
        )
