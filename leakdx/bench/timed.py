"""A measured time: its median and spread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Timing:
    """Median and interquartile range of some repeats, in the unit they were measured in."""

    median: float
    spread: float
    repeats: int

    def times(self, factor: float) -> Timing:
        """The same in another unit."""
        return Timing(self.median * factor, self.spread * factor, self.repeats)


def timing_of(values: Sequence[float]) -> Timing:
    """Median and interquartile range of what was measured."""
    low, median, high = np.quantile(values, [0.25, 0.5, 0.75])
    return Timing(float(median), float(high - low), len(values))
