"""What rows of different tables must agree on: apiaries and keepers that are named, places among the others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches

import numpy as np

from broodsweep.geo import distance_m
from broodsweep.register.constants import SWAPPED_FAR_KM, SWAPPED_NEAR_KM
from broodsweep.register.faults import Fault
from broodsweep.register.model import Apiary, Ground, Keeper, Move, Removal, Visit
from broodsweep.words import Message, say

_FEW = 3
_MAX_LATITUDE = 90
_KILOMETRE_M = 1000


def named_apiaries(row: Move | Visit | Removal) -> tuple[tuple[str, str], ...]:
    """Return (column, apiary) for every apiary that the row names."""
    if isinstance(row, Move):
        ends = (("from_apiary", row.from_apiary), ("to_apiary", row.to_apiary))
        return tuple((column, end) for column, end in ends if end is not None)
    return (("apiary", row.apiary),)


class KnownApiaries:
    """The apiaries a row may name: those of the tables at hand and those already on the register.

    ``refused`` maps the apiaries that stand in the tables but were refused to where they stand.
    """

    def __init__(self, known: Iterable[str], refused: Mapping[str, str]) -> None:
        self._known = frozenset(known)
        self._refused = refused
        self._near: dict[str, tuple[str, ...]] = {}

    def faults_of(self, row: Move | Visit | Removal) -> list[Fault]:
        """Return a fault for each apiary that nobody knows."""
        return [
            self._fault(column, apiary) for column, apiary in named_apiaries(row) if apiary not in self._known
        ]

    def is_only_refused(self, row: Move | Visit | Removal) -> bool:
        """Say whether every unknown apiary of the row stands in the tables, in a row that was refused."""
        unknown = [apiary for _, apiary in named_apiaries(row) if apiary not in self._known]
        return bool(unknown) and all(apiary in self._refused for apiary in unknown)

    def _fault(self, column: str, apiary: str) -> Fault:
        if apiary in self._refused:
            what = say("register.apiary_refused", where=self._refused[apiary])
            way = say("register.apiary_refused_way_out")
            return Fault(column=column, value=apiary, what=what, way_out=way)
        if apiary not in self._near:
            self._near[apiary] = tuple(get_close_matches(apiary, self._some(apiary), n=1, cutoff=0.75))
        near = self._near[apiary]
        if near:
            way = say("register.unknown_apiary_near_way_out", near=near[0])
        else:
            is_move = column.endswith("_apiary")
            way = say("register.unknown_move_way_out" if is_move else "register.unknown_apiary_way_out")
        return Fault(column=column, value=apiary, what=say("register.unknown_apiary"), way_out=way)

    def _some(self, apiary: str) -> list[str]:
        """Apiaries of about the same length with the same start or end: few enough to compare one by one."""
        if len(self._near) > _FEW * 100:
            return []
        start, end = apiary[:2].casefold(), apiary[-2:].casefold()
        return [
            key
            for key in self._known
            if abs(len(key) - len(apiary)) <= 1
            and (key[:2].casefold() == start or key[-2:].casefold() == end)
        ]


def bare_keepers(apiaries: Iterable[Apiary], known: Iterable[str]) -> tuple[Keeper, ...]:
    """Return a keeper with nothing but the key for each one that apiaries name and no table has."""
    have = set(known)
    return tuple(Keeper(keeper=key) for key in sorted({row.keeper for row in apiaries if row.keeper} - have))


def swapped(apiaries: tuple[Apiary, ...], base: Ground | None) -> list[tuple[int, Message]]:
    """Return (position, way out) of apiaries that lie among the others only with their coordinates swapped.

    The middle is the median of the places on the register, or of the tables when the register is empty.
    """
    basis = base.apiaries if base is not None and len(base.apiaries) >= _FEW else apiaries
    if len(basis) < _FEW:
        return []
    mid_lon = float(np.median([row.place.longitude for row in basis]))
    mid_lat = float(np.median([row.place.latitude for row in basis]))
    lon = np.array([row.place.longitude for row in apiaries])
    lat = np.array([row.place.latitude for row in apiaries])
    degrees_off = np.maximum(np.abs(lat - mid_lat), np.abs((lon - mid_lon + 180) % 360 - 180))
    far = SWAPPED_FAR_KM.value * _KILOMETRE_M
    near = SWAPPED_NEAR_KM.value * _KILOMETRE_M
    found = []
    for index in np.flatnonzero(degrees_off > _FEW):
        x, y = float(lon[index]), float(lat[index])
        can_swap = abs(x) <= _MAX_LATITUDE
        if (
            can_swap
            and distance_m(x, y, mid_lon, mid_lat) > far
            and distance_m(y, x, mid_lon, mid_lat) < near
        ):
            found.append((int(index), say("register.swapped_way_out")))
    return found
