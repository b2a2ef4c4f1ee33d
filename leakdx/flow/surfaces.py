"""The machine's zones as flat patches (or lumps) that fluid can run over and drop onto."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdx.machine.model import Machine, Zone

Array = NDArray[np.float64]

# Boxes nearer than this touch; drawn boxes of real patches rarely meet to the millimetre.
TOUCH_MM = 6.0


@dataclass(frozen=True, eq=False)
class Surfaces:
    """Patches of one machine, in machine axes, mm; Z patches.

    centre, normal: (Z, 3).  low, high: (Z, 3) corners of the boxes.
    axes: (Z, 2, 3) unit vectors in the patch; half: (Z, 2) half extents along them.
    lump: (Z,) 0 for a flat patch, 1 for a body as thick as it is wide.
    """

    ids: tuple[str, ...]
    centre: Array
    normal: Array
    low: Array
    high: Array
    axes: Array
    half: Array
    lump: Array

    @property
    def count(self) -> int:
        """Number of patches Z."""
        return len(self.ids)


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
    columns = [np.array(c) for c in zip(*patches, strict=True)]
    return Surfaces(tuple(z.id for z in machine.zones), *columns)


def _patch(zone: Zone) -> tuple[Array, Array, Array, Array, Array, Array, float]:
    centre = np.array(zone.centroid_mm)
    normal = np.array(zone.normal) / np.linalg.norm(zone.normal)
    axes = _axes_in_plane(normal)
    side = np.sqrt(zone.area_mm2) / 2
    if zone.bbox_mm is None:
        reach = side * np.sqrt(np.maximum(0.0, 1 - normal**2))
        return centre, normal, centre - reach, centre + reach, axes, np.array([side, side]), 0.0
    low, high = np.array(zone.bbox_mm.low), np.array(zone.bbox_mm.high)
    box = (high - low) / 2
    half = np.array([_extent(axis, box) for axis in axes])
    thick = float(np.abs(normal) @ box)
    lump = float(np.clip(thick / max(half.min(), 1.0), 0.0, 1.0)) if np.ptp(box) else 1.0
    # A slanting flat patch fills its box without being thick: its own slope explains
    # the box, so only what is left over counts as thickness.
    slant = float(np.abs(normal) @ (np.abs(axes).T @ half))
    lump *= float(np.clip((thick - slant) / thick, 0.0, 1.0)) if thick > 0 else 0.0
    return centre, normal, low, high, axes, half, lump


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
    index = {z: k for k, z in enumerate(surfaces.ids)}
    if machine.neighbours is not None:
        pairs: Sequence[tuple[int, int, float]] = [
            (index[n.between[0]], index[n.between[1]], n.shared_edge_mm) for n in machine.neighbours
        ]
    else:
        pairs = _touching(surfaces)
    return tuple(SharedEdge(a, b, length, _middle(surfaces, a, b)) for a, b, length in pairs)


def _touching(s: Surfaces) -> list[tuple[int, int, float]]:
    found = []
    for a in range(s.count):
        for b in range(a + 1, s.count):
            overlap = np.minimum(s.high[a], s.high[b]) - np.maximum(s.low[a], s.low[b])
            if overlap.min() >= -TOUCH_MM and overlap.max() > TOUCH_MM:
                found.append((a, b, float(overlap.max())))
    return found


def _middle(s: Surfaces, a: int, b: int) -> tuple[float, float, float]:
    """Middle of the common edge: the middle of the overlap, or of the gap, of the boxes."""
    x, y, z = (np.maximum(s.low[a], s.low[b]) + np.minimum(s.high[a], s.high[b])) / 2
    return float(x), float(y), float(z)
