"""`python -m broodsweep`."""

from __future__ import annotations

from broodsweep.cli import main

if __name__ == "__main__":
    main()
