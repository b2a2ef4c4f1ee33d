"""What the newer commands take on the command line; each is imported only when it runs."""

from __future__ import annotations

import argparse
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from leakdx.case.read import LoadedJob

EXAMPLE_JOB = "rear_of_engine_wet"


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
    parser.add_argument(
        "job",
        nargs="?",
        metavar="JOB",
        help=f"job file, or id of a job that comes with leakdx (without: {EXAMPLE_JOB})",
    )
    parser.add_argument(
        "--ahead", action="store_true", help="count the best look after each as well"
    )
    parser.set_defaults(run=_Late("leakdx.commands.next:run"))
