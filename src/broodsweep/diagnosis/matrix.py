"""The matrix of signs and the priors, read from ``data/signs.toml`` with the source of every number."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from broodsweep.diagnosis.conditions import FOULBROODS, PARTS, SEASONS, STAGES, Condition, Season, Stage
from broodsweep.diagnosis.constants import Frequency
from broodsweep.diagnosis.numbers import Number, from_word

HEALTHY = "healthy"
_FACTOR_SPREAD = 1.5
"""A factor of the project's choice may be off by half as much again, either way."""
_SHARE_SPREAD = 0.15
"""A share of stages may be off by this much, either way."""
_LEAST, _MOST = 0.01, 0.99


@cache
def _file() -> dict[str, Any]:
    return tomllib.loads((Path(__file__).parent / "data" / "signs.toml").read_text(encoding="utf-8"))


@cache
def signs() -> tuple[str, ...]:
    """Return the names of the signs, in the order of the matrix."""
    return tuple(_file()["matrix"])


def minutes_to_look(sign: str) -> float:
    """Return how long it takes to look for a sign. [min]"""
    return float(_file()["minutes"][sign])


@cache
def letters(sign: str) -> dict[str, Frequency]:
    """Return the word of each column of the matrix (conditions and ``healthy``) for a sign."""
    columns = _file()["columns"].replace("|", " ").split()
    row = _file()["matrix"][sign].replace("|", " ").split()
    if len(row) != len(columns):
        raise ValueError(f"Expected {len(columns)} letters for {sign}, got {len(row)}.")
    return {column: Frequency(letter) for column, letter in zip(columns, row, strict=True)}


def letter_of(sign: str, condition: Condition, stage: Stage | None) -> Frequency:
    """Return the word for a sign in a condition at a stage."""
    by_stage = _file()["stages"].get(condition, {}).get(sign) if stage is not None else None
    if by_stage is None or stage is None:
        return letters(sign)[condition]
    return Frequency(by_stage.split()[STAGES.index(stage)])


@cache
def sign_numbers() -> tuple[Number, ...]:
    """Return, sign by sign, the chance of the sign in the healthy colony and with each part alone."""
    sources = _file()["sources"]
    found = []
    for sign in signs():
        healthy = letters(sign)[HEALTHY]
        found.append(from_word(healthy, where=f"sign/{sign}/{HEALTHY}", source=sources[HEALTHY]))
        for part in PARTS:
            place = part.condition if part.stage is None else f"{part.condition}.{part.stage}"
            word = letter_of(sign, part.condition, part.stage)
            found.append(from_word(word, where=f"sign/{sign}/{place}", source=sources[part.condition]))
    return tuple(found)


def _share(value: float, low: float, high: float, where: str, source: str) -> Number:
    return Number(value=value, low=low, high=high, where=where, source=source, is_published=False)


@cache
def prior_numbers() -> tuple[Number, ...]:
    """Return the share of colonies with each condition, in the order of ``Condition``."""
    file = _file()
    sources = file["prior_sources"]
    return tuple(
        _share(value, low, high, f"prior/{name}", sources.get(name, sources["other"]))
        for name in Condition
        for value, low, high in [file["priors"][name]]
    )


@cache
def season_numbers() -> tuple[Number, ...]:
    """Return the factors on the odds, condition by condition, for spring, summer, autumn, winter."""
    file = _file()
    sources = file["season_sources"]
    found = []
    for condition in Condition:
        factors = file["season_odds"].get(condition, [1.0] * len(SEASONS))
        for season, factor in zip(SEASONS, factors, strict=True):
            spread = 1.0 if condition not in file["season_odds"] else _FACTOR_SPREAD
            found.append(
                Number(
                    value=factor,
                    low=factor / spread,
                    high=factor * spread,
                    where=f"season/{condition}/{season}",
                    source=sources.get(condition, sources["other"]),
                    is_published=False,
                    kind="ratio",
                )
            )
    return tuple(found)


def season_row(season: Season | None) -> int:
    """Return the row of the stage shares for a season: 0 when the season is not said."""
    return 0 if season is None else 1 + SEASONS.index(season)


@cache
def stage_numbers() -> tuple[Number, ...]:
    """Return early, advanced among the rest, dried among the rest of that: for each foulbrood, for any season and the four seasons."""
    found = []
    for condition in FOULBROODS:
        for name in ("any", *SEASONS):
            shares = _file()["stage_shares"][condition][name]
            for what, share in zip(("early", "advanced_of_rest", "dried_of_rest"), shares, strict=True):
                low, high = max(share - _SHARE_SPREAD, share / 2), min(share + _SHARE_SPREAD, _MOST)
                where = f"stage/{condition}/{name}/{what}"
                found.append(_share(share, max(low, _LEAST), high, where, "project choice"))
    return tuple(found)
