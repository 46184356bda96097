"""Names that belong to nobody: villages and keepers put together from invented syllables."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

ISLAND = "Skarnsey"
FERRY_ISLET, LONE_ISLET = "Uvrasey", "Pellaskerry"
LAKES = ("Dovvra Water", "Little Skeen Water")
HILLS = ("Tarvel Ridge", "Ommer Seat")

_HEADS = (
    "Varth", "Hesk", "Prinn", "Dorv", "Quorl", "Tavv", "Yost", "Ulveth", "Marrax", "Zell", "Ombr", "Fenk",
    "Girv", "Jarl", "Kessel", "Lovv", "Nurr", "Osk", "Pard", "Ruvv", "Skell", "Trusk", "Vimm", "Wossel",
    "Ebbl", "Ivvin", "Drask", "Clenn", "Blaxt", "Hulv",
)  # fmt: skip
_SHORE_TAILS = ("wick", "ness", "holm", "voe", "haven", "by")
_INLAND_TAILS = ("stead", "garth", "thorp", "sett", "dale", "by")
_GIVEN = (
    "Adra", "Belnor", "Corvet", "Dimsa", "Elvar", "Fennet", "Gisla", "Harven", "Ilsabet", "Jorrin", "Kerla",
    "Lodan", "Mirret", "Nerrick", "Orsel", "Pellin", "Quilla", "Rosket", "Senna", "Tamsel", "Ulric", "Vessa",
    "Wendal", "Yarrin", "Zinna", "Brisa", "Caddoc", "Delphin", "Ewart", "Farra",
)  # fmt: skip
_SURNAME_HEADS = (
    "Ask", "Brov", "Crell", "Dunv", "Eskel", "Fold", "Grev", "Horv", "Isk", "Jennav", "Kolv", "Lusk", "Morv",
    "Nask", "Orv", "Pask", "Quarr", "Resk", "Stav", "Thurv", "Ulsk", "Vand", "Wesk", "Yelv", "Zav",
)  # fmt: skip
_SURNAME_TAILS = ("ick", "and", "ett", "orne", "away", "ling", "aby", "ister", "oll", "um")
_LANES = (
    "Mill Lane",
    "Shore Road",
    "Kirk Brae",
    "Sheepfold Lane",
    "Quarry Road",
    "Well Lane",
    "Ferry Road",
    "Hill View",
)


def village_names(rng: np.random.Generator, is_inland: list[bool]) -> list[str]:
    """Return different village names, fit for the shore or for inland; no two begin alike.

    Raises
    ------
    ValueError
        If more are wanted than there are beginnings.
    """
    if len(is_inland) > len(_HEADS):
        raise ValueError(f"Expected at most {len(_HEADS)} villages, got {len(is_inland)}.")
    heads = rng.permutation(len(_HEADS))[: len(is_inland)]
    shore, inland = rng.permutation(_SHORE_TAILS).tolist(), rng.permutation(_INLAND_TAILS).tolist()
    names = []
    for number, (head, away) in enumerate(zip(heads.tolist(), is_inland, strict=True)):
        tails = inland if away else shore
        names.append(_join(_HEADS[head], tails[number % len(tails)]))
    return names


def keeper_names(rng: np.random.Generator, count: int) -> list[str]:
    """Return different full names."""
    pairs = len(_SURNAME_HEADS) * len(_SURNAME_TAILS)
    picks = rng.choice(len(_GIVEN) * pairs, size=count, replace=False)
    names = []
    for pick in picks.tolist():
        given, rest = divmod(pick, pairs)
        head, tail = divmod(rest, len(_SURNAME_TAILS))
        names.append(f"{_GIVEN[given]} {_SURNAME_HEADS[head]}{_SURNAME_TAILS[tail]}")
    return names


def misspelt(name: str) -> str:
    """Return the name as a second clerk would have written it down."""
    given, surname = name.split(" ", 1)
    for heard, written in (("v", "w"), ("sk", "sc"), ("ll", "l"), ("tt", "t"), ("i", "y"), ("a", "e")):
        if heard in surname[1:]:
            return f"{given} {surname[0]}{surname[1:].replace(heard, written, 1)}"
    return f"{given} {surname}e"


def addresses(rng: np.random.Generator, villages: list[str]) -> Iterator[str]:
    """Yield an address in each of the villages named."""
    for village in villages:
        yield f"{int(rng.integers(1, 60))} {_LANES[int(rng.integers(len(_LANES)))]}, {village}"


def _join(head: str, tail: str) -> str:
    return head + (tail[1:] if head[-1] == tail[0] else tail)
