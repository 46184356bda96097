"""How alike two names are, whatever their case, accents, titles and order."""

from __future__ import annotations

import re
import unicodedata
from difflib import SequenceMatcher
from functools import lru_cache

_LETTERS = str.maketrans({"ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"})
_TITLES = frozenset({"mr", "mrs", "ms", "miss", "dr", "sir", "the", "and", "of"})
_INITIAL_ALIKE = 0.9
"""An initial stands for any name that begins with it: nearly the same, not quite."""


def tokens(name: str) -> tuple[str, ...]:
    """Return the words of a name without case, accents and titles, in order of the alphabet.

    ``Hay, Ann`` and ``Mrs Ann HAY`` give the same.
    """
    plain = unicodedata.normalize("NFKD", name.casefold().translate(_LETTERS))
    letters = "".join(letter for letter in plain if not unicodedata.combining(letter))
    words = re.findall(r"\w+", re.sub(r"['’]", "", letters))
    return tuple(sorted(word for word in words if word not in _TITLES) or sorted(words))


@lru_cache(maxsize=200_000)
def alike(first: tuple[str, ...], second: tuple[str, ...]) -> float:
    """Return how alike two names are, 0 to 1.

    Each word is paired with the likest one that is left (Ratcliff and Obershelp's ratio; an initial with a
    word that it begins counts 0.9); the answer is the mean over the letters of both names, so that a word
    without a partner counts against them by its length.
    """
    letters = sum(map(len, first)) + sum(map(len, second))
    if not first or not second:
        return 0.0
    if first == second:
        return 1.0
    scored = sorted(
        ((_word(a, b), i, j) for i, a in enumerate(first) for j, b in enumerate(second)), reverse=True
    )
    used_first: set[int] = set()
    used_second: set[int] = set()
    total = 0.0
    for score, i, j in scored:
        if i not in used_first and j not in used_second:
            used_first.add(i)
            used_second.add(j)
            total += score * (len(first[i]) + len(second[j]))
    return total / letters


@lru_cache(maxsize=200_000)
def _word(first: str, second: str) -> float:
    if first == second:
        return 1.0
    if 1 in (len(first), len(second)):
        return _INITIAL_ALIKE if first[0] == second[0] else 0.0
    return SequenceMatcher(None, min(first, second), max(first, second), autojunk=False).ratio()
