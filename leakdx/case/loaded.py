"""A job with the machine it is about, checked against each other."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pydantic import ValidationError

from leakdx.case.checks import job_check
from leakdx.case.model import Job, MachineReference
from leakdx.files.checked import fault_at, validated
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.words import plain
from leakdx.files.yaml_lines import Document
from leakdx.machine.model import Machine


@dataclass(frozen=True)
class LoadedJob:
    """A job and the machine it is about, checked against each other."""

    job: Job
    machine: Machine


def reference_of(document: Document) -> MachineReference | None:
    """What the job says of its machine; None where that is faulty itself."""
    try:
        return MachineReference.model_validate(document.data.get("machine"))
    except ValidationError:
        return None


def mismatches(
    document: Document, reference: MachineReference, machine: Machine, where: str
) -> list[Fault]:
    """Where the job names another machine, or another version, than the one found ``where``."""
    faults: list[Fault] = []
    if reference.id != machine.id:
        faults.append(
            fault_at(
                document,
                ("machine", "id"),
                f"is '{reference.id}', but the machine {where} is '{machine.id}'",
                "Name the machine whose file this is, or give the file of the other.",
            )
        )
    elif reference.version != machine.version:
        faults.append(
            fault_at(
                document,
                ("machine", "version"),
                f"is '{plain(reference.version)}', but '{machine.id}' {where} has version "
                f"'{machine.version}'",
                "Use the file of the version the job was written for, or check the job against "
                f'the new machine file and set version: "{machine.version}".',
            )
        )
    return faults


def checked_job(
    document: Document, machine: Machine | None, faults: Iterable[Fault] = ()
) -> LoadedJob:
    """The job in a document, checked on ``machine``; ``faults`` were found before.

    Raises:
        FaultyInput: with those and with everything that is wrong with the job; where there are
            any of those, or there is no machine, with what the job alone shows.
    """
    found = list(faults)
    # Against another machine every name would be a fault; the one that matters is told.
    fitting = None if found else machine
    try:
        job = validated(Job, document, job_check(fitting, document.data))
    except FaultyInput as error:
        raise FaultyInput((*found, *error.faults)) from None
    if found or machine is None:
        raise FaultyInput(found)
    return LoadedJob(job, machine)


def self_contained(job: Job) -> Job:
    """The job without the path to its machine's file: where the machine is kept beside it."""
    if job.machine.file is None:
        return job
    reference = MachineReference(id=job.machine.id, version=job.machine.version)
    return job.model_copy(update={"machine": reference})
