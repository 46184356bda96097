"""The two bundles of arrays that the compiled code works on: the world, which stays, and the state, which changes."""

from __future__ import annotations

from typing import NamedTuple

from broodsweep.units import AnyArray, FloatArray, IntArray

NOT_FOUND, BY_VISIT, BY_REPORT = 0, 1, 2
"""How an apiary was found."""
CLEAN, SUSPECT = 0, 1
"""What a visit before the finding saw."""
COUNTS = 4
LISTED, FIXED, VERSION, ROW_VERSION = 0, 1, 2, 3
"""Slots of ``State.count``: infected in the list, found ones among them (they come first), version of the
kernel's table, last version given out."""
PARTS = 5
BACK, NEAR, KEEP, MOVED, CONST = 0, 1, 2, 3, 4
"""Parts of the pressure: times background, contact, same keeper, moves, and what depends on no parameter."""


class World(NamedTuple):
    """What does not change during a run. Day 0 is the first of the horizon, ``days`` - 1 is today.

    One node is one life of an apiary: from the start of the horizon, or from its last clearance. Shapes are
    (nodes,) unless said. Distances are metres.
    """

    days: int
    east: FloatArray
    north: FloatArray
    blur: FloatArray
    """Mean square offset of the true place from the given one: side² / 6."""
    colonies: FloatArray
    susceptible: FloatArray
    infectious: FloatArray
    owner: IntArray
    owner_sum: FloatArray
    """Susceptibility of the same keeper's other ordinary nodes."""
    start: IntArray
    """First day at risk."""
    stop: IntArray
    """Day behind the last at risk."""
    removed: IntArray
    """Day from which it infects no more; ``days`` when it still does."""
    still: IntArray
    """Day from which a standstill holds; ``days`` when none."""
    atom_weight: FloatArray
    """In-season days before the horizon in which it may have been infected."""
    atom_hazard: FloatArray
    """Hazard of being infected from the first day for a reason of its own (residual infection)."""
    is_special: AnyArray
    """Window of risk is not the whole horizon: left out of the row sums and handled one by one."""
    row_start: IntArray
    row_node: AnyArray
    row_distance: AnyArray
    special_start: IntArray
    special_node: IntArray
    owner_start: IntArray
    owner_node: IntArray
    out_start: IntArray
    out_node: IntArray
    out_day: IntArray
    out_weight: FloatArray
    in_start: IntArray
    in_node: IntArray
    """Source of a move; -1 when it came from outside the register."""
    in_day: IntArray
    in_weight: FloatArray
    flight: FloatArray
    """Contacts a day, shape (days,)."""
    flown: FloatArray
    """Contacts before a day, shape (days + 1,)."""
    looked: FloatArray
    """Looking into hives a day, shape (days,)."""
    seen: FloatArray
    """Looking into hives before a day, shape (days + 1,)."""
    log_signs: FloatArray
    """Log chance that signs come after exactly so many days, shape (days + 2,)."""
    log_unsigned: FloatArray
    """Log chance that they come after so many days or more, shape (days + 2,)."""
    log_signs_start: FloatArray
    log_unsigned_start: FloatArray
    """The same for what was infected before the first day at risk, counted from it."""
    visit_start: IntArray
    visit_day: IntArray
    visit_opened: FloatArray
    visit_present: FloatArray
    visit_kind: IntArray
    found_how: IntArray
    found_day: IntArray
    found_opened: FloatArray
    found_present: FloatArray
    reporting: FloatArray
    """Reporting against an ordinary registered keeper."""
    growth: float
    mending: float
    """Days until signs go by themselves; 0 when they do not."""
    suspicion: float
    standstill_leaves: float
    outside: float
    cut: float
    step: float
    kernel: int
    second_scale: float
    contact_scale: float
    """Density of susceptibility per square metre times the contact days: contact = cases / (scale x kernel's area)."""


class State(NamedTuple):
    """One explanation of the outbreak, with everything cached that the next step needs."""

    theta: FloatArray
    infected: IntArray
    """Day of infection; ``start`` - 1 for infected from the start, ``days`` for not infected."""
    signs: IntArray
    """Day of signs; ``days`` for not by today."""
    place: IntArray
    """Position in ``listed``; -1 when not infected."""
    listed: IntArray
    parts: FloatArray
    """Parts of the pressure at its own day of infection, shape (nodes, PARTS)."""
    log_chance: FloatArray
    total: FloatArray
    """Summed exposure by part, shape (PARTS,)."""
    count: IntArray
    table: FloatArray
    row_value: FloatArray
    row_version: IntArray
    change: FloatArray
    """Scratch: changes of parts of the listed, shape (capacity, PARTS)."""
    own: FloatArray
    """Scratch: parts of the changed node, then total's change, shape (2, PARTS)."""
    mass: FloatArray
    """Scratch: masses of the components of a proposal."""
    rate: FloatArray
    random: AnyArray
    """State of the random generator, uint64, shape (2,)."""
    heat: FloatArray
    """Weight of the evidence, shape (1,): 1 but for the start of the warm-up."""
    weight: FloatArray
    """Weight with which a node is proposed."""
    ladder: FloatArray
    """Cumulative weights."""
    walk: FloatArray
    """Log step of each parameter's walk."""
    tried: FloatArray
    """Tries and acceptances by kind of move, shape (kinds, 2)."""


KINDS = 24
