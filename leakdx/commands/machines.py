"""``leakdx machines``: what comes with leakdx, and how large each of them is."""

from __future__ import annotations

import argparse
import shutil
import textwrap
from dataclasses import asdict, dataclass

from leakdx.commands.output import print_json, steps
from leakdx.files.schema import DIALECT, Schema, closed

FORMAT = "leakdx-machines/1"


@dataclass(frozen=True)
class Line:
    """One machine; ``kind`` is "layout" (it can be built otherwise) or "machine".

    width: variables in the largest table less one.  entries: of all tables together.
    detail: 0 where every way of the flow is followed, up to 7 where only the strongest.
    """

    id: str
    kind: str
    name: str
    options: tuple[str, ...]
    zones: int
    seal_points: int
    inspections: int
    fluids: int
    width: int
    entries: int
    detail: int


def line_of(machine_id: str) -> Line:
    """One machine that comes with leakdx, measured."""
    from leakdx.advice.whole import whole_network
    from leakdx.kit.read import load_shipped, load_shipped_layout, shipped_layouts
    from leakdx.priors.read import shipped_priors

    machine = load_shipped(machine_id)
    layout = machine_id in shipped_layouts()
    options = load_shipped_layout(machine_id).layout.options if layout else ()
    whole = whole_network(machine, shipped_priors())
    return Line(
        id=machine.id,
        kind="layout" if layout else "machine",
        name=machine.name,
        options=tuple(option.id for option in options),
        zones=len(machine.zones),
        seal_points=len(machine.seal_points),
        inspections=len(machine.inspections),
        fluids=len(machine.fluids),
        width=whole.tree.width,
        entries=whole.entries,
        detail=whole.detail,
    )


def run(args: argparse.Namespace) -> int:
    """Do what the command says; gives the exit code."""
    from leakdx.kit.read import shipped_machines

    names = shipped_machines()
    with steps(names) as step:
        lines = []
        for name in names:
            step()
            lines.append(line_of(name))
    if args.json:
        print_json({"format": FORMAT, "machines": [asdict(line) for line in lines]})
    else:
        print(table(lines, shutil.get_terminal_size((100, 24)).columns))
    return 0


_HEADS = ("zones", "seals", "looks", "fluids", "width", "detail")


def table(lines: list[Line], columns: int) -> str:
    """The machines as text, within ``columns``."""
    longest = max(len(line.id) for line in lines)
    rows = ["  ".join(["machine".ljust(longest), *_HEADS])]
    for line in lines:
        numbers = (
            line.zones,
            line.seal_points,
            line.inspections,
            line.fluids,
            line.width,
            line.detail,
        )
        cells = (str(n).rjust(len(head)) for n, head in zip(numbers, _HEADS, strict=True))
        rows.append("  ".join([line.id.ljust(longest), *cells]))
        says = line.name
        if line.options:
            says += f" (choose: {', '.join(line.options)})"
        rows += textwrap.wrap(
            says, max(columns - 1, 40), initial_indent="    ", subsequent_indent="    "
        )
    rows += [
        "",
        *textwrap.wrap(
            "All of them are invented. Those with something to choose are layouts: 'leakdx new' "
            "makes a machine file of your own from one, 'leakdx show' draws any of them. Width is "
            "how many things hang together at once, detail 0 that every way of the fluid is "
            "followed, a higher one that weak ways are left out of the machine as a whole.",
            max(columns - 1, 40),
        ),
    ]
    return "\n".join(rows)


def json_schema() -> Schema:
    """The schema of what ``leakdx machines --json`` prints."""
    text: Schema = {"type": "string"}
    count: Schema = {"type": "integer", "minimum": 0}
    machine: Schema = {
        "id": text,
        "kind": {"enum": ["layout", "machine"], "description": "a layout has options"},
        "name": text,
        "options": {"type": "array", "items": text},
        "zones": count,
        "seal_points": count,
        "inspections": count,
        "fluids": count,
        "width": count | {"description": "variables in the largest table, less one"},
        "entries": count | {"description": "entries of all tables together"},
        "detail": count | {"description": "0 where every way of the flow is followed"},
    }
    return {
        "$schema": DIALECT,
        "$id": "leakdx:machines/1",
        "title": "Machines",
        "description": "The machines that come with leakdx, each measured.",
        **closed(
            {
                "format": {"const": FORMAT},
                "machines": {"type": "array", "items": closed(machine)},
            }
        ),
    }
