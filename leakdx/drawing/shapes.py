"""The shapes that say which fluid a seal point holds in; no two fluids share one."""

from __future__ import annotations

import math

from leakdx.drawing.sheet import Point

# Corners, turn in degrees from a corner at the right, and size so that a number fits in.
_CORNERS: tuple[tuple[int, float, float], ...] = (
    (0, 0, 1.0),  # circle
    (4, 45, 1.25),  # square
    (4, 0, 1.4),  # diamond
    (3, -90, 1.9),  # triangle on its base
    (6, 0, 1.12),  # hexagon
    (3, 90, 1.9),  # triangle on its point
    (5, -90, 1.2),  # pentagon
    (8, 22.5, 1.1),  # octagon
)
NAMES = (
    "circle",
    "square",
    "diamond",
    "triangle on its base",
    "hexagon",
    "triangle on its point",
    "pentagon",
    "octagon",
)


def mark_path(shape: int, at: Point, size: float) -> str:
    """The outline of a mark about a point; from the ninth fluid on a ring lies round it."""
    kind, ring = shape % len(_CORNERS), shape // len(_CORNERS)
    path = _outline(kind, at, size)
    for k in range(ring):
        path += _outline(0, at, size * (1.75 + 0.3 * k))
    return path


def _outline(kind: int, at: Point, size: float) -> str:
    corners, turn, grow = _CORNERS[kind]
    x, y = at
    r = size * grow
    if not corners:
        arc = f"a{r:.1f} {r:.1f} 0 1 0"
        return f"M{x - r:.1f} {y:.1f}{arc} {2 * r:.1f} 0{arc} {-2 * r:.1f} 0Z"
    angles = [math.radians(turn + 360 * k / corners) for k in range(corners)]
    points = [f"{x + r * math.cos(a):.1f} {y + r * math.sin(a):.1f}" for a in angles]
    return "M" + "L".join(points) + "Z"
