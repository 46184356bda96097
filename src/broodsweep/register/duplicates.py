"""Apiaries and keepers that are likely entered twice: offered for merging, never merged silently."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Literal

from broodsweep.geo import Places
from broodsweep.register.constants import (
    CROWD,
    NAME_ALIKE,
    NEAR_M,
    OFFER_SCORE,
    WEIGHT_LIKE_KEEPER,
    WEIGHT_LIKE_NAME,
    WEIGHT_NEAR,
    WEIGHT_NO_KEEPER,
    WEIGHT_SAME_COLONIES,
    WEIGHT_SAME_CONTACT,
    WEIGHT_SAME_KEEPER,
)
from broodsweep.register.model import Apiary, Ground, Keeper
from broodsweep.register.names import alike, tokens
from broodsweep.register.neighbours import pairs_of_keepers, pairs_within
from broodsweep.register.spots import half_diagonal_m
from broodsweep.words import Message, say

Kind = Literal["apiary", "keeper"]
Dismissed = Collection[tuple[str, str, str]]
_PHONE_DIGITS = 9


@dataclass(frozen=True, kw_only=True)
class DuplicatePair:
    """Two rows that may be one and the same, with the reasons and how much they weigh together.

    ``score`` is 1 - product(1 - weight) over the reasons, 0 to 1: an order for looking at them, no probability.
    """

    kind: Kind
    first: str
    second: str
    score: float
    reasons: tuple[Message, ...]


def likely_duplicates(
    ground: Ground,
    places: Places | None = None,
    *,
    near_m: float = NEAR_M.value,
    dismissed: Dismissed = frozenset(),
) -> tuple[DuplicatePair, ...]:
    """Return pairs of apiaries and of keepers that are likely the same, the likeliest first.

    Two apiaries are compared when the squares they lie in come within ``near_m`` of each other; they are
    offered when keeper, name and nearness weigh enough together. Two keepers are compared when they share
    a telephone, an e-mail address or a word of the name, stand next to each other in the alphabet, or have
    apiaries near each other.

    Parameters
    ----------
    ground
        The register.
    places
        The places of ``ground.apiaries`` in their order, when they are at hand already.
    near_m
        How near two entries for one apiary may lie, > 0. [m]
    dismissed
        Pairs (kind, first, second) that someone has said are not the same.

    Raises
    ------
    ValueError
        If ``near_m`` is not positive.
    """
    if not near_m > 0:
        raise ValueError(f"Expected near_m > 0, got {near_m}.")
    gone = {(kind, *sorted((first, second))) for kind, first, second in dismissed}
    keepers = {row.keeper: row for row in ground.keepers}
    names = {key: tokens(row.name or "") for key, row in keepers.items()}
    where = places if places is not None else Places([row.place for row in ground.apiaries])
    near = pairs_within(where, near_m) | pairs_of_keepers(ground.apiaries, near_m)
    found: list[DuplicatePair] = []
    together: dict[tuple[str, str], float] = {}
    for (i, j), apart_m in near.items():
        first, second = sorted((ground.apiaries[i], ground.apiaries[j]), key=lambda row: row.apiary)
        if ("apiary", first.apiary, second.apiary) not in gone:
            found += _compare_apiaries(first, second, names, apart_m, near_m)
        if first.keeper and second.keeper and first.keeper != second.keeper:
            pair = (min(first.keeper, second.keeper), max(first.keeper, second.keeper))
            together[pair] = min(together.get(pair, math.inf), apart_m)
    for one, two in sorted(_pairs_to_compare(ground.keepers, names) | set(together)):
        if ("keeper", one, two) not in gone and one in keepers and two in keepers:
            found += _compare_keepers(keepers[one], keepers[two], names, together.get((one, two)), near_m)
    return tuple(sorted(found, key=lambda pair: (-pair.score, pair.kind, pair.first, pair.second)))


def _compare_apiaries(
    first: Apiary, second: Apiary, names: dict[str, tuple[str, ...]], apart_m: float, near_m: float
) -> list[DuplicatePair]:
    reasons: list[tuple[float, Message]] = []
    if first.keeper and first.keeper == second.keeper:
        reasons.append((WEIGHT_SAME_KEEPER.value, say("register.reason_same_keeper", keeper=first.keeper)))
    elif first.keeper and second.keeper:
        same = alike(names.get(first.keeper, ()), names.get(second.keeper, ()))
        if same < NAME_ALIKE.value:
            return []
        words = say("register.reason_like_keeper", first=first.keeper, second=second.keeper, alike_share=same)
        reasons.append((WEIGHT_LIKE_KEEPER.value * same, words))
    else:
        reasons.append((WEIGHT_NO_KEEPER.value, say("register.reason_no_keeper")))
    blur_m = half_diagonal_m(first.place) + half_diagonal_m(second.place)
    nearness = near_m / (near_m + apart_m + blur_m)
    reasons.append(
        (WEIGHT_NEAR.value * nearness, say("register.reason_near", apart_m=apart_m, blur_m=blur_m))
    )
    if first.colonies == second.colonies and first.colonies > 0:
        words = say("register.reason_same_colonies", count=first.colonies)
        reasons.append((WEIGHT_SAME_COLONIES.value, words))
    return _offer("apiary", first.apiary, second.apiary, reasons)


def _compare_keepers(
    first: Keeper,
    second: Keeper,
    names: dict[str, tuple[str, ...]],
    apart_m: float | None,
    near_m: float,
) -> list[DuplicatePair]:
    contacts = [
        (WEIGHT_SAME_CONTACT.value, say(key))
        for key, one, two in (
            ("register.reason_same_phone", _phone(first), _phone(second)),
            ("register.reason_same_email", _email(first), _email(second)),
            ("register.reason_same_address", _address(first), _address(second)),
        )
        if one and one == two
    ]
    one, two = names[first.keeper], names[second.keeper]
    if not contacts and apart_m is None and one != two:
        return []  # a name that is only alike never weighs enough alone: spare the comparing
    reasons: list[tuple[float, Message]] = contacts
    same = alike(one, two)
    if same >= NAME_ALIKE.value:
        reasons.append((WEIGHT_LIKE_NAME.value * same, say("register.reason_like_name", alike_share=same)))
    if reasons and apart_m is not None:
        weight = WEIGHT_NEAR.value * near_m / (near_m + apart_m)
        reasons.append((weight, say("register.reason_keepers_near", apart_m=apart_m)))
    return _offer("keeper", first.keeper, second.keeper, reasons)


def _offer(kind: Kind, first: str, second: str, reasons: list[tuple[float, Message]]) -> list[DuplicatePair]:
    score = 1 - math.prod(1 - weight for weight, _ in reasons)
    if round(score, 9) < OFFER_SCORE.value:
        return []
    words = tuple(reason for _, reason in sorted(reasons, key=lambda pair: -pair[0]))
    return [DuplicatePair(kind=kind, first=first, second=second, score=score, reasons=words)]


def _pairs_to_compare(keepers: tuple[Keeper, ...], names: dict[str, tuple[str, ...]]) -> set[tuple[str, str]]:
    """Return the pairs of keepers that share something worth comparing; crowds under one word are left out."""
    blocks: dict[tuple[str, str], list[str]] = {}
    for row in keepers:
        marks = [("name", " ".join(names[row.keeper])), ("phone", _phone(row)), ("email", _email(row))]
        marks += [("address", _address(row)), *(("word", word) for word in set(names[row.keeper]))]
        for mark in marks:
            if mark[1]:
                blocks.setdefault(mark, []).append(row.keeper)
    crowded = (block for block in blocks.values() if 1 < len(block) <= CROWD.value)
    pairs = {pair for block in crowded for pair in _all_pairs(block)}
    for step_of_letters in (1, -1):
        ranked = sorted((" ".join(names[row.keeper])[::step_of_letters], row.keeper) for row in keepers)
        keys = [key for name, key in ranked if name]
        pairs |= {
            (min(a, b), max(a, b)) for step in (1, 2, 3) for a, b in zip(keys, keys[step:], strict=False)
        }
    return pairs


def _all_pairs(block: Iterable[str]) -> Iterable[tuple[str, str]]:
    ordered = sorted(block)
    return ((first, second) for n, first in enumerate(ordered) for second in ordered[n + 1 :])


def _phone(row: Keeper) -> str:
    digits = "".join(letter for letter in row.phone or "" if letter.isdecimal())
    return digits[-_PHONE_DIGITS:] if len(digits) >= _PHONE_DIGITS - 3 else ""


def _email(row: Keeper) -> str:
    return (row.email or "").strip().casefold()


def _address(row: Keeper) -> str:
    return " ".join(tokens(row.address or ""))
