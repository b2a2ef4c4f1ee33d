"""``leakdx jobs``, ``export`` and ``import``: the case store from the terminal."""

from __future__ import annotations

import argparse
import secrets
import shutil
import textwrap
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from leakdx.commands.output import print_json
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.schema import DIALECT, Schema, closed

if TYPE_CHECKING:
    from leakdx.store.store import Filed

FORMAT = "leakdx-jobs/1"
EXPORT_FORMAT = "leakdx-export/1"
IMPORT_FORMAT = "leakdx-import/1"


def run(args: argparse.Namespace) -> int:
    """Do what ``leakdx jobs`` says; gives the exit code."""
    from leakdx.store.store import CaseStore

    with CaseStore.open() as store:
        jobs, folder = store.jobs(), str(store.folder)
    if args.json:
        print_json({"format": FORMAT, "folder": folder, "jobs": [asdict(job) for job in jobs]})
    else:
        print(table(jobs, folder, shutil.get_terminal_size((100, 24)).columns))
    return 0


def table(jobs: Sequence[Filed], folder: str, columns: int) -> str:
    """The jobs as text, the one written to last first, within ``columns`` where ids allow it."""
    if not jobs:
        return f"No job yet in {folder}.\nTake one in: leakdx import FILE"
    longest = max(3, *(len(job.id) for job in jobs))
    rows = [f"{'job'.ljust(longest)}  {'changed'.ljust(16)}  entries"]
    for job in jobs:
        rows.append(f"{job.id.ljust(longest)}  {job.changed_said}  {str(job.entries).rjust(7)}")
        says = f"{_line(job.title)}, on {_line(job.machine)}"
        rows += textwrap.wrap(
            says, max(columns - 1, 40), initial_indent="    ", subsequent_indent="    "
        )
    return "\n".join([*rows, "", f"They are kept in {folder}."])


def _line(text: str) -> str:
    """``text`` on one line, with nothing that a terminal would act on."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def run_export(args: argparse.Namespace) -> int:
    """Do what ``leakdx export`` says; gives the exit code."""
    from leakdx.case.casefile import case_file
    from leakdx.files.save import save
    from leakdx.store.store import CaseStore

    with CaseStore.open() as store:
        loaded = store.read(args.id).loaded
    path = Path(args.out or f"{loaded.job.id}.yaml")
    if path.exists():
        raise _fault(
            path,
            "is there already and is left as it is",
            "Name another file with --out, or remove that one first.",
        )
    try:
        save(case_file(loaded), path)
    except OSError as error:
        raise _fault(
            path,
            f"cannot be written ({error.strerror or error})",
            "Name a file in a folder that is there and may be written to, with --out.",
        ) from error
    counts = _counts(len(loaded.job.timeline))
    if args.json:
        print_json(
            {"format": EXPORT_FORMAT, "file": str(path), "id": loaded.job.id, "counts": counts}
        )
    else:
        print(
            f"{path}: job '{loaded.job.id}' with {_entries(counts)} and its machine "
            f"'{loaded.machine.id}', whole.\n"
            f"On another computer take it in: leakdx import {path.name}"
        )
    return 0


def run_import(args: argparse.Namespace) -> int:
    """Do what ``leakdx import`` says; gives the exit code."""
    from leakdx.case.read import load_job
    from leakdx.store.store import CaseStore

    loaded = load_job(args.file)
    with CaseStore.open() as store:
        # A key of its own each time: taken in twice, it is there twice.
        job_id = store.begin(loaded.job, loaded.machine, secrets.token_hex(16))
        folder = str(store.folder)
    counts = _counts(len(loaded.job.timeline))
    if args.json:
        print_json({"format": IMPORT_FORMAT, "folder": folder, "id": job_id, "counts": counts})
    else:
        print(
            f"'{job_id}' with {_entries(counts)} and its machine '{loaded.machine.id}' is now in "
            f"{folder}."
        )
    return 0


def _counts(entries: int) -> dict[str, int]:
    return {"timeline": entries}


def _entries(counts: dict[str, int]) -> str:
    number = counts["timeline"]
    return f"{number} {'entry' if number == 1 else 'entries'}"


def _fault(path: Path, problem: str, remedy: str) -> FaultyInput:
    return FaultyInput([Fault(str(path), None, "", problem, remedy)])


_TEXT: Schema = {"type": "string"}
_COUNT: Schema = {"type": "integer", "minimum": 0}


def _described(description: str) -> Schema:
    return _TEXT | {"description": description}


def _document(name: str, description: str, properties: Schema) -> Schema:
    return {
        "$schema": DIALECT,
        "$id": f"leakdx:{name}/1",
        "title": name.capitalize(),
        "description": description,
        **closed({"format": {"const": f"leakdx-{name}/1"}, **properties}),
    }


def json_schema() -> Schema:
    """The schema of what ``leakdx jobs --json`` prints."""
    job: Schema = {
        "id": _TEXT,
        "title": _TEXT,
        "machine": _described("name of its machine"),
        "machine_id": _TEXT,
        "entries": _COUNT | {"description": "in its timeline"},
        "changed": _described("when it was written to last, ISO 8601 local time with offset"),
    }
    return _document(
        "jobs",
        "The jobs in the case store, the one written to last first.",
        {
            "folder": _described("where the store is"),
            "jobs": {"type": "array", "items": closed(job)},
        },
    )


def export_schema() -> Schema:
    """The schema of what ``leakdx export --json`` prints."""
    return _document(
        "export",
        "A case file that was written.",
        {
            "file": _described("the case file that was written"),
            "id": _described("of the job"),
            "counts": closed({"timeline": _COUNT}),
        },
    )


def import_schema() -> Schema:
    """The schema of what ``leakdx import --json`` prints."""
    return _document(
        "import",
        "A job that was taken into the case store.",
        {
            "folder": _described("where the store is"),
            "id": _described("of the job in the store"),
            "counts": closed({"timeline": _COUNT}),
        },
    )
