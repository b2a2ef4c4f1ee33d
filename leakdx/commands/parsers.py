"""What the newer commands take on the command line; each is imported only when it runs."""

from __future__ import annotations

import argparse
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from leakdx.case.read import LoadedJob

EXAMPLE_JOB = "rear_of_engine_wet"
CURED_JOB = "rear_of_engine_renewed"


def found(where: str) -> Any:
    """What "package.module:name" names, imported now."""
    module, _, name = where.partition(":")
    return getattr(import_module(module), name)


class _Late:
    """A command that is imported when it is run, so that help is there at once."""

    def __init__(self, where: str) -> None:
        self.where = where

    def __call__(self, args: argparse.Namespace) -> int:
        code: int = found(self.where)(args)
        return code


def chosen_job(name: str | None) -> LoadedJob:
    """The job that a person names: a file, or the id of one that comes with leakdx."""
    from leakdx.case.read import load_job, load_shipped_job, shipped_jobs

    if name is None:
        return load_shipped_job(EXAMPLE_JOB)
    if name in shipped_jobs() and not Path(name).exists():
        return load_shipped_job(name)
    return load_job(name)


def _add_job(parser: argparse.ArgumentParser, example: str = EXAMPLE_JOB) -> None:
    parser.add_argument(
        "job",
        nargs="?",
        metavar="JOB",
        help=f"job file, or id of a job that comes with leakdx (without: {example})",
    )


def add_machines(commands: Any, common: argparse.ArgumentParser) -> None:
    """``leakdx machines``."""
    parser = commands.add_parser(
        "machines", parents=[common], help="list the machines that come with leakdx"
    )
    parser.set_defaults(run=_Late("leakdx.commands.machines:run"))


def add_new(commands: Any, common: argparse.ArgumentParser) -> None:
    """``leakdx new``."""
    parser = commands.add_parser(
        "new", parents=[common], help="make a machine file of your own by choosing from a layout"
    )
    parser.add_argument("--layout", metavar="ID", help="layout to begin from (leakdx machines)")
    parser.add_argument(
        "--set",
        metavar="OPTION=CHOICE",
        action="append",
        default=[],
        help="an option of the layout, such as cylinders=6; may be given again",
    )
    parser.add_argument("--id", help="id of the machine (without: made from its name)")
    parser.add_argument("--name", help="what you call the machine")
    parser.add_argument("--out", metavar="FILE", help="file to write (without: ID.yaml)")
    parser.add_argument("--usual", action="store_true", help="ask nothing, take what is usual")
    parser.set_defaults(run=_Late("leakdx.commands.new:run"))


def add_next(commands: Any, common: argparse.ArgumentParser) -> None:
    """``leakdx next``."""
    parser = commands.add_parser(
        "next", parents=[common], help="say what to look at next in a job, or what to renew"
    )
    _add_job(parser)
    parser.add_argument(
        "--ahead", action="store_true", help="count the best look after each as well"
    )
    parser.add_argument(
        "--between",
        nargs=2,
        metavar=("SEAL", "SEAL"),
        help="two seal points to be told apart (without: the two likeliest)",
    )
    parser.set_defaults(run=_Late("leakdx.commands.next:run"))


def add_why(commands: Any, common: argparse.ArgumentParser) -> None:
    """``leakdx why``."""
    parser = commands.add_parser(
        "why",
        parents=[common],
        help="say what speaks for and against a ranking, and how firm it is",
    )
    _add_job(parser)
    parser.add_argument("--seal", metavar="ID", help="seal point to tell of (without: the first)")
    parser.add_argument(
        "--draws",
        type=_draws,
        default=500,
        metavar="N",
        help="times that all numbers are drawn anew (500)",
    )
    parser.add_argument(
        "--picture", metavar="FILE", help="draw the way of the fluid on the machine, as an SVG file"
    )
    parser.set_defaults(run=_Late("leakdx.commands.why:run"))


def add_sheet(commands: Any, common: argparse.ArgumentParser) -> None:
    """``leakdx sheet``."""
    parser = commands.add_parser(
        "sheet", parents=[common], help="make a strip-down and refit sheet for what to renew"
    )
    _add_job(parser)
    parser.add_argument(
        "--renew",
        nargs="+",
        action="extend",
        metavar="SEAL",
        help="seal points or gaskets to renew (without: those that cost least in the long run)",
    )
    parser.add_argument(
        "--out", metavar="FILE.html", help="write the sheet as an HTML page to print as well"
    )
    parser.add_argument(
        "--customer",
        action="store_true",
        help="write the sheet for the machine's owner instead, in plain words (with --out)",
    )
    parser.set_defaults(run=_Late("leakdx.commands.sheet:run"))


def add_cure(commands: Any, common: argparse.ArgumentParser) -> None:
    """``leakdx cure``."""
    parser = commands.add_parser(
        "cure", parents=[common], help="say whether a repair has cured it, and how to make sure"
    )
    _add_job(parser, CURED_JOB)
    parser.set_defaults(run=_Late("leakdx.commands.cure:run"))


def add_jobs(commands: Any, common: argparse.ArgumentParser) -> None:
    """``leakdx jobs``, and the way in and out of the case store."""
    parser = commands.add_parser("jobs", parents=[common], help="list the jobs you have begun")
    parser.set_defaults(run=_Late("leakdx.commands.jobs:run"))

    parser = commands.add_parser(
        "export", parents=[common], help="write a job you have begun, with its machine, to one file"
    )
    parser.add_argument("id", metavar="ID", help="id of the job (leakdx jobs)")
    parser.add_argument("--out", metavar="FILE", help="file to write (without: ID.yaml)")
    parser.set_defaults(run=_Late("leakdx.commands.jobs:run_export"))

    parser = commands.add_parser(
        "import", parents=[common], help="take a job file or a case file among your jobs"
    )
    parser.add_argument("file", metavar="FILE", help="job file, or file that export wrote")
    parser.set_defaults(run=_Late("leakdx.commands.jobs:run_import"))


def _draws(text: str) -> int:
    """A number of draws that percentiles can be told from."""
    number = int(text) if text.isdecimal() else 0
    if not 20 <= number <= 100_000:
        raise argparse.ArgumentTypeError(f"is a whole number from 20 to 100000, not {text}")
    return number
