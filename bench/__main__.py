"""`make bench [NAME …]`: run the benchmarks and print one table with the machine it ran on.

Each module of this folder with a ``rows()`` function is one benchmark. A row is a mapping with ``what``, ``ours``,
``other`` (what a user would do otherwise, or empty), ``ratio`` (other / ours, or empty) and ``goal`` (or empty).
"""

from __future__ import annotations

import importlib
import os
import platform
import sys
from pathlib import Path

from rich.console import Console
from rich.table import Table

COLUMNS = ("what", "ours", "other", "ratio", "goal")


def machine() -> str:
    """Describe the machine in one line."""
    model = platform.processor() or platform.machine()
    try:
        lines = Path("/proc/cpuinfo").read_text().splitlines()
        model = next(line.split(":", 1)[1].strip() for line in lines if line.startswith("model name"))
    except (OSError, StopIteration):
        pass
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    return (
        f"{os.cpu_count()} cores, {model}, Python {platform.python_version()}, load {load:.1f} at the start"
    )


def main(names: list[str]) -> None:
    """Run the benchmarks named, or all."""
    console = Console(width=160)
    console.print(machine())
    found = sorted(path.stem for path in Path(__file__).parent.glob("[a-z]*.py"))
    unknown = set(names) - set(found)
    if unknown:
        sys.exit(f"No benchmark {', '.join(sorted(unknown))}. There are: {', '.join(found)}.")
    table = Table(show_lines=False)
    for column in COLUMNS:
        table.add_column(column, justify="right" if column in {"ours", "other", "ratio"} else "left")
    for name in names or found:
        console.print(f"… {name}")
        for row in importlib.import_module(f"bench.{name}").rows():
            table.add_row(*(str(row.get(column, "")) for column in COLUMNS))
    console.print(table)


if __name__ == "__main__":
    main(sys.argv[1:])
