"""Where fluid from a seal point first shows: the zones it wets itself, and in what parts.

A joint between two zones wets the lower one; a point near an edge soon leaves its zone
over that edge; and fluid creeps to zones on a level beside it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from leakdx.flow.courses import FlowMap, Way
from leakdx.machine.model import SealPoint
from leakdx.priors.model import Priors

Array = NDArray[np.float64]

# Zones that get less than this of a leak are left to the flow to reach.
LEAST_PART = 0.03


def first_zones(seal: SealPoint, flow: FlowMap, priors: Priors) -> dict[int, float]:
    """Zones (indices) that a seal point wets itself, with the expected part of its leak.

    The parts need not sum to one: what runs on over a near edge is counted at both zones.
    Raises UnknownNumber if the priors lack a flow coefficient.
    """
    index = {z: k for k, z in enumerate(flow.surfaces.ids)}
    less = float(np.log(priors["flow.upper_gets_less"]))
    own = _own_parts([index[z] for z in dict.fromkeys(seal.zones)], less, flow)
    near = priors["flow.near_edge_mm"]
    parts = dict(own)
    for zone, part in own.items():
        for target, beside in _beside(zone, flow).items():
            parts[target] = max(parts.get(target, 0.0), part * beside)
        if seal.position_mm is not None:
            position = np.array(seal.position_mm)
            for target, more in _over_near_edges(zone, position, near, flow).items():
                parts[target] = max(parts.get(target, 0.0), part * more)
    return {k: min(p, 1.0) for k, p in parts.items() if k in own or p >= LEAST_PART}


def _own_parts(zones: list[int], less: float, flow: FlowMap) -> dict[int, float]:
    """A leak divided among the zones a seal point names: the lower gets more."""
    centres = flow.surfaces.centre[zones]
    depth = centres @ flow.down
    size = max(float(np.linalg.norm(np.ptp(centres, axis=0))), 1.0)
    weight = np.exp(less * (depth - depth.max()) / size)
    return dict(zip(zones, (float(w) for w in weight / weight.sum()), strict=True))


def _beside(zone: int, flow: FlowMap) -> dict[int, float]:
    """Zones that a stream through ``zone`` may not enter without closing a loop."""
    return {c.target: c.share for c in flow.courses if c.sideways and c.source == zone}


def _over_near_edges(zone: int, position: Array, near_mm: float, flow: FlowMap) -> dict[int, float]:
    """Zones over whose edge a track from ``position`` leaves, where that is more than usual."""
    shares = {
        c.target: c.share
        for c in flow.courses
        if c.source == zone and c.way is Way.RUN and not c.sideways
    }
    leave = _leaving_point(zone, position, flow)
    if len(shares) < 2 or leave is None:
        return {}
    weights = {}
    for e in flow.edges:
        target = {e.first: e.second, e.second: e.first}.get(zone)
        if target in shares:
            gap = float(np.linalg.norm(np.array(e.middle) - leave)) - e.length_mm / 2
            weights[target] = shares[target] * np.exp(-0.5 * (max(gap, 0.0) / near_mm) ** 2)
    total = sum(weights.values())
    if total <= 0:
        return {}
    run = sum(shares.values())
    return {t: w / total * run for t, w in weights.items() if w / total * run > 1.2 * shares[t]}


def _leaving_point(zone: int, position: Array, flow: FlowMap) -> Array | None:
    """Where a straight track from a point leaves a flat zone; None on lumps and on the level."""
    s = flow.surfaces
    pull = np.array([axis @ flow.along[zone] for axis in s.axes[zone]])
    if s.lump[zone] > 0.25 or np.linalg.norm(pull) < 0.05:
        return None
    start = np.clip(s.axes[zone] @ (position - s.centre[zone]), -s.half[zone], s.half[zone])
    moving = np.abs(pull) > 1e-6
    run = (np.sign(pull) * s.half[zone] - start)[moving] / pull[moving]
    end = start + pull * max(float(run.min()), 0.0)
    point: Array = s.centre[zone] + end @ s.axes[zone]
    return point
