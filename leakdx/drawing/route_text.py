"""The steps, the routes and the readings of a route sheet, and their words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from leakdx.drawing.key import LINE
from leakdx.drawing.route_lines import Line
from leakdx.drawing.route_views import Leg
from leakdx.drawing.seeing import Side
from leakdx.drawing.sheet import MARGIN, WIDTH
from leakdx.drawing.svg import text_at
from leakdx.drawing.text import SIZE, wrapped
from leakdx.drawing.words import TITLES, name_of, percent
from leakdx.machine.model import Machine

WORDS = {
    "shows": "shows on",
    "sideways": "creeps to",
    "run": "runs over the edge to",
    "drip": "drips onto",
    "carry": "is carried by the air to",
    "fling": "is flung onto",
    "wick": "is wicked along to",
}


class Step(Protocol):
    """One step of a route: from a seal point (the first) or a zone to a zone, by id."""

    @property
    def source(self) -> str: ...
    @property
    def target(self) -> str: ...
    @property
    def way(self) -> str: ...
    @property
    def chance(self) -> float: ...


class Route(Protocol):
    """A route from a seal point to a zone, by id; its chance and that the zone is wet at all."""

    @property
    def seal_point(self) -> str: ...
    @property
    def zone(self) -> str: ...
    @property
    def steps(self) -> Sequence[Step]: ...
    @property
    def chance(self) -> float: ...
    @property
    def arrives(self) -> float: ...


@dataclass(frozen=True)
class Listed:
    """What is listed below the views: the arrows, the sides of the views, the zones read."""

    lines: Sequence[Line]
    sides: Sequence[Side]
    wet: Mapping[int, bool]


def legs_of(machine: Machine, routes: Sequence[Route]) -> tuple[Leg, ...]:
    """The steps of all routes, each once, numbered in the order they are first taken."""
    zones = {z.id: k for k, z in enumerate(machine.zones)}
    seals = {s.id: k for k, s in enumerate(machine.seal_points)}
    found: dict[tuple[str, str, bool], Leg] = {}
    for route in routes:
        for n, s in enumerate(route.steps):
            key = (s.source, s.target, n == 0)
            if key not in found:
                seal = seals[s.source] if n == 0 else None
                source = None if n == 0 else zones[s.source]
                number = len(found) + 1
                found[key] = Leg(number, seal, source, zones[s.target], s.way, s.chance)
    return tuple(found.values())


def sentence_of(machine: Machine, leg: Leg) -> str:
    """A step in words."""
    source = (
        name_of(machine.seal_points[leg.seal])
        if leg.seal is not None
        else name_of(machine.zones[leg.source or 0])
    )
    target = name_of(machine.zones[leg.target])
    return f"{leg.number}: from {source} {WORDS[leg.way]} {target}, {percent(leg.chance)}"


def tables(
    machine: Machine, listed: Listed, routes: Sequence[Route], top: float
) -> tuple[list[str], float]:
    """The steps, the routes and the readings in words below ``top``, and where they end."""
    half = (WIDTH - 3 * MARGIN) / 2
    left = _steps(machine, listed, half)
    right = _routes(machine, routes, half) + _readings(machine, listed.wet, half)
    found: list[str] = []
    ends = []
    for x, paragraphs in ((MARGIN, left), (2 * MARGIN + half, right)):
        y = top + 20
        for number, lines in paragraphs:
            if number is None:
                y += 6
                found.append(text_at(lines[0], (x, y), 16, weight=700))
                y += 1.5 * LINE
                continue
            if number:
                found.append(text_at(number, (x + 20, y), SIZE, anchor="end", weight=700))
            for line in lines:
                found.append(text_at(line, (x + 28, y), SIZE))
                y += LINE
            y += 4
        ends.append(y)
    return found, max(ends) + MARGIN / 2


# A number (none for a heading) and lines.
_Paragraph = tuple[str | None, tuple[str, ...]]


def _steps(machine: Machine, listed: Listed, room: float) -> list[_Paragraph]:
    found: list[_Paragraph] = [(None, ("Steps",))]
    for line in listed.lines:
        leg = line.leg
        side = TITLES[listed.sides[line.panel]]
        start = f"{name_of(machine.seal_points[leg.seal])} " if leg.seal is not None else ""
        before = f"{start}{WORDS[leg.way]} {name_of(machine.zones[leg.target])}"
        covered = ", covered there" if line.covered else ""
        seen = f" ({side[:1].lower()}{side[1:]}{covered})" if len(listed.sides) > 1 else ""
        text = f"{before}: {percent(leg.chance)}{seen}"
        found.append((str(leg.number), wrapped(text, room - 28)))
    return found


def _routes(machine: Machine, routes: Sequence[Route], room: float) -> list[_Paragraph]:
    zones = {z.id: name_of(z) for z in machine.zones}
    legs = legs_of(machine, routes)
    names = [s.id for s in machine.seal_points], [z.id for z in machine.zones]
    numbers = {
        (names[0][g.seal] if g.seal is not None else names[1][g.source or 0], names[1][g.target]): g
        for g in legs
    }
    found: list[_Paragraph] = [(None, ("Routes",))]
    for route in routes:
        steps = ", ".join(str(numbers[s.source, s.target].number) for s in route.steps)
        text = (
            f"To {zones[route.zone]}: {steps}. The whole route {percent(route.chance)}; "
            f"wet if this leaks, by whatever way and from whatever leak, {percent(route.arrives)}."
        )
        found.append(("", wrapped(text, room - 28)))
    return found


def _readings(machine: Machine, wet: Mapping[int, bool], room: float) -> list[_Paragraph]:
    found: list[_Paragraph] = []
    for is_wet, letter in ((True, "W"), (False, "D")):
        names = [name_of(machine.zones[k]) for k, w in wet.items() if w is is_wet]
        if names:
            found.append((letter, wrapped("; ".join(names), room - 28)))
    return [(None, ("Read wet (W) and dry (D)",)), *found] if found else []
