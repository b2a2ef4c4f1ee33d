"""Where a leak of one seal point goes: the expected part of it over each zone and each way.

The leak enters the zones that the seal point wets itself and from there follows the courses
down to where it stays or falls clear of the machine.  Nothing is counted twice, so what
stays and what falls to the ground are together never more than the leak.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdx.flow.courses import Course, FlowMap, Way
from leakdx.flow.outlets import first_zones
from leakdx.machine.model import Machine, SealPoint
from leakdx.priors.model import Priors

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Trail:
    """The way of one leak, all parts being expected parts of that leak.

    first: zones (indices) that the seal point wets itself, as ``first_zones`` gives them.
    zones: (Z,) part that gets to each zone, from 0 to 1.  courses: part that takes each
    course of the flow map, in its order.  stays: (Z,) part that goes no further.
    to_ground: part that falls clear of the machine; to_ground_from: (Z,) the same, by zone.
    """

    first: Mapping[int, float]
    zones: Array
    courses: Array
    stays: Array
    to_ground: float
    to_ground_from: Array


def trail(seal: SealPoint, flow: FlowMap, priors: Priors) -> Trail:
    """Where a leak of a seal point is expected to go.

    Raises UnknownNumber if the priors lack a flow coefficient.
    """
    first = first_zones(seal, flow, priors)
    leak = _own(seal, first, flow)
    takes = np.zeros(len(flow.courses))
    stream = np.zeros(flow.surfaces.count)
    # The leak itself may go sideways; what it becomes, a stream, follows the firm courses.
    for zone, part in leak.items():
        for k, share in _ways_of_leak(seal, zone, flow, priors).items():
            takes[k] += part * share
            stream[flow.courses[k].target] += part * share
    out: dict[int, list[int]] = defaultdict(list)
    for k, c in enumerate(flow.courses):
        if not c.sideways:
            out[c.source].append(k)
    for zone in flow.order:
        for k in out[zone]:
            part = stream[zone] * flow.courses[k].share
            takes[k] += part
            stream[flow.courses[k].target] += part
    passing = stream.copy()
    for zone, part in leak.items():
        passing[zone] += part
    falls = passing * flow.to_ground
    left = np.zeros_like(passing)
    np.add.at(left, [c.source for c in flow.courses], takes)
    # Of what goes round and comes by again no more than all of the leak is seen.
    return Trail(
        first=first,
        zones=np.minimum(passing, 1.0),
        courses=takes,
        stays=np.maximum(passing - falls - left, 0.0),
        to_ground=float(falls.sum()),
        to_ground_from=falls,
    )


def unreached(machine: Machine, flow: FlowMap, priors: Priors) -> tuple[str, ...]:
    """Zones that no listed seal point can wet, however it leaks, in the order of the file.

    Raises UnknownNumber if the priors lack a flow coefficient.
    """
    wet = {k for seal in machine.seal_points for k in first_zones(seal, flow, priors)}
    leads: dict[int, set[int]] = defaultdict(set)
    for c in flow.courses:
        if not c.sideways:
            leads[c.source].add(c.target)
    for zone in flow.order:
        if zone in wet:
            wet |= leads[zone]
    return tuple(z for k, z in enumerate(flow.surfaces.ids) if k not in wet)


def _own(seal: SealPoint, first: Mapping[int, float], flow: FlowMap) -> dict[int, float]:
    """The leak divided among the zones that the seal point names, together one."""
    index = {z: k for k, z in enumerate(flow.surfaces.ids)}
    parts = {index[z]: first[index[z]] for z in seal.zones}
    total = sum(parts.values())
    return {zone: part / total for zone, part in parts.items()}


def _ways_of_leak(seal: SealPoint, zone: int, flow: FlowMap, priors: Priors) -> dict[int, float]:
    """Courses (places in the flow map) that a leak in ``zone`` takes, with their shares.

    Over an edge near the seal point runs more than usual, and less over the others.
    """
    ways = {k: c for k, c in enumerate(flow.courses) if c.source == zone}
    alone = seal.model_copy(update={"zones": (flow.surfaces.ids[zone],)})
    wets = first_zones(alone, flow, priors)
    near = {
        k: wets[c.target]
        for k, c in ways.items()
        if c.way is Way.RUN and not c.sideways and wets.get(c.target, 0.0) > c.share
    }
    run = sum(c.share for c in ways.values() if _runs(c))
    others = sum(c.share for k, c in ways.items() if _runs(c) and k not in near)
    if not near:
        return {k: c.share for k, c in ways.items()}
    left = max(run - sum(near.values()), 0.0)
    rest = left / others if others else 0.0
    # A target that is wetted from beside as well must not be given more than there is.
    fit = min(1.0, run / sum(near.values()))
    return {
        k: near[k] * fit if k in near else c.share * (rest if _runs(c) else 1.0)
        for k, c in ways.items()
    }


def _runs(course: Course) -> bool:
    return course.way is Way.RUN and not course.sideways
