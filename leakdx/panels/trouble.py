"""What went wrong, in the words of a workshop."""

from __future__ import annotations

import traceback

from leakdx.advice.cure_text import reading_words
from leakdx.advice.solving import ContradictoryReadings
from leakdx.files.faults import Fault, FaultyInput
from leakdx.machine.model import Machine
from leakdx.panels.shapes import Trouble

# Faults that are told at once; the rest are folded away.
TOLD = 5
INSIDE = "Something went wrong inside leakdx; the job is safe."


def trouble_of(error: BaseException, machine: Machine | None = None) -> Trouble:
    """Said and details of an error; machine: whose names readings are told with."""
    if isinstance(error, ContradictoryReadings) and machine is not None and error.labels:
        return {"said": _contradiction(error, machine), "details": ""}
    if isinstance(error, FaultyInput):
        lines = [fault_words(fault) for fault in error.faults]
        rest = len(lines) - TOLD
        more = [f"And {rest} more."] if rest > 0 else []
        said = "\n".join([*lines[:TOLD], *more])
        return {"said": said, "details": "\n".join(lines) if more else ""}
    return {"said": INSIDE, "details": "".join(traceback.format_exception(error))}


def fault_words(fault: Fault) -> str:
    """A fault in a sentence or two."""
    # What begins with a dash is an option of a command, which nobody gave here.
    place = "" if fault.path.startswith("--") else fault.path
    said = f"{place} {fault.problem}".strip()
    return f"{said[:1].upper()}{said[1:]}. {fault.remedy}"


def _contradiction(error: ContradictoryReadings, machine: Machine) -> str:
    readings = "; ".join(_reading(label, machine) for label in error.labels)
    remedies = " ".join(dict.fromkeys(fault.remedy for fault in error.faults))
    return f"These cannot all be so: {readings}. {remedies}"


def _reading(label: str, machine: Machine) -> str:
    if label[:1].isdigit():
        return f"entry {reading_words(machine, label)}"
    # "context 2: ventilation_clear": its number is not that of the entry.
    return label.partition(": ")[2].replace("_", " ")
