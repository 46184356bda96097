"""Phones, a lossy network and a desk on a real file: whatever happens, what a phone showed as recorded is at the desk once.

The phone here keeps to docs/fieldbook.md: a line is on its disk before it is shown, it is handed in until the desk
answers for it, photos after their lines. The network loses requests and answers, delivers twice and late; phone and
desk are killed and started again; one phone is revoked. The model remembers what was shown, and nothing else.
"""

from __future__ import annotations

import json
import random
import shutil
import tempfile
from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from broodsweep.desk.access import Device
from broodsweep.desk.context import Desk
from broodsweep.desk.field_lines import folded_visits
from broodsweep.desk.field_photos import photo_state, take_piece
from broodsweep.desk.field_ports import COUNTING, LineState
from broodsweep.desk.fieldbook import take_lines
from broodsweep.desk.ports import Author
from broodsweep.fieldbook import effects_of, fold, read_line
from broodsweep.geo import Place
from broodsweep.register import Apiary
from broodsweep.rulebook import load_books
from broodsweep.store import SqliteStore, open_store, verify

from .writing import KINDS, Pen

AT = datetime(2026, 7, 8, 9, tzinfo=UTC)
APIARIES = ("A1", "A2", "A3")
BOOKS = load_books()
NAMES = ("phone-1", "phone-2")
PIECE = 40
IN_MEMORY = "/dev/shm" if Path("/dev/shm").is_dir() else None
"""Order and repetition are tried here, not the disk: a file system in memory makes hundreds of scripts quick."""


@dataclass
class Phone:
    """A phone as the contract has it; ``outbox`` and ``photos`` are on its disk."""

    device: Device
    pen: Pen
    outbox: list[dict[str, Any]] = field(default_factory=list)
    photos: dict[str, bytes] = field(default_factory=dict)
    visit: tuple[str, str] | None = None
    shown: list[dict[str, Any]] = field(default_factory=list)
    shown_photos: dict[str, bytes] = field(default_factory=dict)

    def keep(self, line: dict[str, Any]) -> None:
        """Put a line on the disk, then show it."""
        self.outbox.append(line)
        self.shown.append(line)


