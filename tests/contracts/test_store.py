"""What every store promises the desk (`desk/ports.py`): one suite, run against each store there is."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta, timezone
from pathlib import Path

import pytest

from broodsweep.constants import Clearance, Disease, Goods
from broodsweep.desk.ports import Author, DanglingError, EventKeptError, Store
from broodsweep.geo import Place
from broodsweep.outbreak import Case, Event, EventKind, Outbreak
from broodsweep.register import (
    TABLES,
    Apiary,
    Ground,
    Inspector,
    Keeper,
    Lot,
    Move,
    Removal,
    Visit,
)
from broodsweep.store import MemoryStore, open_store

AUTHOR = Author(who="M. Ostley", device="desk-1")
START = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)


class Clock:
    """A clock that a test sets."""

    def __init__(self) -> None:
        self.at = START

    def __call__(self) -> datetime:
        return self.at


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture(params=["memory", "sqlite"])
def store(request: pytest.FixtureRequest, tmp_path: Path, clock: Clock) -> Iterator[Store]:
    if request.param == "memory":
        yield MemoryStore(now=clock)
    else:
        with open_store(tmp_path / "store.sqlite", now=clock) as opened:
            yield opened


PLACE = Place(
    longitude=-0.0,
    latitude=54.25,
    precision_m=100.0,
    notation="british_grid",
    text="TA 123 456",
    easting=512350.0,
    northing=445650.0,
    epsg=27700,
    datum_accuracy_m=0.1,
    datum_shift="OSTN15",
)

FULL = Ground(
    keepers=(
        Keeper(
            keeper="K1", name="Ann Vell", phone="1", email="a@b", address="Mill", registered_on=START.date()
        ),
        Keeper(keeper="K2", extra=(("Club", "North"), ("Años", "ñ;\"'\n"))),
    ),
    apiaries=(
        Apiary(
            apiary="A1",
            place=PLACE,
            colonies=4,
            keeper="K1",
            kept_since=date(2020, 1, 2),
            left_on=date(2026, 9, 1),
            notes="behind the barn",
            extra=(("fence", "yes"),),
        ),
        Apiary(apiary="A2", place=Place(longitude=1.5, latitude=54.0, precision_m=1.0), colonies=0),
        Apiary(apiary="Ä|3", place=PLACE, colonies=2, keeper="not on the list of keepers"),
    ),
    moves=(
        Move(moved_on=date(2026, 4, 1), goods=Goods.NUCLEI, from_apiary="A1", to_apiary="A2", quantity=2),
        Move(moved_on=date(2026, 4, 2), goods=Goods.QUEENS, to_apiary="A2"),
    ),
    removals=(
        Removal(
            apiary="A1",
            removed_on=date(2026, 5, 1),
            disease=Disease.AFB,
            colonies=1,
            how=Clearance.DESTROYED,
        ),
    ),
    visits=(
        Visit(
            visit="V1",
            apiary="A1",
            visited_on=date(2026, 4, 20),
            colonies_inspected=4,
            colonies_confirmed=1,
            colonies_present=5,
            colonies_suspect=2,
            inspector="I1",
            purpose="sweep",
            disease=Disease.AFB,
        ),
        Visit(
            visit="V2", apiary="A2", visited_on=date(2026, 4, 21), colonies_inspected=0, colonies_confirmed=0
        ),
    ),
    inspectors=(
        Inspector(
            inspector="I1",
            home=PLACE,
            name="Bo Rask",
            works=frozenset({2, 7}),
            day_start=time(8, 15),
            day_end=time(16),
        ),
        Inspector(inspector="I2", home=PLACE, works=frozenset()),
    ),
    lots=(
        Lot(lot="L1", kit="AFB field test", expires_on=date(2027, 1, 31), count=20),
        Lot(lot="L2", kit="EFB", expires_on=date(2027, 1, 31)),
    ),
)


def fill(store: Store, ground: Ground = FULL) -> int:
    with store.work(AUTHOR, "load") as work:
        return sum(work.save(table.name, getattr(ground, table.name)) for table in TABLES)


def event(name: str, kind: EventKind = EventKind.SUSPECTED, apiary: str = "A1", **more: object) -> Event:
    given = {
        "happened_on": date(2026, 5, 3),
        "recorded_at": datetime(2026, 5, 3, 12, 0, 0, 123456, tzinfo=UTC),
        "who": "M. Ostley",
    }
    return Event(event=name, apiary=apiary, kind=kind, **(given | more))  # type: ignore[arg-type]


def outbreak(*cases: Case, name: str = "AFB-2026-1", **more: object) -> Outbreak:
    given = {"disease": Disease.AFB, "rulebook": "common-practice", "opened_on": date(2026, 5, 3)}
    return Outbreak(outbreak=name, cases=cases, **(given | more))  # type: ignore[arg-type]


def save(store: Store, *outbreaks: Outbreak) -> None:
    with store.work(AUTHOR, "record") as work:
        for row in outbreaks:
            work.save_outbreak(row)


# --- the register ---------------------------------------------------------------------------------


def test_new_store_is_empty_at_version_0(store: Store) -> None:
    assert store.version() == 0
    assert store.ground() == Ground()
    assert (store.outbreaks(), store.settings(), store.journal()) == ((), {}, ())


def test_every_row_comes_back_as_it_was_saved(store: Store) -> None:
    saved = fill(store)
    assert store.ground() == FULL
    assert saved == sum(len(getattr(FULL, table.name)) for table in TABLES) == store.version()


def test_sample_rows_use_every_field_there_is() -> None:
    """Guards the test above: a field that a row gains must be carried by the store too."""
    for table in TABLES:
        rows = getattr(FULL, table.name)
        for field in dataclasses.fields(table.row):
            if field.default is not dataclasses.MISSING and field.name != "extra":
                assert any(getattr(row, field.name) != field.default for row in rows), (
                    table.name,
                    field.name,
                )
    for field in dataclasses.fields(Place):
        if field.compare and field.default is not dataclasses.MISSING:
            assert getattr(PLACE, field.name) != field.default, field.name


def test_rows_come_in_order_of_their_key(store: Store) -> None:
    names = ["b", "a", "Z", "é", "10", "9", "ﬀ", "\U0001f41d", "\ue000"]
    with store.work(AUTHOR, "load") as work:
        work.save("keepers", [Keeper(keeper=name) for name in names])
    assert [row.keeper for row in store.ground().keepers] == sorted(names)


def test_saving_the_same_again_changes_nothing(store: Store) -> None:
    fill(store)
    version = store.version()
    assert fill(store) == 0
    assert store.version() == version
    assert len(store.journal()) == version


def test_only_what_changed_is_counted_and_journalled(store: Store) -> None:
    fill(store)
    version = store.version()
    changed = dataclasses.replace(FULL.apiaries[0], colonies=7)
    with store.work(AUTHOR, "recount") as work:
        assert work.save("apiaries", [changed, FULL.apiaries[1]]) == 1
    (entry,) = store.journal(after=version)
    assert (entry.what, entry.table, entry.key, entry.who, entry.device) == (
        "recount",
        "apiaries",
        "A1",
        "M. Ostley",
        "desk-1",
    )
    assert entry.before is not None
    assert entry.after is not None
    assert (entry.before["colonies"], entry.after["colonies"]) == (4, 7)
    assert entry.before["extra"] == [["fence", "yes"]]
    assert dict(entry.before) | {"colonies": 7} == entry.after


def test_before_is_what_the_same_work_wrote(store: Store) -> None:
    with store.work(AUTHOR, "load") as work:
        work.save("keepers", [Keeper(keeper="K", name="a")])
        work.save("keepers", [Keeper(keeper="K", name="b")])
        work.remove("keepers", ["K"])
    steps = [(entry.before, entry.after) for entry in store.journal()]
    a, b = {"keeper": "K", "name": "a"}, {"keeper": "K", "name": "b"}
    assert steps == [(None, a), (a, b), (b, None)]
    assert store.ground() == Ground()


def test_of_rows_with_one_key_the_last_counts(store: Store) -> None:
    with store.work(AUTHOR, "load") as work:
        assert work.save("keepers", [Keeper(keeper="K", name="a"), Keeper(keeper="K", name="b")]) == 1
    assert store.ground().keepers == (Keeper(keeper="K", name="b"),)


def test_removed_rows_are_gone_and_kept_by_the_journal(store: Store) -> None:
    fill(store)
    with store.work(AUTHOR, "merge") as work:
        assert work.remove("lots", ["L1", "never there"]) == 1
    assert store.ground().lots == FULL.lots[1:]
    entry = store.journal()[-1]
    assert entry.after is None
    assert entry.before is not None
    assert entry.before["count"] == 20


def test_wrong_table_or_row_is_a_mistake(store: Store) -> None:
    with pytest.raises(ValueError, match="Expected a table"), store.work(AUTHOR, "x") as work:
        work.save("journal", [])
    with pytest.raises(ValueError, match="Expected rows of Apiary"), store.work(AUTHOR, "x") as work:
        work.save("apiaries", [Keeper(keeper="K")])
    with pytest.raises(ValueError, match="Expected a table"), store.work(AUTHOR, "x") as work:
        work.remove("events", ["e"])


# --- all or nothing -------------------------------------------------------------------------------


def test_a_work_that_raises_leaves_no_trace(store: Store) -> None:
    fill(store)
    before = (store.version(), store.ground(), store.journal())

    def fail() -> None:
        with store.work(AUTHOR, "half") as work:
            work.save("keepers", [Keeper(keeper="K9")])
            work.set("name", 1)
            raise RuntimeError("the power went")

    with pytest.raises(RuntimeError, match="power"):
        fail()
    assert (store.version(), store.ground(), store.journal()) == before
    assert fill(store) == 0, "the store takes the next work"


def test_nobody_sees_a_work_before_it_ends(store: Store) -> None:
    with store.work(AUTHOR, "load") as work:
        work.save("keepers", [Keeper(keeper="K")])
        assert store.ground().keepers == ()
        assert store.version() == 0
    assert store.version() == 1


def test_a_work_inside_a_work_is_a_mistake(store: Store) -> None:
    with (
        store.work(AUTHOR, "outer"),
        pytest.raises(ValueError, match="one inside another"),
        store.work(AUTHOR, "inner"),
    ):
        pass


def test_a_work_that_has_ended_takes_no_more(store: Store) -> None:
    with store.work(AUTHOR, "load") as work:
        pass
    with pytest.raises(ValueError, match="has ended"):
        work.save("keepers", [Keeper(keeper="K")])
    assert store.version() == 0


# --- what names what ------------------------------------------------------------------------------

LONE = Visit(visit="V", apiary="A?", visited_on=START.date(), colonies_inspected=1, colonies_confirmed=0)
STRAY = Move(moved_on=START.date(), goods=Goods.BOXES, from_apiary="A?", to_apiary="A1")
REST = Removal(apiary="A?", removed_on=START.date(), disease=Disease.EFB, colonies=1, how=Clearance.TREATED)


@pytest.mark.parametrize(("table", "row"), [("visits", LONE), ("moves", STRAY), ("removals", REST)])
def test_rows_that_name_an_unknown_apiary_are_refused(store: Store, table: str, row: Visit) -> None:
    fill(store)
    version = store.version()
    with pytest.raises(DanglingError, match=r"A\?.*not in apiaries"), store.work(AUTHOR, "load") as work:
        work.save("keepers", [Keeper(keeper="new")])
        work.save(table, [row])
    assert store.version() == version


def test_order_within_a_work_does_not_matter(store: Store) -> None:
    with store.work(AUTHOR, "load") as work:
        work.save("visits", [LONE])
        work.save("apiaries", [Apiary(apiary="A?", place=PLACE, colonies=1)])
    assert store.ground().visits == (LONE,)


def test_an_apiary_that_is_named_cannot_go_alone(store: Store) -> None:
    fill(store)
    with pytest.raises(DanglingError, match="A1 cannot leave apiaries"), store.work(AUTHOR, "x") as work:
        work.remove("apiaries", ["A1"])
    assert store.ground() == FULL
    with store.work(AUTHOR, "x") as work:
        work.remove("apiaries", ["A1"])
        work.remove("visits", ["V1"])
        work.remove("moves", [FULL.moves[0].move])
        work.remove("removals", [FULL.removals[0].removal])
    assert [row.apiary for row in store.ground().apiaries] == ["A2", "Ä|3"]


# --- outbreaks ------------------------------------------------------------------------------------


def test_outbreaks_come_back_as_saved_in_order_of_name(store: Store) -> None:
    fill(store)
    first = outbreak(
        Case(
            apiary="A2",
            events=(
                event("e2", apiary="A2"),
                event(
                    "e1", EventKind.CONFIRMED, "A2", evidence="lab 7", detail={"colonies": [1, {"x": None}]}
                ),
            ),
        ),
        Case(apiary="A1", events=()),
        closed_on=date(2026, 8, 1),
    )
    second = outbreak(Case(apiary="A1", events=(event("e3"),)), name="AFB-2025-9")
    save(store, first, second)
    assert store.outbreaks() == (second, first)


def test_an_event_is_added_and_the_rest_stays(store: Store) -> None:
    fill(store)
    save(store, outbreak(Case(apiary="A1", events=(event("e1"),))))
    version = store.version()
    longer = outbreak(Case(apiary="A1", events=(event("e1"), event("e2", EventKind.CONFIRMED))))
    save(store, longer)
    assert store.outbreaks() == (longer,)
    assert [(entry.table, entry.key) for entry in store.journal(after=version)] == [("events", "e2")]
    save(store, longer)
    assert store.version() == version + 1


def test_an_event_recorded_late_keeps_its_place_in_the_middle(store: Store) -> None:
    fill(store)
    save(store, outbreak(Case(apiary="A1", events=(event("e1"), event("e3")))))
    wanted = outbreak(Case(apiary="A1", events=(event("e1"), event("e2"), event("e3"))))
    save(store, wanted)
    assert store.outbreaks() == (wanted,)


@pytest.mark.parametrize(
    "events",
    [
        (event("e1", who="somebody else"), event("e2")),
        (event("e1", detail={"colonies": 2}), event("e2")),
        (event("e2"),),
        (),
    ],
    ids=["changed", "detail changed", "dropped", "all dropped"],
)
def test_an_event_on_record_is_never_changed_or_dropped(store: Store, events: tuple[Event, ...]) -> None:
    fill(store)
    kept = outbreak(Case(apiary="A1", events=(event("e1"), event("e2"))))
    save(store, kept)
    version = store.version()
    with pytest.raises(EventKeptError, match="on record"):
        save(store, outbreak(Case(apiary="A1", events=events)))
    assert store.outbreaks() == (kept,)
    assert store.version() == version


def test_a_case_with_events_stays_and_one_without_may_go(store: Store) -> None:
    fill(store)
    first = Case(apiary="A1", events=(event("e1"),))
    save(store, outbreak(first, Case(apiary="A2")))
    save(store, outbreak(first))
    assert store.outbreaks() == (outbreak(first),)
    with pytest.raises(EventKeptError):
        save(store, outbreak(Case(apiary="A2")))


def test_an_event_cannot_move_to_another_outbreak(store: Store) -> None:
    fill(store)
    save(store, outbreak(Case(apiary="A1", events=(event("e1"),))))
    with pytest.raises(EventKeptError, match="e1"):
        save(store, outbreak(Case(apiary="A1", events=(event("e1"),)), name="AFB-2026-2"))


def test_a_case_at_an_unknown_apiary_is_refused(store: Store) -> None:
    with pytest.raises(DanglingError, match="nowhere"):
        save(store, outbreak(Case(apiary="nowhere")))
    assert store.outbreaks() == ()


def test_events_of_another_apiary_or_twice_are_mistakes(store: Store) -> None:
    fill(store)
    with pytest.raises(ValueError, match="Expected events of 'A1'"):
        save(store, outbreak(Case(apiary="A1", events=(event("e", apiary="A2"),))))
    with pytest.raises(ValueError, match="twice"):
        save(store, outbreak(Case(apiary="A1", events=(event("e"), event("e")))))
    with pytest.raises(ValueError, match="time zone"):
        save(store, outbreak(Case(apiary="A1", events=(event("e", recorded_at=datetime(2026, 5, 3)),))))


def test_instants_of_other_zones_are_kept_as_the_same_instant(store: Store) -> None:
    fill(store)
    summer = datetime(2026, 5, 3, 14, 0, tzinfo=timezone(timedelta(hours=2)))
    save(store, outbreak(Case(apiary="A1", events=(event("e", recorded_at=summer),))))
    (kept,) = store.outbreaks()[0].cases[0].events
    assert kept.recorded_at == summer
    assert kept.recorded_at.utcoffset() == timedelta(0)


# --- settings and the whole -----------------------------------------------------------------------


def test_settings_hold_any_json_and_go_with_none(store: Store) -> None:
    with store.work(AUTHOR, "settings") as work:
        work.set("rulebook", "common-practice")
        work.set("deep", {"b": [1, 2.5, None, True], "a": "ü"})
        work.set("false", False)
    assert store.settings() == {
        "rulebook": "common-practice",
        "deep": {"a": "ü", "b": [1, 2.5, None, True]},
        "false": False,
    }
    version = store.version()
    with store.work(AUTHOR, "settings") as work:
        work.set("deep", {"a": "ü", "b": [1, 2.5, None, True]})
        work.set("never there", None)
    assert store.version() == version
    with store.work(AUTHOR, "settings") as work:
        work.set("deep", None)
    assert set(store.settings()) == {"rulebook", "false"}


@pytest.mark.parametrize("value", [float("nan"), {1, 2}, "\ud800", object()])
def test_a_setting_that_json_cannot_hold_is_a_mistake(store: Store, value: object) -> None:
    with pytest.raises(ValueError), store.work(AUTHOR, "settings") as work:
        work.set("x", value)
    assert store.settings() == {}


def test_the_record_holds_all_parts_of_one_version(store: Store) -> None:
    fill(store)
    save(store, outbreak(Case(apiary="A1", events=(event("e"),))))
    whole = store.record()
    assert whole.version == store.version()
    assert whole.ground == store.ground()
    assert whole.outbreaks == store.outbreaks()
    assert whole.settings == store.settings()


# --- the journal ----------------------------------------------------------------------------------


def test_journal_pages_and_filters(store: Store) -> None:
    fill(store)
    all_of_it = store.journal()
    assert [entry.seq for entry in all_of_it] == list(range(1, store.version() + 1))
    assert store.journal(after=3, limit=2) == all_of_it[3:5]
    assert {entry.table for entry in store.journal(table="visits")} == {"visits"}
    assert [entry.key for entry in store.journal(table="apiaries", key="A2")] == ["A2"]
    assert store.journal(after=store.version()) == ()


def test_the_clock_of_a_work_stands_in_its_entries(store: Store, clock: Clock) -> None:
    fill(store)
    assert {(entry.at, entry.device_at, entry.note) for entry in store.journal()} == {(START, None, None)}


def test_a_clock_set_back_never_takes_the_journal_back(store: Store, clock: Clock) -> None:
    with store.work(AUTHOR, "first") as work:
        work.set("a", 1)
    clock.at = START - timedelta(days=400)
    with store.work(AUTHOR, "set back") as work:
        work.set("a", 2)
    clock.at = START + timedelta(seconds=1)
    with store.work(AUTHOR, "right again") as work:
        work.set("a", 3)
    first, back, right = store.journal()
    assert (first.at, first.note) == (START, None)
    assert (back.at, back.device_at, back.note) == (START, START - timedelta(days=400), "clock_set_back")
    assert (right.at, right.device_at, right.note) == (START + timedelta(seconds=1), None, None)


def test_hashes_link_the_entries(store: Store) -> None:
    fill(store)
    entries = store.journal()
    assert entries[0].previous_hash == "0" * 64
    for one, following in itertools.pairwise(entries):
        assert following.previous_hash == one.hash
    assert len({entry.hash for entry in entries}) == len(entries)
