"""Where a part stands: stretched, turned over, turned and moved into the machine's axes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdx.kit.model import PartZone
from leakdx.machine.boxes import TurnedBox, rotation, turn_of, vector
from leakdx.machine.model import Box, Turn, Vector, Zone

Array = NDArray[np.float64]
SIDES = ("x", "y", "z")
_ROUND = 6  # decimals of a millimetre kept; what turning adds beyond that is noise


@dataclass(frozen=True, eq=False)
class Frame:
    """A part's frame in the machine's: first stretched, then turned (or mirrored), then moved.

    turn: (3, 3) with orthonormal columns, of determinant -1 where mirrored.
    stretch: (3,) factors along the part's own axes.  origin: (3,) mm.
    """

    turn: Array
    stretch: Array
    origin: Array

    def point(self, at: Vector) -> Array:
        """A point of the part in the machine's axes, (3,), mm."""
        found: Array = self.turn @ (self.stretch * np.array(at)) + self.origin
        return found

    def direction(self, way: Vector) -> Array:
        """A direction along the part (an axle), unit length, (3,)."""
        found = self.turn @ (self.stretch * np.array(way))
        return np.asarray(found / (np.linalg.norm(found) or 1.0))

    def normal(self, normal: Vector) -> Array:
        """The outward normal of a patch, unit length, (3,)."""
        found = self.turn @ (np.array(normal) / self.stretch)
        return np.asarray(found / (np.linalg.norm(found) or 1.0))

    def area(self, area_mm2: float, normal: Vector) -> float:
        """The area of a patch after stretching, mm2."""
        unit = np.array(normal) / (np.linalg.norm(normal) or 1.0)
        grown = np.prod(self.stretch) * np.linalg.norm(unit / self.stretch)
        return float(area_mm2 * grown)

    def box(self, box: Box, turn: Turn | None = None) -> TurnedBox:
        """A box of the part, turned about its own middle, in the machine's axes."""
        low, high = np.array(box.low), np.array(box.high)
        own = rotation(turn).T
        # A turned box under a stretch is taken along its own sides.
        along = np.linalg.norm(own * self.stretch, axis=1)
        middle = self.turn @ (self.stretch * (low + high) / 2) + self.origin
        return TurnedBox(middle, own @ self.turn.T, (high - low) / 2 * along)


def still() -> Frame:
    """The frame of a part drawn in the machine's own axes."""
    return Frame(np.eye(3), np.ones(3), np.zeros(3))


def upright(down: Vector) -> Frame:
    """The frame that brings ``down`` to -z by the smallest turn."""
    unit = np.array(down) / np.linalg.norm(down)
    target = np.array([0.0, 0.0, -1.0])
    axis = np.cross(unit, target)
    if np.linalg.norm(axis) < 1e-9:
        matrix = np.eye(3) if unit @ target > 0 else np.diag([1.0, -1.0, -1.0])
    else:
        degrees = float(np.degrees(np.arccos(np.clip(unit @ target, -1, 1))))
        matrix = rotation(Turn(axis=vector(axis), degrees=degrees))
    return Frame(matrix, np.ones(3), np.zeros(3))


def upright_box(box: TurnedBox) -> tuple[Box, Turn | None]:
    """A box as the machine file keeps it: along the axes and a turn, or only along the axes."""
    along = np.abs(box.axes)
    if np.allclose(along, np.round(along), rtol=0, atol=1e-9):
        reach = box.half @ np.round(along)
        return _corners(box.middle, reach), None
    axes = box.axes.copy()
    if np.linalg.det(axes) < 0:
        axes[2] = -axes[2]  # a box is the same seen in a mirror
    return _corners(box.middle, box.half), turn_of(axes.T)


def _corners(middle: Array, reach: Array) -> Box:
    low, high = np.round(middle - reach, _ROUND), np.round(middle + reach, _ROUND)
    return Box(low=vector(low + 0.0), high=vector(high + 0.0))


def flat_area(zone: PartZone) -> float:
    """The area of the patch that a box holds, mm2: its side along the normal does not count."""
    size = np.array(zone.bbox_mm.high) - np.array(zone.bbox_mm.low)
    unit = rotation(zone.turn).T @ np.array(zone.normal)
    unit = np.abs(unit / (np.linalg.norm(unit) or 1.0))
    main = int(np.argmax(unit))
    across = [size[k] for k in range(3) if k != main]
    return max(float(np.prod(across)) / float(unit[main] or 1.0), 1.0)


def middle_of(zone: PartZone) -> Vector:
    """The centroid of a zone: as written, or the middle of its box."""
    if zone.centroid_mm is not None:
        return zone.centroid_mm
    return vector((np.array(zone.bbox_mm.low) + np.array(zone.bbox_mm.high)) / 2)


def rounded(point: Array) -> Vector:
    """A point or direction without the noise of turning it."""
    return vector(np.round(point, _ROUND) + 0.0)


def placed_zone(zone: PartZone, frame: Frame) -> Zone:
    """A zone of a part in the machine's axes; id and name as the part has them."""
    box, turn = upright_box(frame.box(zone.bbox_mm, zone.turn))
    area = zone.area_mm2 if zone.area_mm2 is not None else flat_area(zone)
    return Zone(
        id=zone.id,
        name=zone.name,
        centroid_mm=rounded(frame.point(middle_of(zone))),
        normal=_as_drawn(zone.normal, frame),
        area_mm2=round(frame.area(area, zone.normal), 3),
        bbox_mm=box,
        turn=turn,
        surface=zone.surface,
        holds_ml=zone.holds_ml,
        airflow_exposure=zone.airflow_exposure,
        temperature_C=zone.temperature_C,
        hidden=zone.hidden,
        spins=zone.spins,
        spin_axis=_unit(frame.direction(zone.spin_axis)),
    )


def _as_drawn(normal: Vector, frame: Frame) -> Vector:
    """The normal; as written where the part stands as it was drawn."""
    same = np.array_equal(frame.turn, np.eye(3)) and np.array_equal(frame.stretch, np.ones(3))
    return normal if same else _unit(frame.normal(normal))


def _unit(direction: Array) -> Vector:
    return vector(np.round(direction, 12) + 0.0)
