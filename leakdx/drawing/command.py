"""``leakdx show``: a machine drawn from six sides, with the ways its fluids take.

Everything heavy is imported when the command runs, so that help is there at once.
"""

from __future__ import annotations

import argparse
import shutil
from pathlib import Path
from typing import Any

VIEWS = ("left", "right", "top", "below", "front", "rear")


def add_show(commands: Any, common: argparse.ArgumentParser) -> None:
    """``leakdx show``."""
    parser = commands.add_parser(
        "show", parents=[common], help="draw a machine and where fluid runs on it, as an SVG file"
    )
    add_options(parser)
    parser.set_defaults(run=run)


def add_options(parser: argparse.ArgumentParser) -> None:
    """What the command takes on the command line, but for --json."""
    parser.add_argument(
        "machine", metavar="MACHINE", help="machine, layout or build file, or id (leakdx machines)"
    )
    parser.add_argument("--view", choices=VIEWS, help="draw one view (without: all six)")
    parser.add_argument("--stand", metavar="NAME", help="a stand that the machine file names")
    parser.add_argument("--pitch", type=float, metavar="DEG", help="nose up positive")
    parser.add_argument("--roll", type=float, metavar="DEG", help="left side up positive")
    parser.add_argument(
        "--airflow", type=float, default=0.0, metavar="M_S", help="air from the front, m/s"
    )
    parser.add_argument(
        "--from", dest="seal_point", metavar="SEAL", help="only where a leak of this seal goes"
    )
    parser.add_argument("--out", metavar="FILE", help="file to write (without: ID.svg)")


def run(args: argparse.Namespace) -> int:
    """Do what the command says; gives the exit code."""
    from leakdx.commands.output import print_json
    from leakdx.drawing.asked import Asked, scene_of
    from leakdx.drawing.laying import sheet_of
    from leakdx.drawing.report import Drawn, document_of, text_of
    from leakdx.drawing.seeing import Side
    from leakdx.drawing.svg import svg_of
    from leakdx.flow.trail import unreached
    from leakdx.kit.read import chosen_machine
    from leakdx.priors.read import shipped_priors

    machine, priors = chosen_machine(args.machine), shipped_priors()
    asked = Asked(args.stand, args.pitch, args.roll, args.airflow, args.seal_point)
    scene = scene_of(machine, asked, priors)
    sheet = sheet_of(scene, Side(args.view) if args.view else None)
    path = Path(args.out or f"{machine.id}.svg")
    write(path, svg_of(sheet, scene))
    drawn = Drawn(str(path), scene, sheet, unreached(machine, scene.flow, priors))
    if args.json:
        print_json(document_of(drawn))
    else:
        print(text_of(drawn, shutil.get_terminal_size((100, 24)).columns))
    return 0


def write(path: Path, text: str) -> None:
    """Write the drawing; what was there is replaced.

    Raises:
        FaultyInput: where it cannot be written.
    """
    from leakdx.files.faults import Fault, FaultyInput

    try:
        path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        problem = f"cannot be written ({error.strerror or error})"
        remedy = "Name a file in a folder that is there and may be written to, with --out."
        raise FaultyInput([Fault(str(path), None, "--out", problem, remedy)]) from error


def json_schema() -> dict[str, Any]:
    """The schema of what ``leakdx show --json`` prints."""
    from leakdx.drawing.report import json_schema as schema

    return schema()
