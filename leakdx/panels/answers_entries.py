"""The entries of a job file that an outcome of a look stands for."""

from __future__ import annotations

from typing import Any

from leakdx.advice.asking import SIGNS_AHEAD
from leakdx.case.checks import SIGN_NEEDS_FLUID
from leakdx.case.model import SealState, Yes, ZoneState
from leakdx.machine.model import Inspection, Machine, MachineState, Method, SignKind

Entry = dict[str, Any]


def washes(inspection: Inspection) -> bool:
    """Whether it is made on what was washed for it: the wash and the run are entered first."""
    return inspection.method is Method.WASH_AND_RUN or MachineState.WASHED in inspection.state


def entries_of(machine: Machine, inspection: Inspection, label: str) -> list[Entry] | None:
    """What one tap records for an outcome, by its label; None where it leaves a reading open."""
    reads = inspection.reads
    if washes(inspection) or any(s not in SIGNS_AHEAD for s in reads.signs):
        return None
    wet = _wet(label, [*reads.zones, *reads.seal_points, *(s.value for s in reads.signs)])
    if wet is None:
        return None
    here = {"inspection": inspection.id}
    zones = [{"zone": z, "state": _zone(z in wet), **here} for z in reads.zones]
    seals = [{"seal_point": s, "state": _seal(s in wet), **here} for s in reads.seal_points]
    signs = [_sign(machine, inspection, s, s.value in wet) for s in reads.signs]
    return [*zones, *seals, *signs]


def _wet(label: str, things: list[str]) -> frozenset[str] | None:
    """Which of the things that a look reads are wet; None where the label does not say of each."""
    if len(set(things)) < len(things):
        return None
    one = {f"only {thing} wet": frozenset({thing}) for thing in things}
    if len(things) == 1:
        return {"dry": frozenset(), "wet": frozenset(things)}.get(label)
    if len(things) == 2:
        one["both wet"] = frozenset(things)
    return {"all dry": frozenset(), **one}.get(label)


def _zone(wet: bool) -> str:
    return (ZoneState.WET if wet else ZoneState.DRY).value


def _seal(wet: bool) -> str:
    return (SealState.WET if wet else SealState.TIGHT).value


def _sign(machine: Machine, inspection: Inspection, sign: SignKind, there: bool) -> Entry:
    entry: Entry = {"sign": sign.value, "value": (Yes.YES if there else Yes.NO).value}
    fluid = inspection.reads.fluid
    if fluid is None and sign in SIGN_NEEDS_FLUID:
        # It is of the machine's first fluid where the inspection names none.
        fluid = machine.fluids[0].id
    return entry if fluid is None else {**entry, "fluid": fluid}
