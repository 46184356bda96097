"""Grounds of every kind for round trips: made by hypothesis, sound by construction."""

from __future__ import annotations

from datetime import date, time

from hypothesis import strategies as st

from broodsweep.constants import Clearance, Disease, Goods
from broodsweep.geo import Place, parse_place
from broodsweep.register import Apiary, Ground, Inspector, Keeper, Lot, Move, Removal, Visit

LETTERS = st.characters(exclude_categories=("Cc", "Cs", "Co", "Cn"), include_characters="\n\t")
AWKWARD = st.sampled_from(
    [
        "=1+1",
        "+44 1632 960001",
        "-",
        "@x",
        "'=1",
        "''-2",
        "'",
        '"',
        'a "b", c',
        "a;b",
        "007",
        "1e5",
        "TRUE",
        "=",
        "a\nb",
        *["2024-05-12", "12:30", "_x0041_", "&amp;", "<b>", "#REF!", "N/A", "null", "Ærø Müller"],
    ]
)
TEXTS = (st.text(LETTERS, min_size=1, max_size=12) | AWKWARD).map(str.strip).filter(bool)
DAYS = st.dates(date(1900, 1, 1), date(2200, 12, 31))
COUNTS = st.integers(0, 10_000)
WORDS = st.sampled_from(
    [
        "SK 123 456",
        "TQ1234567890",
        "SV 00 00",
        "O 12 34",
        "52.1234N 1.5W",
        "geo:52.5,-1.25;u=30",
        "EPSG:27700 430000 380000",
        *["30U XC 1234 5678", "52°12'30\"N 1°10'W"],
    ]
)


@st.composite
def places(draw: st.DrawFn) -> Place:
    """A place as it comes from words or from coordinates with a precision."""
    if draw(st.booleans()):
        return parse_place(draw(WORDS), precision_m=draw(st.none() | st.sampled_from([200.0, 5000.5])))
    return Place(
        longitude=round(draw(st.floats(-180, 180)), 9),
        latitude=round(draw(st.floats(-90, 90)), 9),
        precision_m=round(draw(st.floats(0.001, 100_000)), 3),
    )


EXTRAS = st.dictionaries(st.sampled_from(["Vet's no", "=x", "Übersicht", "z z"]), TEXTS, max_size=3).map(
    lambda found: tuple(sorted(found.items()))
)
OPTIONAL = st.none() | TEXTS


@st.composite
def grounds(draw: st.DrawFn) -> Ground:
    """A sound ground: keys once, references known, counts possible."""
    some = {"min_size": 1, "max_size": 4, "unique": True}
    keepers = draw(st.lists(TEXTS, **some))
    apiaries = draw(st.lists(TEXTS, **some))
    ends = [None, *apiaries]
    pairs = [(a, b) for a in ends for b in ends if a != b]
    moves = {
        row.move: row
        for pair in draw(st.lists(st.sampled_from(pairs), max_size=4))
        for row in [
            Move(
                moved_on=draw(DAYS),
                goods=draw(st.sampled_from(Goods)),
                from_apiary=pair[0],
                to_apiary=pair[1],
                quantity=draw(st.none() | st.integers(0, 1000).map(float) | st.sampled_from([0.5, 12.25])),
                extra=draw(EXTRAS),
            )
        ]
    }
    removals = {
        row.removal: row
        for apiary in draw(st.lists(st.sampled_from(apiaries), max_size=3))
        for row in [
            Removal(
                apiary=apiary,
                removed_on=draw(DAYS),
                disease=draw(st.sampled_from(Disease)),
                colonies=draw(COUNTS),
                how=draw(st.sampled_from(Clearance)),
                extra=draw(EXTRAS),
            )
        ]
    }
    return Ground(
        keepers=tuple(draw(_keeper(key)) for key in keepers),
        apiaries=tuple(draw(_apiary(key, keepers)) for key in apiaries),
        moves=tuple(moves.values()),
        visits=tuple(draw(_visit(key, apiaries)) for key in draw(st.lists(TEXTS, max_size=3, unique=True))),
        removals=tuple(removals.values()),
        inspectors=tuple(draw(_inspector(key)) for key in draw(st.lists(TEXTS, max_size=2, unique=True))),
        lots=tuple(
            Lot(
                lot=key,
                kit=draw(TEXTS),
                expires_on=draw(DAYS),
                count=draw(st.none() | COUNTS),
                extra=draw(EXTRAS),
            )
            for key in draw(st.lists(TEXTS, max_size=2, unique=True))
        ),
    )


def _keeper(key: str) -> st.SearchStrategy[Keeper]:
    return st.builds(
        Keeper,
        keeper=st.just(key),
        name=OPTIONAL,
        phone=OPTIONAL,
        email=OPTIONAL,
        address=OPTIONAL,
        registered_on=st.none() | DAYS,
        extra=EXTRAS,
    )


@st.composite
def _apiary(draw: st.DrawFn, key: str, keepers: list[str]) -> Apiary:
    days = sorted(draw(st.lists(DAYS, min_size=2, max_size=2)))
    return Apiary(
        apiary=key,
        place=draw(places()),
        colonies=draw(COUNTS),
        keeper=draw(st.none() | st.sampled_from(keepers)),
        kept_since=draw(st.sampled_from([None, days[0]])),
        left_on=draw(st.sampled_from([None, days[1]])),
        notes=draw(OPTIONAL),
        extra=draw(EXTRAS),
    )


@st.composite
def _visit(draw: st.DrawFn, key: str, apiaries: list[str]) -> Visit:
    low, middle, high = sorted(draw(st.lists(COUNTS, min_size=3, max_size=3)))
    return Visit(
        visit=key,
        apiary=draw(st.sampled_from(apiaries)),
        visited_on=draw(DAYS),
        colonies_inspected=middle,
        colonies_confirmed=low,
        colonies_present=draw(st.sampled_from([None, high])),
        colonies_suspect=draw(st.sampled_from([None, low, middle])),
        inspector=draw(OPTIONAL),
        purpose=draw(OPTIONAL),
        disease=draw(st.sampled_from(Disease)),
        extra=draw(EXTRAS),
    )


def _inspector(key: str) -> st.SearchStrategy[Inspector]:
    return st.builds(
        Inspector,
        inspector=st.just(key),
        home=places(),
        name=OPTIONAL,
        works=st.frozensets(st.integers(1, 7), min_size=1),
        day_start=st.builds(time, st.integers(0, 11), st.integers(0, 59)),
        day_end=st.builds(time, st.integers(12, 23), st.integers(0, 59)),
        extra=EXTRAS,
    )
