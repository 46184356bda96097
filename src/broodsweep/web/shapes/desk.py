"""Answers about the desk itself: the session, the words, the settings, the journal, the base map."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from pydantic import Field

from broodsweep.web.shapes.base import Shape, Signed


class SignedInShape(Shape):
    """Who is signed in; ``page_token`` goes with every change that a page sends, as X-Page-Token."""

    name: str
    role: str
    page_token: str


class SessionShape(Shape):
    """On which day the desk stands, in which language it speaks, who sits at it.

    Where somebody must sign in first, nothing of the record is told.
    """

    needs_sign_in: bool
    signed_in: SignedInShape | None

    title: str
    version: str
    record_version: int
    on: date
    locale: str
    chosen_locale: str | None
    locales: list[str]
    demo: bool
    who: str | None
    rulebook: str
    has_apiaries: bool


class WordsShape(Shape):
    """The catalogue for the pages: each key with its plural forms."""

    locale: str
    words: dict[str, list[str]]


class SettingsShape(Shape):
    """The settings that the pages can change."""

    title: str
    who: str | None
    rulebook: str
    locale: str | None
    lead_phone: str | None


class SettingsAsked(Signed):
    """New values; what is absent stays as it is."""

    title: str | None = Field(default=None, max_length=200)
    rulebook: str | None = Field(default=None, max_length=100)
    locale: str | None = Field(default=None, max_length=20)
    lead_phone: str | None = Field(default=None, max_length=40)


class JournalEntryShape(Shape):
    """One change, as the journal keeps it."""

    seq: int
    at: datetime
    who: str
    device: str
    what: str
    what_text: str
    table: str
    key: str
    before: dict[str, Any] | None
    after: dict[str, Any] | None
    hash: str


class JournalShape(Shape):
    """The newest changes, newest first."""

    total: int
    entries: list[JournalEntryShape]


class LayerShape(Shape):
    """A layer of the base map, as GeoJSON in the home folder."""

    name: str
    address: str


class TilesShape(Shape):
    """A base map that the user added, one PMTiles file."""

    name: str
    address: str
    megabytes: float


class BasemapShape(Shape):
    """What the map is drawn on."""

    layers: list[LayerShape]
    tiles: list[TilesShape]


class ProblemShape(Shape):
    """What went wrong: the key of the sentence, and the sentence in the user's language."""

    key: str
    text: str
    fields: list[str] | None = None


class ErrorShape(Shape):
    """The one shape of every error."""

    error: ProblemShape
