"""Single cells of a comb as SVG, each drawn about its centre in a cell of radius 30."""

from __future__ import annotations

from math import cos, pi, sin

import numpy as np

Rng = np.random.Generator


def _corners(radius: float) -> str:
    return " ".join(
        f"{radius * cos(pi / 6 + k * pi / 3):.1f},{radius * sin(pi / 6 + k * pi / 3):.1f}" for k in range(6)
    )


def _gradient(name: str, *stops: tuple[int, str]) -> str:
    inner = "".join(f'<stop offset="{at}%" stop-color="{colour}"/>' for at, colour in stops)
    return f'<radialGradient id="{name}" cx="45%" cy="40%" r="65%">{inner}</radialGradient>'


DEFINITIONS = (
    "<defs>"
    + _gradient("cap", (0, "#dcbf93"), (60, "#cba878"), (100, "#a88557"))
    + _gradient("dip", (0, "#5d4426"), (45, "#80603a"), (80, "#a98556"), (100, "#c09b69"))
    + _gradient("grease", (0, "#3e2a14"), (55, "#5a3f20"), (100, "#8a6a40"))
    + _gradient("dome", (0, "#f1dcb6"), (40, "#d8b787"), (75, "#a37e4e"), (100, "#5f4524"))
    + _gradient("deep", (0, "#2c2012"), (70, "#463420"), (100, "#6d5535"))
    + "</defs>"
)
_CHILLED_CAPPED = 0.35
"""Share of chilled brood drawn as sealed. Project choice."""
_WALL = f'<polygon points="{_corners(30)}" fill="#b39366"/>'
_CAP = f'<polygon points="{_corners(27.5)}" fill="url(#cap)"/>'
_DEEP = f'<polygon points="{_corners(26)}" fill="url(#deep)"/>'


def empty(rng: Rng) -> str:
    """An empty cell."""
    return _WALL + _DEEP


def capped(rng: Rng) -> str:
    """A healthy sealed cell, gently raised."""
    return _WALL + _CAP + '<path d="M-13,-11 Q-4,-18 8,-15" stroke="#f0dcb8" stroke-width="2.5" fill="none"/>'


def sunken(rng: Rng) -> str:
    """A cap that dips inwards."""
    return (
        _WALL
        + _CAP
        + '<circle r="20" fill="url(#dip)"/><path d="M-14,9 Q0,19 14,8" stroke="#e0c496" stroke-width="2" fill="none"/>'
    )


def greasy(rng: Rng) -> str:
    """A dark cap with a wet gloss."""
    return (
        _WALL
        + f'<polygon points="{_corners(27.5)}" fill="url(#grease)"/>'
        + '<ellipse cx="-7" cy="-9" rx="9" ry="3.5" fill="#fff" opacity="0.55" transform="rotate(-25 -7 -9)"/>'
        + '<ellipse cx="9" cy="8" rx="4" ry="1.8" fill="#fff" opacity="0.35"/>'
    )


def perforated(rng: Rng) -> str:
    """A cap with a ragged hole."""
    points = []
    for k in range(9):
        radius = float(rng.uniform(5.5, 11.0))
        points.append(f"{3 + radius * cos(k * 2 * pi / 9):.1f},{-2 + radius * sin(k * 2 * pi / 9):.1f}")
    return (
        _WALL
        + _CAP
        + f'<polygon points="{" ".join(points)}" fill="#20160b" stroke="#8a6a40" stroke-width="1.5"/>'
    )


def domed(rng: Rng) -> str:
    """A bullet-shaped cap, wider than its cell."""
    return (
        _WALL
        + '<circle r="29" fill="url(#dome)"/><ellipse cx="-8" cy="-10" rx="8" ry="5" fill="#fff" opacity="0.7"/>'
    )


def _coil(colour: str, line: str) -> str:
    return (
        f'<path d="M8,-13 A15,15 0 1,0 14,6" fill="none" stroke="{line}" stroke-width="12" stroke-linecap="round"/>'
        f'<path d="M8,-13 A15,15 0 1,0 14,6" fill="none" stroke="{colour}" stroke-width="9.5" stroke-linecap="round"/>'
    )


def larva(rng: Rng) -> str:
    """A healthy larva: white, curled, with its rings."""
    rings = "".join(
        f'<line x1="{10.5 * cos(a):.1f}" y1="{10.5 * sin(a):.1f}" x2="{19.5 * cos(a):.1f}" y2="{19.5 * sin(a):.1f}" stroke="#cfd2cd" stroke-width="1"/>'
        for a in np.linspace(0.75, 4.9, 9)
    )
    turn = int(rng.integers(0, 360))
    return _WALL + _DEEP + f'<g transform="rotate({turn})">{_coil("#f6f6f1", "#d9dad3")}{rings}</g>'


