"""The two bundles of arrays that the compiled code works on: the world, which stays, and the state, which changes.

Everything of one node lies together (structured arrays), and the bundles hold few arrays: handing a bundle of many
arrays from function to function costs more than the work.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from broodsweep.units import AnyArray, FloatArray, IntArray

NOT_FOUND, BY_VISIT, BY_REPORT = 0, 1, 2
"""How an apiary was found."""
CLEAN, SUSPECT = 0, 1
"""What a visit before the finding saw."""
PARTS = 5
"""Parts of the pressure: times background, contact, same keeper, moves, and what depends on no parameter."""
KINDS = 24
"""Rows of ``State.tally``: latent moves first, walks from row 8."""

NODE: Any = np.dtype(
    [
        ("east", "f8"),
        ("north", "f8"),
        ("blur", "f8"),  # mean square offset of the true place from the given one: side² / 6
        ("susceptible", "f8"),
        ("infectious", "f8"),
        ("owner", "i8"),
        ("start", "i8"),  # first day at risk
        ("stop", "i8"),  # day behind the last at risk
        ("removed", "i8"),  # day from which it infects no more; `days` when it still does
        ("still", "i8"),  # day from which a standstill holds; `days` when none
        ("owner_sum", "f8"),  # susceptibility of the same keeper's other ordinary nodes
        ("atom_weight", "f8"),  # in-season days before the horizon in which it may have been infected
        ("atom_hazard", "f8"),  # hazard of being infected from the first day for a reason of its own
        ("is_special", "?"),  # at risk for a part of the horizon: left out of row sums, handled one by one
        ("found_how", "i8"),
        ("found_day", "i8"),
        ("found_opened", "f8"),
        ("found_present", "f8"),
        ("reporting", "f8"),  # reporting against an ordinary registered keeper
        ("colonies", "f8"),
        ("swap_sum", "f8"),  # summed weights of the neighbours it may swap with
        *(
            (f"{name}_{end}", "i8")
            for name in ("row", "special", "own", "out", "into", "visit")
            for end in ("first", "last")
        ),
    ],
    align=True,
)
ROW: Any = np.dtype([("node", "i4"), ("weight", "f4"), ("distance", "f8")], align=True)
"""A neighbour: its susceptibility (0 when it is special) and its distance."""
MOVE: Any = np.dtype([("node", "i8"), ("day", "i8"), ("weight", "f8")], align=True)
"""The other end of a move: -1 for a source outside the register."""
VISIT: Any = np.dtype([("day", "i8"), ("opened", "f8"), ("present", "f8"), ("kind", "i8")], align=True)
LIFE: Any = np.dtype(
    [
        ("infected", "i8"),  # day; `start` - 1 for infected from the start, `days` for not infected
        ("signs", "i8"),  # day; `days` for not by today
        ("place", "i8"),  # position in `listed`; -1 when not infected
        ("log_chance", "f8"),  # of being infected on its day
        ("row_value", "f8"),
        ("row_version", "i8"),
        ("weight", "f8"),  # with which it is proposed
        ("ladder", "f8"),  # sum of the weights up to this node
    ],
    align=True,
)


class World(NamedTuple):
    """What does not change during a run. Day 0 is the first of the horizon, ``days`` - 1 is today. Metres, days.

    One node is one life of an apiary: from the start of the horizon, or from its last clearance.
    """

    days: int
    node: AnyArray
    """Shape (nodes,), `NODE`."""
    flown: FloatArray
    """Contacts before a day, shape (days + 1,)."""
    season: FloatArray
    """Contacts on a day, looking into hives on a day and before it, shape (3, days + 1)."""
    curve: FloatArray
    """Log chances of signs after exactly, and after at least, so many days; the same from the start. (4, days + 2)"""
    row: AnyArray
    """Neighbours within the cut, node by node, `ROW`."""
    special_node: IntArray
    owner_node: IntArray
    out: AnyArray
    into: AnyArray
    visit: AnyArray
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
    life: AnyArray
    """Shape (nodes,), `LIFE`."""
    listed: IntArray
    """The infected, found ones first."""
    parts: FloatArray
    """Parts of the pressure on the own day of infection, shape (nodes, PARTS)."""
    sums: FloatArray
    """Exposure by part; scratch: parts of the changed node, change of the exposure; weight of the evidence and log
    chance of the record if nobody were infected; exposure if nobody were. (5, 5)"""
    counts: IntArray
    """Listed, found among them, version of the kernel's table, last version given out."""
    table: FloatArray
    change: FloatArray
    """Scratch: changes of the parts of the listed, shape (room, PARTS)."""
    mass: FloatArray
    """Scratch: masses of the components of a proposal."""
    rate: FloatArray
    """Scratch: rates by source of a proposal; moments of infection in a branch."""
    line: IntArray
    """Scratch: a branch, root first: node, days of infection and of signs; an order of nodes. Shape (room, 4)."""
    random: AnyArray
    """State of the random generator, uint64."""
    tally: FloatArray
    """Tries, acceptances and log step by kind of move, shape (KINDS, 3)."""
