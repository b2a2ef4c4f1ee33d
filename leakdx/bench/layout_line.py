"""What was measured of one layout: a line of a table."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from leakdx.bench.timed import Timing
from leakdx.files.schema import Schema, closed


@dataclass(frozen=True)
class LayoutLine:
    """One layout under its usual options, as a whole machine.

    variables: of the network.  width: variables in the largest table less one.  entries: of
    all tables.  detail: 0 where every way of the flow is followed.  build_s: median and
    interquartile range of building and compiling, attempts that turn out too wide included,
    s.  update_ms: of all posteriors after new readings, ms.
    """

    id: str
    zones: int
    seal_points: int
    variables: int
    width: int
    entries: int
    detail: int
    build_s: Timing
    update_ms: Timing

    def to_json_dict(self) -> dict[str, Any]:
        """Plain data, keys in the order of the fields."""
        return asdict(self)

    @property
    def cells(self) -> tuple[str, ...]:
        """The line of a table."""
        counts = (self.zones, self.seal_points, self.variables, self.width, self.entries)
        times = (self.build_s, self.update_ms)
        return (
            self.id,
            *(f"{n:,}" for n in (*counts, self.detail)),
            *(f"{x:.3g}" for t in times for x in (t.median, t.spread)),
        )


HEADS = (
    "layout",
    "zones",
    "seal points",
    "variables",
    "width",
    "entries",
    "detail",
    "build s",
    "spread",
    "update ms",
    "spread",
)


def json_schema() -> Schema:
    """The schema of one line."""
    count: Schema = {"type": "integer", "minimum": 0}
    timing = closed(
        {
            "median": {"type": "number", "minimum": 0},
            "spread": {"type": "number", "minimum": 0, "description": "interquartile range"},
            "repeats": count,
        }
    )
    return closed(
        {
            "id": {"type": "string"},
            "zones": count,
            "seal_points": count,
            "variables": count | {"description": "of the network with every zone"},
            "width": count | {"description": "variables in the largest table, less one"},
            "entries": count | {"description": "of all tables together"},
            "detail": count | {"description": "0 where every way of the flow is followed"},
            "build_s": timing | {"description": "building and compiling, s"},
            "update_ms": timing | {"description": "all posteriors after new readings, ms"},
        }
    )
