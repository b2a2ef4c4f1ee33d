"""How one arrow runs in one view.

What runs over a shared edge is a short arrow across it; drops fall in a straight line; the
rest goes from where the two zones are nearest to each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from leakdx.drawing.frame import Frame
from leakdx.drawing.seeing import Seen
from leakdx.drawing.sheet import MARK, Point

Array = NDArray[np.float64]
Ends = tuple[Seen, Seen]

HALF = 13.0  # how far an arrow reaches into each of two zones
NEAR = 0.025  # of the size of a view: an edge further from what is seen of a zone is covered
APART = 9.0  # how far apart two falling arrows should be
STUB = 24.0  # length of an arrow to what does not show


def across(
    frame: Frame, ends: Ends, edge: tuple[Array, float], marks: Array
) -> tuple[Point, ...] | None:
    """A short arrow square over an edge, given by its middle and length, clear of marks.

    None where the edge is covered in this view.
    """
    middle, length = edge
    spots = [frame.place(z.spots) for z in ends]
    if max(_off(s, middle) for s in spots) > _near(frame):
        return None
    first = _over(frame, ends, middle)
    if first is None:
        return None
    way = first[1] - first[0]
    side = np.array([-way[1], way[0]]) / np.linalg.norm(way)
    best, least = first, _struck(first, marks)
    for part in (0.1, -0.1, 0.2, -0.2, 0.3, -0.3, 0.4, -0.4):
        if least == 0:
            break
        moved = middle + part * length * frame.scale * side
        found = _over(frame, ends, moved)
        if found is None or max(_off(s, moved) for s in spots) > _near(frame) / 2:
            continue
        if _struck(found, marks) < least:
            best, least = found, _struck(found, marks)
    return points(*best)


def falling(
    frame: Frame, ends: Ends, down: Array, others: Iterable[tuple[Point, ...]]
) -> tuple[Point, ...] | None:
    """A straight fall from the lowest of the source to the target under it, if it is under it."""
    level = np.array([-down[1], down[0]])
    source, target = (frame.place(z.spots) for z in ends)
    side, under = source @ level, target @ level
    low, high = max(side.min(), under.min()), min(side.max(), under.max())
    if high < low - _near(frame):
        return None
    lines = [np.array(other) for other in others]
    best: tuple[float, tuple[Point, ...]] | None = None
    for part in (0.5, 0.35, 0.65, 0.2, 0.8, 0.08, 0.92):
        place = low + part * (high - low)
        start = _deepest(source, side, place, down)
        below = target @ down > start + 2
        if not below.any():
            continue
        stop = -_deepest(target[below], under[below], place, -down)
        first, last = (place * level + depth * down for depth in (start - 4, stop + 3))
        if stop - start < HALF:
            last = first + down * HALF
        gap = min((_gap(line, first, last, level, down) for line in lines), default=APART)
        if best is None or gap > best[0]:
            best = gap, points(first, last)
        if gap >= APART:
            break
    return best[1] if best else None


def between(frame: Frame, ends: Ends) -> tuple[Point, ...] | None:
    """A straight arrow where two zones are nearest to each other."""
    source, target = (frame.place(z.spots) for z in ends)
    apart = np.linalg.norm(source[:, None, :] - target[None, :, :], axis=2)
    # Of places as near, those with the most room.
    cost = apart + 0.02 * np.arange(len(source))[:, None] + 0.02 * np.arange(len(target))[None, :]
    a, b = np.unravel_index(int(np.argmin(cost)), cost.shape)
    way = target[b] - source[a]
    if np.linalg.norm(way) < 4:
        way = target[0] - source[0]
    length = float(np.linalg.norm(way))
    if length < 1e-6:
        return None
    way = way / length
    return points(source[a] - 0.6 * HALF * way, target[b] + 0.6 * HALF * way)


def off_the_machine(frame: Frame, zone: Seen, down: Array) -> tuple[Point, ...]:
    """A short fall from the lowest of a zone, for what meets nothing."""
    spots = frame.place(zone.spots)
    level = np.array([-down[1], down[0]])
    side = spots @ level
    place = side.min() + 0.72 * np.ptp(side)
    start = place * level + (_deepest(spots, side, place, down) - 3) * down
    return points(start, start + STUB * down)


def toward_unseen(frame: Frame, zone: Seen, target: Array, down: Array) -> tuple[Point, ...]:
    """A short arrow out of a zone toward a place that is covered."""
    start = frame.place(zone.spots)[0]
    way = target - start
    if np.linalg.norm(way) < 6:
        way = down if np.linalg.norm(down) > 0.5 else np.array([0.0, 1.0])
    return points(start, start + STUB * way / np.linalg.norm(way))


def points(*places: Array) -> tuple[Point, ...]:
    """Places as a sheet holds them."""
    return tuple((float(x), float(y)) for x, y in places)


def _near(frame: Frame) -> float:
    return NEAR * frame.scale * float(np.max(frame.view.high - frame.view.low))


def _off(spots: Array, place: Array) -> float:
    return float(np.linalg.norm(spots - place, axis=1).min())


def _struck(line: tuple[Array, Array], marks: Array) -> int:
    """How many marks lie on an arrow."""
    if not len(marks):
        return 0
    start, way = line[0], line[1] - line[0]
    part = np.clip((marks - start) @ way / float(way @ way), 0, 1)
    gaps = np.linalg.norm(start + part[:, None] * way - marks, axis=1)
    return int((gaps < MARK + 3).sum())


def _over(frame: Frame, ends: Ends, middle: Array) -> tuple[Array, Array] | None:
    start, stop = (middle + _into(frame, zone, middle) for zone in ends)
    way = stop - start
    length = float(np.linalg.norm(way))
    if length < 1e-6:
        return None
    if length < 1.5 * HALF:
        # Over an edge that is seen from its end: as long as the others all the same.
        start = stop - way / length * 1.5 * HALF
    return start, stop


def _into(frame: Frame, zone: Seen, middle: Array) -> Array:
    """From a point on the border of a zone a little way in, square to that border."""
    shape = frame.place(zone.outline)
    half = np.maximum((shape.max(axis=0) - shape.min(axis=0)) / 2, 1.0)
    way = (shape.max(axis=0) + shape.min(axis=0)) / 2 - middle
    part = np.abs(way) / half
    way = way * (part / max(float(part.max()), 1e-9)) ** 3
    length = max(float(np.linalg.norm(way)), 1e-9)
    step: Array = way / length * min(HALF, length)
    return step


def _deepest(spots: Array, side: Array, place: float, down: Array) -> float:
    """How far down the lowest of some spots near a line lies."""
    off = np.abs(side - place)
    near = spots[off <= max(float(off.min()) + 2.0, 4.0)]
    return float((near @ down).max())


def _gap(line: Array, first: Array, last: Array, level: Array, down: Array) -> float:
    """How far a falling arrow is from another beside it."""
    if max(line[0] @ down, first @ down) > min(line[-1] @ down, last @ down):
        return APART
    return float(abs((line[0] - first) @ level))


def along(lines: Sequence[tuple[Point, ...]]) -> Array:
    """Points along some arrows, a few units apart, (N, 2)."""
    found = []
    for line in lines:
        start, stop = np.array(line[0]), np.array(line[-1])
        steps = max(int(np.linalg.norm(stop - start) / 4), 1)
        found += [start + (stop - start) * t for t in np.linspace(0, 1, steps + 1)]
    return np.array(found).reshape(-1, 2)
