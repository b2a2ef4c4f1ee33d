"""What ``leakdx open`` takes on the command line; all else is imported when it runs."""

from __future__ import annotations

import argparse
from typing import Any


def _run(args: argparse.Namespace) -> int:
    from leakdx.opening.run import run

    return run(args)


def add_open(commands: Any, common: argparse.ArgumentParser) -> None:
    """``leakdx open``."""
    parser = commands.add_parser(
        "open", parents=[common], help="open the machine to tap on, in the browser"
    )
    parser.add_argument(
        "job",
        nargs="?",
        metavar="JOB",
        help="id of a job you have begun (leakdx jobs), a job file, or the id of an example",
    )
    parser.add_argument(
        "--page", action="store_true", help="only the page (without: JupyterLab with the notebook)"
    )
    parser.add_argument("--port", type=int, metavar="N", help="port (without: any that is free)")
    parser.add_argument(
        "--no-browser", action="store_true", help="print the address and open no browser"
    )
    parser.add_argument(
        "--store", metavar="FOLDER", help="folder of the jobs (without: see leakdx jobs)"
    )
    parser.set_defaults(run=_run)
