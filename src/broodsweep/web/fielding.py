"""Turns what the desk knows of the field into shapes."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from broodsweep.access import Access
from broodsweep.desk.context import Desk
from broodsweep.desk.field_lines import is_readable
from broodsweep.desk.field_ports import Heard, KeptLine, Refusal
from broodsweep.desk.field_sheet import FieldSheet, VisitSheet
from broodsweep.desk.paper_lines import PAPER
from broodsweep.desk.round_names import inspector_names
from broodsweep.fieldbook import as_json
from broodsweep.web.shapes import field as f
from broodsweep.web.shapes.base import shape
from broodsweep.words import render, say


@dataclass(frozen=True)
class FieldShaper:
    """Shapes what one desk knows of the field in one language."""

    desk: Desk
    access: Access
    locale: str

    def sheet(self, found: FieldSheet) -> f.FieldSheetShape:
        """Shape the field sheet; people by their names."""
        called = inspector_names(self.desk.snapshot())
        apiaries = {row.visit: row.apiary for row in found.visits}
        return f.FieldSheetShape(
            on=found.on,
            version=self.desk.snapshot().version,
            phones=self.phones(found.heard),
            visits=[self._visit(row, called) for row in found.visits],
            waiting=[
                f.WaitingShape(inspector=key, name=called.get(key, key), stops=list(stops))
                for key, stops in found.waiting.items()
            ],
            set_aside=[self.line(row) for row in found.set_aside],
            meetings=[shape(f.MeetingShape, row, self.locale) for row in found.meetings],
            refusals=self.refusals(found.refusals, apiaries),
            samples=[shape(f.FieldSampleShape, row, self.locale) for row in found.samples],
            round_news=shape(f.RoundNewsShape, found.round_news, self.locale) if found.round_news else None,
        )

    def visit(self, found: VisitSheet) -> f.FieldVisitSheetShape:
        """Shape one visit."""
        called = inspector_names(self.desk.snapshot())
        return f.FieldVisitSheetShape(
            line=self._visit(found.line, called),
            now=as_json(found.now),
            rows=[self.line(row) for row in found.rows],
            photos_here=sorted(found.photos_here),
            refusals=self.refusals(found.refusals, {found.line.visit: found.line.apiary}),
            who=called.get(found.line.who or "", found.line.who or "–"),
        )

    def phones(self, heard: Iterable[Heard]) -> list[f.HeardShape]:
        """Shape the phones: those enrolled, and whatever else brought lines."""
        known = {row.device: row for row in self.access.devices.everyone()}
        told = {row.device: row for row in heard}
        rows = []
        for device in dict.fromkeys((*known, *told)):
            phone, line = known.get(device), told.get(device)
            seen = [at for at in (phone.seen_at if phone else None, line.last_at if line else None) if at]
            label = say("fieldbook.paper") if device == PAPER else None
            rows.append(
                f.HeardShape(
                    device=device,
                    label=render(label, self.locale) if label else phone.label if phone else device,
                    who=phone.who if phone else "",
                    last_at=max(seen, default=None),
                    lines=line.lines if line else 0,
                    missing=max(0, line.highest - line.lines) if line and device != PAPER else 0,
                    is_revoked=bool(phone and phone.revoked_at),
                )
            )
        return sorted(rows, key=lambda row: (row.last_at is None, row.is_revoked, row.label))

    def line(self, row: KeptLine) -> f.KeptLineShape:
        """Shape a line as it reached the desk."""
        value: Any = json.loads(row.content)
        told = value if isinstance(value, dict) else {}
        written_at = told.get("written_at")
        return f.KeptLineShape(
            key=row.key,
            line=row.line,
            number=row.number,
            kind=row.kind,
            device=row.device,
            delivered_by=row.delivered_by,
            visit=row.visit,
            apiary=row.apiary,
            written_at=written_at if isinstance(written_at, str) else None,
            arrived_at=row.arrived_at,
            state=row.state,
            why=render(row.why, self.locale) if row.why else None,
            can_count=is_readable(row),
            body=told.get("body") if told else value,
        )

    def refusals(self, rows: Iterable[Refusal], apiaries: dict[str, str]) -> list[f.RefusalShape]:
        """Shape what was refused."""
        return [
            f.RefusalShape(
                refusal=row.refusal,
                visit=row.visit,
                apiary=apiaries.get(row.visit) or (row.visit if row.what == "apiary" else None),
                what=row.what,
                happened_on=row.happened_on,
                why=render(row.why, self.locale),
            )
            for row in rows
        ]

    def _visit(self, row: Any, called: dict[str, str]) -> f.FieldVisitShape:
        made = shape(f.FieldVisitShape, row, self.locale)
        return made.model_copy(update={"who": called.get(row.who or "", row.who)})
