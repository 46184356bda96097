"""What every use case is given: the store, the rulebooks, the clock and the record as it stands."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, tzinfo
from threading import Lock

from broodsweep.desk.ports import Risk, Store
from broodsweep.desk.snapshot import Snapshot, follow
from broodsweep.rulebook import Rulebook
from broodsweep.words import Message


@dataclass(kw_only=True, eq=False)
class Desk:
    """The joined rooms: made once in `bootstrap`, handed to every use case.

    ``as_of`` makes the desk stand at a fixed day (the demo); None follows the clock. ``remarks`` say what in a folder
    of tables was noticed while reading it. ``zone`` is where the desk stands: the day of an instant is the day there
    (None: wherever the machine says it is). ``rulebook`` puts one rulebook in the place of each outbreak's own, to see
    what another jurisdiction would require; nothing is recorded under it. ``risk`` gives the figures of the sweep
    lists when there is more than the documented rule.
    """

    store: Store
    books: Mapping[str, Rulebook]
    now: Callable[[], datetime]
    as_of: date | None = None
    remarks: tuple[Message, ...] = ()
    zone: tzinfo | None = UTC
    rulebook: str | None = None
    risk: Risk | None = None
    _kept: Snapshot | None = field(default=None, init=False, repr=False)
    _lock: Lock = field(default_factory=Lock, init=False, repr=False)

    def today(self) -> date:
        """Day that the desk works on: the clock's, or the day it was told to stand at."""
        return self.as_of or self.now().astimezone(self.zone).date()

    def snapshot(self) -> Snapshot:
        """Return the record as it stands; read again only when the store's version has moved."""
        with self._lock:
            if self._kept is None or self._kept.version != self.store.version():
                self._kept = follow(self._kept, self.store.record())
            return self._kept
