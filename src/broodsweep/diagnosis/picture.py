"""A comb drawn for practice: schematic cells that show the signs of an invented case, as SVG."""

from __future__ import annotations

from collections.abc import Callable, Collection
from math import sqrt
from xml.sax.saxutils import escape

import numpy as np

from broodsweep.diagnosis import cells, creatures
from broodsweep.words import render, say

_COLUMNS, _ROWS = 13, 9
_RADIUS = 30.0
_MARGIN = 26.0
_SICK_SHARE, _PATCHY_SHARE, _EMPTY_SHARE = 0.30, 0.34, 0.04
_SEALED_RING = 0.78
_GAP_COLUMNS = 2

DRAWERS: dict[str, tuple[Callable[[np.random.Generator], str], ...]] = {
    "caps_sunken": (cells.sunken,),
    "caps_perforated": (cells.perforated,),
    "caps_greasy": (cells.greasy,),
    "larva_twisted": (cells.twisted,),
    "larva_yellow": (cells.yellow,),
    "coffee_brown": (cells.brown_remains,),
    "watery": (cells.watery,),
    "hard_scale": (cells.hard_scale,),
    "loose_scale": (cells.loose_scale,),
    "pupal_tongue": (cells.tongue,),
    "head_raised_sac": (cells.sac,),
    "larva_stretched": (cells.stretched,),
    "mummies": (cells.mummy_white, cells.mummy_black),
    "green_powder": (cells.green,),
    "domed_worker_caps": (cells.domed,),
    "chewed_brood": (cells.chewed,),
    "eggs_several": (cells.eggs,),
    "tracheae_show": (cells.tracheae,),
    "half_moon_shape": (cells.half_moon,),
    "dead_in_open": (cells.dead_open,),
}
"""Signs that a single cell can show."""

OVERLAYS = frozenset({"mites_seen", "fast_mites", "silk_tunnels", "beetle_slime"})
LAYOUTS = frozenset({"patchy", "whole_patch_dead", "bare_pupae_line", "lone_sealed_cell"})
DRAWABLE = frozenset(DRAWERS) | OVERLAYS | LAYOUTS
"""Signs that the picture shows; the others (smell, several colonies, …) are told in words."""


def draw_comb(signs: Collection[str], rng: np.random.Generator, *, locale: str = "en") -> str:
    """Return a picture of a comb patch that shows the signs, as an SVG document.

    Parameters
    ----------
    signs
        Signs present; those that cannot be drawn are passed over.
    rng
        Chooses which cells show them.
    """
    grid = [(column, row) for row in range(_ROWS) for column in range(_COLUMNS)]
    content = {place: _healthy(place, rng) for place in grid}
    _lay_out(content, signs, rng)
    _put_signs(content, signs, rng)
    width = _x(_COLUMNS - 1, 1) + _RADIUS + _MARGIN
    height = _y(_ROWS - 1) + _RADIUS + _MARGIN
    body = "".join(
        f'<g transform="translate({_x(*place):.1f} {_y(place[1]):.1f})">{drawn}</g>'
        for place, drawn in content.items()
    )
    title = escape(render(say("diagnosis.picture.title"), locale))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" role="img">'
        f"<title>{title}</title>{cells.DEFINITIONS}"
        f'<rect width="{width:.0f}" height="{height:.0f}" fill="#8d7350"/>{body}'
        f"{_overlays(signs, rng, width, height)}</svg>"
    )


def _x(column: int, row: int) -> float:
    return _MARGIN + _RADIUS + column * sqrt(3) * _RADIUS + (row % 2) * sqrt(3) / 2 * _RADIUS


def _y(row: int) -> float:
    return _MARGIN + _RADIUS + row * 1.5 * _RADIUS


def _healthy(place: tuple[int, int], rng: np.random.Generator) -> str:
    """Sealed brood in the middle, open larvae round it, a few empty cells."""
    column, row = place
    ring = sqrt(((column - _COLUMNS / 2) / (_COLUMNS / 2)) ** 2 + ((row - _ROWS / 2) / (_ROWS / 2)) ** 2)
    if rng.random() < _EMPTY_SHARE:
        return cells.empty(rng)
    return cells.capped(rng) if ring < _SEALED_RING else cells.larva(rng)


def _lay_out(content: dict[tuple[int, int], str], signs: Collection[str], rng: np.random.Generator) -> None:
    places = list(content)
    if "patchy" in signs:
        for place in places:
            if rng.random() < _PATCHY_SHARE:
                content[place] = cells.empty(rng)
    if "whole_patch_dead" in signs:
        for column, row in places:
            if row >= _ROWS // 2 and column < _COLUMNS * 2 // 3:
                content[column, row] = cells.chilled(rng)
    if "bare_pupae_line" in signs:
        row = int(rng.integers(2, _ROWS - 2))
        for column in range(2, _COLUMNS - 3):
            content[column, row + (column % 3 == 0)] = cells.bare_pupa(rng)
    if "lone_sealed_cell" in signs:
        column, row = int(rng.integers(3, _COLUMNS - 3)), int(rng.integers(2, _ROWS - 2))
        for place in places:
            if abs(place[0] - column) <= _GAP_COLUMNS and abs(place[1] - row) <= 1:
                content[place] = cells.empty(rng)
        content[column, row] = cells.sunken(rng)


def _put_signs(content: dict[tuple[int, int], str], signs: Collection[str], rng: np.random.Generator) -> None:
    drawn = [sign for sign in DRAWERS if sign in signs]
    if not drawn:
        return
    places = list(content)
    order = [places[index] for index in rng.permutation(len(places))]
    count = max(int(len(places) * _SICK_SHARE), 4 * len(drawn))
    for number, place in enumerate(order[:count]):
        drawers = DRAWERS[drawn[number % len(drawn)]]
        content[place] = drawers[int(rng.integers(len(drawers)))](rng)


def _overlays(signs: Collection[str], rng: np.random.Generator, width: float, height: float) -> str:
    out = []

    def anywhere(edge: float = 60.0) -> tuple[float, float]:
        return float(rng.uniform(edge, width - edge)), float(rng.uniform(60, height - 60))

    if "beetle_slime" in signs:
        for _ in range(5):
            x, y = anywhere()
            out.append(
                f'<ellipse cx="{x:.0f}" cy="{y:.0f}" rx="85" ry="38" fill="#4a3210" opacity="0.35"/>'
                f'<ellipse cx="{x - 20:.0f}" cy="{y - 14:.0f}" rx="34" ry="6" fill="#fff" opacity="0.45"/>'
            )
            out.append(creatures.spiny_grub(x, y, float(rng.uniform(0, 180))))
        x, y = anywhere()
        out.append(creatures.beetle(x, y))
    if "silk_tunnels" in signs:
        for _ in range(3):
            out.append(creatures.silk(*anywhere(190.0), rng))
    if "mites_seen" in signs:
        out.extend(creatures.mite(*anywhere()) for _ in range(9))
    if "fast_mites" in signs:
        out.extend(creatures.fast_mite(*anywhere(), float(rng.uniform(0, 180))) for _ in range(9))
    return "".join(out)
