"""The fullest detail of the flow whose sums can still be done exactly."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from leakdx.belief.tree import TooWide
from leakdx.flow.courses import DETAILS

T = TypeVar("T")


def finest(attempt: Callable[[int], T]) -> T:
    """What ``attempt`` gives for the fullest detail at which it is not too wide.

    Found by halving, since fewer ways make a narrower network: three attempts or four instead
    of one for every detail.  Raises TooWide where not even the barest detail fits.
    """
    full, bare = 0, len(DETAILS) - 1
    found: dict[int, T] = {}
    while full < bare:
        middle = (full + bare) // 2
        try:
            found[middle] = attempt(middle)
            bare = middle
        except TooWide:
            full = middle + 1
    return found[bare] if bare in found else attempt(bare)
