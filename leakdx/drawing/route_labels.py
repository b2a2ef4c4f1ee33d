"""What is written in the views of a route: chances, names of zones, wet and dry."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from leakdx.drawing.frame import Frame
from leakdx.drawing.route_lines import Line, corners
from leakdx.drawing.route_views import Ground
from leakdx.drawing.routes import along
from leakdx.drawing.seeing import Look
from leakdx.drawing.sheet import Point
from leakdx.drawing.text import width_of, wrapped
from leakdx.drawing.words import name_of, percent

Array = NDArray[np.float64]

DISC = 10.0  # radius of the disc with a step's number
CHANCE = 15.0  # size of the letters of its chance
NAME = 12.0  # of the name of a zone
NAME_ROOM = 165.0
STATE = 9.5  # half the width of what says wet or dry
BOLD = 1.15  # how much wider bold letters are
SEAL = 12.0  # half the width of the mark of the seal point
_RING = [
    np.array([r * np.cos(a), r * np.sin(a)])
    for r in (0.0, 12.0, 24.0, 36.0, 50.0, 66.0, 84.0, 104.0)
    for a in np.linspace(0, 2 * np.pi, 16, endpoint=False)
]


@dataclass(frozen=True)
class Badge:
    """The number of a step and its chance beside its arrow; ``at``: the middle of the disc."""

    line: Line
    text: str
    at: Point


@dataclass(frozen=True)
class Name:
    """The name of a zone or a seal point in lines about ``at``; ``tied``: what it leads to."""

    lines: tuple[str, ...]
    at: Point
    tied: Point | None
    strong: bool = False

    @property
    def half(self) -> Array:
        """Half its width and height."""
        return _half(self.lines, BOLD if self.strong else 1.0)

    @property
    def leader(self) -> tuple[Point, Point] | None:
        """From what it names to the border of its lines; None where it lies close enough."""
        if self.tied is None:
            return None
        tied, middle = np.array(self.tied), np.array(self.at)
        end = np.clip(tied, middle - self.half - 1, middle + self.half + 1)
        if float(np.linalg.norm(end - tied)) < 14:
            return None
        return self.tied, (float(end[0]), float(end[1]))


@dataclass(frozen=True)
class State:
    """A zone that was read, and whether wet."""

    zone: int
    wet: bool
    at: Point


@dataclass(frozen=True)
class Writing:
    """All that is written in one view."""

    badges: tuple[Badge, ...]
    names: tuple[Name, ...]
    states: tuple[State, ...]


@dataclass
class _Taken:
    """Where something is already: middles and half sizes, and points along the arrows."""

    points: Array
    low: Array
    high: Array
    boxes: list[tuple[Array, Array]] = field(default_factory=list)

    def put(self, places: Array, half: Array, more: Array) -> Array:
        """The best of some places for a box, and takes it; more: what speaks against each."""
        cost = more.copy()
        for middle, size in self.boxes:
            apart = np.abs(places - middle) - (half + size + 2)
            cost += np.where((apart < 0).all(axis=1), 100.0 + 3 * -apart.max(axis=1), 0.0)
        if len(self.points):
            gaps = np.abs(places[:, None, :] - self.points[None, :, :])
            cost += 12 * np.minimum((gaps < half + 4).all(axis=2).sum(axis=1), 8)
        out = np.maximum(self.low - (places - half), 0) + np.maximum(places + half - self.high, 0)
        cost += 6 * out.sum(axis=1)
        best: Array = places[int(np.argmin(cost))]
        self.boxes.append((best, half))
        return best


def writing_in(
    ground: Ground, frame: Frame, lines: Sequence[Line], wet: Mapping[int, bool]
) -> Writing:
    """Places for all that is written in a view; lines: its arrows; wet: zones that were read."""
    low, high = corners(frame)
    taken = _Taken(along(_pieces(lines)), low - 16, high + 16)
    seals = {line.leg.seal: line.points[0] for line in lines if line.leg.seal is not None}
    taken.boxes += [(np.array(at), np.array([SEAL, SEAL])) for at in seals.values()]
    badges = tuple(_badge(line, taken) for line in lines)
    ends = _ends(lines)
    states = tuple(_states(frame, wet, ends, taken))
    names = [_name_of_seal(ground, k, at, taken) for k, at in seals.items()]
    names += [_name_of_zone(ground, frame, zone, at, taken) for zone, at in ends.items()]
    return Writing(badges, tuple(names), states)


def _pieces(lines: Iterable[Line]) -> list[tuple[Point, ...]]:
    return [(a, b) for line in lines for a, b in pairwise(line.points)]


def _ends(lines: Iterable[Line]) -> dict[int, Point]:
    """The zones that the arrows lead to or begin in, with a point of them."""
    found: dict[int, Point] = {}
    for line in lines:
        if line.leg.source is not None:
            found.setdefault(line.leg.source, line.points[0])
        found.setdefault(line.leg.target, line.points[-1])
    return found


def _badge(line: Line, taken: _Taken) -> Badge:
    text = percent(line.leg.chance)
    wide = 2 * DISC + 6 + BOLD * width_of(text, CHANCE)
    half = np.array([wide / 2, DISC + 1])
    places, cost = [], []
    pieces = [np.array(p) for p in line.points]
    for a, b in pairwise(pieces):
        way = (b - a) / max(float(np.linalg.norm(b - a)), 1e-9)
        side = np.array([-way[1], way[0]])
        reach = float(np.abs(side) @ half) + 6
        for part in (0.5, 0.35, 0.65, 0.2, 0.8):
            for off in (reach, -reach, reach + 14, -reach - 14, reach + 32, -reach - 32):
                places.append(a + part * (b - a) + off * side)
                cost.append(0.5 * abs(off) + 10 * abs(part - 0.5) - 0.1 * min(_long(a, b), 60))
    at = taken.put(np.array(places), half, np.array(cost))
    return Badge(line, text, (float(at[0] - wide / 2 + DISC), float(at[1])))


def _long(a: Array, b: Array) -> float:
    return float(np.linalg.norm(b - a))


def _states(
    frame: Frame, wet: Mapping[int, bool], ends: Mapping[int, Point], taken: _Taken
) -> Iterable[State]:
    half = np.array([STATE, STATE])
    for zone, is_wet in wet.items():
        seen = frame.view.get(zone)
        if seen is None or (seen.look is not Look.FACE and zone not in ends):
            continue
        places = frame.place(seen.spots)
        low, high = corners(frame)
        on = np.all((places >= low + 4) & (places <= high - 4), axis=1)
        if not on.any():
            continue
        places = places[on][:160]
        close = np.zeros(len(places))
        if zone in ends:
            close = 0.15 * np.linalg.norm(places - np.array(ends[zone]), axis=1)
        room = np.minimum(seen.room[on][:160] * frame.scale, STATE)
        at = taken.put(places, half, close - 2 * room)
        yield State(zone, is_wet, (float(at[0]), float(at[1])))


def _name_of_zone(ground: Ground, frame: Frame, zone: int, at: Point, taken: _Taken) -> Name:
    text = f"{name_of(ground.machine.zones[zone])}"
    seen = frame.view.get(zone)
    places = np.array([np.array(at) + step for step in _RING])
    if seen is not None:
        spots = frame.place(seen.spots)[:120]
        inside = np.zeros(len(spots)) + 0.04 * np.linalg.norm(spots - np.array(at), axis=1)
        places = np.vstack([places, spots])
    else:
        inside = np.zeros(0)
    far = [10 + 0.35 * float(np.linalg.norm(step)) for step in _RING]
    lines = wrapped(text, NAME_ROOM, NAME)
    middle = taken.put(places, _half(lines), np.concatenate([far, inside]))
    return Name(lines, (float(middle[0]), float(middle[1])), at)


def _name_of_seal(ground: Ground, seal: int, at: Point, taken: _Taken) -> Name:
    lines = wrapped(name_of(ground.machine.seal_points[seal]), NAME_ROOM, NAME)
    half = _half(lines, BOLD)
    steps = [s for s in _RING if float(np.linalg.norm(s)) > 20]
    places = np.array([np.array(at) + s for s in steps])
    cost = np.array([0.4 * float(np.linalg.norm(s)) for s in steps])
    middle = taken.put(places, half, cost)
    return Name(lines, (float(middle[0]), float(middle[1])), at, strong=True)


def _half(lines: Sequence[str], wider: float = 1.0) -> Array:
    wide = wider * max(width_of(line, NAME) for line in lines)
    return np.array([wide / 2, 0.58 * NAME * len(lines)])
