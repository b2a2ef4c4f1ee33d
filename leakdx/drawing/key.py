"""The key: which number is which zone and which seal point, in columns that fit the sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from leakdx.drawing.scene import Scene
from leakdx.drawing.sheet import MARGIN, WIDTH, Entry, Heading
from leakdx.drawing.text import NO_BREAK, wrapped
from leakdx.drawing.words import name_of, percent

COLUMNS = 3
LINE = 16.0
GAP = 3.0
INDENT = 32.0


@dataclass(frozen=True)
class Listed:
    """What the key lists (indices); of the zones ``covered`` are to be seen from no side."""

    zones: frozenset[int]
    covered: frozenset[int]
    seals: frozenset[int]


@dataclass(frozen=True)
class _Thing:
    """What is to be an entry; without a number it is a heading over those that follow."""

    number: int | None
    text: str
    mark: int | None = None


def key_of(
    scene: Scene, listed: Listed, top: float
) -> tuple[tuple[Heading, ...], tuple[Entry, ...], float]:
    """Headings and entries below ``top``, and where they end."""
    zones = [_Thing(k + 1, _zone(scene, k, listed)) for k in sorted(listed.zones)]
    followed = scene.followed is not None
    more = ", with the part of the leak that is expected to get there" if followed else ""
    headings: list[Heading] = []
    entries: list[Entry] = []
    for title, things in (
        ("Zones" + more, zones),
        ("Seal points, by fluid", list(_seals(scene, listed))),
    ):
        if things:
            headings.append(Heading(title, (MARGIN, top + 24)))
            found, top = _columned(things, top + 36)
            entries += found
    return tuple(headings), tuple(entries), top


def _zone(scene: Scene, zone: int, listed: Listed) -> str:
    text = name_of(scene.machine.zones[zone])
    if zone in listed.covered:
        text += " (covered from every side)"
    if scene.followed is not None:
        part = float(scene.followed.trail.zones[zone])
        text += f": {percent(part).replace(' ', NO_BREAK)}" if part > 0 else ""
    return text


def _seals(scene: Scene, listed: Listed) -> Iterator[_Thing]:
    """The seal points under the names of their fluids."""
    for shape, fluid in enumerate(scene.machine.fluids):
        mine = [
            _Thing(k + 1, name_of(seal), shape)
            for k, seal in enumerate(scene.machine.seal_points)
            if seal.fluid == fluid.id and k in listed.seals
        ]
        if mine:
            yield _Thing(None, name_of(fluid), shape)
            yield from mine


def _columned(things: Sequence[_Thing], top: float) -> tuple[list[Entry], float]:
    wide = (WIDTH - 2 * MARGIN) / COLUMNS
    texts = [wrapped(thing.text, wide - INDENT - 12) for thing in things]
    tall = [len(lines) * LINE + GAP for lines in texts]
    # A heading stays with the first of what it is over.
    bound = [
        height + (tall[n + 1] if things[n].number is None else 0.0) for n, height in enumerate(tall)
    ]
    most = _height_of_columns(tall, bound)
    places, _ = _placed(tall, bound, most)
    found = [
        Entry(thing.number, lines, (MARGIN + column * wide, top + y), thing.mark)
        for thing, lines, (column, y) in zip(things, texts, places, strict=True)
    ]
    return found, top + max(y + height for (_, y), height in zip(places, tall, strict=True))


def _height_of_columns(tall: Sequence[float], bound: Sequence[float]) -> float:
    """The least height at which all entries fit into the columns."""
    most = max(sum(tall) / COLUMNS, max(bound))
    while _placed(tall, bound, most)[1] > COLUMNS:
        most += GAP
    return most


def _placed(
    tall: Sequence[float], bound: Sequence[float], most: float
) -> tuple[list[tuple[int, float]], int]:
    """Column and height of each entry, and how many columns that takes."""
    column, y = 0, 0.0
    places = []
    for height, needed in zip(tall, bound, strict=True):
        if y > 0 and y + needed > most + 0.01:
            column, y = column + 1, 0.0
        places.append((column, y))
        y += height
    return places, column + 1
