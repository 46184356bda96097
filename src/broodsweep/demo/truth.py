"""What was really so on Skarnsey, kept aside to score the demonstration."""

from __future__ import annotations

from collections.abc import Iterable

from broodsweep.constants import Disease
from broodsweep.demo.gridref import to_longitude_latitude
from broodsweep.demo.ground import Labels
from broodsweep.demo.history import History
from broodsweep.demo.population import LAST_DAY, Population, day_of
from broodsweep.demo.response import Campaign

INFECTION_COLUMNS = (
    "apiary", "registered", "disease", "infected_on", "signs_on", "found_on", "removed_on", "how", "source", "route",
)  # fmt: skip
APIARY_COLUMNS = (
    "apiary", "registered", "also_registered_as", "keeper", "longitude", "latitude", "easting", "northing",
    "colonies", "kept_since", "left_on",
)  # fmt: skip
BACKGROUND = "background"
Rows = tuple[dict[str, str], ...]


def infection_rows(people: Population, history: History, labels: Labels) -> Rows:
    """Return every infection up to the morning of the demo day, in order of the day; what had not happened yet is empty."""
    rows = [*_infections(people, history.efb, labels), *_infections(people, history.afb, labels)]
    return tuple(sorted(rows, key=lambda row: (row["infected_on"], row["apiary"])))


def _infections(people: Population, campaign: Campaign, labels: Labels) -> Iterable[dict[str, str]]:
    state = campaign.state
    how = {case.apiary: str(case.how) for case in campaign.found} | dict.fromkeys(state.mended, "mended")

    def day(number: int) -> str:
        return day_of(number).isoformat() if number < LAST_DAY else ""

    for apiary in (state.infected_day < LAST_DAY).nonzero()[0].tolist():
        source = int(state.source[apiary])
        ended = day(int(state.ended_day[apiary]))
        yield {
            "apiary": labels.apiaries[apiary],
            "registered": "yes" if people.is_registered[apiary] else "no",
            "disease": Disease(state.disease),
            "infected_on": day(int(state.infected_day[apiary])),
            "signs_on": day(int(state.signs_day[apiary])),
            "found_on": day(int(state.found_day[apiary])),
            "removed_on": ended,
            "how": how.get(apiary, "") if ended else "",
            "source": BACKGROUND if source < 0 else labels.apiaries[source],
            "route": str(state.route[apiary]),
        }


def apiary_rows(people: Population, labels: Labels) -> Rows:
    """Return every apiary in truth, to the metre."""
    degrees = to_longitude_latitude(people.at_m).round(6).tolist()
    rows = []
    for number, (longitude, latitude) in enumerate(degrees):
        left = int(people.left_day[number])
        rows.append({
            "apiary": labels.apiaries[number],
            "registered": "yes" if people.is_registered[number] else "no",
            "also_registered_as": labels.doubles.get(number, ""),
            "keeper": labels.keepers[int(people.owner[number])],
            "longitude": f"{longitude:.6f}",
            "latitude": f"{latitude:.6f}",
            "easting": f"{people.at_m[number, 0]:.0f}",
            "northing": f"{people.at_m[number, 1]:.0f}",
            "colonies": str(int(people.colonies[number])),
            "kept_since": day_of(int(people.since_day[number])).isoformat(),
            "left_on": day_of(left).isoformat() if left <= LAST_DAY else "",
        })  # fmt: skip
    return tuple(rows)
