"""What is believed of the parameters before an outbreak is seen: one list a disease, shown on the page as it is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Any, Literal

import numpy as np

from broodsweep.constants import Disease
from broodsweep.units import FloatArray

Family = Literal["lognormal", "beta", "fixed"]


class Slot(IntEnum):
    """Where a parameter stands in the vector of parameters."""

    BACKGROUND = 0
    CASES = 1
    REACH = 2
    SHAPE = 3
    KEEPER = 4
    MOVE = 5
    SILENT = 6
    REPORT = 7
    SENSITIVITY = 8
    CONTACT = 9
    """Rate of contact at no distance, derived from CASES, REACH and SHAPE."""


SAMPLED = 9
"""Slots before this one have priors; CONTACT follows from them."""
SLOTS = 10


@dataclass(frozen=True, kw_only=True)
class Prior:
    """A parameter with what is believed of it.

    ``lognormal``: ``first`` is the median, ``second`` the standard deviation of the logarithm.
    ``beta``: the two shape numbers. ``fixed``: ``first`` is the value.
    """

    name: str
    slot: Slot
    unit: str
    family: Family
    first: float
    second: float = 0.0
    source: str

    def quantile(self, share: float) -> float:
        """Return the value below which the parameter lies with that probability."""
        from scipy import stats

        if self.family == "lognormal":
            return float(self.first * np.exp(self.second * stats.norm.ppf(share)))
        if self.family == "beta":
            return float(stats.beta.ppf(share, self.first, self.second))
        return self.first

    def draw(self, rng: np.random.Generator) -> float:
        """Draw a value."""
        if self.family == "lognormal":
            return float(self.first * np.exp(self.second * rng.standard_normal()))
        if self.family == "beta":
            return float(rng.beta(self.first, self.second))
        return self.first

    def as_record(self) -> dict[str, Any]:
        """Return the line for the page: name, unit, distribution, 95 % range, source."""
        return {
            "name": self.name,
            "unit": self.unit,
            "distribution": self.family,
            "first": self.first,
            "second": self.second,
            "median": self.quantile(0.5),
            "low": self.quantile(0.025),
            "high": self.quantile(0.975),
            "source": self.source,
        }


_GUESS = "project choice: expert guess, to be calibrated from a region's closed outbreaks"
_NAMES = {
    Slot.BACKGROUND: ("background", "1/d, apiary of 5 colonies, in season"),
    Slot.CASES: ("secondary_apiaries", "apiaries by distance per infected apiary and 150 in-season days"),
    Slot.REACH: ("reach", "m"),
    Slot.SHAPE: ("far_share", "1"),
    Slot.KEEPER: ("same_keeper", "1/d per pair, in season"),
    Slot.MOVE: ("moved_colony", "1 per colony moved"),
    Slot.SILENT: ("infectiousness_before_signs", "1, against with signs"),
    Slot.REPORT: ("report", "1/d with signs, in season"),
    Slot.SENSITIVITY: ("sensitivity", "1, per colony with signs that is opened"),
}


def _prior(slot: Slot, family: Family, first: float, second: float, source: str) -> Prior:
    name, unit = _NAMES[slot]
    return Prior(name=name, slot=slot, unit=unit, family=family, first=first, second=second, source=source)


_REACH = (
    "project choice after Lindström, Korpela & Fries 2008, Apidologie 39:515, abstract: transmission within 1 km "
    "of diseased colonies, significantly lower at 2 km and more"
)
_AFB = (
    _prior(
        Slot.BACKGROUND,
        "lognormal",
        5e-6,
        1.1,
        "project choice: about one new introduction a year in 1,000 apiaries, with a factor of nine either way",
    ),
    _prior(
        Slot.CASES,
        "lognormal",
        1.0,
        0.85,
        "project choice: between dying out and fast growth; wide, so that one finding does not decide it "
        "(docs/spread-checks.md)",
    ),
    _prior(Slot.REACH, "lognormal", 1200.0, 0.4, _REACH),
    _prior(
        Slot.SHAPE,
        "beta",
        1.0,
        9.0,
        "project choice after Mill et al. 2014, Environ Microbiol 16:3753, abstract: aggregation at 10 to 30 km",
    ),
    _prior(
        Slot.KEEPER,
        "lognormal",
        0.0015,
        0.8,
        "project choice after Datta et al. 2013, J R Soc Interface 10:20130650, abstract: the owner route is real; "
        "its size is a guess",
    ),
    _prior(Slot.MOVE, "lognormal", 0.3, 0.7, _GUESS),
    _prior(
        Slot.SILENT,
        "beta",
        3.0,
        7.0,
        "project choice after Hornitzky 1998, J Apic Res 37:261: carriage without signs seldom passed on",
    ),
    _prior(Slot.REPORT, "lognormal", 1 / 150, 0.5, _GUESS),
    _prior(
        Slot.SENSITIVITY,
        "beta",
        16.0,
        4.0,
        "project choice: no published sensitivity of a visual inspection was found; 0.6 to 0.95",
    ),
)
_EFB = {
    Slot.BACKGROUND: (
        "lognormal",
        2e-5,
        1.0,
        "project choice: England's region in 2005 had 20 times more of it than of American foulbrood",
    ),
    Slot.CASES: ("lognormal", 1.0, 0.7, "project choice: between dying out and growth; wide"),
    Slot.REACH: (
        "lognormal",
        1800.0,
        0.4,
        "project choice after Belloy et al. 2007, Apidologie 38:136: 30 % carriage in apiaries near cases",
    ),
    Slot.SILENT: (
        "beta",
        5.0,
        5.0,
        "project choice after Belloy et al. 2007, Apidologie 38:136: more than 90 % of colonies without signs in "
        "apiaries with signs carry it",
    ),
    Slot.SENSITIVITY: ("beta", 14.0, 6.0, "project choice: signs come and go within a season"),
}


def priors_of(disease: Disease) -> tuple[Prior, ...]:
    """Return the priors of a disease in the order of their slots."""
    if disease is Disease.AFB:
        return _AFB
    return tuple(_prior(row.slot, *_EFB[row.slot]) if row.slot in _EFB else row for row in _AFB)  # type: ignore[arg-type]


def pin(priors: tuple[Prior, ...], **values: float) -> tuple[Prior, ...]:
    """Return the priors with some parameters fixed, by name.

    Raises
    ------
    ValueError
        If a name is not among the priors.
    """
    unknown = set(values) - {row.name for row in priors}
    if unknown:
        raise ValueError(f"Expected names of priors, got {sorted(unknown)}.")
    return tuple(
        replace(row, family="fixed", first=values[row.name], second=0.0, source="fixed for this run")
        if row.name in values
        else row
        for row in priors
    )


def learn(priors: tuple[Prior, ...], draws: FloatArray, outbreak: str) -> tuple[Prior, ...]:
    """Return a region's posterior as next year's priors, by matching moments on the walking scale.

    Parameters
    ----------
    priors
        Priors of the run.
    draws
        Draws of the parameters, shape (draws, slots).
    outbreak
        Name for the source.
    """
    return tuple(
        row if row.family == "fixed" else _learnt(row, draws[:, row.slot], f"posterior of {outbreak}")
        for row in priors
    )


def _learnt(row: Prior, values: FloatArray, source: str) -> Prior:
    if row.family == "lognormal":
        logs = np.log(values)
        return replace(row, first=float(np.exp(logs.mean())), second=float(logs.std(ddof=1)), source=source)
    mean, var = float(values.mean()), float(values.var(ddof=1))
    size = max(mean * (1 - mean) / max(var, 1e-12) - 1, 2.0)
    return replace(row, first=mean * size, second=(1 - mean) * size, source=source)


def draw_parameters(priors: tuple[Prior, ...], rng: np.random.Generator) -> FloatArray:
    """Draw a vector of parameters; CONTACT is left zero."""
    theta = np.zeros(SLOTS)
    for row in priors:
        theta[row.slot] = row.draw(rng)
    return theta


def middle(priors: tuple[Prior, ...]) -> FloatArray:
    """Return the vector of prior medians; CONTACT is left zero."""
    theta = np.zeros(SLOTS)
    for row in priors:
        theta[row.slot] = row.quantile(0.5)
    return theta