def yellow(rng: Rng) -> str:
    """A curled larva gone yellow and without rings."""
    return (
        _WALL
        + _DEEP
        + f'<g transform="rotate({int(rng.integers(0, 360))})">{_coil("#dcc04f", "#a58a2c")}</g>'
    )


def dead_open(rng: Rng) -> str:
    """A slack, dull, greyish larva in an open cell."""
    return (
        _WALL
        + _DEEP
        + '<path d="M-15,4 Q-10,-12 3,-6 Q17,0 14,10 Q2,19 -9,14 Z" fill="#a99b7f" stroke="#7c6f55"/>'
    )


def twisted(rng: Rng) -> str:
    """A larva out of its curl, twisted up the wall."""
    path = "M-16,16 C-20,-2 -2,-2 -4,6 C-6,15 12,13 9,0 C7,-9 14,-12 17,-19"
    return (
        _WALL
        + _DEEP
        + f'<path d="{path}" fill="none" stroke="#9c8632" stroke-width="11" stroke-linecap="round"/>'
        + f'<path d="{path}" fill="none" stroke="#e3d28b" stroke-width="8" stroke-linecap="round"/>'
    )


def half_moon(rng: Rng) -> str:
    """A young larva dead as a half-moon."""
    return (
        _WALL
        + _DEEP
        + '<path d="M-15,-4 A15,15 0 0,0 15,-4 A18,9 0 0,1 -15,-4 Z" fill="#cdbf93" stroke="#94865c"/>'
    )


def tracheae(rng: Rng) -> str:
    """A brown-yellow larva with its white breathing tubes showing."""
    tubes = "".join(
        f'<line x1="{k}" y1="-1" x2="{k + 2}" y2="9" stroke="#fffdf2" stroke-width="1.3"/>'
        for k in range(-13, 14, 5)
    )
    return (
        _WALL
        + _DEEP
        + '<path d="M-18,2 Q0,-10 18,2 Q14,14 0,14 Q-14,14 -18,2 Z" fill="#b3924a"/>'
        + '<path d="M-17,2 Q0,-6 17,2" stroke="#fffdf2" stroke-width="1.6" fill="none"/>'
        + tubes
    )


def stretched(rng: Rng) -> str:
    """A dead larva lying stretched along the lower wall."""
    return (
        _WALL
        + _DEEP
        + '<path d="M-20,10 Q0,-2 20,8 Q21,17 0,19 Q-20,19 -20,10 Z" fill="#d8cba7" stroke="#9d8f69"/>'
    )


def brown_remains(rng: Rng) -> str:
    """A coffee-brown, sticky mass along the lower wall."""
    return (
        _WALL
        + _DEEP
        + '<path d="M-20,8 Q-6,-4 7,3 Q20,8 19,14 Q6,22 -8,20 Q-20,17 -20,8 Z" fill="#6b3f1d"/>'
        + '<path d="M-12,7 Q-3,2 6,7" stroke="#c79a6c" stroke-width="2" fill="none"/>'
    )


def watery(rng: Rng) -> str:
    """A watery, granular pool."""
    grains = "".join(
        f'<circle cx="{rng.uniform(-14, 14):.1f}" cy="{rng.uniform(2, 14):.1f}" r="1.4" fill="#6e5b33"/>'
        for _ in range(12)
    )
    return (
        _WALL
        + _DEEP
        + f'<ellipse cy="8" rx="20" ry="12" fill="#b7a470" opacity="0.85"/>{grains}<ellipse cx="-6" cy="3" rx="6" ry="1.8" fill="#fff" opacity="0.6"/>'
    )


def hard_scale(rng: Rng) -> str:
    """A black crust flat on the lower wall, one with it."""
    return (
        _WALL
        + _DEEP
        + '<path d="M-22,6 Q0,14 22,6 L22,13 L0,26 L-22,13 Z" fill="#0d0906"/><path d="M-17,9 Q0,16 17,9" stroke="#5b4a38" stroke-width="1.4" fill="none"/>'
    )


def loose_scale(rng: Rng) -> str:
    """A brown, rubbery crust curling away from the wall."""
    return (
        _WALL
        + _DEEP
        + '<path d="M-16,-2 Q-4,9 12,3 Q20,0 17,-6 Q21,8 8,13 Q-9,17 -16,-2 Z" fill="#8a5a2e" stroke="#c1945f" stroke-width="1.2"/>'
    )


