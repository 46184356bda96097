"""What a run answers: plain frozen values, and the record that `--json` gives."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from broodsweep.constants import Disease
from broodsweep.words import Message, render

State = Literal["standing", "found", "removed", "left", "no_colonies"]


@dataclass(frozen=True, kw_only=True)
class ApiaryFigure:
    """How likely an apiary is infected today and not found.

    ``low`` and ``high``: 90 % range of that chance over the parameters that fit the record, given each averaged
    over who else may be infected, with the Monte-Carlo error ``mcse`` in it. All None for apiaries that are found,
    have left or hold no colonies; for ``removed`` ones the chance that infection is back or was left.
    """

    apiary: str
    state: State
    probability: float | None
    low: float | None
    high: float | None
    mcse: float | None
    reasons: tuple[Message, ...]
    found_on: date | None = None
    removed_on: date | None = None

    def as_record(self) -> dict[str, Any]:
        """Return the line of the record."""
        record: dict[str, Any] = {
            "apiary": self.apiary,
            "infected_probability": self.probability,
            "low": self.low,
            "high": self.high,
            "mcse": self.mcse,
            "state": self.state,
            "reasons": [render(reason) for reason in self.reasons],
        }
        if self.found_on:
            record["found_on"] = self.found_on.isoformat()
        if self.removed_on:
            record["removed_on"] = self.removed_on.isoformat()
        return record


@dataclass(frozen=True, kw_only=True)
class Unseen:
    """How many apiaries are infected today and not found, unregistered ones with them; 90 % range of the number."""

    mean: float
    low: float
    high: float
    registered_mean: float
    unregistered_mean: float
    none_probability: float
    none_mcse: float


@dataclass(frozen=True, kw_only=True)
class Share:
    """Share of an infection that came from one source by one route.

    ``source`` is an apiary, ``background``, ``start`` (before the horizon), ``unregistered`` or ``outside``;
    ``longitude`` and ``latitude`` give the middle of the area to look in, for ``unregistered``.
    """

    source: str
    route: str
    share: float
    longitude: float | None = None
    latitude: float | None = None
    radius_m: float | None = None

    def as_record(self) -> dict[str, Any]:
        """Return the line of the record."""
        is_apiary = self.route not in ("background", "start", "outside", "unregistered")
        record: dict[str, Any] = {
            "apiary" if is_apiary else "background": self.source if is_apiary else True,
            "route": self.route,
            "share": self.share,
        }
        if self.longitude is not None:
            record |= {"longitude": self.longitude, "latitude": self.latitude, "radius_m": self.radius_m}
        return record


@dataclass(frozen=True, kw_only=True)
class Sources:
    """Where the infection of a found apiary most likely came from, greatest share first."""

    apiary: str
    infected_on: date
    infected_low_on: date
    infected_high_on: date
    shares: tuple[Share, ...]
    unexplained_share: float
    note: Message | None

    def as_record(self) -> dict[str, Any]:
        """Return the line of the record."""
        return {
            "apiary": self.apiary,
            "infected_on": self.infected_on.isoformat(),
            "infected_low_on": self.infected_low_on.isoformat(),
            "infected_high_on": self.infected_high_on.isoformat(),
            "from": [share.as_record() for share in self.shares],
            "unexplained_share": self.unexplained_share,
            "note": render(self.note) if self.note else None,
        }


@dataclass(frozen=True, kw_only=True)
class ParameterFigure:
    """A parameter as the record leaves it: median with its 95 % range."""

    name: str
    unit: str
    median: float
    low: float
    high: float

    def as_record(self) -> dict[str, Any]:
        """Return the line of the record."""
        return {
            "name": self.name,
            "unit": self.unit,
            "median": self.median,
            "low": self.low,
            "high": self.high,
        }


@dataclass(frozen=True, kw_only=True)
class Diagnostics:
    """Whether the run may be trusted, and why not."""

    converged: bool
    rhat_max: float
    ess_min: float
    mcse_max: float
    sweeps: int
    chains: int
    reasons: tuple[Message, ...]

    def as_record(self) -> dict[str, Any]:
        """Return the record."""
        return {
            "converged": self.converged,
            "rhat_max": self.rhat_max,
            "ess_min": self.ess_min,
            "mcse_max": self.mcse_max,
            "sweeps": self.sweeps,
            "chains": self.chains,
            "reasons": [render(reason) for reason in self.reasons],
        }


@dataclass(frozen=True, kw_only=True)
class CellFigure:
    """A square in which an unregistered apiary may stand infected."""

    longitude: float
    latitude: float
    side_m: float
    expected_apiaries: float
    probability: float


@dataclass(frozen=True, kw_only=True)
class Answer:
    """Everything a run answers."""

    disease: Disease
    on: date
    apiaries: tuple[ApiaryFigure, ...]
    unseen: Unseen
    sources: tuple[Sources, ...]
    parameters: tuple[ParameterFigure, ...]
    diagnostics: Diagnostics
    cells: tuple[CellFigure, ...]
    unregistered: dict[str, Any]
    notes: tuple[Message, ...]
    first_picture: bool = False

    def as_record(self) -> dict[str, Any]:
        """Return the answer as plain values for JSON."""
        unseen = self.unseen
        return {
            "disease": str(self.disease),
            "on": self.on.isoformat(),
            "first_picture": self.first_picture,
            "apiaries": [row.as_record() for row in self.apiaries],
            "unseen": {
                "mean": unseen.mean,
                "low": unseen.low,
                "high": unseen.high,
                "registered_mean": unseen.registered_mean,
                "unregistered_mean": unseen.unregistered_mean,
                "none_probability": unseen.none_probability,
                "none_mcse": unseen.none_mcse,
            },
            "sources": [row.as_record() for row in self.sources],
            "parameters": [row.as_record() for row in self.parameters],
            "diagnostics": self.diagnostics.as_record(),
            "unregistered": self.unregistered,
            "cells": [
                {
                    "longitude": cell.longitude,
                    "latitude": cell.latitude,
                    "side_m": cell.side_m,
                    "expected_apiaries": cell.expected_apiaries,
                    "infected_probability": cell.probability,
                }
                for cell in self.cells
            ],
            "notes": [render(note) for note in self.notes],
        }
