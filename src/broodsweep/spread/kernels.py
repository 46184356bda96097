"""How contact falls with distance: five families behind one table that is linear between its points."""

# Structured arrays and compiled calls have no element types that mypy can see.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import numpy as np

from broodsweep.spread.arrays import State, World
from broodsweep.spread.compiled import lean
from broodsweep.spread.priors import Slot
from broodsweep.units import AnyArray, FloatArray

_EXPONENTIAL, _GAUSSIAN, _POWER, _CAUCHY, _MIXED = range(5)
_REACH, _SHAPE, _CASES, _CONTACT = int(Slot.REACH), int(Slot.SHAPE), int(Slot.CASES), int(Slot.CONTACT)


@lean
def fall(family: int, distance: float, reach: float, shape: float, second: float) -> float:
    """Return the contact at a distance against that at none."""
    u = distance / reach
    if family == _GAUSSIAN:
        return float(np.exp(-u * u))
    if family == _POWER:
        return float((1.0 + u) ** (-shape))
    if family == _CAUCHY:
        return 1.0 / (1.0 + u * u)
    if family == _MIXED:
        return float((1.0 - shape) * np.exp(-u) + shape * np.exp(-distance / second))
    return float(np.exp(-u))


@lean
def fill_table(w: World, table: FloatArray, reach: float, shape: float) -> None:
    """Fill the table of the kernel for a reach and a shape; exponentials by repeated multiplication."""
    if w.kernel in (_EXPONENTIAL, _MIXED):
        far = shape if w.kernel == _MIXED else 0.0
        near, near_step = 1.0 - far, np.exp(-w.step / reach)
        far_step = np.exp(-w.step / w.second_scale)
        for k in range(len(table)):
            table[k] = near + far
            near *= near_step
            far *= far_step
        return
    for k in range(len(table)):
        table[k] = fall(w.kernel, k * w.step, reach, shape, w.second_scale)


@lean
def at(table: FloatArray, step: float, cut: float, distance: float) -> float:
    """Return the contact at a distance, zero beyond the cut."""
    if distance > cut:
        return 0.0
    u = distance / step
    k = int(u)
    return table[k] + (u - k) * (table[k + 1] - table[k])


@lean
def contact_of(w: World, table: FloatArray, cases: float) -> float:
    """Return the rate of contact at no distance that leads to so many cases (prior's scale)."""
    area = 0.0
    for k in range(1, len(table) - 1):
        area += k * table[k]
    return cases / (w.contact_scale * 2.0 * np.pi * w.step * w.step * area)


@lean
def apart(node: AnyArray, i: int, j: int) -> float:
    """Return the distance of two nodes, with both places' imprecision in it."""
    de = node[i].east - node[j].east
    dn = node[i].north - node[j].north
    return float(np.sqrt(de * de + dn * dn + node[i].blur + node[j].blur))


@lean
def row_sum(w: World, st: State, j: int) -> float:
    """Return the summed susceptibility round a node, each times the kernel; kept until the kernel changes."""
    if st.life[j].row_version == st.counts[2]:
        return st.life[j].row_value
    value = 0.0
    for e in range(w.node[j].row_first, w.node[j].row_last):
        value += w.row[e].weight * at(st.table, w.step, w.cut, w.row[e].distance)
    st.life[j].row_value = value
    st.life[j].row_version = st.counts[2]
    return value
