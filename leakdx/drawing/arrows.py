"""Which arrow is drawn in which view.

A way is drawn where both its zones show and at least one of them faces the viewer; drops only
where they are seen best, or long falling lines would cover the other views.  What shows
nowhere together with its target is drawn faint where its source shows best.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from leakdx.drawing import routes
from leakdx.drawing.frame import Frame
from leakdx.drawing.scene import LEAST_PART, LEAST_SHARE, Passage, Scene
from leakdx.drawing.seeing import Look, Seen
from leakdx.drawing.sheet import Arrow, Mark, Point
from leakdx.flow.courses import Way

Array = NDArray[np.float64]

MOST_FALLS = 2  # views in which one way of falling drops is drawn


def arrows_in(
    frames: Sequence[Frame],
    scene: Scene,
    marks: Sequence[Sequence[Mark]],
    *,
    everywhere: bool = False,
) -> tuple[tuple[Arrow, ...], ...]:
    """The arrows of each view, the strongest first.

    everywhere: falling drops are drawn in all views that show them, not only in the best.
    """
    drawn: list[list[Arrow]] = [[] for _ in frames]
    shown = [{z.zone: z for z in f.view.zones if z.look is not Look.GHOST} for f in frames]
    for p in scene.passages:
        for n in _stages(p, frames, shown, scene, everywhere):
            ends = (shown[n][p.source], shown[n][p.target])
            places = np.array([m.at for m in marks[n]]).reshape(-1, 2)
            falls = [a.points for a in drawn[n] if a.way is Way.DRIP]
            line = _route(frames[n], scene, p, ends, (places, falls))
            if line is not None:
                drawn[n].append(Arrow(p.source, p.target, p.way, p.amount, line))
        if not any((a.source, a.target, a.way) == _key(p) for found in drawn for a in found):
            _add_faint(drawn, frames, shown, scene, p)
    _add_ground(drawn, frames, shown, scene)
    return tuple(tuple(found) for found in drawn)


def _key(p: Passage) -> tuple[int, int, Way]:
    return p.source, p.target, p.way


def _stages(
    p: Passage,
    frames: Sequence[Frame],
    shown: Sequence[dict[int, Seen]],
    scene: Scene,
    everywhere: bool,
) -> list[int]:
    """The views in which a way is drawn."""
    both = [n for n, zones in enumerate(shown) if p.source in zones and p.target in zones]
    faces = [n for n in both if Look.FACE in (shown[n][p.source].look, shown[n][p.target].look)]
    if p.way is Way.DRIP:
        level = [n for n in both if _fall(frames[n], scene) is not None]
        looking = [n for n in level if shown[n][p.source].look is Look.FACE]
        if everywhere:
            return level
        best = sorted(looking or level, key=lambda n: -_plain_to_see(shown[n][p.source]))
        if looking and shown[best[0]][p.source].facing > 0.7:
            return best[:1]
        return best[:MOST_FALLS] if looking else best[:1]
    if p.way is Way.RUN:
        return faces or both[:1]
    return [n for n in faces if shown[n][p.source].look is shown[n][p.target].look] or both[:1]


def _plain_to_see(zone: Seen) -> float:
    return zone.facing + 0.3 * zone.seen


def _fall(frame: Frame, scene: Scene) -> Array | None:
    """The way drops fall in a view, a unit vector on the sheet; None along the sight."""
    down = frame.direction(scene.flow.down)
    length = float(np.linalg.norm(down))
    return down / length if length > 0.5 else None


def _route(
    frame: Frame,
    scene: Scene,
    p: Passage,
    ends: tuple[Seen, Seen],
    in_the_way: tuple[Array, Sequence[tuple[Point, ...]]],
) -> tuple[Point, ...] | None:
    marks, falls = in_the_way
    if p.way is Way.RUN:
        edge = _edge(scene, p)
        if edge is not None:
            return routes.across(frame, ends, (frame.project(edge[0]), edge[1]), marks)
    fall = _fall(frame, scene)
    if p.way is Way.DRIP and fall is not None:
        return routes.falling(frame, ends, fall, falls) or routes.between(frame, ends)
    return routes.between(frame, ends)


def _edge(scene: Scene, p: Passage) -> tuple[Array, float] | None:
    """Middle and length of the longest edge that two zones share; None where they share none."""
    shared = [e for e in scene.flow.edges if {e.first, e.second} == {p.source, p.target}]
    if not shared:
        return None
    longest = max(shared, key=lambda e: e.length_mm)
    return np.array(longest.middle), longest.length_mm


def _best(zone: int, shown: Sequence[dict[int, Seen]], among: Sequence[int]) -> int | None:
    """The view in which a zone shows best; None where in none."""
    there = [n for n in among if zone in shown[n] and shown[n][zone].look is Look.FACE]
    return max(there, key=lambda n: _plain_to_see(shown[n][zone]), default=None)


def _add_faint(
    drawn: list[list[Arrow]],
    frames: Sequence[Frame],
    shown: Sequence[dict[int, Seen]],
    scene: Scene,
    p: Passage,
) -> None:
    n = _best(p.source, shown, range(len(frames)))
    if n is None:
        # A covered zone is drawn as an outline in one view.
        n = next((n for n, f in enumerate(frames) if f.view.get(p.source) is not None), None)
    source = None if n is None else frames[n].view.get(p.source)
    if n is None or source is None:
        return
    target = frames[n].project(scene.flow.surfaces.centre[p.target])
    down = frames[n].direction(scene.flow.down)
    line = routes.toward_unseen(frames[n], source, target, down)
    drawn[n].append(Arrow(p.source, p.target, p.way, p.amount, line, faint=True))


def _add_ground(
    drawn: list[list[Arrow]],
    frames: Sequence[Frame],
    shown: Sequence[dict[int, Seen]],
    scene: Scene,
) -> None:
    """What falls clear of the machine, each where its zone shows best."""
    falls = {n: _fall(frame, scene) for n, frame in enumerate(frames)}
    level = [n for n, fall in falls.items() if fall is not None]
    followed = scene.followed
    shares = scene.flow.to_ground if followed is None else followed.trail.to_ground_from
    least = LEAST_SHARE if followed is None else LEAST_PART
    for zone in np.flatnonzero(shares >= least):
        k = int(zone)
        n = _best(k, shown, level)
        if n is None:
            n = next((n for n in level if k in shown[n]), None)
        fall = None if n is None else falls[n]
        if n is not None and fall is not None:
            line = routes.off_the_machine(frames[n], shown[n][k], fall)
            drawn[n].append(Arrow(k, None, Way.DRIP, float(shares[k]), line))
