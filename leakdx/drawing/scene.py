"""What is to be drawn: a machine, its flow, and the leak that is followed, if one is."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from leakdx.flow.courses import FlowMap, Way, Wind
from leakdx.flow.trail import Trail
from leakdx.machine.model import Machine, SealPoint

LEAST_SHARE = 0.15  # of what leaves a zone; weaker ways are left out of a drawing
LEAST_PART = 0.02  # of the leak that is followed


@dataclass(frozen=True)
class Passage:
    """A way from one zone to another and how much takes it: what the drawing calls an arrow.

    amount: share of what leaves the source, or part of the leak that is followed.
    """

    source: int
    target: int
    way: Way
    amount: float


@dataclass(frozen=True, eq=False)
class Followed:
    """The seal point whose leak is followed, and where it goes."""

    seal: SealPoint
    trail: Trail


@dataclass(frozen=True, eq=False)
class Scene:
    """A machine as it stands in the air that meets it; ``followed`` is None for all leaks."""

    machine: Machine
    wind: Wind
    flow: FlowMap
    followed: Followed | None = None

    @property
    def passages(self) -> tuple[Passage, ...]:
        """The ways worth drawing, the strongest first."""
        total: dict[tuple[int, int, Way], float] = defaultdict(float)
        for n, c in enumerate(self.flow.courses):
            if self.followed is not None:
                total[c.source, c.target, c.way] += float(self.followed.trail.courses[n])
            elif not c.sideways:
                total[c.source, c.target, c.way] += c.share
        least = LEAST_SHARE if self.followed is None else LEAST_PART
        found = (Passage(*key, min(amount, 1.0)) for key, amount in total.items())
        return tuple(
            sorted(
                (p for p in found if p.amount >= least),
                key=lambda p: (-round(p.amount, 7), p.source, p.target, p.way),
            )
        )
