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
OVERTIME_PRICE = _ours(
    0.1,
    "infected apiary-days/h",
    "an hour beyond working hours must bring what a visit of usual worth brings a day earlier",
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

_MEASURED = (
    "measured on the road file of the demonstration island (make demo, var/demo/roads.osm; "
    "368 apiaries and homes, our own drive times): "
)
DETOUR_FACTOR = _ours(
    1.4,
    "1",
    _MEASURED + "road over geodesic distance of pairs more than 2 km apart, median 1.41, tenths 1.19 to 1.89",
)
DRIVE_SPEED = _ours(50.0, "km/h", _MEASURED + "slope of drive time over road distance below 25 km, 51 km/h")
DISTANCE_EXTRA_TIME = _ours(
    10.0, "min", _MEASURED + "intercept of the same line, 9.6 min: parking and the walks at both ends"
)
DRIVE_EXTRA_TIME = _ours(2.0, "min", "starting and parking, each drive")

MONTH_HOURS: dict[int, tuple[Sourced, Sourced]] = {
    month: (
        _ours(opens, "h", "usual hour from which hives are opened in this month when there is no forecast"),
        _ours(closes, "h", "usual hour until which hives are opened in this month when there is no forecast"),
    )
    for month, opens, closes in (
        (3, 11.0, 15.0),
        (4, 11.0, 16.0),
        (5, 10.0, 17.0),
        (6, 10.0, 17.0),
        (7, 10.0, 17.0),
        (8, 10.0, 17.0),
        (9, 10.0, 16.0),
        (10, 11.0, 15.0),
    )
}
"""In the other months hives stay shut without a forecast. English inspectors work from about the end of March to
the end of September (NBU newsletter, December 2010)."""

FARTHEST_WALK = _ours(
    1500.0, "m", "farther from any road than this a place is left to the user: perhaps it is wrong"
)
ROAD_OVER_STRAIGHT_WALK = _ours(1.2, "1", "paths to the hives bend")

ROAD_SPEED: dict[str, Sourced] = {
    kind: _ours(speed, "km/h", "mean speed on this class of road, lower where the signed limit is lower")
    for kind, speed in (
        ("motorway", 100.0),
        ("trunk", 80.0),
        ("primary", 65.0),
        ("secondary", 55.0),
        ("tertiary", 48.0),
        ("unclassified", 40.0),
        ("residential", 28.0),
        ("living_street", 10.0),
        ("service", 18.0),
        ("track", 15.0),
        ("road", 35.0),
    )
}
GATE_TIME = _ours(1.0, "min", "open, drive through, shut")
FERRY_WAIT = _ours(20.0, "min", "wait for a ferry whose timetable is not known")
FERRY_SPEED = _ours(15.0, "km/h", "ferry without a duration in the road file")

LEAST_TIMED_VISITS = _ours(
    20.0, "visits", "fewer past visits with a duration than this do not replace the defaults"
)
RULE_SCORE_WORTH = _ours(
    0.1,
    "1",
    "chance of infection that a sweep score of 100 stands for until the statistical engine gives a probability; "
    "in a Scottish outbreak of 2009 61 of 1,093 hives inspected were positive",
)
REINSPECTION_WORTH = _ours(
    0.05,
    "1",
    "chance that a cleared apiary is diseased again; after shook swarm and antibiotic 4.8 % recurred "
    "(Waite, Brown, Thompson & Bew 2003, Apidologie 34:569)",
)
CASE_WORTH = _ours(1.0, "1", "an apiary known to be diseased infects others on every day of delay")
APPOINTMENT_WORTH = _ours(
    0.01,
    "1",
    "a visit that no list asks for but that was agreed: kept for the keeper's sake, not for the chance",
)
SURVEILLANCE_WORTH = _ours(
    0.002,
    "1",
    "chance that an apiary on no list, not looked at for a year, is diseased; it only puts such visits in order",
)
MOST_YEARS_UNSEEN = _ours(3.0, "years", "longer without a look weighs no more than this")
SEASON_DRIVE = _ours(
    20.0, "min", "drive for each visit of the season, until a plan of rounds tells it better"
)
