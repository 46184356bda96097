"""Numbers of the rounds, each with where it comes from."""

from __future__ import annotations

from broodsweep.sources import Sourced, Standing

_OURS: Standing = "project choice"


def _ours(value: float, unit: str, reason: str) -> Sourced:
    return Sourced(value=value, unit=unit, source="project choice", locator=reason, standing=_OURS)


SETUP_TIME = _ours(25.0, "min", "setting up and washing at an apiary; no published rate was found")
COLONY_TIME = _ours(12.0, "min", "inspection of one colony; no published rate was found")
DECONTAMINATION_TIME = _ours(
    45.0, "min", "full change and wash of clothes, boots and tools; no published time found"
)
BREAK_LENGTH = _ours(30.0, "min", "usual break of a working day; set it to what your service has agreed")
BREAK_AFTER = _ours(360.0, "min", "rounds longer than six hours have a break; set it to what your law says")
WALK_SPEED = _ours(4.0, "km/h", "on foot with kit from the road to the hives")

KILOMETRE_PRICE = _ours(0.002, "infected apiary-days/km", "25 km weigh as much as 0.05 infected apiary-days")
MISSED_DEADLINE_PRICE = _ours(20.0, "infected apiary-days", "above any delay that it could be traded for")
BROKEN_APPOINTMENT_PRICE = _ours(5.0, "infected apiary-days", "above most delays, below a day set by law")
PINNED_VISIT_PRICE = _ours(20.0, "infected apiary-days", "what the user fixed comes first")
MOVED_VISIT_PRICE = _ours(
    0.3,
    "infected apiary-days",
    "a mild price moves fewer announced visits and did not make plans worse in our measurement",
)
EXTRA_UNVISITED_DAYS = _ours(
    4.0, "d", "a visit left out is taken to wait this long after the last planned day: the next week's plan"
)

OPEN_TEMPERATURE = _ours(
    14.0, "degree Celsius", "trade pages say 10 brief look, 13 floor, 16 full inspection"
)
OPEN_WIND = _ours(8.0, "m/s", "no official figure was found")
OPEN_RAIN = _ours(0.0, "mm/h", "hives are opened in the dry")
OPEN_FROM = _ours(10.0, "h", "local time from which hives are opened; no official figure was found")
OPEN_UNTIL = _ours(17.0, "h", "local time until which hives are opened; no official figure was found")

DETOUR_FACTOR = _ours(1.3, "1", "road over geodesic distance")
DRIVE_SPEED = _ours(50.0, "km/h", "mean over country roads")
DRIVE_EXTRA_TIME = _ours(2.0, "min", "starting and parking, each drive")
