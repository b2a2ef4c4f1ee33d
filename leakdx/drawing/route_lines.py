"""The arrows of a route in its views: each begins where the one before it ended."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from leakdx.drawing.frame import Frame
from leakdx.drawing.route_views import Ground, Leg, edge_shows
from leakdx.drawing.routes import along, points
from leakdx.drawing.seeing import Look, Seen
from leakdx.drawing.sheet import Point

Array = NDArray[np.float64]

REACH = 46.0  # how far an arrow reaches into the zone it leads to
CLEAR = 24.0  # how far from another arrow it should cross an edge
LEAST = 26.0  # an arrow is no shorter
ROOMY = 9.0  # room that an end wants round it


@dataclass(frozen=True)
class Line:
    """The arrow of a step on the sheet, from bend to bend.

    joined: it begins where an arrow in the same view ended, or at the seal point.  covered: its
    end does not show in this view.
    """

    leg: Leg
    panel: int
    points: tuple[Point, ...]
    joined: bool
    covered: bool


def lines_of(
    ground: Ground, frames: Sequence[Frame], where: Mapping[int, int], legs: Iterable[Leg]
) -> tuple[Line, ...]:
    """The arrows of all steps, in their order; ``where``: number of a step -> its frame."""
    ended: dict[tuple[int, int], Array] = {}
    came: dict[int, Array] = {}  # zone -> about where it was wetted, (3,) mm
    found: list[Line] = []
    for leg in legs:
        n = where[leg.number]
        came.setdefault(leg.target, _place_of(ground, leg))
        start = _seal_place(ground, frames[n], leg)
        if start is None and leg.source is not None:
            start = ended.get((n, leg.source))
        drawn = along([pair for a in found if a.panel == n for pair in pairwise(a.points)])
        at = _place_of(ground, leg) if leg.source is None else came[leg.source]
        near = _inside(frames[n], frames[n].project(at)) if start is None else start
        line, covered = _route(ground, frames[n], leg, (start, near), drawn)
        ended.setdefault((n, leg.target), line[-1])
        found.append(Line(leg, n, points(*line), start is not None, covered))
    return tuple(found)


def _place_of(ground: Ground, leg: Leg) -> Array:
    """About where a step wets its target, (3,) mm."""
    if leg.seal is not None:
        return ground.place_of(ground.machine.seal_points[leg.seal])
    edge = ground.edge(leg)
    place: Array = ground.surfaces.centre[leg.target] if edge is None else edge[0]
    return place


def _seal_place(ground: Ground, frame: Frame, leg: Leg) -> Array | None:
    if leg.seal is None:
        return None
    return frame.project(ground.place_of(ground.machine.seal_points[leg.seal]))


def _route(
    ground: Ground,
    frame: Frame,
    leg: Leg,
    begins: tuple[Array | None, Array],
    drawn: Array,
) -> tuple[list[Array], bool]:
    """Bends of an arrow, and whether its end is covered.

    begins: where an arrow before it ended in this view, or None; and about where its source was
    wetted.  drawn: points along the arrows before.
    """
    start, near = begins
    target = frame.view.get(leg.target)
    down = frame.direction(ground.down)
    cross = _crossing(ground, frame, leg, near, drawn)
    source = None if leg.source is None else frame.view.get(leg.source)
    if start is None:
        start = _beginning(frame, leg, cross, near, down)
    if target is None:
        end = _inside(frame, frame.project(ground.surfaces.centre[leg.target]))
        return [start, _far_enough(start, end, down)], True
    if leg.way == "drip" and source is not None and float(np.linalg.norm(down)) > 0.5:
        return _fall(frame, (source, target), start, down), target.look is Look.GHOST
    spots = _spots(frame, target)
    by = cross if cross is not None else start
    toward = down if float(np.linalg.norm(down)) > 0.5 else spots[0] - by
    ideal = by + REACH * _unit(
        toward if leg.seal is not None or cross is not None else spots[0] - by
    )
    end = _nearest(frame, target, ideal, start)
    bends = [start, end] if cross is None else [start, cross, end]
    if cross is not None and min(_length(cross - start), _length(end - cross)) < 12:
        bends = [start, end]
    if _length(bends[-1] - bends[-2]) < LEAST and len(bends) == 2:
        bends[-1] = _far_enough(start, end, down)
    return bends, target.look is Look.GHOST


def _crossing(ground: Ground, frame: Frame, leg: Leg, start: Array, drawn: Array) -> Array | None:
    """Where an arrow crosses the edge its zones share: near its start, clear of others."""
    edge = ground.edge(leg)
    if edge is None:
        return None
    shows = [n for n, p in enumerate(edge) if edge_shows(frame.view, leg, p)] or [0]
    places = np.array([_inside(frame, frame.project(edge[n])) for n in shows])
    cost = np.linalg.norm(places - start, axis=1)
    # Not of the arrow that ends where this one begins.
    drawn = drawn[np.linalg.norm(drawn - start, axis=1) > CLEAR]
    if len(drawn):
        gaps = np.linalg.norm(places[:, None, :] - drawn[None, :, :], axis=2).min(axis=1)
        cost = cost + 6 * np.maximum(CLEAR - gaps, 0)
    found: Array = places[int(np.argmin(cost))]
    return found


def _beginning(frame: Frame, leg: Leg, cross: Array | None, near: Array, down: Array) -> Array:
    """Where an arrow begins whose source was wetted in another view, about ``near``."""
    source = None if leg.source is None else frame.view.get(leg.source)
    if source is None:
        return near
    if cross is None:
        spots = _spots(frame, source)
        found: Array = spots[int(np.argmin(np.linalg.norm(spots - near, axis=1)))]
        return found
    toward = down if float(np.linalg.norm(down)) > 0.5 else cross - near
    return _nearest(frame, source, cross - REACH * _unit(toward), cross)


def _fall(frame: Frame, ends: tuple[Seen, Seen], start: Array, down: Array) -> list[Array]:
    """Along the source to over the target, then straight down onto it."""
    down = _unit(down)
    level = np.array([-down[1], down[0]])
    source, target = (_spots(frame, z) for z in ends)
    low = max((source @ level).min(), (target @ level).min())
    high = min((source @ level).max(), (target @ level).max())
    place = float(np.clip(start @ level, low, high)) if low <= high else float((low + high) / 2)
    near = source[np.argsort(np.abs(source @ level - place))[:12]]
    top = place * level + max(float((near @ down).max()), float(start @ down)) * down
    under = target[np.argsort(np.abs(target @ level - place))[:12]]
    below = under[under @ down > top @ down + 4]
    depth = float((below @ down).min()) if len(below) else float((under @ down).max())
    end = place * level + max(depth + 5, float(top @ down) + LEAST) * down
    if _length(top - start) < 14:
        return [start, end]
    return [start, top, end]


def _nearest(frame: Frame, seen: Seen, ideal: Array, clear_of: Array) -> Array:
    """The place in what is seen of a zone nearest to an ideal, with room, clear of a point."""
    spots = _spots(frame, seen)
    cost = np.linalg.norm(spots - ideal, axis=1)
    cost = cost + 2 * np.maximum(ROOMY - _room(frame, seen), 0)
    cost = cost + 2 * np.maximum(LEAST - np.linalg.norm(spots - clear_of, axis=1), 0)
    found: Array = spots[int(np.argmin(cost))]
    return found


def _spots(frame: Frame, seen: Seen) -> Array:
    """Places in what is seen of a zone that lie on the panel; all if none does."""
    places = frame.place(seen.spots)
    on = _on(frame, places)
    return places[on] if on.any() else places


def _room(frame: Frame, seen: Seen) -> Array:
    room: Array = seen.room * frame.scale
    on = _on(frame, frame.place(seen.spots))
    return room[on] if on.any() else room


def _on(frame: Frame, places: Array) -> NDArray[np.bool_]:
    low, high = corners(frame)
    found: NDArray[np.bool_] = np.all((places >= low) & (places <= high), axis=-1)
    return found


def corners(frame: Frame) -> tuple[Array, Array]:
    """What is drawn of a view on the sheet: its corners above left and below right, (2,)."""
    ends = frame.place(np.stack([frame.view.low, frame.view.high]))
    return ends.min(axis=0), ends.max(axis=0)


def _inside(frame: Frame, place: Array) -> Array:
    low, high = corners(frame)
    found: Array = np.clip(place, low + 4, high - 4)
    return found


def _far_enough(start: Array, end: Array, down: Array) -> Array:
    way = end - start
    if _length(way) < 4:
        way = down if float(np.linalg.norm(down)) > 0.5 else np.array([0.6, 0.8])
    return start + max(_length(way), LEAST) * _unit(way)


def _length(way: Array) -> float:
    return float(np.linalg.norm(way))


def _unit(way: Array) -> Array:
    return way / max(_length(way), 1e-9)
