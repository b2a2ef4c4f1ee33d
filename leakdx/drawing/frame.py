"""From the millimetres of a view to the places of the sheet, and which view goes where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdx.drawing.seeing import Side, View, page
from leakdx.drawing.sheet import MARGIN, WIDTH, Point

Array = NDArray[np.float64]

HEAD = 46.0  # room above a view for its title and its arrows
PAD = 26.0  # room round a view for what stands out of it
FOOT = 14.0  # more below it, for what falls to the ground
TALLEST = 1.35  # height of the views against the width of the sheet, unless nothing else fits
TALLEST_ALONE = 0.8  # the same for what is drawn of one view alone

_ORDERS: tuple[tuple[tuple[Side, ...], ...], ...] = (
    ((Side.LEFT, Side.RIGHT), (Side.TOP, Side.BELOW), (Side.FRONT, Side.REAR)),
    ((Side.LEFT, Side.RIGHT, Side.FRONT), (Side.TOP, Side.BELOW, Side.REAR)),
)


@dataclass(frozen=True, eq=False)
class Frame:
    """Where a view lies: ``at`` is the corner above left of its panel, ``scale`` units a mm."""

    view: View
    at: Point
    size: Point
    scale: float

    def place(self, flat: Array) -> Array:
        """Places on the sheet of points of the view, (..., 2), mm."""
        x, y = self._corner
        across = x + (flat[..., 0] - self.view.low[0]) * self.scale
        return np.stack([across, y + (self.view.high[1] - flat[..., 1]) * self.scale], axis=-1)

    def back(self, places: Array) -> Array:
        """Points of the view, mm, of places on the sheet, (..., 2)."""
        x, y = self._corner
        right = self.view.low[0] + (places[..., 0] - x) / self.scale
        return np.stack([right, self.view.high[1] - (places[..., 1] - y) / self.scale], axis=-1)

    @property
    def _corner(self) -> Point:
        """Where what is drawn begins, above left."""
        wide = float(self.view.high[0] - self.view.low[0]) * self.scale
        return self.at[0] + (self.size[0] - wide) / 2, self.at[1] + HEAD + PAD

    def project(self, point: Array) -> Array:
        """Place on the sheet of a point in machine axes, (2,)."""
        return self.place(page(self.view.side) @ point)

    def direction(self, vector: Array) -> Array:
        """A direction in machine axes as it lies on the sheet, (2,)."""
        right, up = page(self.view.side) @ vector
        return np.array([right, -up])


def frames_of(
    views: Sequence[View], top: float, only: Side | None = None
) -> tuple[tuple[Frame, ...], float]:
    """All views to one scale, rows from ``top`` down; and where the rows end.

    For only one view all have the frame of their own that they would have alone: where a way
    shows best is judged from all sides.
    """
    by_side = {v.side: v for v in views}
    if only is not None:
        alone = {v.side: _alone(v, top) for v in views}
        return tuple(alone[v.side][0] for v in views), alone[only][1]
    choices = [[[by_side[s] for s in row] for row in order] for order in _ORDERS]
    fits = [rows for rows in choices if _height(rows, _scale(rows)) <= TALLEST * WIDTH]
    rows = max(fits, key=_scale) if fits else min(choices, key=lambda r: _height(r, _scale(r)))
    return _laid(rows, _scale(rows), top)


def frames_below(views: Sequence[View], top: float, tallest: float) -> tuple[Frame, ...]:
    """Views below one another, each as large as fits.

    tallest: the greatest height of one against the width of the sheet.
    """
    found: list[Frame] = []
    for view in views:
        scale = min(_scale([[view]]), tallest * WIDTH / float(_size(view)[1]))
        frames, top = _laid([[view]], scale, top)
        found += frames
    return tuple(found)


def _alone(view: View, top: float) -> tuple[Frame, float]:
    scale = min(_scale([[view]]), TALLEST_ALONE * WIDTH / float(_size(view)[1]))
    frames, end = _laid([[view]], scale, top)
    return frames[0], end


def _size(view: View) -> Array:
    found: Array = view.high - view.low
    return found


def _columns(rows: Sequence[Sequence[View]]) -> list[float]:
    return [max(float(_size(v)[0]) for v in column) for column in zip(*rows, strict=True)]


def _scale(rows: Sequence[Sequence[View]]) -> float:
    room = WIDTH - 2 * MARGIN - 2 * PAD * len(rows[0])
    return room / sum(_columns(rows))


def _height(rows: Sequence[Sequence[View]], scale: float) -> float:
    tall = sum(max(float(_size(v)[1]) for v in row) for row in rows)
    return tall * scale + len(rows) * (HEAD + 2 * PAD + FOOT)


def _laid(
    rows: Sequence[Sequence[View]], scale: float, top: float
) -> tuple[tuple[Frame, ...], float]:
    spare = WIDTH - 2 * MARGIN - scale * sum(_columns(rows)) - 2 * PAD * len(rows[0])
    widths = [w * scale + 2 * PAD + spare / len(rows[0]) for w in _columns(rows)]
    found = []
    for row in rows:
        height = max(float(_size(v)[1]) for v in row) * scale + HEAD + 2 * PAD + FOOT
        left = MARGIN
        for view, width in zip(row, widths, strict=True):
            found.append(Frame(view, (left, top), (width, height), scale))
            left += width
        top += height
    return tuple(found), top