def tongue(rng: Rng) -> str:
    """A dead pupa whose thread stands up to the roof of the cell."""
    return (
        brown_remains(rng) + '<path d="M-1,6 Q2,-6 0,-22" stroke="#d9a06a" stroke-width="2.4" fill="none"/>'
    )


def sac(rng: Rng) -> str:
    """A larva on its back like a canoe, head dark and raised, skin a sac of fluid."""
    return (
        _WALL
        + _DEEP
        + '<path d="M-19,-8 Q-17,10 0,13 Q17,12 20,-2 Q8,4 -4,2 Q-13,0 -19,-8 Z" fill="#d5c494" stroke="#8f7a45"/>'
        + '<ellipse cx="5" cy="8" rx="9" ry="3" fill="#f4edd2" opacity="0.8"/>'
        + '<circle cx="-16" cy="-11" r="7.5" fill="#140b05" stroke="#c9b483" stroke-width="1.8"/>'
    )


def _mummy(colour: str, dot: str, rng: Rng) -> str:
    dots = "".join(
        f'<circle cx="{rng.uniform(-11, 11):.1f}" cy="{rng.uniform(-11, 11):.1f}" r="{rng.uniform(1, 2.2):.1f}" fill="{dot}"/>'
        for _ in range(12)
    )
    return (
        _WALL
        + _DEEP
        + f'<rect x="-15" y="-15" width="30" height="30" rx="9" fill="{colour}" stroke="{dot}"/>{dots}'
    )


def mummy_white(rng: Rng) -> str:
    """A white chalky lump."""
    return _mummy("#eeece4", "#c9c6ba", rng)


def mummy_black(rng: Rng) -> str:
    """A grey to black chalky lump."""
    return _mummy("#6c6a66", "#2f2e2c", rng)


def green(rng: Rng) -> str:
    """Dead brood under green powder."""
    return _mummy("#b6b48a", "#55702c", rng) + "".join(
        f'<circle cx="{rng.uniform(-13, 13):.1f}" cy="{rng.uniform(-13, 5):.1f}" r="2.3" fill="#6c8a36"/>'
        for _ in range(16)
    )


def bare_pupa(rng: Rng) -> str:
    """A living pupa without its cap, eyes coloured."""
    return (
        _WALL
        + '<circle r="25" fill="none" stroke="#cba878" stroke-width="4"/>'
        + '<circle r="22" fill="#33261a"/><ellipse rx="17" ry="18" fill="#f7f3ea"/>'
        + '<ellipse cx="-8" cy="-3" rx="4" ry="6.5" fill="#8a5d77"/><ellipse cx="8" cy="-3" rx="4" ry="6.5" fill="#8a5d77"/>'
    )


def chewed(rng: Rng) -> str:
    """A pupa with parts chewed away under a torn cap."""
    return (
        _WALL
        + _CAP
        + '<path d="M-19,-12 L-6,-19 L4,-14 L15,-18 L19,-3 L14,6 L20,13 L4,18 L-6,14 L-16,18 L-19,4 Z" fill="#2b1f12"/>'
        + '<path d="M-12,-6 L-3,-11 L6,-4 L12,-8 L11,8 L3,5 L-2,11 L-11,8 Z" fill="#ece4cf"/>'
    )


def chilled(rng: Rng) -> str:
    """Brood dead of cold: grey, of any age, one beside the other."""
    shade = ("#9a9684", "#7b7567", "#5a5148")[int(rng.integers(3))]
    if rng.random() < _CHILLED_CAPPED:
        return (
            _WALL
            + f'<polygon points="{_corners(27.5)}" fill="#a08a66"/><polygon points="{_corners(14)}" fill="{shade}"/>'
        )
    return _WALL + _DEEP + f'<g transform="rotate({int(rng.integers(0, 360))})">{_coil(shade, "#3f3931")}</g>'


def eggs(rng: Rng) -> str:
    """Several eggs, some on the walls."""
    lines = []
    for _ in range(5):
        x, y, turn = rng.uniform(-17, 17), rng.uniform(-17, 17), rng.uniform(-60, 60)
        lines.append(
            f'<line x1="{x:.1f}" y1="{y - 5:.1f}" x2="{x:.1f}" y2="{y + 5:.1f}" stroke="#fbfaf2" stroke-width="2.6" stroke-linecap="round" transform="rotate({turn:.0f} {x:.1f} {y:.1f})"/>'
        )
    return _WALL + _DEEP + "".join(lines)
