"""What an order does to the store: jobs begun, and changes of one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from leakdx.case.casefile import CASE_FORMAT
from leakdx.case.model import FORMAT, Job, MachineReference
from leakdx.case.read import LoadedJob, job_of, load_shipped_job
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.save import dump_yaml
from leakdx.files.words import as_identifier, choose, listed, plain, shown
from leakdx.files.yaml_lines import Document, parse_bytes
from leakdx.kit.model import BUILD_FORMAT, LAYOUT_FORMAT, Build, Choice
from leakdx.kit.read import load_shipped, load_shipped_layout, machine_of
from leakdx.kit.wishing import USUAL_NAME, build_as, said, understood
from leakdx.machine.model import FORMAT as MACHINE_FORMAT
from leakdx.machine.model import Machine
from leakdx.panels.hearing import (
    Begin,
    Change,
    Enter,
    FromFile,
    FromLayout,
    OpenExample,
    Rename,
    SetConditions,
    SetCosts,
    Shipped,
    TakeIn,
    Undo,
    Wanted,
)
from leakdx.panels.undoing import FROM_THE_PAGE
from leakdx.store.changes import Change as Written
from leakdx.store.changes import ConditionsSet, CostsSet, Entered, Renamed
from leakdx.store.store import CaseStore, Kept

BEGUN = "begin:"
JOB_FILES = (FORMAT, CASE_FORMAT)
MACHINE_FILES = (MACHINE_FORMAT, BUILD_FORMAT, LAYOUT_FORMAT)


def begun(order: Begin | OpenExample | TakeIn, store: CaseStore) -> str:
    """Write a new job; gives its id in the store.

    Raises:
        FaultyInput: with what is wrong with the job, its machine or the store; nothing is written.
    """
    match order:
        case OpenExample():
            loaded = load_shipped_job(order.job)
        case TakeIn():
            loaded = _taken_in(parse_bytes(order.text.encode(), order.file))
        case Begin():
            loaded = _new(order.title, _machine(order.machine))
    return store.begin(loaded.job, loaded.machine, f"{BEGUN}{order.key}")


def written(order: Change, job_id: str, store: CaseStore) -> Kept:
    """Write what an order changes; gives the job as it is then.

    Raises:
        FaultyInput: with what would be wrong with the job, or with the store; nothing is written.
    """
    return store.append(job_id, _changes(order, now()), f"{FROM_THE_PAGE}{order.key}")


def now() -> str:
    """The time of day, ISO 8601 to the minute."""
    return datetime.now().isoformat(timespec="minutes")


def _changes(order: Change, at: str) -> tuple[Written, ...]:
    match order:
        case Enter(entries=entries):
            return tuple(Entered(_timed(entry, at)) for entry in entries)
        case Undo():
            numbers = order.entries or (order.entry,)
            return tuple(Entered({"withdraw": number, "at": at}) for number in numbers)
        case SetConditions(conditions=conditions):
            return (ConditionsSet(conditions),)
        case SetCosts(costs=costs):
            return (CostsSet(costs),)
        case Rename(title=title):
            return (Renamed(title),)
    raise TypeError(f"{type(order).__name__} changes nothing")


def _timed(entry: Mapping[str, Any], at: str) -> dict[str, Any]:
    """An entry with its time; what a correction puts in the place of another keeps that one's."""
    return {**entry, "at": at} if entry.get("at") is None else dict(entry)


def _new(title: str, machine: Machine) -> LoadedJob:
    job = Job(
        format=FORMAT,
        id=as_identifier(title) or "job",
        name=title,
        machine=MachineReference(id=machine.id, version=machine.version),
    )
    return LoadedJob(job, machine)


def _machine(wanted: Wanted) -> Machine:
    match wanted:
        case Shipped(shipped=name):
            return load_shipped(name)
        case FromLayout():
            # Read back, as every machine is, so that what does not go together is told.
            return machine_of(parse_bytes(dump_yaml(_build(wanted)).encode(), ""))
        case FromFile():
            document = parse_bytes(wanted.text.encode(), wanted.file)
            _refuse_kind(document, JOB_FILES, "a job, not of a machine", "Open it as a job.")
            _refuse_what_lies_beside(document, "layout", "its layout")
            return machine_of(document)


def _build(wanted: FromLayout) -> Build:
    """The build of a layout with the options that were chosen; all that is wrong is told."""
    layout = load_shipped_layout(wanted.layout).layout
    known = {option.id: option for option in layout.options}
    chosen: dict[str, Choice] = {}
    faults: list[Fault] = []
    for name, value in wanted.options.items():
        if name not in known:
            problem = f"names the option {shown(name)}, which this layout does not have"
            faults.append(Fault("", None, "", problem, choose(name, known, what="option")))
            continue
        choice = understood(known[name], value if isinstance(value, str) else said(value))
        if choice is None:
            remedy = f"Use one of: {listed(said(c) for c in known[name].choices)}."
            problem = f"has the answer {shown(value)} to '{known[name].ask}'"
            faults.append(Fault("", None, "", problem, remedy))
        else:
            chosen[name] = choice
    if faults:
        raise FaultyInput(faults)
    return build_as(layout, chosen, wanted.name or USUAL_NAME)


def _taken_in(document: Document) -> LoadedJob:
    remedy = "Begin a new job, and give it there as the file of the machine."
    _refuse_kind(document, MACHINE_FILES, "a machine, not of a job", remedy)
    _refuse_what_lies_beside(document, "machine", "its machine")
    return job_of(document, None)


def _refuse_kind(document: Document, formats: Sequence[str], what: str, remedy: str) -> None:
    if document.data.get("format") in formats:
        raise FaultyInput([Fault("", None, "the file", f"is of {what}", remedy)])


def _refuse_what_lies_beside(document: Document, key: str, what: str) -> None:
    """Only the text of one file is here, so what it names beside it cannot be read."""
    named = document.data.get(key)
    file = named.get("file") if isinstance(named, Mapping) else None
    if file is None:
        return
    raise FaultyInput(
        [
            Fault(
                document.file,
                document.line((key, "file")),
                f"{key}.file",
                f"names '{plain(str(file))}' for {what}, a file beside this one, which cannot be "
                "read from here",
                "Use 'leakdx import' in the terminal, or a case file, which has the machine in it."
                if key == "machine"
                else "Give a machine file that is whole in itself, or choose from a layout.",
            )
        ]
    )
