"""Small made-up machines of flat patches, and ways to move, mirror and turn them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from typing import Any

from leakdx.flow.courses import FlowMap, Way, Wind, flow_map
from leakdx.machine.model import Box, Fluid, FluidKind, Machine, SealKind, SealPoint, Zone
from leakdx.priors.read import shipped_priors

Point = tuple[float, float, float]
Shares = dict[tuple[str, str], float]

SIDES = ("front", "rear", "left", "right")
STILL = Wind()
OIL = Fluid(id="oil", kind=FluidKind.ENGINE_OIL)


def patch(name: str, centre: Point, normal: Point, size: Point, **more: Any) -> Zone:
    """A zone that fills the box of ``size`` mm about ``centre``; flat where a size is 0."""
    half = [s / 2 for s in size]
    low = tuple(c - h for c, h in zip(centre, half, strict=True))
    high = tuple(c + h for c, h in zip(centre, half, strict=True))
    spans = sorted(size)
    return Zone(
        id=name,
        centroid_mm=centre,
        normal=normal,
        area_mm2=max(spans[1], 1.0) * spans[2],
        bbox_mm=Box(low=low, high=high),
        **more,
    )


def box(
    size: Point = (400, 400, 200), middle: Point = (0, 0, 400), **more: Any
) -> tuple[Zone, ...]:
    """The six faces of a closed box."""
    (a, b, c), (x, y, z) = size, middle
    return (
        patch("top", (x, y, z + c / 2), (0, 0, 1), (a, b, 0), **more),
        patch("front", (x + a / 2, y, z), (1, 0, 0), (0, b, c), **more),
        patch("rear", (x - a / 2, y, z), (-1, 0, 0), (0, b, c), **more),
        patch("left", (x, y + b / 2, z), (0, 1, 0), (a, 0, c), **more),
        patch("right", (x, y - b / 2, z), (0, -1, 0), (a, 0, c), **more),
        patch("underside", (x, y, z - c / 2), (0, 0, -1), (a, b, 0), **more),
    )


def tray(height: float = 0.0, size: Point = (900, 900, 0), name: str = "tray") -> Zone:
    """A wide level plate that looks up."""
    return patch(name, (0, 0, height), (0, 0, 1), size)


def machine(zones: Sequence[Zone], **more: Any) -> Machine:
    """A machine of those zones with one oil and, unless told otherwise, one joint."""
    parts: dict[str, Any] = {
        "format": "leakdx-machine/1",
        "id": "bench_box",
        "version": "1",
        "name": "Made-up box on a bench",
        "fluids": (OIL,),
        "zones": tuple(zones),
        "seal_points": (
            SealPoint(id="joint", kind=SealKind.FLAT_GASKET, zones=(zones[0].id,), fluid="oil"),
        ),
    }
    return Machine(**(parts | more))


def flow_of(made: Machine, wind: Wind = STILL) -> FlowMap:
    return flow_map(made, wind, shipped_priors())


def shares(flow: FlowMap, way: Way | None = None) -> Shares:
    """Share of what leaves the first zone that goes to the second, over all ways or one."""
    ids = flow.surfaces.ids
    total: Shares = defaultdict(float)
    for c in flow.courses:
        if way is None or c.way is way:
            total[ids[c.source], ids[c.target]] += c.share
    return dict(total)


def shares_from(flow: FlowMap, zone: str) -> dict[str, float]:
    """Share of what leaves a zone that goes to each other zone."""
    return {target: share for (source, target), share in shares(flow).items() if source == zone}


def ground_of(flow: FlowMap) -> dict[str, float]:
    return {z: float(g) for z, g in zip(flow.surfaces.ids, flow.to_ground, strict=True)}


def mapped(
    made: Machine, point: Callable[[Point], Point], vector: Callable[[Point], Point]
) -> Machine:
    """The machine with every place and every direction taken to where they go."""
    zones = []
    for zone in made.zones:
        update: dict[str, Any] = {
            "centroid_mm": point(zone.centroid_mm),
            "normal": vector(zone.normal),
            "spin_axis": vector(zone.spin_axis),
        }
        if zone.bbox_mm is not None:
            ends = zip(point(zone.bbox_mm.low), point(zone.bbox_mm.high), strict=True)
            corners = [sorted(pair) for pair in ends]
            update["bbox_mm"] = Box(
                low=tuple(c[0] for c in corners), high=tuple(c[1] for c in corners)
            )
        zones.append(zone.model_copy(update=update))
    return made.model_copy(update={"zones": tuple(zones)})


def moved(made: Machine, by: Point) -> Machine:
    def point(p: Point) -> Point:
        return p[0] + by[0], p[1] + by[1], p[2] + by[2]

    return mapped(made, point, lambda v: v)


def mirrored(made: Machine) -> Machine:
    """Left and right exchanged."""
    return mapped(made, lambda p: (p[0], -p[1], p[2]), lambda v: (v[0], -v[1], v[2]))


def turned(made: Machine) -> Machine:
    """A quarter turn to the left about the upright axis."""
    return mapped(made, lambda p: (-p[1], p[0], p[2]), lambda v: (-v[1], v[0], v[2]))
