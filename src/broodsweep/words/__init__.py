"""Every word a user reads: one gettext catalogue, keyed, with numbers, dates and distances by locale."""

from __future__ import annotations

from broodsweep.words.catalogue import PSEUDO, as_table, available_locales, has_key, keys
from broodsweep.words.message import Message, say
from broodsweep.words.render import render, text

__all__ = [
    "PSEUDO",
    "Message",
    "as_table",
    "available_locales",
    "has_key",
    "keys",
    "render",
    "say",
    "text",
]
