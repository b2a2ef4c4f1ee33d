"""Fluid that leaves the surface: drops and where they land, mist in the air, fling."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdx.flow.attitude import REARWARD
from leakdx.flow.running import Pull
from leakdx.flow.surfaces import Surfaces
from leakdx.machine.boxes import TurnedBox
from leakdx.machine.model import Machine
from leakdx.priors.model import Priors

Array = NDArray[np.float64]

GRID = 9  # points along each side of a patch from which drops may fall
OVER_RIM_MM = 8.0  # how far outside its rim a patch that faces up spills
PROUD_MM = 4.0  # how far off the surface a drop hangs
SCATTER_MM = 8.0  # how far drops stray as they let go
RIM_MM = 3.0  # what falls so far beside a patch still meets it
WALL_MM = 14.3  # and what hangs nearer than this to the rim of a wall is not behind it
TIE_MM = 1e-5  # what falls just on the edge of a patch meets it, however the machine is turned


@dataclass(frozen=True)
class Landing:
    """Where drops from one patch land, as shares of them.

    hits: on patches.  walls: against a patch from behind, from inside the body that it
    closes.  missed: on nothing.
    """

    hits: dict[int, float]
    walls: dict[int, float]
    missed: float


def landing(s: Surfaces, a: int, pull: Pull) -> Landing:
    """Where drops that leave patch ``a`` land."""
    starts = _drip_points(s, a, pull)
    fall = pull.down + np.minimum(np.linalg.norm(pull.air[a]), 1.0) * REARWARD
    fall /= np.linalg.norm(fall)
    first = np.full(len(starts), np.inf)
    target = np.full(len(starts), -1)
    behind = np.zeros(len(starts), dtype=bool)
    for b in _below(s, starts, fall):
        if b == a:
            continue
        distance, inside = _strike(s, b, starts, fall)
        nearer = distance < first - TIE_MM  # of two that lie level the first in the file
        first[nearer], target[nearer], behind[nearer] = distance[nearer], b, inside
    return Landing(
        hits={int(b): float(np.mean((target == b) & ~behind)) for b in _met(target[~behind])},
        walls={int(b): float(np.mean((target == b) & behind)) for b in _met(target[behind])},
        missed=float(np.mean(target < 0)),
    )


def _below(s: Surfaces, starts: Array, fall: Array) -> list[int]:
    """Patches that any of the drops may meet: all but those that plainly lie aside or above.

    A ball about each patch is held against the box of all the drops' ways.
    """
    across = np.linalg.svd(fall[None, :])[2][1:]
    middle, ball = s.balls
    ball = ball + 2 * RIM_MM
    places, ways = middle @ across.T, starts @ across.T
    aside = np.maximum(ways.min(axis=0) - places, places - ways.max(axis=0)).max(axis=1)
    above = (starts @ fall).min() - middle @ fall
    return [int(b) for b in np.flatnonzero((aside <= ball) & (above <= ball))]


def _met(targets: NDArray[np.int_]) -> NDArray[np.int_]:
    found = np.unique(targets)
    return np.asarray(found[found >= 0])


def _drip_points(s: Surfaces, a: int, pull: Pull) -> Array:
    """Points from which drops leave patch ``a``, shape (P, 3): its lowest part.

    A patch that faces up spills over its rim, any other drips from where it is lowest.
    """
    ticks = np.linspace(-1, 1, GRID)
    u, v = (t.ravel() for t in np.meshgrid(ticks, ticks))
    place = np.stack([u * s.half[a, 0], v * s.half[a, 1]], axis=1)
    faces_up = float(s.normal[a] @ pull.down) < -0.3
    if faces_up:
        rim = (np.abs(u) == 1) | (np.abs(v) == 1)
        outward = np.stack([u * (np.abs(u) == 1), v * (np.abs(v) == 1)], axis=1)
        place = place[rim] + OVER_RIM_MM * outward[rim]
    points: Array = s.centre[a] + place @ s.axes[a]
    depth = points @ (pull.down + pull.air[a])
    if np.ptp(depth) >= 0.1 * 2 * s.half[a].max():
        points = points[depth >= depth.max() - 0.13 * np.ptp(depth)]
    # Drops hang proud of the surface and scatter a little as they fall.
    proud = points + (0.0 if faces_up else PROUD_MM) * s.normal[a]
    shifts = SCATTER_MM * _about(s.axes[a], pull.down)
    if faces_up:
        shifts = shifts[-1:]
    scattered: Array = proud[None, :, :] + shifts[:, None, :]
    return scattered.reshape(-1, 3)


def _about(axes: Array, down: Array) -> Array:
    """Four unit steps square to ``down``, as far as can be along the patch, and none, (5, 3)."""
    level = axes - (axes @ down)[:, None] * down
    longer = level[int(np.argmax(np.round(np.linalg.norm(level, axis=1), 6)))]
    first = longer / np.linalg.norm(longer)
    second = np.cross(down, first)
    return np.array([first, -first, second, -second, np.zeros(3)])


def _strike(s: Surfaces, b: int, starts: Array, fall: Array) -> tuple[Array, bool]:
    """Distance each drop falls before it meets patch ``b``, inf if never; and if from behind."""
    if s.bodies[b]:
        return _strike_box(s.boxes[b], starts, fall), False
    closing = -float(fall @ s.normal[b])
    if abs(closing) < 0.08:
        return np.full(len(starts), np.inf), False
    distance = ((starts - s.centre[b]) @ s.normal[b]) / closing
    landed = starts + distance[:, None] * fall - s.centre[b]
    # A drop that only grazes the rim of a wall from behind hangs outside of the body.
    rim = RIM_MM if closing > 0 else -WALL_MM
    inside = np.all(np.abs(landed @ s.axes[b].T) <= s.half[b] + rim + TIE_MM, axis=1)
    return np.where(inside & (distance > 1.0 + TIE_MM), distance, np.inf), closing < 0


def _strike_box(box: TurnedBox, starts: Array, fall: Array) -> Array:
    low, high = -box.half - TIE_MM, box.half + TIE_MM
    starts, fall = (starts - box.middle) @ box.axes.T, box.axes @ fall
    steep = np.where(np.abs(fall) < 1e-9, 1e-9, fall)
    near = (np.where(steep > 0, low, high) - starts) / steep
    far = (np.where(steep > 0, high, low) - starts) / steep
    enter, leave = near.max(axis=1), far.min(axis=1)
    return np.where((enter <= leave) & (enter > 1.0), enter, np.inf)


def carried(s: Surfaces, pull: Pull, priors: Priors) -> dict[tuple[int, int], float]:
    """Mist and torn-off drops that the air lays on zones behind and below."""
    force = np.linalg.norm(pull.air, axis=1)
    share, reach = priors["flow.carry_share"], priors["flow.carry_reach_mm"]
    found: dict[tuple[int, int], float] = {}
    low, high = s.low[:, 0], s.high[:, 0]
    for a in np.flatnonzero(force > 0.05):
        gap = low[a] - high
        drop = (s.centre - s.centre[a]) @ pull.down
        aside = np.abs(s.centre[:, 1] - s.centre[a, 1]) - s.half.max(axis=1)
        # Drops fall as they fly: what lies behind and level or below is in their way.
        meets = (gap > 0) & (gap < reach) & (aside < 60) & (drop > -30) & (drop < reach)
        meets &= (s.normal @ REARWARD) < 0.5
        for b in np.flatnonzero(meets):
            nearness = float(np.exp(-gap[b] / (reach / 2))) / max(int(meets.sum()), 1)
            found[int(a), int(b)] = share * min(float(force[a]), 1.0) * nearness
    return found


def flung(machine: Machine, s: Surfaces, priors: Priors) -> dict[tuple[int, int], float]:
    """Fluid thrown off a rotating part onto zones in its plane of rotation."""
    found: dict[tuple[int, int], float] = {}
    for a, zone in enumerate(machine.zones):
        if zone.spins is None:
            continue
        axis = np.array(zone.spin_axis) / np.linalg.norm(zone.spin_axis)
        apart = s.centre - s.centre[a]
        along = np.abs(apart @ axis)
        out = np.linalg.norm(apart - (apart @ axis)[:, None] * axis, axis=1)
        size = s.half.max(axis=1)
        # On the border counts as met, however the machine is turned.
        meets = along < size + 25 + TIE_MM
        meets &= (out > 0.7 * zone.spins - TIE_MM) & (out < 3 * zone.spins + size + TIE_MM)
        meets[a] = False
        for b in np.flatnonzero(meets):
            found[a, int(b)] = priors["flow.fling_share"] / int(meets.sum())
    return found
