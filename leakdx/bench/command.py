"""The command ``leakdx bench``: measure row by row, tell progress, print one report."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from time import perf_counter

import leakdx
import leakdx.bench.cure_rows  # puts its row into ROWS
import leakdx.bench.look_rows  # puts its rows into ROWS
import leakdx.bench.swift_rows  # puts its rows into ROWS
import leakdx.bench.why_rows  # puts its rows into ROWS
from leakdx.bench.browser_rows import BROWSER_ROWS
from leakdx.bench.layout_line import LayoutLine
from leakdx.bench.layouts import measured_layout
from leakdx.bench.problem import REFERENCE_JOB, Bench
from leakdx.bench.report import Report, Row
from leakdx.bench.rows import ROWS, Measure
from leakdx.bench.timing import computer
from leakdx.kit.read import shipped_layouts

# Some rows could not be measured; the others were.
INCOMPLETE = 1
# The table of all layouts, beside the rows.
LAYOUTS = "layouts"


def all_rows() -> dict[str, Measure]:
    """All that can be measured; what needs a browser only where it is asked for."""
    return {**ROWS, **BROWSER_ROWS}


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="leakdx bench", description="Measure how fast leakdx is, beside pyagrum and pgmpy."
    )
    parser.add_argument("--json", action="store_true", help="print one JSON document")
    parser.add_argument(
        "--only",
        action="append",
        choices=(*all_rows(), LAYOUTS),
        metavar="NAME",
        help="measure this row, or the table of layouts; may be given again "
        f"(rows: {', '.join((*all_rows(), LAYOUTS))})",
    )
    parser.add_argument(
        "--browser",
        action="store_true",
        help=f"measure the page too, in Chromium ({', '.join(BROWSER_ROWS)})",
    )
    parser.add_argument("--quick", action="store_true", help="repeat less often")
    parser.add_argument("--no-referees", action="store_true", help="ask no other library")
    parser.add_argument(
        "--job",
        default=REFERENCE_JOB,
        help=f"job file, or id of a job that comes with leakdx (without: {REFERENCE_JOB})",
    )
    return parser


def main(argv: Sequence[str] = ()) -> int:
    """Measure and print; 0 if all rows were measured, 1 if some failed.

    Raises FaultyInput for a job file with faults.
    """
    args = _parser().parse_args(list(argv))
    bench = Bench(args.job, args.quick, not args.no_referees)
    usual = (*ROWS, *(BROWSER_ROWS if args.browser else ()), LAYOUTS)
    report = measured(bench, args.only or usual)
    if args.json:
        print(json.dumps(report.to_json_dict(), indent=2, ensure_ascii=False))
    else:
        print(report.to_text())
    return INCOMPLETE if any(row.median is None for row in report.rows) else 0


def measured(bench: Bench, names: Sequence[str]) -> Report:
    """A report with the rows of these names, each once, as ``all_rows`` has them; layouts last."""
    loaded = bench.loaded
    about = computer()
    rows = tuple(_one(name, bench) for name in all_rows() if name in names)
    return Report(
        leakdx=leakdx.__version__,
        computer=about,
        job=loaded.job.id,
        machine=loaded.machine.id,
        zones=len(loaded.machine.zones),
        seal_points=len(loaded.machine.seal_points),
        quick=bench.quick,
        rows=rows,
        layouts=_layouts(bench) if LAYOUTS in names else (),
    )


def _layouts(bench: Bench) -> tuple[LayoutLine, ...]:
    found = []
    for name in shipped_layouts():
        print(f"layout {name} ...", file=sys.stderr, flush=True)
        found.append(measured_layout(name, bench))
    return tuple(found)


def _one(name: str, bench: Bench) -> Row:
    print(f"{name} ...", file=sys.stderr, flush=True)
    start = perf_counter()
    measure = all_rows()[name]
    try:
        row = measure(bench)
    except Exception as error:  # one row that fails must not cost the others
        said = f"failed, {type(error).__name__}: {error}"
        row = Row(name, (measure.__doc__ or name).strip(), "", 0, None, None, "s", notes=(said,))
    print(f"{name} took {perf_counter() - start:.1f} s", file=sys.stderr, flush=True)
    return row
