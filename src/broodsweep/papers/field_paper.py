"""A paper sheet for a stop: the same questions as on the phone, with a code that names the visit."""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from broodsweep.words import render, say

TEMPLATE = Path(__file__).with_name("field_paper.typ")
FEWEST_ROWS, MOST_ROWS, SPARE_ROWS = 8, 120, 2
"""Rows for colonies on a sheet: two to spare (project choice)."""
CODE = "broodsweep:visit:"
"""What stands before the name of the visit in the code."""
GOODS = ("colonies", "nuclei", "queens", "brood_comb", "drawn_comb", "boxes", "extractor", "honey")
CLEANED = ("hands", "tools", "smoker", "clothing", "boots", "vehicle")
LABELS = (
    *(
        "title",
        "visit",
        "apiary",
        "keeper",
        "phone",
        "address",
        "place",
        "day",
        "inspector",
        "purpose",
        "why",
    ),
    *(
        "bring",
        "weather",
        "temperature",
        "wind",
        "rain",
        "flying",
        "yes",
        "no",
        "counted",
        "colonies",
        "colony",
    ),
    *("clean", "not_opened", "suspect_afb", "suspect_efb", "signs_seen", "signs", "tests", "test", "result"),
    *("lot", "samples", "label", "of", "handed_to", "at", "said", "in_out", "goods", "quantity", "moved_on"),
    *("from_to", "cleaned", "how", "notes", "sign_inspector", "sign_keeper", "keeper_there", "code_says"),
    *("order_of_work", "cautions", "enter_at_desk", "colony_hint", "sheet_of"),
)


@dataclass(frozen=True, kw_only=True)
class FieldPaper:
    """What a sheet begins with; everything else is filled in by hand."""

    visit: str
    apiary: str
    on: date
    keeper: str = ""
    phone: str = ""
    address: str = ""
    place: str = ""
    inspector: str = ""
    purpose: str = "sweep"
    colonies: int = 0
    why: Sequence[str] = ()
    bring: Sequence[str] = ()
    notes: str = ""


def field_papers_pdf(
    papers: Sequence[FieldPaper], *, signs: Sequence[str], cautions: Sequence[str], locale: str = "en"
) -> bytes:
    """Return the sheets as one PDF (PDF/A-3a and PDF/UA-1), each on pages of its own.

    Parameters
    ----------
    papers
        The sheets, at least one.
    signs
        Signs to look for, in words, in the order of their numbers on the sheet.
    cautions
        Cautions, in words.
    locale
        Language of the sheet.

    Raises
    ------
    ValueError
        If there is no sheet.
    """
    import typst

    if not papers:
        raise ValueError("Expected at least one sheet, got none.")
    told = {
        "locale": locale.partition("-")[0],
        "labels": {name: render(say(f"papers.field_{name}"), locale) for name in LABELS},
        "goods": [render(say(f"goods.{name}"), locale) for name in GOODS],
        "cleaned": [render(say(f"papers.field_clean_{name}"), locale) for name in CLEANED],
        "wind": [
            render(say(f"papers.field_wind_{name}"), locale)
            for name in ("calm", "light", "moderate", "strong")
        ],
        "rain": [render(say(f"papers.field_rain_{name}"), locale) for name in ("none", "drizzle", "rain")],
        "of": [
            render(say(f"papers.field_of_{name}"), locale)
            for name in ("brood_comb", "larva", "bees", "honey", "debris")
        ],
        "signs": list(signs),
        "cautions": list(cautions),
        "sheets": [_told(paper, locale) for paper in papers],
    }
    made: bytes = typst.compile(
        TEMPLATE.read_bytes(),
        format="pdf",
        pdf_standards=["a-3a", "ua-1"],
        ignore_system_fonts=True,
        sys_inputs={"told": json.dumps(told, ensure_ascii=False)},
    )
    return made


def code_of(paper: FieldPaper) -> str:
    """Return what the code says: the visit, the day and the apiary."""
    return f"{CODE}{paper.visit}:{paper.on.isoformat()}:{paper.apiary}"


def code_svg(said: str) -> str:
    """Return a code as a picture that scales."""
    import segno

    drawn = io.BytesIO()
    segno.make(said, error="m", micro=False).save(
        drawn, kind="svg", border=2, xmldecl=False, svgns=True, omitsize=True
    )
    return drawn.getvalue().decode("utf-8")


def _told(paper: FieldPaper, locale: str) -> dict[str, object]:
    rows = min(MOST_ROWS, max(FEWEST_ROWS, paper.colonies + SPARE_ROWS))
    return {
        "visit": paper.visit,
        "apiary": paper.apiary,
        "on": render(say("papers.field_day_said", day_on=paper.on), locale),
        "keeper": paper.keeper,
        "phone": paper.phone,
        "address": paper.address,
        "place": paper.place,
        "inspector": paper.inspector,
        "purpose": render(say(f"papers.field_purpose_{paper.purpose}"), locale),
        "known": paper.colonies,
        "rows": rows,
        "why": list(paper.why),
        "bring": list(paper.bring),
        "notes": paper.notes,
        "code": code_svg(code_of(paper)),
    }
