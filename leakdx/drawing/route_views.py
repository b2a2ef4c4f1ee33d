"""Which views the steps of a route are drawn in, and what part of the machine they show.

As few views as show all steps well: whoever follows a route should not have to turn the
machine in mind at every step.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from leakdx.drawing.seeing import Look, Seen, View, page
from leakdx.flow.surfaces import SharedEdge, Surfaces
from leakdx.machine.model import Machine, SealPoint

Array = NDArray[np.float64]

ANOTHER_VIEW = 0.5  # how much better a second view must show a step to be worth a look
ROUND = 0.3  # how much of the machine is shown round a route, against the size of the route
LEAST_ROUND_MM = 80.0
NEAR = 0.03  # of the size of a view: an edge further from what is seen of a zone is covered
_LOOKS = {Look.FACE: 1.0, Look.EDGE: 0.35, Look.GHOST: 0.12}


@dataclass(frozen=True)
class Leg:
    """A step to be drawn, with its number in the picture.

    seal, source: index of a seal point (the first step) or of a zone; the other is None.
    """

    number: int
    seal: int | None
    source: int | None
    target: int
    way: str
    chance: float


@dataclass(frozen=True, eq=False)
class Ground:
    """The machine as it is drawn; down: (3,) gravity in its axes."""

    machine: Machine
    surfaces: Surfaces
    edges: tuple[SharedEdge, ...]
    down: Array

    def place_of(self, seal: SealPoint) -> Array:
        """Where a seal point is, (3,) mm; the middle of its zone where that is not stated."""
        if seal.position_mm is not None:
            return np.array(seal.position_mm)
        middle: Array = self.surfaces.centre[self.surfaces.ids.index(seal.zones[0])]
        return middle

    def edge(self, leg: Leg) -> Array | None:
        """Points along the longest edge that the zones of a step share, (N, 3) mm.

        The middle of the edge comes first.  None where they share none or it goes another way.
        """
        shared = [e for e in self.edges if {e.first, e.second} == {leg.source, leg.target}]
        if not shared or leg.source is None or leg.way not in ("run", "sideways"):
            return None
        edge = max(shared, key=lambda e: e.length_mm)
        # The edge runs along what the two boxes have most of in common.
        both = [leg.source, leg.target]
        common = self.surfaces.high[both].min(axis=0) - self.surfaces.low[both].max(axis=0)
        along = np.eye(3)[int(np.argmax(common))]
        parts = np.array([0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5]) / 12 * edge.length_mm
        found: Array = np.array(edge.middle) + parts[:, None] * along
        return found


def chosen_views(
    ground: Ground, views: Sequence[View], legs: Sequence[Leg]
) -> tuple[tuple[View, ...], Mapping[int, int]]:
    """The views to draw, as they are first needed, and for each step (by number) which of them."""
    shows = np.array([[_shows(ground, view, leg) for view in views] for leg in legs])
    sets = [c for n in range(1, len(views) + 1) for c in combinations(range(len(views)), n)]

    def worth(chosen: tuple[int, ...]) -> float:
        return float(shows[:, chosen].max(axis=1).sum()) - ANOTHER_VIEW * len(chosen)

    best = max(sets, key=lambda c: round(worth(c), 6))
    used: list[int] = []
    for n in range(len(legs)):
        # The view of the step before, unless another shows this one clearly better.
        stay = [0.15 if used and k == used[-1] else 0.0 for k in best]
        used.append(best[int(np.argmax(shows[n, best] + stay))])
    kept = list(dict.fromkeys(used))
    where = {leg.number: kept.index(k) for leg, k in zip(legs, used, strict=True)}
    return tuple(views[k] for k in kept), where


def _shows(ground: Ground, view: View, leg: Leg) -> float:
    """How well a view shows a step, from 0 to 1."""
    target = _plain(view.get(leg.target))
    if leg.seal is not None:
        seal = ground.machine.seal_points[leg.seal]
        seen = view.sees(ground.place_of(seal), 25.0)
        return target * (1.0 if seen else 0.5)
    assert leg.source is not None
    source = _plain(view.get(leg.source))
    upright = float(np.linalg.norm(page(view.side) @ ground.down)) > 0.5
    if leg.way == "drip" and upright and source > _LOOKS[Look.GHOST]:
        # Undersides drip and trays catch: both are seen well enough from their edges.
        source, target = max(source, 0.8), max(target, 0.8) if target else 0.0
    both = float(np.sqrt(source * target))
    if leg.way in ("drip", "run") and not upright:
        both *= 0.3  # Seen along the fall.
    edge = ground.edge(leg)
    if edge is not None and both and not edge_shows(view, leg, edge[0]):
        both *= 0.5
    return both


def _plain(seen: Seen | None) -> float:
    if seen is None:
        return 0.0
    if seen.look is not Look.FACE:
        return _LOOKS[seen.look]
    return max(0.5 + 0.3 * max(seen.facing, 0.0) + 0.2 * seen.seen, 0.5)


def edge_shows(view: View, leg: Leg, point: Array) -> bool:
    """Whether both zones of a step are seen about a point of their edge, (3,) mm."""
    place = page(view.side) @ point
    near = NEAR * float(np.max(view.high - view.low))
    ends = [view.get(k) for k in (leg.source, leg.target) if k is not None]
    return all(
        seen is not None and float(np.linalg.norm(seen.spots - place, axis=1).min()) < near
        for seen in ends
    )


def cropped(ground: Ground, view: View, legs: Sequence[Leg]) -> View:
    """The part of a view about the zones and seal points of the steps."""
    zones = {k for leg in legs for k in (leg.source, leg.target) if k is not None}
    points = [ground.surfaces.boxes[k].corners for k in zones]
    seals = [ground.machine.seal_points[leg.seal] for leg in legs if leg.seal is not None]
    points += [ground.place_of(seal)[None, :] for seal in seals]
    flat = np.vstack(points) @ page(view.side).T
    low, high = flat.min(axis=0), flat.max(axis=0)
    round_ = np.maximum(ROUND * float(np.max(high - low)), LEAST_ROUND_MM)
    low, high = np.maximum(low - round_, view.low), np.minimum(high + round_, view.high)
    shown = [z for z in view.zones if _meets(z, low, high)]
    return replace(view, low=low, high=high, zones=tuple(shown))


def _meets(seen: Seen, low: Array, high: Array) -> bool:
    return bool((seen.outline.max(axis=0) > low).all() and (seen.outline.min(axis=0) < high).all())
