"""Who keeps bees where, what moved, who looked and what was found: the rows of the tables."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, time

from broodsweep.constants import Clearance, Disease, Goods
from broodsweep.geo import Place

Extra = tuple[tuple[str, str], ...]
"""Columns that a table had beside ours, as (header, text) in order of header: kept and given back on export."""


@dataclass(frozen=True, kw_only=True)
class Keeper:
    """A person or firm that keeps bees."""

    keeper: str
    name: str | None = None
    phone: str | None = None
    email: str | None = None
    address: str | None = None
    registered_on: date | None = None
    extra: Extra = ()


@dataclass(frozen=True, kw_only=True)
class Apiary:
    """One place where hives stand; a keeper may have several."""

    apiary: str
    place: Place
    colonies: int
    keeper: str | None = None
    kept_since: date | None = None
    left_on: date | None = None
    notes: str | None = None
    extra: Extra = ()

    def is_kept_on(self, day: date) -> bool:
        """Say whether bees stood here on that day, as far as the register knows."""
        return (self.kept_since is None or self.kept_since <= day) and (
            self.left_on is None or day < self.left_on
        )


@dataclass(frozen=True, kw_only=True)
class Move:
    """Bees, comb or equipment that went from one apiary to another, or in or out of the district.

    ``from_apiary`` is None for what came from outside, ``to_apiary`` for what left; not both.
    """

    moved_on: date
    goods: Goods
    from_apiary: str | None = None
    to_apiary: str | None = None
    quantity: float | None = None
    extra: Extra = ()

    @property
    def move(self) -> str:
        """Key of the row: a move has no number of its own, so it is what it says."""
        quantity = "" if self.quantity is None else f"{self.quantity:g}"
        return f"{self.moved_on.isoformat()}|{self.from_apiary or ''}|{self.to_apiary or ''}|{self.goods}|{quantity}"


@dataclass(frozen=True, kw_only=True)
class Visit:
    """An inspection of an apiary and what was and was not found.

    ``disease`` names the disease suspected or confirmed; None when nothing was found.
    """

    visit: str
    apiary: str
    visited_on: date
    colonies_inspected: int
    colonies_confirmed: int
    colonies_present: int | None = None
    colonies_suspect: int | None = None
    inspector: str | None = None
    purpose: str | None = None
    disease: Disease | None = None
    extra: Extra = ()

    @property
    def saw_signs(self) -> bool:
        """Whether signs of disease were seen, confirmed or not."""
        return bool(self.colonies_confirmed or self.colonies_suspect)

    @property
    def is_look(self) -> bool:
        """Whether it says anything of the bees: a colony was opened, or none stood there any more."""
        return self.colonies_inspected > 0 or self.colonies_present == 0


@dataclass(frozen=True, kw_only=True)
class Removal:
    """Diseased colonies destroyed or treated at an apiary."""

    apiary: str
    removed_on: date
    disease: Disease
    colonies: int
    how: Clearance
    extra: Extra = ()

    @property
    def removal(self) -> str:
        """Key of the row."""
        return f"{self.apiary}|{self.removed_on.isoformat()}|{self.disease}|{self.how}"


@dataclass(frozen=True, kw_only=True)
class Inspector:
    """Someone who makes visits; ``works`` holds ISO weekdays, 1 = Monday."""

    inspector: str
    home: Place
    name: str | None = None
    works: frozenset[int] = frozenset({1, 2, 3, 4, 5})
    day_start: time = time(9)
    day_end: time = time(17)
    extra: Extra = ()


@dataclass(frozen=True, kw_only=True)
class Lot:
    """A batch of field test kits."""

    lot: str
    kit: str
    expires_on: date
    count: int | None = None
    extra: Extra = ()


@dataclass(frozen=True, kw_only=True)
class Ground:
    """Everything the tables say, as it stands: what every computation starts from."""

    keepers: tuple[Keeper, ...] = ()
    apiaries: tuple[Apiary, ...] = ()
    moves: tuple[Move, ...] = ()
    visits: tuple[Visit, ...] = ()
    removals: tuple[Removal, ...] = ()
    inspectors: tuple[Inspector, ...] = ()
    lots: tuple[Lot, ...] = ()


Row = Keeper | Apiary | Move | Visit | Removal | Inspector | Lot


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table of the ground: its name, the type of its rows and the name of its key."""

    name: str
    row: type[Row]
    key: str
    required: tuple[str, ...] = field(default=())


TABLES: tuple[Table, ...] = (
    Table(name="keepers", row=Keeper, key="keeper", required=("keeper",)),
    Table(name="apiaries", row=Apiary, key="apiary", required=("apiary", "place", "colonies")),
    Table(name="moves", row=Move, key="move", required=("moved_on", "goods")),
    Table(
        name="visits",
        row=Visit,
        key="visit",
        required=("visit", "apiary", "visited_on", "colonies_inspected", "colonies_confirmed"),
    ),
    Table(
        name="removals",
        row=Removal,
        key="removal",
        required=("apiary", "removed_on", "disease", "colonies", "how"),
    ),
    Table(name="inspectors", row=Inspector, key="inspector", required=("inspector", "home")),
    Table(name="lots", row=Lot, key="lot", required=("lot", "kit", "expires_on")),
)
"""The tables in the order in which they are loaded: what is referred to comes first."""
