"""Which language an answer is written in."""

from __future__ import annotations

from starlette.requests import Request

from broodsweep.words import PSEUDO, available_locales
from broodsweep.words.catalogue import DEFAULT


def known_locales() -> tuple[str, ...]:
    """Locales that can be asked for: those with a catalogue, and the pseudo-locale for testing."""
    return (*available_locales(), PSEUDO)


def locale_of(request: Request) -> str:
    """Return the locale asked for by the address, else the one that was set, else the browser's."""
    known = known_locales()
    asked = request.query_params.get("locale")
    if asked in known:
        return str(asked)
    chosen = getattr(request.app.state, "chosen_locale", lambda: None)() if "app" in request.scope else None
    if chosen in known:
        return str(chosen)
    return accepted(request.headers.get("accept-language", ""), known) or default_of(request)


def default_of(request: Request) -> str:
    """Locale that the desk was started with."""
    return str(getattr(request.app.state, "locale", DEFAULT)) if "app" in request.scope else DEFAULT


def accepted(header: str, known: tuple[str, ...]) -> str | None:
    """Return the first known locale in an Accept-Language header, by its weights."""
    wishes: list[tuple[float, str]] = []
    for part in header.split(","):
        name, _, weight = part.strip().partition(";q=")
        try:
            wishes.append((-float(weight or 1), name))
        except ValueError:
            continue
    for _, name in sorted(wishes, key=lambda wish: wish[0]):
        for candidate in (name, name.split("-")[0]):
            if candidate in known:
                return candidate
    return None
