"""How fast the library is, in one run and beside two independent libraries."""

from __future__ import annotations

from collections.abc import Sequence


def main(argv: Sequence[str] = ()) -> int:
    """Measure, print, and give an exit code; heavy imports only when called."""
    from leakdx.bench.command import main as run

    return run(argv)
