"""Where is it, how far apart, how precisely known? Knows no apiaries."""

from __future__ import annotations

from broodsweep.geo.place import Place

__all__ = ["Place"]
