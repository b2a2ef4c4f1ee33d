"""The fullest detail of the flow whose sums can still be done exactly."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from leakdx.belief.tree import JunctionTree, compile_network, fits
from leakdx.flow.courses import DETAILS
from leakdx.network.tables import Network

T = TypeVar("T")
Limits = tuple[int, int | None]


def finest(
    build: Callable[[int], T],
    network_of: Callable[[T], Network],
    limits: Callable[[int], Limits],
) -> tuple[T, JunctionTree, int]:
    """What ``build`` gives at the fullest detail that fits, compiled, and that detail.

    limits: largest table and entries of all tables, for each detail.  Found by halving, since
    fewer ways make a narrower network: two or three networks are built and looked at instead
    of eight, and one is compiled.  Raises TooWide where not even the barest detail fits.
    """
    full, bare = 0, len(DETAILS) - 1
    built: dict[int, T] = {}
    while full < bare:
        middle = (full + bare) // 2
        built[middle] = build(middle)
        if fits(network_of(built[middle]), *limits(middle)):
            bare = middle
        else:
            full = middle + 1
    made = built[bare] if bare in built else build(bare)
    return made, compile_network(network_of(made), *limits(bare)), bare
