"""Where the marks of seal points and the numbers of zones go, clear of one another."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from leakdx.drawing.frame import Frame
from leakdx.drawing.routes import along
from leakdx.drawing.scene import LEAST_PART, Scene
from leakdx.drawing.seeing import Look, Seen, Side, View, toward
from leakdx.drawing.sheet import LABEL, MARK, Arrow, Label, Mark, Point
from leakdx.drawing.words import percent
from leakdx.machine.model import SealPoint

Array = NDArray[np.float64]

CROWDED = 25.0  # what must not speak against the best place in a zone
LEAST_ROOM = 5.0  # a zone with less room has its number beside it
SLACK_MM = 25.0  # a seal point this deep under what lies before it is still to be seen


def homes(scene: Scene, views: Sequence[View]) -> dict[Side, dict[int, bool]]:
    """For each view the seal points drawn in it, and whether they are to be seen there.

    One that is to be seen in no view is drawn, as not seen, where its zone faces most.
    """
    found: dict[Side, dict[int, bool]] = {view.side: {} for view in views}
    index = {z.id: k for k, z in enumerate(scene.machine.zones)}
    for k, seal in enumerate(scene.machine.seal_points):
        if scene.followed is not None and scene.followed.seal is not seal:
            continue
        zones = [index[z] for z in seal.zones]
        seen = [view for view in views if _shows(view, seal, zones)]
        for view in seen:
            found[view.side][k] = True
        if not seen:
            best = max(views, key=lambda view: _faces(view, scene, zones))
            found[best.side][k] = False
    return found


def _shows(view: View, seal: SealPoint, zones: Sequence[int]) -> bool:
    looks = {z.zone: z.look for z in view.zones}
    if not any(looks.get(k) is Look.FACE for k in zones):
        return False
    if seal.position_mm is None:
        return True
    return view.sees(np.array(seal.position_mm), SLACK_MM)


def _faces(view: View, scene: Scene, zones: Sequence[int]) -> float:
    return max(float(scene.flow.surfaces.normal[k] @ toward(view.side)) for k in zones)


def marks_in(frame: Frame, scene: Scene, drawn: Mapping[int, bool]) -> tuple[Mark, ...]:
    """The marks of one view, moved apart where they would lie on one another."""
    fluids = {f.id: n for n, f in enumerate(scene.machine.fluids)}
    index = {z.id: k for k, z in enumerate(scene.machine.zones)}
    anchors = {}
    for k in drawn:
        seal = scene.machine.seal_points[k]
        if seal.position_mm is not None:
            place = frame.project(np.array(seal.position_mm))
        else:
            here = [z for z in frame.view.zones if z.zone in {index[i] for i in seal.zones}]
            flat = here[0].spots[0] if here else None
            zone = scene.flow.surfaces.centre[index[seal.zones[0]]]
            place = frame.project(zone) if flat is None else frame.place(flat)
        anchors[k] = (float(place[0]), float(place[1]))
    placed = _apart(anchors)
    return tuple(
        Mark(
            seal=k,
            shape=fluids[scene.machine.seal_points[k].fluid],
            at=placed[k],
            anchor=anchors[k],
            seen=seen,
        )
        for k, seen in drawn.items()
    )


def _apart(anchors: dict[int, Point]) -> dict[int, Point]:
    """Each mark as near its place as the ones before it leave room."""
    taken: list[Point] = []
    placed: dict[int, Point] = {}
    for k, (x, y) in anchors.items():
        for dx, dy in _SPIRAL:
            here = (x + dx, y + dy)
            if all(np.hypot(here[0] - a, here[1] - b) >= 2 * MARK + 1.5 for a, b in taken):
                break
        taken.append(here)
        placed[k] = here
    return placed


_SPIRAL = [(0.0, 0.0)] + [
    (r * float(np.cos(a)), r * float(np.sin(a)))
    for r in np.arange(4, 140, 4)
    for a in np.linspace(0, 2 * np.pi, max(8, int(r)), endpoint=False)
]


def lines_of(zone: int, scene: Scene) -> tuple[str, ...]:
    """The number of a zone, and what part of the leak gets there."""
    number = str(zone + 1)
    if scene.followed is None:
        return (number,)
    part = float(scene.followed.trail.zones[zone])
    return (number, percent(part)) if part >= LEAST_PART else (number,)


def labels_in(
    frame: Frame, scene: Scene, marks: Sequence[Mark], arrows: Sequence[Arrow]
) -> tuple[Label, ...]:
    """The numbers of the zones that face the viewer, each where it covers least.

    A zone seen from its edge has one only if an arrow begins or ends there, or the leak that
    is followed gets there.
    """
    obstacles = (
        np.array([m.at for m in marks]).reshape(-1, 2),
        along([a.with_number for a in arrows]),
    )
    told = {z for a in arrows for z in (a.source, a.target)}
    zones = [
        z
        for z in frame.view.zones
        if z.look is not Look.EDGE or z.zone in told or len(lines_of(z.zone, scene)) > 1
    ]
    found: list[Label] = []
    taken: list[tuple[Array, Array]] = []
    # Those with the least room choose first.
    for seen in sorted(zones, key=lambda z: float(z.room[0])):
        text = lines_of(seen.zone, scene)
        half = half_size(text)
        spots = frame.place(seen.spots)
        against = partial(_against, half=half, obstacles=obstacles, taken=taken)
        n, tied, places = _best(frame, seen, against)
        taken.append((places[n], half))
        anchor = spots[int(np.argmin(np.linalg.norm(spots - places[n], axis=1)))]
        found.append(
            Label(
                seen.zone,
                text,
                _point(places[n]),
                _point(anchor) if tied else None,
                quiet=len(text) == 1 and (scene.followed is not None or seen.look is not Look.FACE),
            )
        )
    return tuple(found)


def _best(frame: Frame, seen: Seen, against: Callable[[Array], Array]) -> tuple[int, bool, Array]:
    """The place for a label among some, and whether it lies beside its zone."""
    spots = frame.place(seen.spots)
    room = seen.room * frame.scale
    inside = against(spots) - np.minimum(room, 12.0)
    roomy = room[0] >= LEAST_ROOM or seen.look is Look.GHOST
    if roomy and inside.min() < CROWDED:
        return int(np.argmin(inside)), False, spots
    places, far = _beside(frame, spots)
    return int(np.argmin(against(places) + far)), True, places


def _against(
    places: Array, half: Array, obstacles: tuple[Array, Array], taken: Sequence[tuple[Array, Array]]
) -> Array:
    """What speaks against a label at each place: marks, arrows and other labels there."""
    marks, lines = obstacles
    cost = 40 * _hits(places, half + MARK, marks) + 6 * _hits(places, half + 2, lines)
    for other, size in taken:
        cost = cost + 60 * np.all(np.abs(places - other) < half + size, axis=1)
    return cost


def _point(place: Array) -> Point:
    return float(place[0]), float(place[1])


def half_size(lines: Sequence[str]) -> Array:
    """Half the width and height of a label."""
    wide = max(0.6 * LABEL * (1.0 if n == 0 else 0.8) * len(t) for n, t in enumerate(lines))
    return np.array([wide / 2, LABEL * (0.42 + 0.45 * (len(lines) - 1))])


def _beside(frame: Frame, spots: Array) -> tuple[Array, Array]:
    """Places round what is seen of a small zone, and what speaks against each."""
    ring = np.array([(r * np.cos(a), r * np.sin(a)) for r in _RINGS for a in _ANGLES])
    bases = spots[:: max(len(spots) // 12, 1)]
    places = (bases[:, None, :] + ring[None, :, :]).reshape(-1, 2)
    cost = np.tile(np.repeat(0.25 * _RINGS, len(_ANGLES)), len(bases))
    on = _on_machine(frame, places)
    return places, cost + np.where(on, 9.0, 0.0)


_RINGS = np.array([13.0, 18.0, 24.0, 31.0, 40.0])
_ANGLES = np.linspace(0, 2 * np.pi, 16, endpoint=False)


def _on_machine(frame: Frame, places: Array) -> Array:
    """Whether anything of the machine shows at each place."""
    view = frame.view
    flat = frame.back(places)
    cells = np.floor((flat - view.low) / view.step).astype(int)
    rows, columns = view.front.shape
    inside = (cells >= 0).all(axis=1) & (cells[:, 0] < columns) & (cells[:, 1] < rows)
    cells = np.where(inside[:, None], cells, 0)
    found: Array = inside & np.isfinite(view.front[cells[:, 1], cells[:, 0]])
    return found


def _hits(spots: Array, half: Array, points: Array) -> Array:
    """How many points lie within a label's rectangle about each spot, at most 4."""
    low, high = spots.min(axis=0) - half, spots.max(axis=0) + half
    near = points[(points >= low).all(axis=1) & (points <= high).all(axis=1)]
    gaps = (np.abs(spots[:, axis, None] - near[None, :, axis]) < half[axis] for axis in (0, 1))
    return np.asarray(np.minimum(np.logical_and(*gaps).sum(axis=1), 4), float)
