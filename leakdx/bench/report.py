"""What a run measured: rows, the computer it ran on, as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

from leakdx.bench.layout_line import HEADS, LayoutLine
from leakdx.bench.layout_line import json_schema as layout_schema
from leakdx.files.schema import closed

FORMAT = "leakdx-bench/1"
NOT_ASKED = "the referees were not asked"
COLUMNS = ("name", "size", "median", "spread", "unit", "vs_pyagrum", "vs_pgmpy")


@dataclass(frozen=True)
class Against:
    """How many times faster than a referee doing the same in the same run.

    ``at_least``: the referee was stopped before it was done, so this is a lower bound.
    """

    times: float
    at_least: bool = False

    def __str__(self) -> str:
        # Three digits say all that a ratio of two timings can.
        shown = f"{self.times:.3g}" if self.times < 1000 else f"{float(f'{self.times:.3g}'):.0f}"
        return f"at least {shown}" if self.at_least else shown


@dataclass(frozen=True)
class Row:
    """One measurement.

    size: what it was done on, in words.  median, spread: of the repeats, in ``unit``; the
    spread is the interquartile range; None where the measurement failed.  vs_pyagrum,
    vs_pgmpy: None where there is no comparison, with the reason in ``notes``.
    """

    name: str
    what: str
    size: str
    repeats: int
    median: float | None
    spread: float | None
    unit: str
    vs_pyagrum: Against | None = None
    vs_pgmpy: Against | None = None
    notes: tuple[str, ...] = ()

    def to_json_dict(self) -> dict[str, Any]:
        """Plain data, keys in the order of the fields."""
        found = {f.name: getattr(self, f.name) for f in fields(self)}
        for key in ("vs_pyagrum", "vs_pgmpy"):
            against = found[key]
            if against is not None:
                found[key] = {"times": against.times, "at_least": against.at_least}
        return found | {"notes": list(self.notes)}


@dataclass(frozen=True)
class Computer:
    """Where the run took place.

    threads: how many the matrix products may use, the referees likewise; threads_from: the
    environment variable that says so, or None where it is the number of processors.
    load: processes that wanted a processor in the minute before the start; None if unknown.
    """

    python: str
    numpy: str
    platform: str
    cpu_count: int
    threads: int
    threads_from: str | None
    load: float | None
    pyagrum: str | None
    pgmpy: str | None


@dataclass(frozen=True)
class Report:
    """All rows of one run."""

    leakdx: str
    computer: Computer
    job: str
    machine: str
    zones: int
    seal_points: int
    quick: bool
    rows: tuple[Row, ...]
    layouts: tuple[LayoutLine, ...] = ()

    def to_json_dict(self) -> dict[str, Any]:
        """Plain data in the shape that ``json_schema`` describes."""
        about = {f.name: getattr(self.computer, f.name) for f in fields(Computer)}
        return {
            "format": FORMAT,
            "leakdx": self.leakdx,
            "computer": about,
            "reference": {
                "job": self.job,
                "machine": self.machine,
                "zones": self.zones,
                "seal_points": self.seal_points,
            },
            "quick": self.quick,
            "rows": [row.to_json_dict() for row in self.rows],
            "layouts": [line.to_json_dict() for line in self.layouts],
        }

    def to_text(self) -> str:
        """The rows as a table, and the notes below it."""
        c = self.computer
        said = c.threads_from or "number of processors"
        load = "" if c.load is None else f", load at start {c.load:.2f}"
        lines = [
            f"leakdx {self.leakdx}, Python {c.python}, numpy {c.numpy}, {c.platform}",
            f"processors: {c.cpu_count}, threads: {c.threads} ({said}){load}",
            f"referees: pyagrum {c.pyagrum or 'not installed'}, pgmpy {c.pgmpy or 'not installed'}",
            f"job {self.job} on {self.machine}: {self.zones} zones, "
            f"{self.seal_points} seal points" + (", few repeats" if self.quick else ""),
            "",
            *_table([COLUMNS, *(_cells(row) for row in self.rows)], (2, 3, 5, 6)),
            "",
            "spread: interquartile range; vs_*: how many times faster than that library;",
            f"blank without a note: {NOT_ASKED}",
        ]
        for row in self.rows:
            lines.append(f"{row.name}: {row.what}")
            lines += [f"  {note}" for note in row.notes if note != NOT_ASKED]
        if self.layouts:
            numbers = tuple(range(1, len(HEADS)))
            lines += [
                "",
                "layouts, each with its usual options, every zone, no reading left out:",
                *_table([HEADS, *(line.cells for line in self.layouts)], numbers),
                "build: from machine to compiled network, with attempts that prove too wide; "
                "update: all posteriors",
                "detail: 0 where every way of the flow is followed, higher where weak ways are "
                "left out",
            ]
        return "\n".join(lines)


def _cells(row: Row) -> tuple[str, ...]:
    return (
        row.name,
        row.size,
        *("failed" if x is None else f"{x:.4g}" for x in (row.median, row.spread)),
        row.unit,
        *("" if a is None else str(a) for a in (row.vs_pyagrum, row.vs_pgmpy)),
    )


def _table(lines: Sequence[Sequence[str]], right: Sequence[int]) -> list[str]:
    """Lines of cells under one another; the columns ``right`` are numbers."""
    widths = [max(len(cell) for cell in column) for column in zip(*lines, strict=True)]
    return [
        "  ".join(
            cell.rjust(width) if n in right else cell.ljust(width)
            for n, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    ]


def json_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of what ``leakdx bench --json`` prints."""
    text = {"type": "string"}
    count = {"type": "integer", "minimum": 0}
    maybe_number = {"type": ["number", "null"], "minimum": 0}
    maybe_text = {"type": ["string", "null"]}
    times = {"type": "number", "minimum": 0, "description": "how many times faster"}
    stopped = {"type": "boolean", "description": "a lower bound: the referee was stopped"}
    against = {
        "anyOf": [{"type": "null"}, closed({"times": times, "at_least": stopped})],
        "description": "the same done by that library in the same run; null: see notes",
    }
    row = {
        "name": text | {"description": "what --only takes"},
        "what": text | {"description": "what was measured"},
        "size": text | {"description": "what it was done on"},
        "repeats": count | {"description": "measurements that the median is of"},
        "median": maybe_number | {"description": "in the unit; null where it failed"},
        "spread": maybe_number | {"description": "interquartile range, in the unit"},
        "unit": {"enum": ["s", "ms", "MB"], "description": "MB: a million bytes"},
        "vs_pyagrum": against,
        "vs_pgmpy": against,
        "notes": {"type": "array", "items": text},
    }
    computer = {
        "python": text,
        "numpy": text,
        "platform": text,
        "cpu_count": count | {"description": "processors this process may use"},
        "threads": count | {"description": "threads that matrix products and referees may use"},
        "threads_from": maybe_text | {"description": "variable that says so; null: cpu_count"},
        "load": maybe_number | {"description": "mean load in the minute before the start"},
        "pyagrum": maybe_text | {"description": "version; null: not installed"},
        "pgmpy": maybe_text | {"description": "version; null: not installed"},
    }
    reference = {"job": text, "machine": text, "zones": count, "seal_points": count}
    properties = {
        "format": {"const": FORMAT},
        "leakdx": text | {"description": "version of the library"},
        "computer": closed(computer),
        "reference": closed(reference),
        "quick": {"type": "boolean", "description": "few repeats"},
        "rows": {"type": "array", "items": closed(row)},
        "layouts": {
            "type": "array",
            "items": layout_schema(),
            "description": "the layouts that come with leakdx; empty where not measured",
        },
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "leakdx:bench/1",
        "title": "Measurements",
        "description": "How fast leakdx is, beside the referees asked in the same run.",
        **closed(properties),
    }
