"""Case files: a job and its whole machine in one file, to send it or to put it by."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any, Literal

from leakdx.case.loaded import (
    LoadedJob,
    checked_job,
    mismatches,
    reference_of,
    self_contained,
)
from leakdx.case.model import Job
from leakdx.files.checked import fault_at, validated
from leakdx.files.faults import Fault, FaultyInput, limited
from leakdx.files.save import dump_yaml
from leakdx.files.yaml_lines import Document
from leakdx.machine.model import Machine, Record
from leakdx.machine.read import machine_of

CASE_FORMAT = "leakdx-case/1"


class CaseFile(Record):
    """One job with the machine it is about, written out in the same file."""

    format: Literal["leakdx-case/1"]
    job: Job
    machine: Machine


class _Outline(Record):
    """What a case file has at its top; what is inside is checked part by part."""

    format: Literal["leakdx-case/1"]
    job: dict[str, Any]
    machine: dict[str, Any]


def case_file(loaded: LoadedJob) -> CaseFile:
    """The case file of a job; the job no longer names a file of its machine."""
    return CaseFile(format=CASE_FORMAT, job=self_contained(loaded.job), machine=loaded.machine)


def case_text(loaded: LoadedJob) -> str:
    """The job and its machine as the YAML text of one file; reading it gives them back."""
    return dump_yaml(case_file(loaded))


def _part(document: Document, key: str) -> Document | None:
    """The part of a case file under ``key``, with its lines; None where it is no set of keys."""
    data = document.data.get(key)
    if not isinstance(data, dict):
        return None
    return Document(document.file, data, document.place((key,)) if document.places else None)


def _under(key: str, faults: Iterable[Fault]) -> list[Fault]:
    """Faults of a part as faults of the case file: their paths lead through ``key``."""
    return [replace(f, path=f"{key}.{f.path}" if f.path else key) for f in faults]


def _machine(document: Document | None) -> tuple[Machine | None, list[Fault]]:
    if document is None:
        return None, []
    try:
        return machine_of(document), []
    except FaultyInput as error:
        return None, _under("machine", error.faults)


def _job(document: Document, machine: Machine | None) -> tuple[LoadedJob | None, list[Fault]]:
    reference = reference_of(document)
    before: list[Fault] = []
    if reference is not None and machine is not None:
        before = mismatches(document, reference, machine, "in this file")
    if reference is not None and reference.file is not None:
        before.append(
            fault_at(
                document,
                ("machine", "file"),
                "names a file, but the machine of a case file is written out in it",
                "Take 'file' out here.",
            )
        )
    try:
        return checked_job(document, machine, before), []
    except FaultyInput as error:
        return None, _under("job", error.faults)


def case_of(document: Document) -> LoadedJob:
    """The job in a case file, on the machine in that file.

    Raises:
        FaultyInput: with everything that is wrong with the file, its job and its machine.
    """
    faults: list[Fault] = []
    try:
        validated(_Outline, document)
    except FaultyInput as error:
        faults += error.faults
    machine, of_machine = _machine(_part(document, "machine"))
    job = _part(document, "job")
    loaded, of_job = (None, []) if job is None else _job(job, machine)
    faults += [*of_job, *of_machine]
    if faults or loaded is None:
        by_line = sorted(faults, key=lambda f: (f.line is None, f.line or 0))
        raise FaultyInput(limited(by_line))
    return loaded
