"""Jobs from files, from plain data, and from the library, each with its machine."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from leakdx.case.casefile import CASE_FORMAT, case_of
from leakdx.case.loaded import LoadedJob, checked_job, mismatches, reference_of
from leakdx.case.model import MachineReference
from leakdx.files.checked import fault_at
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.places import shipped_document, shipped_ids
from leakdx.files.words import choose, plain
from leakdx.files.yaml_lines import Document, read_document
from leakdx.kit.read import load_machine, load_shipped, shipped_machines
from leakdx.machine.model import Machine

__all__ = [
    "LoadedJob",
    "job_from",
    "job_of",
    "load_job",
    "load_shipped_job",
    "shipped_jobs",
]


def _fetched(document: Document, reference: MachineReference, folder: Path | None) -> Machine:
    if reference.file is None:
        known = shipped_machines()
        if reference.id in known:
            return load_shipped(reference.id)
        problem = f"names the machine '{reference.id}', which does not come with the library"
        remedy = choose(reference.id, known, what="machine")
        raise FaultyInput(
            [
                fault_at(
                    document,
                    ("machine", "id"),
                    problem,
                    f"{remedy} For a machine of your own, add 'file:' with the path to its file.",
                )
            ]
        )
    path = Path(reference.file) if folder is None else folder / reference.file
    try:
        return load_machine(path)
    except FaultyInput as error:
        if all(fault.line is None and not fault.path for fault in error.faults):
            # The file as a whole is at fault: say so where the job names it.
            raise FaultyInput(
                fault_at(
                    document,
                    ("machine", "file"),
                    f"names '{plain(reference.file)}', and {plain(fault.file)} {fault.problem}",
                    f"{fault.remedy} The path is read from the folder of the job file.",
                )
                for fault in error.faults
            ) from None
        raise


def job_of(document: Document, folder: Path | None, machine: Machine | None = None) -> LoadedJob:
    """The job in a document, and its machine; the document may be a case file, which has both.

    ``folder`` is where a relative ``machine.file`` is looked for.  With ``machine`` given, the
    job must be about it, and no other file is read.

    Raises:
        FaultyInput: with everything that is wrong with the job, and with its machine file.
    """
    if machine is None and document.data.get("format") == CASE_FORMAT:
        return case_of(document)
    faults: list[Fault] = []
    reference = reference_of(document)
    if reference is not None:
        try:
            machine = machine or _fetched(document, reference, folder)
            where = f"in {plain(reference.file)}" if reference.file else "in the library"
            faults += mismatches(document, reference, machine, where)
        except FaultyInput as error:
            faults += error.faults
    return checked_job(document, machine, faults)


def load_job(path: str | Path) -> LoadedJob:
    """The job in the file at ``path``, and its machine: from a file beside it, or shipped.

    A case file (format leakdx-case/1) holds both.

    Raises:
        FaultyInput: where a file cannot be read, or with everything that is wrong with the job
            and with its machine file.
    """
    return job_of(read_document(path), Path(path).parent)


def job_from(data: Mapping[str, Any], machine: Machine | None = None) -> LoadedJob:
    """The job in plain data, on ``machine`` or else on the one it names.

    Raises:
        FaultyInput: with everything that is wrong; its faults have no file and line.
    """
    return job_of(Document("", data), None, machine)


def shipped_jobs() -> tuple[str, ...]:
    """Ids of the jobs that come with the library."""
    return shipped_ids("jobs")


def load_shipped_job(job_id: str) -> LoadedJob:
    """A job that comes with the library, and its machine, which comes with it too.

    Raises:
        FaultyInput: where there is none of that id; the nearest is named.
    """
    return job_of(shipped_document("jobs", job_id), None)
