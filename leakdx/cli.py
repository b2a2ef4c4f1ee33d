"""The command ``leakdx``.

Everything heavy is imported by the command that needs it, so that help is there at once.
Exit codes: 0 done, 2 faults in what was given, 130 stopped by the user, 141 nobody reads.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from leakdx.commands.open import add_open
from leakdx.commands.output import print_json, steps
from leakdx.commands.parsers import (
    EXAMPLE_JOB,
    add_cure,
    add_jobs,
    add_machines,
    add_new,
    add_next,
    add_sheet,
    add_why,
    chosen_job,
    found,
)
from leakdx.drawing.command import add_show

if TYPE_CHECKING:
    from leakdx.files.faults import Fault
    from leakdx.machine.model import Machine

FAULTY, STOPPED, UNREAD = 2, 130, 141


def _rank(args: argparse.Namespace) -> int:
    # First the file, then the heavy imports: a fault is told at once.
    loaded = chosen_job(args.job)
    from leakdx.advice.ranking import ranking_of
    from leakdx.advice.solving import solve
    from leakdx.priors.read import shipped_priors

    with steps(("following the fluid", "listing what leaks together")) as step:
        step()
        priors = shipped_priors()
        solved = solve(loaded, priors)
        step()
        ranking = ranking_of(loaded, solved, priors)
    if args.json:
        print_json(ranking.to_json_dict())
    else:
        print(ranking.to_text(shutil.get_terminal_size((100, 24)).columns))
    return 0


def _machine_counts(machine: Machine) -> dict[str, Any]:
    counts = {
        key: len(getattr(machine, key) or ())
        for key in ("fluids", "zones", "seal_points", "causes", "access_steps", "inspections")
    }
    return {"id": machine.id, "version": machine.version, "counts": counts}


def _checked_machine(path: str) -> dict[str, Any]:
    from leakdx.kit.read import load_machine

    return _machine_counts(load_machine(path))


def _checked_part(path: str) -> dict[str, Any]:
    from leakdx.files.yaml_lines import read_document
    from leakdx.kit.read import part_of

    part = part_of(read_document(path))
    counts = {
        key: len(getattr(part, key))
        for key in ("mounts", "zones", "seal_points", "causes", "access_steps", "inspections")
    }
    return {"id": part.id, "version": part.version, "counts": counts}


def _checked_job(path: str) -> dict[str, Any]:
    from leakdx.case.read import load_job

    job = load_job(path).job
    counts = {"timeline": len(job.timeline), "seal_histories": len(job.seal_histories)}
    return {"id": job.id, "version": None, "counts": counts}


def _checked_prior(path: str) -> dict[str, Any]:
    from leakdx.priors.read import load_prior_file

    prior = load_prior_file(Path(path))
    return {"id": prior.id, "version": None, "counts": {"numbers": len(prior.numbers)}}


_KINDS: dict[str, Callable[[str], dict[str, Any]]] = {
    "leakdx-machine/1": _checked_machine,
    "leakdx-layout/1": _checked_machine,
    "leakdx-build/1": _checked_machine,
    "leakdx-part/1": _checked_part,
    "leakdx-job/1": _checked_job,
    "leakdx-case/1": _checked_job,
    "leakdx-prior/1": _checked_prior,
}


def _check_one(path: str) -> dict[str, Any]:
    from leakdx.files.faults import Fault, FaultyInput
    from leakdx.files.words import choose, listed, shown
    from leakdx.files.yaml_lines import read_document

    document = read_document(path)
    said = document.data.get("format")
    if not isinstance(said, str) or said not in _KINDS:
        missing = "format" not in document.data
        problem = "is missing" if missing else f"is {shown(said)}, which is no known format"
        remedy = (
            f"Add 'format:' with one of: {listed(_KINDS)}."
            if missing
            else choose(str(said), _KINDS, what="format")
        )
        line = document.line(("format",))
        raise FaultyInput([Fault(document.file, line, "format", problem, remedy)])
    return {"file": path, "format": said, **_KINDS[said](path)}


def _check(args: argparse.Namespace) -> int:
    from leakdx.files.faults import FaultyInput
    from leakdx.files.schema import CHECK_FORMAT

    sound: list[dict[str, Any]] = []
    faults: list[Fault] = []
    for path in args.files:
        try:
            sound.append(_check_one(path))
        except FaultyInput as error:
            faults += error.faults
    if args.json and not faults:
        print_json({"format": CHECK_FORMAT, "files": sound})
    elif not args.json:
        for each in sound:
            print(_sentence(each))
    if faults:
        raise FaultyInput(faults)
    return 0


def _sentence(found: dict[str, Any]) -> str:
    kind = found["format"].removeprefix("leakdx-").partition("/")[0]
    version = f" version {found['version']}" if found["version"] else ""
    counts = ", ".join(f"{key.replace('_', ' ')}: {n}" for key, n in found["counts"].items())
    return f"{found['file']}: {kind} '{found['id']}'{version}, no faults ({counts})"


# Where the function is that makes each schema; looked up only when it is asked for.
_SCHEMA_OF = {
    "rank": "leakdx.advice.ranking:json_schema",
    "machines": "leakdx.commands.machines:json_schema",
    "new": "leakdx.commands.new:json_schema",
    "next": "leakdx.advice.next_schema:json_schema",
    "why": "leakdx.reasons.why_schema:json_schema",
    "sheet": "leakdx.advice.sheet_schema:json_schema",
    "cure": "leakdx.advice.cure_schema:json_schema",
    "show": "leakdx.drawing.command:json_schema",
    "jobs": "leakdx.commands.jobs:json_schema",
    "export": "leakdx.commands.jobs:export_schema",
    "import": "leakdx.commands.jobs:import_schema",
    "open": "leakdx.opening.run:json_schema",
    "check": "leakdx.files.schema:check_schema",
    "bench": "leakdx.bench.report:json_schema",
    "faults": "leakdx.files.schema:faults_schema",
}
_MODEL_OF = {
    "machine": "leakdx.machine.model:Machine",
    "layout": "leakdx.kit.model:Layout",
    "part": "leakdx.kit.model:Part",
    "build": "leakdx.kit.model:Build",
    "job": "leakdx.case.model:Job",
    "case": "leakdx.case.casefile:CaseFile",
    "prior": "leakdx.priors.model:PriorFile",
}


def _schema(args: argparse.Namespace) -> int:
    from leakdx.files.schema import model_schema

    if args.name in _MODEL_OF:
        print_json(model_schema(found(_MODEL_OF[args.name]), args.name))
    else:
        print_json(found(_SCHEMA_OF[args.name])())
    return 0


def _bench(args: argparse.Namespace) -> int:
    from leakdx.bench import main as bench

    return bench([*(["--json"] if args.json else []), *args.rest])


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="leakdx", description="Rank which seal of a machine leaks, from what was seen."
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    common = argparse.ArgumentParser(add_help=False)
    common.add_argument("--json", action="store_true", help="print one JSON document")

    rank = commands.add_parser("rank", parents=[common], help="rank the seal points of a job")
    rank.add_argument(
        "job",
        nargs="?",
        metavar="JOB",
        help=f"job file, or id of a job that comes with leakdx (without: {EXAMPLE_JOB})",
    )
    rank.set_defaults(run=_rank)

    check = commands.add_parser(
        "check", parents=[common], help="say what is wrong with machine, job or prior files"
    )
    check.add_argument("files", nargs="+", metavar="FILE")
    check.set_defaults(run=_check)

    add_next(commands, common)
    add_why(commands, common)
    add_sheet(commands, common)
    add_cure(commands, common)
    add_jobs(commands, common)
    add_open(commands, common)
    add_machines(commands, common)
    add_new(commands, common)
    add_show(commands, common)

    schema = commands.add_parser(
        "schema", parents=[common], help="print the JSON Schema of a file or of a printed document"
    )
    schema.add_argument("name", choices=(*_MODEL_OF, *_SCHEMA_OF))
    schema.set_defaults(run=_schema)

    bench = commands.add_parser(
        "bench",
        parents=[common],
        help="measure how fast it is (further options: python -m leakdx.bench --help)",
    )
    bench.set_defaults(run=_bench)
    return parser


def _tell(faults: Sequence[Fault], *, as_json: bool) -> int:
    from leakdx.files.schema import FAULTS_FORMAT

    if as_json:
        print_json({"format": FAULTS_FORMAT, "faults": [f.to_json_dict() for f in faults]})
    else:
        for fault in faults:
            print(fault, file=sys.stderr)
    return FAULTY


def _run(argv: Sequence[str] | None) -> int:
    from leakdx.files.faults import FaultyInput

    parser = _parser()
    args, rest = parser.parse_known_args(argv)
    args.rest = rest
    if rest and args.command != "bench":
        parser.error(f"unrecognized arguments: {' '.join(rest)}")
    try:
        code: int = args.run(args)
    except FaultyInput as error:
        code = _tell(error.faults, as_json=args.json)
    sys.stdout.flush()
    return code


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command with ``argv`` (without: that of the process) and give its exit code."""
    for stream in (sys.stdout, sys.stderr):
        # A name in a file may hold letters that this terminal has no way to show.
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")
    try:
        return _run(argv)
    except BrokenPipeError:
        # What is left in the buffer has nowhere to go; without this Python complains at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return UNREAD
    except KeyboardInterrupt:
        return STOPPED


if __name__ == "__main__":
    sys.exit(main())
