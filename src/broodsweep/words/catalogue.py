"""Reads the catalogue: `<locale>/*.po` in this folder, one file a room, together one catalogue."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from babel.messages.pofile import read_po

HERE = Path(__file__).parent
DEFAULT = "en"
PSEUDO = "en-XA"
"""The pseudo-locale: English with every letter accented, so that a word outside the catalogue shows."""

_ACCENTED = str.maketrans(
    "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ",
    "áƀčďéƒǧȟíĵķĺḿńóṗʠřšŧúṽŵẋýžÁƁČĎÉƑǦȞÍĴĶĹḾŃÓṖɊŘŠŦÚṼŴẊÝŽ",
)


@cache
def load(locale: str) -> dict[str, tuple[str, ...]]:
    """Return key → plural forms (one form when the sentence has no plural).

    Raises
    ------
    ValueError
        If two files of the catalogue define the same key.
    """
    if locale == PSEUDO:
        return {key: tuple(accent(form) for form in forms) for key, forms in load(DEFAULT).items()}
    table: dict[str, tuple[str, ...]] = {}
    for path in sorted((HERE / locale).glob("*.po")):
        with path.open("rb") as file:
            for entry in read_po(file, locale=locale):
                if not entry.id or not entry.string:
                    continue
                key = entry.id[0] if isinstance(entry.id, (list, tuple)) else entry.id
                if key in table:
                    raise ValueError(f"Expected each key once, got {key!r} again in {path.name}.")
                table[key] = (entry.string,) if isinstance(entry.string, str) else tuple(entry.string)
    return table


def accent(form: str) -> str:
    """Accent the letters of a sentence, leaving the {places} alone."""
    parts, depth = [], 0
    for letter in form:
        depth += (letter == "{") - (letter == "}")
        parts.append(letter if depth else letter.translate(_ACCENTED))
    return "".join(parts)


def available_locales() -> tuple[str, ...]:
    """Locales with a folder here, the default first."""
    found = sorted(path.name for path in HERE.iterdir() if path.is_dir() and any(path.glob("*.po")))
    return tuple(sorted(found, key=lambda name: name != DEFAULT))


def keys() -> frozenset[str]:
    """Every key of the English catalogue, which is complete."""
    return frozenset(load(DEFAULT))


def has_key(key: str) -> bool:
    """Say whether the English catalogue has this key."""
    return key in load(DEFAULT)


def forms(key: str, locale: str) -> tuple[str, ...]:
    """Return the forms of a sentence, in English where the locale lacks it.

    Raises
    ------
    KeyError
        If no catalogue has the key.
    """
    found = load(locale).get(key) if locale == PSEUDO or (HERE / locale).is_dir() else None
    return found or load(DEFAULT)[key]


def as_table(locale: str, prefixes: tuple[str, ...] = ()) -> dict[str, tuple[str, ...]]:
    """Return the whole catalogue of a locale (English where it has gaps), for the pages."""
    table = {key: forms(key, locale) for key in load(DEFAULT)}
    return {k: v for k, v in table.items() if not prefixes or k.startswith(prefixes)}
