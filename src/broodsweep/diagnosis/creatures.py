"""Pests over the cells of a drawn comb, as SVG."""

from __future__ import annotations

from broodsweep.diagnosis.cells import Rng


def mite(x: float, y: float) -> str:
    """A varroa mite: broader than long."""
    return f'<ellipse cx="{x:.1f}" cy="{y:.1f}" rx="6.2" ry="4.2" fill="#7c2d12" stroke="#3b1206"/>'


def fast_mite(x: float, y: float, turn: float) -> str:
    """A Tropilaelaps mite: small, longer than broad, with legs."""
    legs = "".join(
        f'<path d="M{k},0 l-2,-5 M{k},0 l-2,5" stroke="#5a2a10" stroke-width="0.8"/>' for k in (-2, 1, 4)
    )
    return f'<g transform="translate({x:.1f} {y:.1f}) rotate({turn:.0f})">{legs}<ellipse rx="5.4" ry="2.2" fill="#9c4a20"/></g>'


def silk(x: float, y: float, rng: Rng) -> str:
    """A silk tunnel with droppings."""
    bends = [(float(rng.uniform(35, 60)), float(rng.uniform(-35, 35))) for _ in range(4)]
    path = f"M{x - 90:.0f},{y:.0f} " + " ".join(
        f"q{dx / 2:.0f},{dy:.0f} {dx:.0f},{-dy / 3:.0f}" for dx, dy in bends
    )
    dots = "".join(
        f'<circle cx="{x + rng.uniform(-85, 85):.0f}" cy="{y + rng.uniform(-16, 16):.0f}" r="2" fill="#2a2018"/>'
        for _ in range(14)
    )
    return f'<path d="{path}" fill="none" stroke="#f4f1e8" stroke-width="15" opacity="0.75" stroke-linecap="round"/>{dots}'


def spiny_grub(x: float, y: float, turn: float) -> str:
    """A beetle grub: three pairs of legs, spines along the back."""
    spines = "".join(
        f'<line x1="{k}" y1="-4" x2="{k}" y2="-8" stroke="#3f3524" stroke-width="1"/>'
        for k in range(-14, 15, 4)
    )
    legs = "".join(
        f'<line x1="{k}" y1="4" x2="{k - 1}" y2="9" stroke="#3f3524" stroke-width="1.4"/>'
        for k in (6, 10, 14)
    )
    return f'<g transform="translate({x:.0f} {y:.0f}) rotate({turn:.0f})">{spines}{legs}<rect x="-18" y="-4.5" width="36" height="9" rx="4.5" fill="#e7ddc3" stroke="#a69672"/></g>'


def beetle(x: float, y: float) -> str:
    """A small dark beetle with clubbed feelers."""
    return (
        f'<g transform="translate({x:.0f} {y:.0f})"><ellipse rx="10" ry="14" fill="#1c130c"/><line y1="-12" y2="13" stroke="#4a3826"/>'
        '<path d="M-4,-13 l-5,-8 M4,-13 l5,-8" stroke="#1c130c" stroke-width="1.5"/><circle cx="-9" cy="-21" r="2.6" fill="#1c130c"/><circle cx="9" cy="-21" r="2.6" fill="#1c130c"/></g>'
    )
