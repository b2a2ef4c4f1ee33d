"""Which prior number matters most for one seal point: each by itself, low and high."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from leakdx.advice.solving import Solved
from leakdx.case.read import LoadedJob
from leakdx.network.tables import Array
from leakdx.priors.drawing import at_level
from leakdx.priors.model import Priors
from leakdx.reasons.draws import Redrawn, redrawn

LOW, HIGH = 0.1, 0.9


@dataclass(frozen=True)
class Swing:
    """One number, all others as stated.

    low, high: chance that the seal point leaks with the number at its 10th and at its 90th
    percentile; high may well be the smaller.
    """

    key: str
    unit: str
    source: str
    low: float
    high: float

    @property
    def swing(self) -> float:
        """How far the chance moves from the low to the high value, between -1 and 1."""
        return self.high - self.low


def swings(
    loaded: LoadedJob,
    solved: Solved,
    priors: Priors,
    seal_point: str | None = None,
    step: Callable[[], object] = lambda: None,
) -> tuple[Swing, ...]:
    """All numbers in doubt that a solved job asks for, the one that moves a chance most first.

    priors: those the job was solved with.  seal_point: whose chance (without: the likeliest).
    step: called after each number that takes a network rebuilt.  The flow keeps its courses (see
    ``reasons.draws``).  Raises KeyError for a seal point that the machine does not have.
    """
    job = redrawn(loaded, solved, priors)
    row = _row(job, seal_point)
    ends = {k: (at_level(priors, k, LOW), at_level(priors, k, HIGH)) for k in _keys(job)}
    found = _together(job, row, ends)
    for key in job.flow:
        low, high = (job.chance(row, {key: value}) for value in ends[key])
        found[key] = low, high
        step()
    made = [_swing(priors, key, *chances) for key, chances in found.items()]
    return tuple(sorted(made, key=lambda s: (-abs(s.swing), s.key)))


def _keys(job: Redrawn) -> tuple[str, ...]:
    return (*job.others, *job.flow)


def _row(job: Redrawn, seal_point: str | None) -> int:
    if seal_point is None:
        return int(np.argmax(job.stated))
    if seal_point not in job.seals:
        raise KeyError(seal_point)
    return job.seals.index(seal_point)


def _together(
    job: Redrawn, row: int, ends: dict[str, tuple[float, float]]
) -> dict[str, tuple[float, float]]:
    """All numbers that take no network rebuilt, in one batch: a column for each low and high."""
    width = 2 * len(job.others)
    if not width:
        return {}
    columns: dict[str, Array] = {}
    for n, key in enumerate(job.others):
        columns[key] = np.full(width, job.priors[key])
        columns[key][2 * n : 2 * n + 2] = ends[key]
    got = job.chances({}, columns, job.tables(columns, width))[row].reshape(-1, 2)
    return {key: (float(a), float(b)) for key, (a, b) in zip(job.others, got, strict=True)}


def _swing(priors: Priors, key: str, low: float, high: float) -> Swing:
    quantity = priors.quantity(key)
    return Swing(key, quantity.unit, quantity.source, low, high)
