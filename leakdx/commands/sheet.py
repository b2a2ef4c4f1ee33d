"""``leakdx sheet``: a strip-down and refit sheet for the chosen repair of a job."""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from leakdx.commands.output import print_json, steps

if TYPE_CHECKING:
    from leakdx.machine.model import Machine


def run(args: argparse.Namespace) -> int:
    """Do what the command says; gives the exit code."""
    from leakdx.commands.parsers import chosen_job

    loaded = chosen_job(args.job)
    # Before anything is reckoned: a fault is told at once.
    renew = _checked(loaded.machine, args.renew or (), args.out)
    from leakdx.advice.sheet import sheet_of
    from leakdx.advice.sheet_html import sheet_html
    from leakdx.advice.sheet_proof import PROOF_STAGES, with_proof
    from leakdx.advice.sheet_schema import document_of
    from leakdx.advice.sheet_text import sheet_text
    from leakdx.advice.solving import solve
    from leakdx.priors.read import shipped_priors

    with steps(("following the fluid", "putting the sheet together", *PROOF_STAGES)) as step:
        step()
        priors = shipped_priors()
        solved = solve(loaded, priors)
        step()
        sheet = with_proof(sheet_of(loaded, solved, priors, renew), loaded, priors, step)
    if args.out is not None:
        from leakdx.drawing.command import write

        write(Path(args.out), sheet_html(sheet))
    if args.json:
        print_json(document_of(sheet, args.out))
    else:
        print(sheet_text(sheet, shutil.get_terminal_size((100, 24)).columns - 1))
        if args.out is not None:
            print(f"\nThe sheet to print is in {args.out}.")
    return 0


def _checked(machine: Machine, names: Sequence[str], out: str | None) -> tuple[str, ...]:
    """The seal points asked for.

    Raises:
        FaultyInput: with every unknown seal point, and where the file is to be no page.
    """
    from leakdx.advice.sheet_plan import seals_asked_for
    from leakdx.files.faults import Fault, FaultyInput
    from leakdx.files.words import plain

    faults: list[Fault] = []
    seals: tuple[str, ...] = ()
    try:
        seals = seals_asked_for(machine, names)
    except FaultyInput as error:
        faults += error.faults
    if out is not None and Path(out).suffix.lower() not in (".html", ".htm"):
        # So that no job or machine file is written over by mistake.
        problem = f"names '{plain(out)}', which is no name of an HTML page"
        faults.append(Fault("", None, "--out", problem, "Name a file that ends in .html."))
    if faults:
        raise FaultyInput(faults)
    return seals
