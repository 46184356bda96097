"""Why an apiary's figure is what it is, in words, the weightiest first."""

from __future__ import annotations

from collections import defaultdict
from datetime import timedelta

import numpy as np

from broodsweep.register import Visit
from broodsweep.spread.arrays import State, World
from broodsweep.spread.data import Setup
from broodsweep.spread.draws import Draws
from broodsweep.spread.kernels import apart, at
from broodsweep.spread.likelihood import new_table
from broodsweep.spread.lives import is_finding
from broodsweep.spread.loads import weight_of
from broodsweep.spread.priors import Slot
from broodsweep.words import Message, say

_MOVES_BEFORE_DAYS = 730
_NEAR_M = 10_000.0


class Reasons:
    """Works out the reasons of one apiary after another; weights at the middle of the parameters."""

    def __init__(self, setup: Setup, w: World, st: State, draws: Draws) -> None:
        self.setup, self.w, self.st = setup, w, st
        st.theta[:] = np.median(draws.theta, axis=0)
        new_table(w, st)
        self.found = np.flatnonzero(w.node["found_how"] > 0)
        self.given = self._given(draws)
        self.visits: dict[str, Visit] = {}
        for visit in sorted(setup.ground.visits, key=lambda row: (row.visited_on, row.visit)):
            if visit.visited_on <= setup.on and visit.colonies_inspected > 0:
                self.visits[visit.apiary] = visit
        self.moves = defaultdict(list)
        cases = {setup.ground.apiaries[setup.apiary_of[j]].apiary for j in self.found}
        since = setup.on - timedelta(days=_MOVES_BEFORE_DAYS)
        for move in setup.ground.moves:
            if move.from_apiary in cases and since <= move.moved_on <= setup.on and move.to_apiary:
                self.moves[move.to_apiary].append(move)

    def _given(self, draws: Draws) -> dict[int, float]:
        """In-season infectious days of each found apiary so far, on average."""
        w = self.w
        total: dict[int, float] = defaultdict(float)
        wanted = set(self.found.tolist())
        silent = float(self.st.theta[Slot.SILENT])
        keep = np.isin(draws.node, self.found)
        for node, (e, c) in zip(draws.node[keep], draws.days[keep], strict=True):
            gone = int(w.node["removed"][node])
            turn = min(max(int(c), int(e) + 1), gone)
            total[int(node)] += (
                silent * (w.flown[turn] - w.flown[min(int(e) + 1, gone)]) + w.flown[gone] - w.flown[turn]
            )
        return {node: total[node] / max(len(draws), 1) for node in wanted}

    def of(self, apiary: int, node: int) -> tuple[Message, ...]:
        """Return the reasons for an apiary (number in the ground) and its node of today."""
        setup, w = self.setup, self.w
        row = setup.ground.apiaries[apiary]
        weighed: list[tuple[float, Message]] = self._near(node) + self._keeper(node)
        for move in self.moves.get(row.apiary, ()):
            weight = float(self.st.theta[Slot.MOVE]) * weight_of(move)
            weighed.append(
                (
                    weight,
                    say(
                        "spread.reason_received",
                        goods=say(f"goods.{move.goods}"),
                        case=move.from_apiary,
                        moved_on=move.moved_on,
                    ),
                )
            )
        weighed.sort(key=lambda pair: -pair[0])
        reasons = [message for _, message in weighed]
        if w.node["atom_hazard"][node] > 0 and setup.lives[node] is not None and setup.lives[node].since:  # type: ignore[union-attr]
            reasons.insert(0, say("spread.reason_cleared", cleared_on=setup.lives[node].since))  # type: ignore[union-attr]
        reasons.append(self._visit(row.apiary))
        reasons.append(say("common.colonies", count=row.colonies))
        return tuple(reasons)

    def _near(self, node: int) -> list[tuple[float, Message]]:
        w, st, best = self.w, self.st, None
        total = 0.0
        for j in self.found:
            if self.setup.apiary_of[j] == self.setup.apiary_of[node]:
                continue
            d = apart(w.node, int(j), node)
            total += float(st.theta[Slot.CONTACT]) * at(st.table, w.step, w.cut, d) * self.given[int(j)]
            if best is None or d < best[0]:
                best = (d, int(j))
        if best is None or best[0] > _NEAR_M:
            return []
        east, north = (
            w.node["east"][best[1]] - w.node["east"][node],
            w.node["north"][best[1]] - w.node["north"][node],
        )
        case = self.setup.ground.apiaries[self.setup.apiary_of[best[1]]].apiary
        return [(total, say("spread.reason_near", distance_m=float(np.hypot(east, north)), case=case))]

    def _keeper(self, node: int) -> list[tuple[float, Message]]:
        rows = []
        for j in self.found:
            if (
                self.w.node["owner"][j] == self.w.node["owner"][node]
                and self.setup.apiary_of[j] != self.setup.apiary_of[node]
            ):
                case = self.setup.ground.apiaries[self.setup.apiary_of[j]].apiary
                weight = float(self.st.theta[Slot.KEEPER]) * self.given[int(j)]
                rows.append((weight, say("spread.reason_keeper", case=case)))
        return rows

    def _visit(self, apiary: str) -> Message:
        visit = self.visits.get(apiary)
        if visit is None:
            return say("spread.reason_never_visited")
        ago = say("common.days", count=(self.setup.on - visit.visited_on).days)
        if is_finding(visit, self.setup.disease):
            return say("spread.reason_found", visited_on=visit.visited_on)
        if visit.colonies_suspect and visit.disease in (None, self.setup.disease):
            return say("spread.reason_suspect", visited_on=visit.visited_on)
        present = max(visit.colonies_present or 0, visit.colonies_inspected)
        return say("spread.reason_clean", inspected=visit.colonies_inspected, present=present, ago=ago)
