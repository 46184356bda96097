"""The session, the words, the settings and the journal."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Path, Query

from broodsweep import __version__
from broodsweep.desk.ports import JournalEntry
from broodsweep.errors import NotFoundError, RefusedError
from broodsweep.rulebook import COMMON_PRACTICE
from broodsweep.web.access import AskingOrNobody
from broodsweep.web.context import ERRORS, Context, Here, Locale, OnDay
from broodsweep.web.gate import Caller
from broodsweep.web.locale import known_locales
from broodsweep.web.shapes.desk import (
    JournalEntryShape,
    JournalShape,
    SessionShape,
    SettingsAsked,
    SettingsShape,
    SignedInShape,
    WordsShape,
)
from broodsweep.words import as_table, has_key, text

router = APIRouter(prefix="/api", responses=ERRORS, tags=["desk"])
LONGEST_PAGE = 500


@router.get("/session")
def session(here: Here, on: OnDay, locale: Locale, caller: AskingOrNobody) -> SessionShape:
    """Say on which day the desk stands, in which language it speaks, and who sits at it."""
    kept = here.desk.snapshot()
    if caller is None:
        return _locked(on, locale, here)
    return SessionShape(
        needs_sign_in=False,
        signed_in=_signed_in(caller),
        title=str(here.setting("title") or text("web.default_title", locale=locale)),
        version=__version__,
        record_version=kept.version,
        on=on,
        locale=locale,
        chosen_locale=here.setting("locale"),
        locales=list(known_locales()),
        demo=here.demo,
        who=caller.name or here.setting("who"),
        rulebook=str(here.setting("rulebook") or COMMON_PRACTICE),
        has_apiaries=bool(kept.ground.apiaries),
    )


def _signed_in(caller: Caller) -> SignedInShape | None:
    if caller.person is None or caller.session is None:
        return None
    return SignedInShape(
        name=caller.person.name, role=caller.person.role, page_token=caller.session.page_token
    )


def _locked(on: date, locale: str, here: Context) -> SessionShape:
    return SessionShape(
        needs_sign_in=True,
        signed_in=None,
        title=text("web.default_title", locale=locale),
        version="",
        record_version=0,
        on=on,
        locale=locale,
        chosen_locale=here.setting("locale"),
        locales=list(known_locales()),
        demo=here.demo,
        who=None,
        rulebook=COMMON_PRACTICE,
        has_apiaries=False,
    )


@router.get("/words/{language}")
def words(
    language: Annotated[str, Path(max_length=20)],
    beginning: Annotated[
        str, Query(pattern=r"^[a-z_.,]{0,300}$", description="How the keys begin, by commas; all when empty.")
    ] = "",
) -> WordsShape:
    """Give every sentence of the catalogue with its plural forms, for the pages."""
    if language not in known_locales():
        raise NotFoundError("web.no_such_locale", locale=language, known=known_locales())
    wanted = tuple(start for start in beginning.split(",") if start)
    table = as_table(language, wanted)
    return WordsShape(locale=language, words={key: list(forms) for key, forms in table.items()})


@router.get("/settings")
def settings(here: Here, locale: Locale) -> SettingsShape:
    """Give the settings that the pages can change."""
    return _settings(here, locale)


@router.put("/settings")
def change_settings(asked: SettingsAsked, here: Here, locale: Locale) -> SettingsShape:
    """Keep new settings; a blank value takes a setting back, an absent one leaves it as it is."""
    if asked.rulebook and asked.rulebook not in here.desk.books:
        known = ", ".join(sorted(here.desk.books))
        raise NotFoundError("desk.no_such_rulebook", rulebook=asked.rulebook, known=known)
    if asked.locale and asked.locale not in known_locales():
        raise RefusedError("web.no_such_locale", locale=asked.locale, known=known_locales())
    given = asked.model_dump(exclude_unset=True)
    changed = {name: value or None for name, value in given.items() if (value or None) != here.setting(name)}
    if changed:
        with here.desk.store.work(here.author(asked.who), "change_settings") as work:
            for name, value in changed.items():
                work.set(name, value)
    return _settings(here, locale)


def _settings(here: Context, locale: str) -> SettingsShape:
    return SettingsShape(
        title=str(here.setting("title") or text("web.default_title", locale=locale)),
        who=here.setting("who"),
        rulebook=str(here.setting("rulebook") or COMMON_PRACTICE),
        locale=here.setting("locale"),
        lead_phone=here.setting("lead_phone"),
    )


@router.get("/journal")
def journal(
    here: Here,
    locale: Locale,
    offset: Annotated[int, Query(ge=0, le=1_000_000_000)] = 0,
    limit: Annotated[int, Query(ge=1, le=LONGEST_PAGE)] = 50,
) -> JournalShape:
    """Give the newest changes, newest first."""
    total = here.desk.store.version()
    end = max(0, total - offset)
    start = max(0, end - limit)
    entries = here.desk.store.journal(after=start, limit=end - start) if end > start else ()
    return JournalShape(total=total, entries=[_entry(entry, locale) for entry in reversed(entries)])


def _entry(entry: JournalEntry, locale: str) -> JournalEntryShape:
    key = f"web.did_{entry.what}"
    return JournalEntryShape(
        seq=entry.seq,
        at=entry.at,
        who=entry.who,
        device=entry.device,
        what=entry.what,
        what_text=text(key, locale=locale) if has_key(key) else entry.what.replace("_", " "),
        table=entry.table,
        key=entry.key,
        before=dict(entry.before) if entry.before is not None else None,
        after=dict(entry.after) if entry.after is not None else None,
        hash=entry.hash,
    )
