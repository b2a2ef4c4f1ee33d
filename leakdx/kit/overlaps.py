"""Parts that would stand inside one another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from leakdx.kit.placing import Placed
from leakdx.machine.boxes import TurnedBox

# Drawn solids may enter one another by this much: castings are not boxes.
SLACK_MM = 12.0


def overlapping(placed: Sequence[Placed]) -> Iterator[tuple[Placed, Placed, float]]:
    """Pairs of placed parts whose solids enter one another, and by how many mm."""
    solids = [(p, [p.frame.box(box) for box in p.part.solid_mm]) for p in placed]
    for i, (one, boxes) in enumerate(solids):
        for other, others in solids[i + 1 :]:
            depth = max((depth_of(a, b) for a in boxes for b in others), default=0.0)
            if depth > SLACK_MM:
                yield one, other, depth


def depth_of(one: TurnedBox, other: TurnedBox) -> float:
    """How far two boxes enter one another, mm: the shortest way that would part them; 0 if none.

    Source: the separating axis theorem for convex bodies.
    """
    axes = [*one.axes, *other.axes]
    axes += [np.cross(a, b) for a in one.axes for b in other.axes]
    least = np.inf
    for axis in axes:
        length = np.linalg.norm(axis)
        if length < 1e-6:
            continue
        unit = axis / length
        reach = one.half @ np.abs(one.axes @ unit) + other.half @ np.abs(other.axes @ unit)
        least = min(least, float(reach - abs((one.middle - other.middle) @ unit)))
        if least <= 0:
            return 0.0
    return least
