"""Puts what a phone takes along into its shape, in the phone's language."""

from __future__ import annotations

import json
from datetime import date
from hashlib import sha256
from typing import Any

from broodsweep.access import Access
from broodsweep.constants import Disease
from broodsweep.desk.access import Device, Role
from broodsweep.desk.round_names import inspector_names
from broodsweep.desk.satchel import Satchel, satchel
from broodsweep.errors import RefusedError
from broodsweep.rulebook import Rule
from broodsweep.web.context import Context
from broodsweep.web.shapes import fieldbook as f
from broodsweep.web.shapes.base import shape
from broodsweep.web.shapes.rules import value_said
from broodsweep.words import Message, render, say


def told_satchel(here: Context, door: Access, phone: Device, on: date, locale: str) -> f.SatchelShape:
    """Return what a phone takes along, named by its content.

    Raises
    ------
    RefusedError
        If the phone was revoked.
    """
    if phone.revoked_at is not None:
        raise RefusedError("fieldbook.satchel_revoked")
    found = satchel(here.desk, phone.inspector, on, who=phone.who)
    people = door.people.everyone()
    lead = next((row for row in people if row.role is Role.LEAD and not row.retired_at), None)
    told = f.SatchelShape(
        satchel="",
        made_at=here.desk.now(),
        on=on,
        stands_on=found.stands_on,
        who=phone.who,
        inspector=phone.inspector,
        role=next((str(row.role) for row in people if row.name == phone.who), str(Role.INSPECTOR)),
        lead=f.LeadShape(name=lead.name, phone=_phone_of_lead(here)) if lead else None,
        inspectors=inspector_names(here.desk.snapshot()),
        words_locale=locale,
        **_parts(found, locale),
    )
    content = told.model_dump(mode="json", exclude={"made_at", "satchel"})
    name = sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()[:32]
    return told.model_copy(update={"satchel": name})


def _phone_of_lead(here: Context) -> str | None:
    found = here.setting("lead_phone")
    return str(found) if found else None


def _parts(found: Satchel, locale: str) -> dict[str, Any]:
    return {
        "stops": [shape(f.StopShape, row, locale) for row in found.stops],
        "candidates": [shape(f.CandidateShape, row, locale) for row in found.candidates],
        "apiaries": [
            f.SatchelApiaryShape(
                apiary=row.apiary.apiary,
                longitude=row.apiary.place.longitude,
                latitude=row.apiary.place.latitude,
                precision_m=row.apiary.place.precision_m,
                colonies=row.apiary.colonies,
                keeper=row.apiary.keeper,
                notes=row.apiary.notes,
                case_state=row.case_state,
                last_visited_on=row.last_visited_on,
                history=[shape(f.PastShape, past, locale) for past in row.history],
            )
            for row in found.apiaries
        ],
        "keepers": [shape(f.SatchelKeeperShape, row, locale) for row in found.keepers],
        "outbreaks": [shape(f.SatchelOutbreakShape, row, locale) for row in found.outbreaks],
        "lots": [shape(f.SatchelLotShape, row, locale) for row in found.lots],
        "rules": [*_rules(found.rules, locale), *_cautions(found.cautions, locale)],
        "limits": shape(f.LimitsShape, found.limits, locale),
    }


def _rules(rows: tuple[tuple[Disease, Rule], ...], locale: str) -> list[f.SatchelRuleShape]:
    return [
        f.SatchelRuleShape(
            key=f"{row.name}.{disease}",
            text=render(say("fieldbook.rule_said", label=row.label, value=value_said(row)), locale),
            source=row.citation,
        )
        for disease, row in rows
    ]


def _cautions(rows: tuple[Message, ...], locale: str) -> list[f.SatchelRuleShape]:
    return [
        f.SatchelRuleShape(
            key=f"caution.{row.key.rpartition('caution_')[2]}",
            text=render(row, locale),
            source=render(say("fieldbook.caution_source"), locale),
        )
        for row in rows
    ]
