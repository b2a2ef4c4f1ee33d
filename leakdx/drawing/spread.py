"""Marks in free places: as near to where they belong as fingers leave room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from leakdx.drawing.sheet import Point

Array = NDArray[np.float64]

# Least distances between two marks, the best first: a fingertip, and what is still told apart.
PITCHES = (44.0, 40.0, 36.0, 32.0, 28.0)
FAR = 40.0  # farther than this from its place a mark is hard to follow
STEP = 5.0  # between two places that are tried
BORDER = 14.0  # marks keep so far within the view


def spread(anchors: Sequence[Point], size: Point) -> tuple[float, tuple[Point, ...]]:
    """A place for a mark about each anchor within a view of that size, and their distance.

    Of the distances that let every mark stay near its anchor the widest is taken; where none
    does, the least.
    """
    if not anchors:
        return PITCHES[0], ()
    wanted = np.array(anchors, float)
    pitch, places = PITCHES[-1], wanted
    for pitch in PITCHES:
        found = _placed(wanted, size, pitch)
        if found is None:
            continue
        places = _untangled(wanted, found)
        if _gaps(places, wanted).max() <= FAR:
            break
    return pitch, tuple((float(x), float(y)) for x, y in places)


def _placed(wanted: Array, size: Point, pitch: float) -> Array | None:
    """Each mark at the free place nearest its anchor; None where there is none left."""
    grid = _grid(size)
    free = np.ones(len(grid), bool)
    within = np.all((wanted >= BORDER) & (wanted <= np.array(size) - BORDER), axis=1)
    # Those in the thick of it choose first, and the others make room.
    crowd = (_gaps(wanted[:, None], wanted[None]) < 1.5 * pitch).sum(axis=1)
    order = np.argsort(-crowd, kind="stable")
    found = np.full_like(wanted, np.nan)
    for n, k in enumerate(order):
        taken = found[order[:n]]
        if within[k] and (_gaps(taken, wanted[k]) >= pitch).all():
            found[k] = wanted[k]
        elif free.any():
            found[k] = grid[int(np.argmin(np.where(free, _gaps(grid, wanted[k]), np.inf)))]
        else:
            return None
        free &= _gaps(grid, found[k]) >= pitch
    return found


def _grid(size: Point) -> Array:
    ticks = [np.arange(BORDER, s - BORDER + 1e-9, STEP) for s in size]
    return np.stack(np.meshgrid(*ticks), axis=-1).reshape(-1, 2)


def _untangled(wanted: Array, places: Array) -> Array:
    """The same places, dealt so that the lines to the anchors are short; then none cross."""
    long = _gaps(wanted[:, None], places[None]).tolist()
    dealt = list(range(len(places)))
    better = True
    while better:
        better = False
        for a in range(len(dealt)):
            for b in range(a):
                p, q = dealt[a], dealt[b]
                if long[a][q] + long[b][p] < long[a][p] + long[b][q] - 1e-6:
                    dealt[a], dealt[b], better = q, p, True
    return places[dealt]


def _gaps(some: Array, others: Array) -> Array:
    away = some - others
    found: Array = np.hypot(away[..., 0], away[..., 1])
    return found
