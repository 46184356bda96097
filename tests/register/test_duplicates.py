"""Likely duplicates are found and offered with reasons; what only looks near is left alone."""

from __future__ import annotations

from datetime import date

import pytest

from broodsweep.constants import Clearance, Disease, Goods
from broodsweep.errors import NotFoundError, RefusedError
from broodsweep.geo import Place, Places, parse_place, travel
from broodsweep.register import (
    Apiary,
    Ground,
    Keeper,
    Move,
    Removal,
    Visit,
    coarsen,
    likely_duplicates,
    merge_apiaries,
    merge_keepers,
)
from broodsweep.register.names import alike, tokens
from broodsweep.words import render


def at(north_m: float, precision_m: float = 10) -> Place:
    longitude, latitude, _ = travel(-1.0, 52.0, 0.0, north_m)
    return Place(longitude=longitude, latitude=latitude, precision_m=precision_m)


def apiary(
    key: str, keeper: str | None, north_m: float, precision_m: float = 10, colonies: int = 4
) -> Apiary:
    return Apiary(apiary=key, keeper=keeper, place=at(north_m, precision_m), colonies=colonies)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("Ann Hay", "Hay, Ann"),
        ("Mrs ANN HAY", "ann hay"),
        ("Søren Müller", "Soren Muller"),
        ("A. Hay", "Ann Hay"),
        ("John Smith", "John Smyth"),
        ("Fairweather & Sons", "Fairweather and Sons"),
    ],
)
def test_spellings_of_one_name_are_alike(first: str, second: str) -> None:
    assert alike(tokens(first), tokens(second)) >= 0.85


@pytest.mark.parametrize(
    ("first", "second"), [("Ann Hay", "Bob Hay"), ("Tom Hay", "Tim Hay"), ("Ann Hay", "Ann Stone"), ("", "")]
)
def test_names_of_two_people_are_not_alike(first: str, second: str) -> None:
    assert alike(tokens(first), tokens(second)) < 0.85


def pairs(ground: Ground, **options: object) -> set[tuple[str, str, str]]:
    return {(p.kind, p.first, p.second) for p in likely_duplicates(ground, **options)}  # type: ignore[arg-type]


def test_apiaries_of_one_keeper_near_each_other_are_offered_and_others_are_not() -> None:
    keepers = (Keeper(keeper="K1", name="Ann Hay"), Keeper(keeper="K2", name="Bo Stone"))
    rows = (
        apiary("A1", "K1", 0),
        apiary("A2", "K1", 120),
        apiary("A3", "K1", 2_000),
        apiary("A4", "K2", 60),
    )
    ground = Ground(keepers=keepers, apiaries=rows)
    assert pairs(ground) == {("apiary", "A1", "A2")}
    assert pairs(ground, places=Places([row.place for row in rows])) == pairs(ground)
    (found,) = likely_duplicates(ground)
    words = " ".join(render(reason) for reason in found.reasons)
    assert "same keeper (K1)" in words
    assert "120 m" in words
    assert 0.6 <= found.score < 1
    assert pairs(ground, dismissed={("apiary", "A2", "A1")}) == set()


def test_one_keeper_entered_twice_is_offered_with_the_apiaries() -> None:
    ground = Ground(
        keepers=(
            Keeper(keeper="K1", name="Ann Hay", phone="01632 960 001"),
            Keeper(keeper="K9", name="Hay, Anne", phone="+44 1632 960001"),
            Keeper(keeper="K3", name="Ann Stone"),
        ),
        apiaries=(apiary("A1", "K1", 0), apiary("A2", "K9", 5), apiary("A3", "K3", 10)),
    )
    assert pairs(ground) == {("keeper", "K1", "K9"), ("apiary", "A1", "A2")}


def test_the_uncertainty_of_squares_counts() -> None:
    keepers = (Keeper(keeper="K1", name="Ann Hay"),)
    wide = Ground(keepers=keepers, apiaries=(apiary("A1", "K1", 0, 100), apiary("A2", "K1", 330, 100)))
    assert pairs(wide, near_m=250) == {("apiary", "A1", "A2")}  # corners may be 189 m apart
    sharp = Ground(keepers=keepers, apiaries=(apiary("A1", "K1", 0), apiary("A2", "K1", 330)))
    assert pairs(sharp, near_m=250) == set()
    coarse = (apiary("A1", "K1", 0, 10_000), apiary("A2", "K1", 9_000, 10_000))
    assert pairs(Ground(keepers=keepers, apiaries=coarse)) == set()
    same = (apiary("A1", "K1", 0, 100), apiary("A2", "K1", 0, 100))
    assert pairs(Ground(keepers=keepers, apiaries=same)) == {("apiary", "A1", "A2")}


