"""``leakdx sheet``: a strip-down and refit sheet for the chosen repair of a job."""

from __future__ import annotations

import argparse
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from leakdx.commands.output import print_json, steps

if TYPE_CHECKING:
    from leakdx.advice.sheet import Sheet
    from leakdx.advice.solving import Solved
    from leakdx.case.read import LoadedJob
    from leakdx.machine.model import Machine


def run(args: argparse.Namespace) -> int:
    """Do what the command says; gives the exit code."""
    from leakdx.commands.parsers import chosen_job

    loaded = chosen_job(args.job)
    # Before anything is reckoned: a fault is told at once.
    renew = _checked(loaded.machine, args)
    from leakdx.advice.sheet import sheet_of
    from leakdx.advice.sheet_proof import PROOF_STAGES, with_proof
    from leakdx.advice.solving import solve
    from leakdx.priors.read import shipped_priors

    with steps(("following the fluid", "putting the sheet together", *PROOF_STAGES)) as step:
        step()
        priors = shipped_priors()
        solved = solve(loaded, priors)
        step()
        sheet = with_proof(sheet_of(loaded, solved, priors, renew), loaded, priors, step)
    if args.customer:
        said = _write_customer(Path(args.out), loaded, solved, sheet)
    else:
        said = _text(sheet)
        if args.out is not None:
            _write(Path(args.out), solved, sheet)
            said = f"{said}\n\nThe sheet to print is in {args.out}."
    if args.json:
        from leakdx.advice.sheet_schema import document_of

        print_json(document_of(sheet, args.out))
    else:
        print(said)
    return 0


def _text(sheet: Sheet) -> str:
    from leakdx.advice.sheet_text import sheet_text

    return sheet_text(sheet, shutil.get_terminal_size((100, 24)).columns - 1)


def _write(path: Path, solved: Solved, sheet: Sheet) -> None:
    from leakdx.drawing.command import write
    from leakdx.report.pages import job_sheet_page

    write(path, job_sheet_page(sheet, _picture(solved, sheet)))


def _picture(solved: Solved, sheet: Sheet) -> str | None:
    """The way of the fluid from the likeliest of what is renewed; None where none leads on."""
    from leakdx.files.faults import FaultyInput
    from leakdx.reasons.picture import picture_of

    if not sheet.renew:
        return None
    try:
        return picture_of(solved, sheet.renew[0].seal_point)
    except FaultyInput:
        return None


def _write_customer(path: Path, loaded: LoadedJob, solved: Solved, sheet: Sheet) -> str:
    """Write the owner's sheet; gives what the command says of it."""
    from leakdx.advice.cure import STAGES, cure_of
    from leakdx.advice.ranking import ranking_of
    from leakdx.drawing.command import write
    from leakdx.priors.read import shipped_priors
    from leakdx.report.customer import customer_sheet, was_repaired
    from leakdx.report.pages import customer_page

    priors, cure = shipped_priors(), None
    with steps(("listing what leaks together", *STAGES[1:])) as step:
        step()
        ranking = ranking_of(loaded, solved, priors)
        if was_repaired(loaded.job):
            cure = cure_of(loaded, solved, priors, step)
    told = customer_sheet(loaded, ranking, sheet, priors, cure)
    write(path, customer_page(told))
    return "\n".join([*told.in_short, "", f"The sheet for the owner is in {path}."])


def _checked(machine: Machine, args: argparse.Namespace) -> tuple[str, ...]:
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
        seals = seals_asked_for(machine, args.renew or ())
    except FaultyInput as error:
        faults += error.faults
    if args.out is not None and Path(args.out).suffix.lower() not in (".html", ".htm"):
        # So that no job or machine file is written over by mistake.
        problem = f"names '{plain(args.out)}', which is no name of an HTML page"
        faults.append(Fault("", None, "--out", problem, "Name a file that ends in .html."))
    if args.customer and args.out is None:
        problem = "makes a page, and no file is named for it"
        faults.append(Fault("", None, "--customer", problem, "Add --out and a name in .html."))
    if faults:
        raise FaultyInput(faults)
    return seals
