"""The drawn machine to tap: six views on a small screen, each with its zones and seal points.

A view has coordinates of its own, x to the right and y down from its corner above left.  One
unit is about one point of a screen 360 points wide, so that what must not be smaller than a
fingertip can be said in units.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from leakdx.drawing import frame as frame_of_sheet
from leakdx.drawing.frame import Frame
from leakdx.drawing.labels import SLACK_MM
from leakdx.drawing.seeing import Look, Seen, Side, View, toward, views_of
from leakdx.drawing.sheet import Point
from leakdx.drawing.spread import spread
from leakdx.drawing.words import TITLES, across_on, down_on, name_of
from leakdx.flow.attitude import Attitude
from leakdx.flow.surfaces import Surfaces, surfaces_of
from leakdx.machine.model import Machine, SealKind, SealPoint

Array = NDArray[np.float64]

WIDTH = 360.0
TALLEST = 400.0  # height of what is drawn in a view, where its shape allows the full width
PAD = 30.0  # room round what is drawn for marks that found none on it
HALF_SEEN = 0.5  # a zone that faces the viewer and of which less shows is seen partly
ENOUGH_ROOM = 14.0  # a number with that much room round it has no use for more
ON_A_MARK = 12.0  # this near the middle of a mark a number would lie under it


@dataclass(frozen=True)
class TapZone:
    """A zone in one view.

    points: corners of its outline.  look: full, partly, edge (a strip) or ghost (covered from
    everywhere).  layer: from 0 (far) to 2 (near).  label: a place within what shows of it;
    room: how far that is from the border of what shows.
    """

    zone: str
    points: tuple[Point, ...]
    look: str
    layer: int
    label: Point
    room: float


@dataclass(frozen=True)
class TapMark:
    """A seal point in one view: where its mark is tapped, and where the joint really is.

    seen: False where something lies before it.
    """

    seal: str
    at: Point
    anchor: Point
    shape: int
    seen: bool


@dataclass(frozen=True)
class TapView:
    """One view; zones in the order they are painted, the far ones first.

    scale: units a mm.  down: where gravity points on the page, the machine level, or in
    words where that is along the sight.  pitch: least distance between two marks.
    """

    side: Side
    title: str
    width: float
    height: float
    scale: float
    across: str
    across_right: bool
    down: Point | str
    pitch: float
    zones: tuple[TapZone, ...]
    seals: tuple[TapMark, ...]


@dataclass(frozen=True)
class NamedZone:
    """A zone of the machine; ``view`` is where it shows best, ``seals`` what may wet it first."""

    id: str
    number: int
    name: str
    hidden: bool
    seals: tuple[str, ...]
    view: Side


@dataclass(frozen=True)
class NamedSeal:
    """A seal point of the machine; ``view`` is where it shows best."""

    id: str
    number: int
    name: str
    kind: str
    fluid: str
    zones: tuple[str, ...]
    shape: int
    view: Side


@dataclass(frozen=True)
class NamedFluid:
    """A fluid of the machine and the shape of the marks of its seal points."""

    id: str
    name: str
    shape: int


@dataclass(frozen=True)
class TapMap:
    """The drawn machine of a small screen, with all it names, in the order of the file."""

    views: tuple[TapView, ...]
    zones: tuple[NamedZone, ...]
    seals: tuple[NamedSeal, ...]
    fluids: tuple[NamedFluid, ...]


def tap_map(machine: Machine) -> TapMap:
    """The six views of a machine, left, right, top, below, front, rear.

    Where fluid runs plays no part in it: only surfaces, and what covers what.
    """
    surfaces = surfaces_of(machine)
    views = views_of(surfaces)
    worth = [_worth(view, surfaces) for view in views]
    homes = _homes(machine, surfaces, views)
    shapes = {f.id: n for n, f in enumerate(machine.fluids)}
    return TapMap(
        tuple(_view(machine, v, drawn) for v, drawn in zip(views, homes, strict=True)),
        tuple(
            NamedZone(
                zone.id,
                k + 1,
                name_of(zone),
                zone.hidden,
                tuple(s.id for s in machine.seal_points if zone.id in s.zones),
                _best([w.get(k) for w in worth]),
            )
            for k, zone in enumerate(machine.zones)
        ),
        tuple(
            NamedSeal(
                seal.id,
                k + 1,
                name_of(seal),
                kind_said(seal.kind),
                seal.fluid,
                seal.zones,
                shapes[seal.fluid],
                _best_of_seal(machine, k, worth, homes),
            )
            for k, seal in enumerate(machine.seal_points)
        ),
        tuple(NamedFluid(f.id, name_of(f), n) for n, f in enumerate(machine.fluids)),
    )


def to_json(found: TapMap) -> dict[str, Any]:
    """The map as plain data: keys views, zones, seals, fluids; lengths to a tenth of a unit."""
    plain: dict[str, Any] = _plain(asdict(found))
    for view, said in zip(found.views, plain["views"], strict=True):
        said["scale"] = view.scale
    return plain


def kind_said(kind: SealKind) -> str:
    """A kind of seal point in words."""
    return kind.value.replace("o_ring", "O-ring").replace("_", " ")


def _plain(value: Any) -> Any:
    match value:
        case dict():
            return {key: _plain(each) for key, each in value.items()}
        case tuple():
            return [_plain(each) for each in value]
        case float():
            return round(value, 1)
        case Side():
            return value.value
        case _:
            return value


def _worth(view: View, s: Surfaces) -> dict[int, float]:
    """How well each zone shows in a view: what is seen of it, mm2, the more the more it faces.

    One that is seen nowhere has least where its outline is drawn all the same.
    """
    found = {}
    for z in view.zones:
        if z.look is Look.FACE:
            found[z.zone] = z.seen * _area(z.outline) * (1.1 + z.facing)
        elif z.look is Look.GHOST:
            found[z.zone] = 1e-6
    return found


def _area(outline: Array) -> float:
    x, y = outline.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def _best(worth: Sequence[float | None]) -> Side:
    known = [-1.0 if w is None else w for w in worth]
    return tuple(Side)[int(np.argmax(known))]


def _best_of_seal(
    machine: Machine,
    seal: int,
    worth: Sequence[Mapping[int, float]],
    homes: Sequence[Mapping[int, bool]],
) -> Side:
    """The view in which most of its zones is seen, of those in which its mark is."""
    index = {z.id: k for k, z in enumerate(machine.zones)}
    zones = [index[z] for z in machine.seal_points[seal].zones]
    return _best(
        [
            max(shown.get(z, 0.0) for z in zones) if seal in drawn else None
            for shown, drawn in zip(worth, homes, strict=True)
        ]
    )


def _homes(machine: Machine, s: Surfaces, views: Sequence[View]) -> tuple[dict[int, bool], ...]:
    """For each view the seal points drawn in it, and whether they are seen there.

    One that is seen nowhere is drawn where a zone of its is drawn, or else faces most.
    """
    index = {z.id: k for k, z in enumerate(machine.zones)}
    found: tuple[dict[int, bool], ...] = tuple({} for _ in views)
    for k, seal in enumerate(machine.seal_points):
        zones = [index[z] for z in seal.zones]
        seen = [n for n, view in enumerate(views) if _shows(view, seal, zones)]
        for n in seen:
            found[n][k] = True
        if not seen:
            found[_least_bad(views, s, zones)][k] = False
    return found


def _shows(view: View, seal: SealPoint, zones: Sequence[int]) -> bool:
    if not any(z.look is Look.FACE for z in view.zones if z.zone in zones):
        return False
    return seal.position_mm is None or view.sees(np.array(seal.position_mm), SLACK_MM)


def _least_bad(views: Sequence[View], s: Surfaces, zones: Sequence[int]) -> int:
    def rank(n: int) -> tuple[bool, float]:
        drawn = any(z.zone in zones and z.look is not Look.EDGE for z in views[n].zones)
        return drawn, max(float(s.normal[k] @ toward(views[n].side)) for k in zones)

    return max(range(len(views)), key=rank)


def _view(machine: Machine, view: View, drawn: Mapping[int, bool]) -> TapView:
    size = view.high - view.low
    scale = min((WIDTH - 2 * PAD) / float(size[0]), TALLEST / float(size[1]))
    height = float(size[1]) * scale + 2 * PAD
    # A frame keeps room for the title of a view on a sheet; here there is none.
    frame = Frame(view, (0.0, PAD - frame_of_sheet.HEAD - frame_of_sheet.PAD), (WIDTH, 0), scale)
    anchors = {k: _anchor(machine, frame, k) for k in drawn}
    pitch, places = spread(tuple(anchors.values()), (WIDTH, height))
    shapes = {f.id: n for n, f in enumerate(machine.fluids)}
    seals = {k: machine.seal_points[k] for k in drawn}
    across, way = across_on(view.side)
    down = down_on(view.side, Attitude())
    return TapView(
        side=view.side,
        title=TITLES[view.side],
        width=WIDTH,
        height=height,
        scale=scale,
        across=across,
        across_right=way > 0,
        # On the page y points down.
        down=down if isinstance(down, str) else (down[0], -down[1]),
        pitch=pitch,
        zones=_zones(machine, frame, np.array(places)),
        seals=tuple(
            TapMark(seal.id, at, anchors[k], shapes[seal.fluid], drawn[k])
            for (k, seal), at in zip(seals.items(), places, strict=True)
        ),
    )


def _anchor(machine: Machine, frame: Frame, seal: int) -> Point:
    """Where a seal point is; of one without a position, where its zone has most room."""
    joint = machine.seal_points[seal]
    if joint.position_mm is not None:
        return _point(frame.project(np.array(joint.position_mm)))
    zones = [machine.zones[z.zone] for z in frame.view.zones]
    here = [n for n, zone in enumerate(zones) if zone.id in joint.zones]
    if here:
        return _point(frame.place(frame.view.zones[here[0]].spots[0]))
    first = next(z for z in machine.zones if z.id == joint.zones[0])
    return _point(frame.project(np.array(first.centroid_mm)))


def _zones(machine: Machine, frame: Frame, marks: Array) -> tuple[TapZone, ...]:
    zones = frame.view.zones
    outlines = [frame.place(z.outline) for z in zones]
    low, high = (np.array([end(o, axis=0) for o in outlines]) for end in (np.min, np.max))
    found = []
    for n, seen in enumerate(zones):
        meet = ((low < high[n]) & (high > low[n])).all(axis=1)
        over = [
            outlines[m]
            for m in range(n + 1, len(zones))
            if meet[m] and zones[m].look is not Look.GHOST
        ]
        k = _label_spot(frame, seen, over, marks)
        found.append(
            TapZone(
                zone=machine.zones[seen.zone].id,
                points=tuple(_point(p) for p in outlines[n]),
                look=_look(seen),
                layer=min(int(3 * seen.near), 2),
                label=_point(frame.place(seen.spots[k])),
                room=float(seen.room[k] * frame.scale),
            )
        )
    return tuple(found)


def _label_spot(frame: Frame, seen: Seen, over: Sequence[Array], marks: Array) -> int:
    """Which of the places in a zone is best: roomy, on top, and under no mark.

    over: outlines painted later.  Where bodies run into one another they may cover what the
    rays see.
    """
    spots, room = frame.place(seen.spots), np.minimum(seen.room * frame.scale, ENOUGH_ROOM)
    away = spots[:, None] - marks.reshape(1, -1, 2)
    under = (np.hypot(away[..., 0], away[..., 1]) < ON_A_MARK).any(axis=1)
    covered = np.zeros(len(spots), bool)
    if seen.look is not Look.GHOST:
        for outline in over:
            covered |= _inside(outline, spots)
    return int(np.argmax(room - ENOUGH_ROOM * under - 2 * ENOUGH_ROOM * covered))


def _inside(outline: Array, places: Array) -> NDArray[np.bool_]:
    """Whether places lie within a convex outline, or on it."""
    along = np.roll(outline, -1, axis=0) - outline
    to = places[:, None] - outline
    turn = along[:, 0] * to[..., 1] - along[:, 1] * to[..., 0]
    return np.asarray(np.all(turn >= -1e-6, axis=1) | np.all(turn <= 1e-6, axis=1))


def _look(seen: Seen) -> str:
    if seen.look is Look.FACE:
        return "full" if seen.seen >= HALF_SEEN else "partly"
    return "edge" if seen.look is Look.EDGE else "ghost"


def _point(place: Array) -> Point:
    return float(place[0]), float(place[1])