class Phones(RuleBasedStateMachine):
    """Two phones and a desk."""

    @initialize(seed=st.integers(0, 2**32))
    def begin(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.folder = Path(tempfile.mkdtemp(prefix="sync-", dir=IN_MEMORY))
        self.phones = {
            name: Phone(
                device=Device(
                    device=name,
                    label=name,
                    who=name,
                    inspector=None,
                    enrolled_at=AT,
                    revoked_at=None,
                    wipe_asked_at=None,
                    seal_key="",
                    sign_key="",
                ),
                pen=Pen(name, random.Random(f"{name}{seed}")),
            )
            for name in NAMES
        }
        self.on_the_way: list[tuple[str, list[dict[str, Any]]]] = []
        self.store: SqliteStore = open_store(self.folder / "store.sqlite", now=lambda: AT)
        with self.store.work(Author(who="setup"), "load") as work:
            places = [Place(longitude=0.01 * number, latitude=60.0, precision_m=10.0) for number in range(3)]
            rows = [
                Apiary(apiary=name, place=place, colonies=4)
                for name, place in zip(APIARIES, places, strict=True)
            ]
            work.save("apiaries", rows)
        self.desk = self.made()

    def made(self) -> Desk:
        return Desk(store=self.store, books=BOOKS, now=lambda: AT, as_of=date(2026, 7, 8))

    @rule(name=st.sampled_from(NAMES), count=st.integers(1, 6))
    def write(self, name: str, count: int) -> None:
        """An inspector writes; now and then begins, signs, amends."""
        phone = self.phones[name]
        for _ in range(count):
            if phone.visit is None:
                phone.visit = (phone.pen.name(), self.rng.choice(APIARIES))
                purpose = self.rng.choice(("sweep", "reinspection"))
                phone.keep(phone.pen.begin(*phone.visit, purpose=purpose))
                continue
            kind = self.rng.choice((*KINDS, "sign", "amend", "found"))
            if kind == "sign":
                phone.keep(phone.pen.sign(*phone.visit))
                if self.rng.random() < 0.5:
                    phone.keep(phone.pen.amend(*phone.visit, kind="colony_looked"))
                phone.visit = None
            elif kind == "amend":
                phone.keep(phone.pen.amend(*phone.visit, kind=self.rng.choice(KINDS[:6])))
            elif kind == "photo_taken":
                self._take_photo(phone)
            elif kind == "found":
                self._find(phone)
            else:
                phone.keep(phone.pen.some(*phone.visit, kind=kind))

    def _take_photo(self, phone: Phone) -> None:
        data = b"\xff\xd8\xff" + self.rng.randbytes(self.rng.randint(1, 150))
        name = sha256(data).hexdigest()
        phone.photos[name] = phone.shown_photos[name] = data
        body = {**phone.pen.body("photo_taken"), "photo": name, "bytes": len(data)}
        assert phone.visit is not None
        phone.keep(phone.pen.write("photo_taken", body, visit=phone.visit[0], apiary=phone.visit[1]))

    def _find(self, phone: Phone) -> None:
        body = {"longitude": 0.5, "latitude": 60.5, "accuracy_m": 8, "colonies": self.rng.randint(1, 9)}
        said = {"keeper_name": "Ragna Holm", "keeper_phone": "", "note": ""}
        key = f"F000000{phone.device.device[-1]}{self.rng.randint(0, 2)}"
        phone.keep(phone.pen.write("apiary_found", body | said, visit=None, apiary=key))

    @rule(
        name=st.sampled_from(NAMES),
        most=st.integers(1, 12),
        fate=st.sampled_from(("comes", "request lost", "answer lost", "late too", "desk dies")),
        is_shuffled=st.booleans(),
    )
    def hand_in(self, name: str, most: int, fate: str, is_shuffled: bool) -> None:
        """A phone hands in what it has; only an answer takes a line out of the outbox."""
        phone = self.phones[name]
        lines = list(phone.outbox[:most])
        if is_shuffled:
            self.rng.shuffle(lines)
        if not lines or fate == "request lost":
            return
        if fate == "late too":
            self.on_the_way.append((name, lines))
        answers = take_lines(self.desk, phone.device, lines).answers
        if fate == "desk dies":
            self.restart_desk()
            return
        if fate == "answer lost":
            return
        done = {row.line for row in answers}
        assert done == {line["line"] for line in lines}
        phone.outbox = [line for line in phone.outbox if line["line"] not in done]

    @precondition(lambda self: self.on_the_way)
    @rule()
    def arrive_late(self) -> None:
        """A request that went round the houses comes again, out of its turn."""
        name, lines = self.on_the_way.pop(self.rng.randrange(len(self.on_the_way)))
        take_lines(self.desk, self.phones[name].device, lines)

    @rule(
        name=st.sampled_from(NAMES),
        fate=st.sampled_from(("comes", "cut", "answer lost", "twice", "gap", "desk dies")),
    )
    def send_photo(self, name: str, fate: str) -> None:
        """A piece of a photo is sent, whole, cut off, twice or from the wrong place."""
        phone = self.phones[name]
        if not phone.photos:
            return
        photo = sorted(phone.photos)[self.rng.randrange(len(phone.photos))]
        data = phone.photos[photo]
        there = photo_state(self.desk, phone.device, photo)
        start = there.received + (10 if fate == "gap" else 0)
        piece = data[start : start + PIECE]
        if fate == "cut":
            piece = piece[: len(piece) // 2]
        for _ in range(2 if fate == "twice" else 1):
            if piece:
                there = take_piece(self.desk, phone.device, photo, start=start, total=len(data), piece=piece)
        if fate == "desk dies":
            self.restart_desk()
        elif fate != "answer lost" and there.is_whole:
            del phone.photos[photo]

    @rule(name=st.sampled_from(NAMES))
    def restart_phone(self, name: str) -> None:
        """The app is killed: what is on its disk stays, a visit in hand goes on."""
        phone = self.phones[name]
        phone.outbox, phone.photos = list(phone.outbox), dict(phone.photos)

    @rule()
    def restart_desk(self) -> None:
        """The desk is started anew on its file."""
        self.store.close()
        self.store = open_store(self.folder / "store.sqlite", now=lambda: AT)
        self.desk = self.made()

    @rule()
    def revoke(self) -> None:
        """The second phone is revoked; it goes on writing and handing in."""
        if self.rng.random() < 0.15:
            phone = self.phones[NAMES[1]]
            phone.device = replace(phone.device, revoked_at=AT)

    @invariant()
    def nothing_is_doubled(self) -> None:
        """At every moment a line that counts is at the desk once, as it was written."""
        if not hasattr(self, "store"):
            return
        rows = self.store.lines()
        counts = Counter(row.line for row in rows)
        assert all(number == 1 for number in counts.values())
        ground = self.store.ground()
        assert len({row.visit for row in ground.visits}) == len(ground.visits)

    def teardown(self) -> None:
        """In signal again: everything goes home, and the desk has what the phones showed."""
        if not hasattr(self, "store"):
            return
        try:
            self._go_home()
            self._compare()
        finally:
            self.store.close()
            shutil.rmtree(self.folder)

    def _go_home(self) -> None:
        for name, lines in self.on_the_way:
            take_lines(self.desk, self.phones[name].device, lines)
        for phone in self.phones.values():
            take_lines(self.desk, phone.device, phone.outbox)
            for photo, data in phone.photos.items():
                while not (there := photo_state(self.desk, phone.device, photo)).is_whole:
                    piece = data[there.received : there.received + PIECE]
                    take_piece(
                        self.desk, phone.device, photo, start=there.received, total=len(data), piece=piece
                    )
        self.restart_desk()

    def _compare(self) -> None:
        rows = {row.line: row for row in self.store.lines()}
        shown = {line["line"]: line for phone in self.phones.values() for line in phone.shown}
        assert rows.keys() == shown.keys(), "lost 0, and nothing that no phone wrote"
        counting = []
        for name, line in shown.items():
            assert read_line(line) == read_line_of(rows[name].content)
            if rows[name].state in COUNTING:
                counting.append(read_line(line))
            else:
                assert rows[name].state is LineState.SET_ASIDE
                assert line["device"] == NAMES[1]
        for phone in self.phones.values():
            for photo, data in phone.shown_photos.items():
                assert self.store.photos.read(photo) == data
                assert [row.bytes for row in self.store.kept_photos([photo])] == [len(data)]
        self._compare_effects(counting)
        assert verify(self.store).is_sound

    def _compare_effects(self, counting: list[Any]) -> None:
        visits = fold(counting)
        there = folded_visits(self.store, [row.visit for row in visits])
        assert tuple(row.now for row in there.values()) == visits
        wanted, events = {}, Counter[str]()
        for visit in visits:
            row = effects_of(visit, inspector=visit.device, zone=UTC).row
            if row is not None:
                wanted[row.visit] = row
        kept = self.desk.snapshot()
        assert {row.visit: row for row in kept.ground.visits} == wanted
        for outbreak in kept.outbreaks:
            for case in outbreak.cases:
                events.update(event.event for event in case.events)
        assert all(number == 1 for number in events.values())
        found = {line.apiary for line in counting if line.kind == "apiary_found"}
        assert {row.apiary for row in kept.ground.apiaries} == {*APIARIES, *found}


def read_line_of(content: str) -> Any:
    """Return the line that the desk kept."""
    return read_line(json.loads(content))


QUICK = settings(
    max_examples=200,
    stateful_step_count=14,
    deadline=None,
    database=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)
TestPhones = Phones.TestCase
TestPhones.settings = QUICK


@pytest.mark.slow
def test_a_thousand_longer_scripts() -> None:
    long = settings(QUICK, max_examples=1000, stateful_step_count=60, derandomize=False)
    run_state_machine_as_test(Phones, settings=long)
