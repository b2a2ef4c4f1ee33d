"""What could not be done, in words that make sense on the page."""

from __future__ import annotations

import re
import traceback
from collections.abc import Iterable
from dataclasses import replace

from leakdx.advice.solving import ContradictoryReadings
from leakdx.files.faults import Fault, FaultyInput
from leakdx.machine.model import Machine
from leakdx.panels.shapes import FaultSaid, Trouble
from leakdx.panels.trouble import trouble_of

INSIDE = "Something went wrong inside leakdx; what was saved is safe."
_ENTRY = re.compile(r"^(?:timeline|entries)\[(\d+)\]\.?")
# What is written into a file -> what is done on the page.
_ON_THE_PAGE = (
    ("Add 'fluid:' with the id of the fluid.", "Say which fluid it is."),
    ("Add 'seal_point:' with the id of the joint.", "Choose the joint it is about."),
    ("Take this entry out, or withdraw the withdrawal first.", "It is taken back already."),
    ("Give the number of an earlier entry, counted from 1.", "Choose an entry of the list."),
    ("Name the zones that were washed, or write: wash: whole.", "Choose what was washed."),
    ("Write 'state: dripping', or leave the count out.", "Say that it drips, or take it out."),
)
# The same for what is wrong.
_SAID_HERE = (("the timeline has ", "the list has "),)
_UNITS = re.compile(r"_(deg|m_s|C|mm|ml|years)$")


def fault_said(
    error: BaseException, key: str, control: str, machine: Machine | None = None
) -> FaultSaid:
    """An error as it is shown beside a control; machine: whose names it is told with."""
    trouble = said_of(error, machine)
    return {"key": key, "control": control, **trouble}


def said_of(error: BaseException, machine: Machine | None = None) -> Trouble:
    """An error in words; details are for whoever mends it."""
    if isinstance(error, ContradictoryReadings):
        return trouble_of(error, machine)
    if isinstance(error, FaultyInput):
        return trouble_of(FaultyInput(_on_the_page(error.faults)), machine)
    return {"said": INSIDE, "details": "".join(traceback.format_exception(error))}


def _on_the_page(faults: Iterable[Fault]) -> list[Fault]:
    every = tuple(faults)
    numbers = {m[1] for f in every if (m := _ENTRY.match(f.path))}
    return [_one_on_the_page(fault, len(numbers) > 1) for fault in every]


def _one_on_the_page(fault: Fault, several: bool) -> Fault:
    found = _ENTRY.match(fault.path)
    path = fault.path
    if found is not None:
        path = fault.path[found.end() :].removeprefix("to.")
        path = f"entry {int(found[1]) + 1} {path}".strip() if several else path
    path = _UNITS.sub("", path.removeprefix("conditions.").removeprefix("machine.options"))
    # A file that the technician chose keeps its path and line, which lead to the place.
    if fault.line is not None:
        path = f"{fault.path} (line {fault.line})"
    problem = _swapped(fault.problem, _SAID_HERE)
    remedy = _swapped(fault.remedy, _ON_THE_PAGE)
    return replace(fault, path=path.replace("_", " "), problem=problem, remedy=remedy)


def _swapped(text: str, words: Iterable[tuple[str, str]]) -> str:
    for there, here in words:
        text = text.replace(there, here)
    return text
