"""What of each zone is seen from each of six sides, by looking along a grid of rays.

A view lies in a plane of its own, mm: first coordinate to the right, second up the page.
Zones are drawn back to front; the rays say what is covered and where a label has room.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from leakdx.flow.surfaces import Surfaces
from leakdx.machine.boxes import TurnedBox

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

CELLS = 240  # rays along the longer side of a view
LEAST_HALF_MM = 2.0  # a patch without thickness is still to be seen from its edge, a cell at least
THICK = 0.25  # how much of a lump a body is that has no face to look at from behind
SLANT = 0.3  # how far a face must turn to the viewer to be more than an edge
LEAST_SEEN = 0.05  # a zone of which less shows is covered
TIE_MM = 0.5  # of two that lie as deep neither is the nearer


class Side(StrEnum):
    """Where the viewer stands."""

    LEFT = "left"
    RIGHT = "right"
    TOP = "top"
    BELOW = "below"
    FRONT = "front"
    REAR = "rear"


# What points to the right of the page, and up it; the viewer stands where their cross
# product points.  The long views with the front to the right have the same width below
# one another.
_PAGE: dict[Side, tuple[tuple[float, float, float], tuple[float, float, float]]] = {
    Side.LEFT: ((-1, 0, 0), (0, 0, 1)),
    Side.RIGHT: ((1, 0, 0), (0, 0, 1)),
    Side.FRONT: ((0, 1, 0), (0, 0, 1)),
    Side.REAR: ((0, -1, 0), (0, 0, 1)),
    Side.TOP: ((1, 0, 0), (0, 1, 0)),
    Side.BELOW: ((1, 0, 0), (0, -1, 0)),
}


def page(side: Side) -> Array:
    """Unit vectors of a view in machine axes, (2, 3): to the right of the page and up it."""
    return np.array(_PAGE[side], float)


def toward(side: Side) -> Array:
    """Unit vector from the machine to the viewer, (3,)."""
    right, up = page(side)
    return np.cross(right, up)


class Look(StrEnum):
    """How a zone shows in a view."""

    FACE = "face"
    EDGE = "edge"  # side on: a strip
    GHOST = "ghost"  # covered from everywhere; its outline is drawn so that it is somewhere


@dataclass(frozen=True, eq=False)
class Seen:
    """One zone in one view.

    outline: (K, 2) corners of its silhouette, mm, anticlockwise.  seen: share of the
    silhouette that nothing covers.  facing: how far it turns to the viewer, from -1 to 1.
    near: from 0 to 1, how near the viewer it lies between the back and the front of the view.
    spots: (P, 2) places within what is seen, mm, the one with most room first; room: (P,) how
    far each is from the border of what is seen.
    """

    zone: int
    look: Look
    outline: Array
    seen: float
    facing: float
    near: float
    spots: Array
    room: Array


@dataclass(frozen=True, eq=False)
class View:
    """A view: its zones from the back to the front.

    low, high: (2,) its corners, mm.  front: (rows, columns) how near the viewer what is seen
    lies, mm, on a grid of cells of ``step`` mm that begins at ``low``; -inf where is nothing.
    """

    side: Side
    zones: tuple[Seen, ...]
    low: Array
    high: Array
    front: Array
    step: float

    def get(self, zone: int) -> Seen | None:
        """How a zone shows; None where it does not."""
        return next((z for z in self.zones if z.zone == zone), None)

    def sees(self, point: Array, slack_mm: float) -> bool:
        """Whether nothing lies before a point in machine axes by more than ``slack_mm``."""
        column, row = ((page(self.side) @ point - self.low) / self.step).astype(int)
        near = self.front[max(row - 1, 0) : row + 2, max(column - 1, 0) : column + 2]
        return not near.size or float(point @ toward(self.side)) > float(near.min()) - slack_mm


def views_of(s: Surfaces) -> tuple[View, ...]:
    """The machine from each side; every zone is in at least one view."""
    size = float(max(np.ptp(np.vstack([s.low, s.high]), axis=0)))
    boxes = [_with_thickness(b, max(size / CELLS, LEAST_HALF_MM)) for b in s.boxes]
    found = [_look_from(s, boxes, side) for side in Side]
    shown = {z.zone for view in found for z in view.zones if z.look is Look.FACE}
    best = {
        k: max(Side, key=lambda side: float(s.normal[k] @ toward(side)))
        for k in range(s.count)
        if k not in shown
    }
    return tuple(_with_ghosts(view, boxes, best) for view in found)


def outline(box: TurnedBox, side: Side) -> Array:
    """The silhouette of a box, (K, 2), mm, anticlockwise."""
    return _hull(box.corners @ page(side).T)


def _with_thickness(box: TurnedBox, least: float) -> TurnedBox:
    return TurnedBox(box.middle, box.axes, np.maximum(box.half, least))


def _with_ghosts(view: View, boxes: Sequence[TurnedBox], best: dict[int, Side]) -> View:
    ghosts = []
    for k, side in best.items():
        if side is view.side:
            shape = outline(boxes[k], side)
            ghosts.append(Seen(k, Look.GHOST, shape, 0.0, 0.0, 1.0, *_all_over(shape)))
    return replace(view, zones=(*view.zones, *ghosts))


def _all_over(shape: Array) -> tuple[Array, Array]:
    """Places for the label of an outline that is drawn over what covers it, and their room."""
    middle = (shape.min(axis=0) + shape.max(axis=0)) / 2
    half = (shape.max(axis=0) - shape.min(axis=0)) / 2
    ticks = np.linspace(-0.8, 0.8, 9)
    steps = np.stack(np.meshgrid(ticks, ticks), axis=-1).reshape(-1, 2)
    steps = steps[np.argsort(np.linalg.norm(steps, axis=1), kind="stable")]
    return middle + steps * half, ((1 - np.abs(steps)) * half).min(axis=1)


@dataclass(frozen=True, eq=False)
class _Hits:
    """How near the viewer the rays meet a box, mm: a piece of the grid, -inf where they miss."""

    rows: slice
    columns: slice
    depth: Array

    @property
    def hit(self) -> Mask:
        found: Mask = np.isfinite(self.depth)
        return found

    def piece(self, rows: slice, columns: slice) -> Array:
        """The depths in a part of the grid that lies within this piece."""
        r, c = self.rows.start, self.columns.start
        return self.depth[rows.start - r : rows.stop - r, columns.start - c : columns.stop - c]


def _look_from(s: Surfaces, boxes: Sequence[TurnedBox], side: Side) -> View:
    corners = np.vstack([b.corners for b in boxes]) @ page(side).T
    low, high = corners.min(axis=0), corners.max(axis=0)
    facing = s.normal @ toward(side)
    # Faces that look away neither show nor cover: what has a back to it has other faces too.
    there = [int(k) for k in np.flatnonzero((facing > -SLANT) | (s.lump > THICK))]
    step = float(np.max(high - low)) / CELLS
    grid = _grid(low, high, step)
    hits = [_hits(boxes[k], _plane(s, k, side), side, grid, step) for k in there]
    order = _back_to_front(hits)
    top, front = np.full(grid.shape[:2], -1), np.full(grid.shape[:2], -np.inf)
    for n in order:
        hit, part = hits[n].hit, (hits[n].rows, hits[n].columns)
        top[part][hit], front[part][hit] = n, hits[n].depth[hit]
    zones = []
    for n in order:
        part = (hits[n].rows, hits[n].columns)
        cells = top[part] == n
        share = float(cells.sum()) / max(int(hits[n].hit.sum()), 1)
        if share >= LEAST_SEEN:
            k = there[n]
            edge = facing[k] <= SLANT and s.lump[k] <= THICK
            look = Look.EDGE if edge else Look.FACE
            near = _between(float(front[part][cells].mean()), front)
            places = _spots(cells, grid[part], step)
            shape = outline(boxes[k], side)
            zones.append(Seen(k, look, shape, share, float(facing[k]), near, *places))
    return View(side, tuple(zones), low, high, front, step)


def _between(depth: float, front: Array) -> float:
    """Where a depth lies between the deepest and the nearest that is seen."""
    there = front[np.isfinite(front)]
    return (depth - float(there.min())) / max(float(np.ptp(there)), 1.0)


def _grid(low: Array, high: Array, step: float) -> Array:
    """Places of the rays, (rows, columns, 2), mm."""
    u, v = (np.arange(a + step / 2, b + step / 2, step) for a, b in zip(low, high, strict=True))
    found: Array = np.stack(np.meshgrid(u, v), axis=-1)
    return found


def _plane(s: Surfaces, k: int, side: Side) -> tuple[Array, Array] | None:
    """A point of a flat face and its normal; None for a body and for what is seen from its edge."""
    flat = s.lump[k] <= THICK and float(s.normal[k] @ toward(side)) > SLANT
    return (s.centre[k], s.normal[k]) if flat else None


def _hits(
    box: TurnedBox, plane: tuple[Array, Array] | None, side: Side, grid: Array, step: float
) -> _Hits:
    basis = page(side)
    flat = box.corners @ basis.T
    places = (flat - grid[0, 0]) / step
    first = np.floor(places.min(axis=0)).astype(int)
    last = np.ceil(places.max(axis=0)).astype(int) + 1
    columns, rows = (
        slice(int(min(max(a, 0), n - 1)), int(min(max(b, 1), n)))
        for a, b, n in zip(first, last, grid.shape[1::-1], strict=True)
    )
    rays = grid[rows, columns]
    # Rays begin in the plane through the origin; one may meet a box behind its start.
    starts = (rays.reshape(-1, 2) @ basis - box.middle) @ box.axes.T
    ray = -box.axes @ toward(side)
    # Half a cell more, or a strip could slip through between two rays.
    half = np.maximum(box.half, step / 2 + 1e-6)
    near, far = np.full(len(starts), -np.inf), np.full(len(starts), np.inf)
    for axis in range(3):
        steep = ray[axis] if abs(ray[axis]) > 1e-9 else 1e-9
        one, other = (-half[axis] - starts[:, axis]) / steep, (half[axis] - starts[:, axis]) / steep
        near = np.maximum(near, np.minimum(one, other))
        far = np.minimum(far, np.maximum(one, other))
    nearest = -near
    if plane is not None:
        # A slanting face lies somewhere within its box.
        centre, normal = plane
        there = (centre - rays.reshape(-1, 2) @ basis) @ normal / float(normal @ toward(side))
        nearest = np.clip(there, np.minimum(-far, -near), -near)
    depth = np.where(near <= far, nearest, -np.inf)
    return _Hits(rows, columns, depth.reshape(rays.shape[:2]))


def _back_to_front(hits: Sequence[_Hits]) -> list[int]:
    """Order in which to paint: of two that overlap first the one that lies deeper there."""
    nearer = np.zeros((len(hits), len(hits)), bool)
    for a, one in enumerate(hits):
        for b in range(a):
            gap = _nearer_by(one, hits[b])
            nearer[a, b], nearer[b, a] = gap > TIE_MM, gap < -TIE_MM
    middle = [h.depth[h.hit].mean() if h.hit.any() else -np.inf for h in hits]
    left = [int(n) for n in np.argsort(middle, kind="stable")]
    order: list[int] = []
    while left:
        # What lies before nothing else that is still to be painted; in a ring, the deepest.
        n = next((n for n in left if not nearer[n, left].any()), left[0])
        left.remove(n)
        order.append(n)
    return order


def _nearer_by(one: _Hits, other: _Hits) -> float:
    """How much nearer the viewer the first is where both are met, mm; 0 where none is."""
    rows, columns = _common(one.rows, other.rows), _common(one.columns, other.columns)
    if rows is None or columns is None:
        return 0.0
    mine, theirs = one.piece(rows, columns), other.piece(rows, columns)
    both = np.isfinite(mine) & np.isfinite(theirs)
    return float(np.mean(mine[both] - theirs[both])) if both.any() else 0.0


def _common(one: slice, other: slice) -> slice | None:
    start, stop = max(one.start, other.start), min(one.stop, other.stop)
    return slice(start, stop) if start < stop else None


def _spots(cells: Mask, grid: Array, step: float) -> tuple[Array, Array]:
    """Places within some cells, and how far from the border of them each is."""
    inside = np.pad(cells, 1)
    room = np.zeros(inside.shape)
    while inside.any():
        room += inside
        inner = inside.copy()
        for axis in (0, 1):
            for way in (1, -1):
                inner &= np.roll(inside, way, axis=axis)
        inside = inner
    flat = room[1:-1, 1:-1].ravel()
    places = grid.reshape(-1, 2)
    best = np.argsort(-flat, kind="stable")[: int((flat > 0).sum())]
    if len(best) > 400:
        best = np.concatenate([best[:40], best[40 :: len(best) // 300]])
    return places[best], (flat[best] - 0.5) * step


def _hull(points: Array) -> Array:
    """Convex hull of points in a plane, anticlockwise (Andrew's monotone chain)."""
    ordered = sorted({(round(float(x), 6), round(float(y), 6)) for x, y in points})
    chains = []
    for run in (ordered, ordered[::-1]):
        chain: list[tuple[float, float]] = []
        for p in run:
            while len(chain) >= 2 and _turn(chain[-2], chain[-1], p) <= 1e-9:
                chain.pop()
            chain.append(p)
        chains += chain[:-1]
    return np.array(chains)


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