def test_near_must_be_a_distance() -> None:
    with pytest.raises(ValueError, match="near_m"):
        likely_duplicates(Ground(), near_m=0)


MERGE = Ground(
    keepers=(Keeper(keeper="K1", name="Ann Hay"), Keeper(keeper="K2", phone="1", extra=(("Vet", "X"),))),
    apiaries=(
        Apiary(apiary="A", place=at(0), colonies=4, kept_since=date(2020, 1, 1), keeper="K1"),
        Apiary(apiary="B", place=at(9), colonies=5, kept_since=date(2019, 1, 1), keeper="K2", notes="gate"),
        Apiary(apiary="C", place=at(900), colonies=6),
    ),
    moves=(
        Move(moved_on=date(2024, 5, 1), goods=Goods.NUCLEI, from_apiary="A", to_apiary="B"),
        Move(moved_on=date(2024, 5, 2), goods=Goods.NUCLEI, from_apiary="C", to_apiary="B"),
        Move(moved_on=date(2024, 5, 3), goods=Goods.NUCLEI, from_apiary="C", to_apiary="A"),
    ),
    visits=(
        Visit(visit="V", apiary="B", visited_on=date(2024, 6, 1), colonies_inspected=4, colonies_confirmed=0),
    ),
    removals=tuple(
        Removal(
            apiary=key, removed_on=date(2024, 7, 1), disease=Disease.AFB, colonies=n, how=Clearance.DESTROYED
        )
        for key, n in (("A", 1), ("B", 2))
    ),
)


def test_merging_apiaries_takes_everything_over_and_says_what_went() -> None:
    merged = merge_apiaries(MERGE, "A", "B")
    (kept,) = merged.saved["apiaries"]
    assert isinstance(kept, Apiary)
    assert (kept.colonies, kept.keeper, kept.notes, kept.kept_since) == (4, "K1", "gate", date(2019, 1, 1))
    assert [(row.from_apiary, row.to_apiary) for row in merged.saved["moves"]] == [("C", "A")]  # type: ignore[union-attr]
    assert merged.removed["moves"] == tuple(row.move for row in MERGE.moves[:2])
    assert [row.apiary for row in merged.saved["visits"]] == ["A"]  # type: ignore[union-attr]
    assert [row.colonies for row in merged.saved["removals"]] == [2]  # type: ignore[union-attr]
    assert merged.removed["apiaries"] == ("B",)
    assert [note.key for note in merged.notes] == [
        "register.merge_moves_between",
        "register.merge_removals_twice",
    ]


def test_merging_keepers_takes_their_apiaries_over() -> None:
    merged = merge_keepers(MERGE, "K1", "K2")
    assert merged.saved["keepers"] == (Keeper(keeper="K1", name="Ann Hay", phone="1", extra=(("Vet", "X"),)),)
    assert [(row.apiary, row.keeper) for row in merged.saved["apiaries"]] == [("B", "K1")]  # type: ignore[union-attr]
    assert merged.removed == {"keepers": ("K2",)}


def test_a_merge_with_itself_or_with_nobody_is_refused() -> None:
    with pytest.raises(RefusedError, match="itself"):
        merge_apiaries(MERGE, "A", "A")
    with pytest.raises(NotFoundError, match="no apiary X"):
        merge_apiaries(MERGE, "A", "X")
    with pytest.raises(NotFoundError, match="no keeper X"):
        merge_keepers(MERGE, "X", "K1")


def test_what_is_public_names_nobody_and_no_place_finer_than_the_square() -> None:
    public = coarsen(MERGE)
    assert not public.keepers
    assert not public.inspectors
    words = repr(public)
    assert not any(secret in words for secret in ("Ann Hay", "gate", "K1", "'A'", "'B'", "'C'", "'V'"))
    for row in public.apiaries:
        assert row.place.precision_m == 10_000
        assert row.keeper is None
    assert len({row.place for row in public.apiaries}) <= 2
    assert sum(row.colonies for row in public.apiaries) == 15
    assert len(public.moves) == 3
    assert len(public.visits) == 1
    assert coarsen(MERGE) == public


def test_the_square_holds_the_place() -> None:
    for text in ("SK 123 456", "SV 00 00", "HP 60 10", "O 12 34"):
        place = parse_place(text)
        row = Apiary(apiary="A", place=place, colonies=1)
        square = coarsen(Ground(apiaries=(row,))).apiaries[0].place
        assert abs(square.latitude - place.latitude) * 111_120 <= 5_001
