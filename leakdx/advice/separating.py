"""Telling two candidates apart: which look does it best, and what each outcome would say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from leakdx.advice.asking import Ahead
from leakdx.advice.looks import Look
from leakdx.advice.outcomes import NEVER, Array
from leakdx.advice.weighing import LEAKING
from leakdx.belief.evidence import Evidence, combine

TIGHT = np.array([1.0, 0.0, 0.0, 0.0])


@dataclass(frozen=True)
class Separation:
    """How well a look tells one seal point that leaks alone of two from the other.

    thing: what it reads that tells most.  wet, dry: what that outcome says for the first
    against the second, decibans.  expected: decibans gained for the truth, on average.
    """

    look: Look
    thing: str
    wet: float
    dry: float
    expected: float

    @property
    def per_minute(self) -> float:
        """Expected decibans for each minute it takes."""
        return self.expected / self.look.minutes


def separations(ahead: Ahead, looks: Sequence[Look], first: int, second: int) -> list[Separation]:
    """Every look by how well it tells two seal points (indices) apart, the best a minute first.

    The two cases are: the first leaks and the second is tight, and the other way round.
    Raises ImpossibleEvidence where what is known rules one of them out.
    """
    one, other = ahead.seals[first], ahead.seals[second]
    pair = Evidence({one: np.array([LEAKING, TIGHT]).T, other: np.array([TIGHT, LEAKING]).T})
    names = sorted({n for reads in ahead.reads for dry in reads.dry for n in dry})
    got = ahead.tree.update(combine([ahead.known, pair]), only=names)
    found = []
    for look, reads in zip(looks, ahead.reads, strict=True):
        best: Separation | None = None
        for thing, dry in zip(reads.things, reads.dry, strict=True):
            quiet = np.ones(2)
            for name, likelihood in dry.items():
                quiet = quiet * (likelihood @ got[name])
            made = _separation(look, thing, quiet)
            if best is None or made.expected > best.expected:
                best = made
        if best is not None:
            found.append(best)
    return sorted(found, key=lambda s: (-s.per_minute, s.look.inspection.id))


def _separation(look: Look, thing: str, quiet: Array) -> Separation:
    q = np.clip(quiet, NEVER, 1 - NEVER)
    dry = 10 * float(np.log10(q[0] / q[1]))
    wet = 10 * float(np.log10((1 - q[0]) / (1 - q[1])))
    # What the truth gains, whichever of the two it is.
    expected = ((q[0] - q[1]) * dry + (q[1] - q[0]) * wet) / 2
    return Separation(look, thing, wet, dry, float(expected))
