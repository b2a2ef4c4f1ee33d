"""The machine's zones as flat patches (or lumps) that fluid can run over and drop onto."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from leakdx.machine.boxes import TurnedBox, box_of, meet, vector
from leakdx.machine.model import Machine, Zone

Array = NDArray[np.float64]

# Boxes nearer than this touch; drawn boxes of real patches rarely meet to the millimetre.
TOUCH_MM = 10.0
# A shared edge is longer than the patches are thick by this: less is the end of one, or two
# corners.
LEAST_EDGE_MM = 6.0
THIN_MM = 15.0
# Thickness over width from which a patch is a body.
BODY = 0.25


@dataclass(frozen=True, eq=False)
class Surfaces:
    """Patches of one machine, in machine axes, mm; Z patches.

    centre, normal: (Z, 3).  boxes: what each patch takes up, Z.
    axes: (Z, 2, 3) unit vectors in the patch; half: (Z, 2) half extents along them.
    lump: (Z,) 0 for a flat patch, 1 for a body as thick as it is wide.
    """

    ids: tuple[str, ...]
    boxes: tuple[TurnedBox, ...]
    centre: Array
    normal: Array
    axes: Array
    half: Array
    lump: Array

    @property
    def count(self) -> int:
        """Number of patches Z."""
        return len(self.ids)

    @property
    def low(self) -> Array:
        """Lowest coordinates of each box, (Z, 3)."""
        return np.array([b.middle - b.reach for b in self.boxes])

    @property
    def high(self) -> Array:
        """Highest coordinates of each box, (Z, 3)."""
        return np.array([b.middle + b.reach for b in self.boxes])

    @cached_property
    def bodies(self) -> NDArray[np.bool_]:
        """Which are so thick that drops meet their box, not their patch, (Z,)."""
        return self.lump > BODY

    @cached_property
    def balls(self) -> tuple[Array, Array]:
        """A ball about what drops may meet of each: middles (Z, 3) and radii (Z,), mm."""
        boxes = np.array([b.middle for b in self.boxes])
        thick = np.array([float(np.linalg.norm(b.half)) for b in self.boxes])
        flat = np.linalg.norm(self.half, axis=1)
        middles = np.where(self.bodies[:, None], boxes, self.centre)
        return middles, np.where(self.bodies, thick, flat)


@dataclass(frozen=True)
class SharedEdge:
    """Two patches (indices) that meet along ``length_mm``, about the point ``middle``."""

    first: int
    second: int
    length_mm: float
    middle: tuple[float, float, float]


def surfaces_of(machine: Machine) -> Surfaces:
    """The zones of a machine as patches, in the order of the file."""
    patches = [_patch(z) for z in machine.zones]
    boxes, *columns = zip(*patches, strict=True)
    return Surfaces(tuple(z.id for z in machine.zones), boxes, *(np.array(c) for c in columns))


def _patch(zone: Zone) -> tuple[TurnedBox, Array, Array, Array, Array, float]:
    centre = np.array(zone.centroid_mm)
    normal = np.array(zone.normal) / np.linalg.norm(zone.normal)
    box = box_of(zone)
    if box is None:
        axes = _axes_in_plane(normal)
        side = float(np.sqrt(zone.area_mm2)) / 2
        flat = TurnedBox(centre, np.array([*axes, normal]), np.array([side, side, 0.0]))
        return flat, centre, normal, axes, np.array([side, side]), 0.0
    # Everything about the shape is worked out in the box's own axes, so that turning a
    # machine changes nothing.
    faces = box.axes @ normal
    across = _axes_in_plane(faces)
    half = np.array([_extent(axis, box.half) for axis in across])
    thick = float(np.abs(faces) @ box.half)
    lump = float(np.clip(thick / max(half.min(), 1.0), 0.0, 1.0)) if np.ptp(box.half) else 1.0
    # A slanting flat patch fills its box without being thick: its own slope explains
    # the box, so only what is left over counts as thickness.
    slant = float(np.abs(faces) @ (np.abs(across).T @ half))
    lump *= float(np.clip((thick - slant) / thick, 0.0, 1.0)) if thick > 0 else 0.0
    return box, centre, normal, across @ box.axes, half, lump


def _axes_in_plane(normal: Array) -> Array:
    """Two unit vectors across a patch, along the machine's axes where they can be."""
    seed = np.zeros(3)
    seed[int(np.argmin(np.abs(normal)))] = 1.0
    first = seed - (seed @ normal) * normal
    first /= np.linalg.norm(first)
    return np.array([first, np.cross(normal, first)])


def _extent(axis: Array, box: Array) -> float:
    """How far one can go along ``axis`` from the middle of the box before leaving it."""
    moving = np.abs(axis) > 0.05
    return float(np.min(box[moving] / np.abs(axis[moving])))


def shared_edges(machine: Machine, surfaces: Surfaces) -> tuple[SharedEdge, ...]:
    """The edges fluid can run over: those in the file, or else boxes that touch."""
    if machine.neighbours is None:
        return tuple(_touching(surfaces))
    index = {z: k for k, z in enumerate(surfaces.ids)}
    found = []
    for n in machine.neighbours:
        a, b = (index[z] for z in n.between)
        meeting = meet(surfaces.boxes[a], surfaces.boxes[b], TOUCH_MM)
        middle = _between(surfaces.boxes[a], surfaces.boxes[b]) if meeting is None else meeting[1]
        found.append(SharedEdge(a, b, n.shared_edge_mm, vector(middle)))
    return tuple(found)


def _touching(s: Surfaces) -> Iterator[SharedEdge]:
    low, high = s.low - TOUCH_MM, s.high + TOUCH_MM
    # How thick each patch is drawn; a body or a slanting patch has no side that is no edge.
    thick = np.minimum(np.array([2 * b.half.min() for b in s.boxes]) * (1 - s.lump), THIN_MM)
    for a in range(s.count):
        near = np.all((low[a] <= high) & (low <= high[a]), axis=1)
        for b in np.flatnonzero(near[a + 1 :]) + a + 1:
            meeting = meet(s.boxes[a], s.boxes[b], TOUCH_MM)
            if meeting is not None and meeting[0] > LEAST_EDGE_MM + max(thick[a], thick[b]):
                yield SharedEdge(a, int(b), meeting[0], vector(meeting[1]))


def _between(one: TurnedBox, other: TurnedBox) -> Array:
    """The middle of the gap between two boxes that do not touch."""
    found: Array = (_nearest(one, other.middle) + _nearest(other, one.middle)) / 2
    return found


def _nearest(box: TurnedBox, point: Array) -> Array:
    inside = np.clip(box.axes @ (point - box.middle), -box.half, box.half)
    found: Array = box.middle + inside @ box.axes
    return found
