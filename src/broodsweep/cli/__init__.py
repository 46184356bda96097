"""The command."""

from __future__ import annotations


def main() -> None:
    """Run the command."""
    raise SystemExit("not filled yet")
