"""A drawing as plain data: everything has its place on the sheet, in units of the sheet.

Points are (x, y), x to the right and y down the page, as SVG has them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from leakdx.drawing.seeing import Look, Side
from leakdx.flow.courses import Way

Point = tuple[float, float]

WIDTH = 1200.0
MARGIN = 24.0
MARK = 8.5  # half width of the mark of a seal point
THIN = 0.8  # stroke of an arrow to what does not show
LABEL = 13.0  # size of the letters of a zone's number


@dataclass(frozen=True)
class Patch:
    """A zone in one view.

    layer: from 0 (far) to 2 (near).  shade: 0, or from 1 to 4 by the part of the leak there.
    """

    zone: int
    look: Look
    outline: tuple[Point, ...]
    layer: int
    shade: int


@dataclass(frozen=True)
class Label:
    """Lines of words in a view about a zone, about a point.

    tied: what a line leads to where they lie beside the zone.  quiet: the leak does not get
    there.
    """

    zone: int
    lines: tuple[str, ...]
    at: Point
    tied: Point | None = None
    quiet: bool = False


@dataclass(frozen=True)
class Mark:
    """A seal point in one view; ``anchor`` is where it really is, ``seen`` whether it shows."""

    seal: int
    shape: int
    at: Point
    anchor: Point
    seen: bool


@dataclass(frozen=True)
class Arrow:
    """A way of the fluid in one view.

    target: None for what falls to the ground.  faint: the target does not show in any view
    together with the source, so the arrow only points there.
    """

    source: int
    target: int | None
    way: Way
    amount: float
    points: tuple[Point, ...]
    faint: bool = False

    @property
    def width(self) -> float:
        """Width of the stroke: the more takes the way the thicker."""
        return THIN if self.faint else 1.0 + 3.6 * self.amount

    @property
    def past(self) -> Point:
        """Where the number of what does not show stands, past the tip."""
        (x, y), (u, v) = self.points[0], self.points[-1]
        long = math.hypot(u - x, v - y) or 1.0
        return u + 8 * (u - x) / long, v + 8 * (v - y) / long

    @property
    def with_number(self) -> tuple[Point, ...]:
        """From the start to the tip, or to the number past it."""
        if not self.faint:
            return self.points
        (x, y), (u, v) = self.points[-1], self.past
        return self.points[0], (2 * u - x, 2 * v - y)


@dataclass(frozen=True)
class Panel:
    """One view on the sheet; ``at`` is its corner above left."""

    side: Side
    at: Point
    size: Point
    patches: tuple[Patch, ...]
    arrows: tuple[Arrow, ...]
    marks: tuple[Mark, ...]
    labels: tuple[Label, ...]


@dataclass(frozen=True)
class Entry:
    """A line, or a few, of the key.

    number: None for the name of a fluid over its seal points.  mark: the shape of a fluid.
    """

    number: int | None
    lines: tuple[str, ...]
    at: Point
    mark: int | None = None


class Sign(StrEnum):
    """What a line of the legend explains."""

    WAY = "way"
    PART = "part"
    GROUND = "ground"
    FAINT = "faint"
    FLUID = "fluid"
    UNSEEN = "unseen"
    HIDDEN = "hidden"
    SHADE = "shade"


@dataclass(frozen=True)
class Item:
    """A sample of a sign, ``which`` of its kind (or how much), and what it means."""

    sign: Sign
    which: float
    text: str
    at: Point


@dataclass(frozen=True)
class Heading:
    """A heading of the key."""

    text: str
    at: Point


@dataclass(frozen=True)
class Sheet:
    """The whole drawing; ``scale`` is units of the sheet a mm."""

    size: Point
    scale: float
    panels: tuple[Panel, ...]
    headings: tuple[Heading, ...]
    entries: tuple[Entry, ...]
    legend: tuple[Item, ...]
