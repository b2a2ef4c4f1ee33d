"""A whole machine turned or seen in a mirror, for tests that nothing may come of it."""

from __future__ import annotations

import numpy as np

from leakdx.flow.attitude import Attitude
from leakdx.kit.frames import Array, Frame, placed_zone, rounded
from leakdx.kit.model import PartZone
from leakdx.kit.naming import Naming
from leakdx.machine.model import Machine, SealPoint, Zone


def frame_of(matrix: Array) -> Frame:
    return Frame(matrix, np.ones(3), np.zeros(3))


def turned(machine: Machine, matrix: Array, naming: Naming | None = None) -> Machine:
    """The machine with everything on it turned (or mirrored) about the origin."""
    frame, naming = frame_of(matrix), naming or Naming()
    return machine.model_copy(
        update={
            "zones": tuple(_zone(z, frame, naming) for z in machine.zones),
            "seal_points": tuple(_seal(s, frame, naming) for s in machine.seal_points),
            "paths": tuple(
                p.model_copy(update={"source": naming.id(p.source), "target": naming.id(p.target)})
                for p in machine.paths
            ),
            "causes": tuple(
                c.model_copy(update={"raises": tuple(naming.id(s) for s in c.raises)})
                for c in machine.causes
            ),
        }
    )


def _zone(zone: Zone, frame: Frame, naming: Naming) -> Zone:
    assert zone.bbox_mm is not None
    drawn = PartZone.model_validate({k: getattr(zone, k) for k in PartZone.model_fields})
    return placed_zone(drawn, frame).model_copy(update={"id": naming.id(zone.id)})


def _seal(seal: SealPoint, frame: Frame, naming: Naming) -> SealPoint:
    update: dict[str, object] = {
        "id": naming.id(seal.id),
        "zones": tuple(naming.id(z) for z in seal.zones),
    }
    if seal.position_mm is not None:
        update["position_mm"] = rounded(frame.point(seal.position_mm))
    return seal.model_copy(update=update)


def attitude_of(down: Array) -> Attitude:
    """How a machine stands whose gravity points along ``down`` in its own axes."""
    up = -down / np.linalg.norm(down)
    pitch = float(np.degrees(np.arcsin(np.clip(up[0], -1, 1))))
    return Attitude(pitch, float(np.degrees(np.arctan2(up[1], up[2]))))
