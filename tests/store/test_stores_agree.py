"""Random works on the file and in memory give the same record, journal, hashes and refusals."""

from __future__ import annotations

import tempfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from broodsweep.constants import Disease, Goods
from broodsweep.desk.ports import Author
from broodsweep.errors import BroodsweepError
from broodsweep.geo import Place
from broodsweep.outbreak import Case, Event, EventKind, Outbreak
from broodsweep.register import Apiary, Keeper, Move
from broodsweep.store import MemoryStore, open_store, verify

names = st.sampled_from(["A", "B", "Ç|x", "B'", "\U0001f41d"])
days = st.dates(date(2025, 1, 1), date(2026, 12, 31))
texts = st.none() | st.text(st.characters(exclude_categories=["Cs"]), max_size=5)
places = st.builds(
    Place, longitude=st.floats(-10, 10), latitude=st.floats(40, 60), precision_m=st.sampled_from([1.0, 100.0])
)
keepers = st.builds(Keeper, keeper=names, name=texts, registered_on=st.none() | days)
apiaries = st.builds(
    Apiary, apiary=names, place=places, colonies=st.integers(0, 50), keeper=texts, notes=texts
)
moves = st.builds(
    Move,
    moved_on=days,
    goods=st.sampled_from(Goods),
    from_apiary=st.none() | names,
    to_apiary=names,
    quantity=st.none() | st.integers(0, 9).map(float),
)
values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-9, 9)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=3),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=5,
).filter(lambda value: "\ud800" not in repr(value))
events = st.builds(
    lambda name, kind, day: (name, kind, day), st.sampled_from("123456"), st.sampled_from(EventKind), days
)


class Agreement(RuleBasedStateMachine):
    """Both stores are told the same; whatever they answer must be the same."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.at = datetime(2026, 1, 1, tzinfo=UTC)
        self.file = open_store(Path(self.folder.name) / "store.sqlite", now=lambda: self.at)
        self.memory = MemoryStore(now=lambda: self.at)

    def both(self, what, act):
        answers = []
        for store in (self.file, self.memory):
            try:
                with store.work(Author(who="x"), what) as work:
                    answer = act(work)
            except (BroodsweepError, ValueError) as err:
                answer = (type(err), str(err))
            answers.append(answer)
        assert answers[0] == answers[1]

    @rule(rows=st.lists(keepers, max_size=4))
    def save_keepers(self, rows):
        self.both("keepers", lambda work: work.save("keepers", rows))

    @rule(rows=st.lists(apiaries, max_size=4), steps=st.lists(moves, max_size=2))
    def save_apiaries_and_moves(self, rows, steps):
        self.both("load", lambda work: (work.save("moves", steps), work.save("apiaries", rows)))

    @rule(table=st.sampled_from(["keepers", "apiaries"]), keys=st.lists(names, max_size=2))
    def remove(self, table, keys):
        self.both("remove", lambda work: work.remove(table, keys))

    @rule(name=st.sampled_from(["p", "q"]), value=values)
    def set(self, name, value):
        self.both("set", lambda work: work.set(name, value))

    @rule(
        name=st.sampled_from(["O1", "O2"]),
        apiary=names,
        steps=st.lists(events, max_size=3, unique_by=lambda e: e[0]),
    )
    def save_outbreak(self, name, apiary, steps):
        kept = {row.outbreak: row for row in self.memory.outbreaks()}.get(name)
        cases = {case.apiary: case.events for case in kept.cases} if kept else {}
        cases[apiary] = (*cases.get(apiary, ()), *(self.event(apiary, *step) for step in steps))
        row = Outbreak(
            outbreak=name,
            disease=Disease.AFB,
            rulebook="common-practice",
            opened_on=date(2026, 1, 1),
            cases=tuple(Case(apiary=key, events=found) for key, found in cases.items()),
        )
        self.both("outbreak", lambda work: work.save_outbreak(row))

    def event(self, apiary, name, kind, day):
        return Event(event=name, apiary=apiary, kind=kind, happened_on=day, recorded_at=self.at, who="x")

    @rule(days=st.integers(-3, 3))
    def turn_the_clock(self, days):
        self.at += timedelta(days=days)

    @invariant()
    def they_agree(self):
        assert self.file.record() == self.memory.record()
        assert self.file.journal() == self.memory.journal()

    def teardown(self):
        verdict = verify(self.file)
        assert verdict.is_sound, verdict
        self.file.close()
        self.folder.cleanup()


Agreement.TestCase.settings = settings(
    max_examples=25, stateful_step_count=15, deadline=None, suppress_health_check=list(HealthCheck)
)
TestStoresAgree = Agreement.TestCase
