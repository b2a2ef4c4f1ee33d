"""The space a zone takes up, as a box that may be turned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdx.machine.model import Turn, Vector, Zone

Array = NDArray[np.float64]
TIE_MM = 1e-5  # what just meets meets, however both are turned


@dataclass(frozen=True, eq=False)
class TurnedBox:
    """A box in machine axes, mm.

    middle: (3,).  axes: (3, 3), rows are unit vectors along its sides.  half: (3,) half
    lengths along them; zero where it has no thickness.
    """

    middle: Array
    axes: Array
    half: Array

    @property
    def corners(self) -> Array:
        """The eight corners, (8, 3), mm."""
        signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], float)
        found: Array = self.middle + (signs * self.half) @ self.axes
        return found

    @property
    def reach(self) -> Array:
        """Half lengths of the box along the machine's axes that just holds it, (3,), mm."""
        found: Array = self.half @ np.abs(self.axes)
        return found


def rotation(turn: Turn | None) -> Array:
    """The matrix that turns column vectors, (3, 3).  Source: Rodrigues' formula."""
    if turn is None or turn.degrees == 0:
        return np.eye(3)
    x, y, z = np.array(turn.axis) / np.linalg.norm(turn.axis)
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    angle = np.radians(turn.degrees)
    matrix: Array = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross
    return matrix


def turn_of(matrix: Array) -> Turn | None:
    """The turn that a rotation matrix (3, 3) does; None where it does nothing."""
    cosine = float(np.clip((np.trace(matrix) - 1) / 2, -1, 1))
    angle = float(np.arccos(cosine))
    if angle < 1e-9:
        return None
    if np.pi - angle < 1e-6:
        # Half a turn: the axis is what the matrix leaves alone.
        outer = (matrix + np.eye(3)) / 2
        axis = outer[int(np.argmax(np.diag(outer)))]
    else:
        axis = np.array(
            [matrix[2, 1] - matrix[1, 2], matrix[0, 2] - matrix[2, 0], matrix[1, 0] - matrix[0, 1]]
        )
    axis = axis / np.linalg.norm(axis)
    return Turn(axis=vector(axis), degrees=float(np.degrees(angle)))


def vector(values: Array) -> Vector:
    """Three numbers as the machine model keeps them."""
    x, y, z = (float(v) for v in values)
    return x, y, z


def box_of(zone: Zone) -> TurnedBox | None:
    """The box of a zone; None where the file gives none."""
    if zone.bbox_mm is None:
        return None
    low, high = np.array(zone.bbox_mm.low), np.array(zone.bbox_mm.high)
    return TurnedBox((low + high) / 2, rotation(zone.turn).T, (high - low) / 2)


def meet(one: TurnedBox, other: TurnedBox, gap_mm: float) -> tuple[float, Array] | None:
    """How long two boxes run side by side, mm, and the middle of where they do, (3,).

    None where they are further apart than ``gap_mm``; the length is that of the longest side
    of what they share, and not above zero where they meet at a corner only.
    """
    if _along(one) and _along(other):
        return _meet_along(one, other, gap_mm)
    grown = [TurnedBox(b.middle, b.axes, b.half + gap_mm / 2 + TIE_MM / 2) for b in (one, other)]
    points = np.vstack([_clipped(grown[0], grown[1]), _clipped(grown[1], grown[0])])
    if not len(points):
        return None
    lengths, middles = [], []
    for box in grown:
        inside = (points - box.middle) @ box.axes.T
        low, high = inside.min(axis=0), inside.max(axis=0)
        lengths.append(float((high - low).max()) - gap_mm)
        middles.append(box.middle + (low + high) / 2 @ box.axes)
    return min(lengths), np.asarray((middles[0] + middles[1]) / 2)


def _along(box: TurnedBox) -> bool:
    return bool(np.array_equal(box.axes, np.eye(3)))


def _meet_along(one: TurnedBox, other: TurnedBox, gap_mm: float) -> tuple[float, Array] | None:
    low = np.maximum(one.middle - one.half, other.middle - other.half)
    high = np.minimum(one.middle + one.half, other.middle + other.half)
    if (high - low).min() < -gap_mm - TIE_MM:
        return None
    return float((high - low).max()), np.asarray((low + high) / 2)


def _clipped(one: TurnedBox, other: TurnedBox) -> Array:
    """The ends of what lies of the edges of one box inside the other, (N, 3)."""
    corners = one.corners
    ends = np.array([(i, i | bit) for bit in (1, 2, 4) for i in range(8) if not i & bit])
    start, stop = ((corners[ends[:, k]] - other.middle) @ other.axes.T for k in (0, 1))
    way = stop - start
    steep = np.where(np.abs(way) < 1e-12, 1e-12, way)
    near = np.minimum((-other.half - start) / steep, (other.half - start) / steep)
    far = np.maximum((-other.half - start) / steep, (other.half - start) / steep)
    enter, leave = np.maximum(near.max(axis=1), 0.0), np.minimum(far.min(axis=1), 1.0)
    # Beside a slab it runs along and outside of: the quotients are huge and do not cross.
    there = enter <= leave
    found = np.vstack([start[there] + t[there, None] * way[there] for t in (enter, leave)])
    return np.asarray(other.middle + found @ other.axes)
