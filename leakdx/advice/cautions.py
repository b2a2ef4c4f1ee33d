"""Cautions that every look of a kind needs, whether or not the machine file gives them.

Common practice, no source.  They come after the machine's own; one that the machine's own
cautions give already, in the words of ``_Caution.known``, is not said twice.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from leakdx.machine.model import FluidKind, Inspection, Machine, MachineState, Method

FIRST_OF_ALL = "The maker's procedure and local rules come first."


@dataclass(frozen=True)
class _Caution:
    """known: what one of the own cautions must say, all of it, to stand for this one."""

    text: str
    known: tuple[str, ...]

    def said_in(self, own: Iterable[str]) -> bool:
        return any(all(re.search(part, c.lower()) for part in self.known) for c in own)


HOT = _Caution("Hot parts burn: keep clear of the exhaust, wear gloves.", (r"\bhot\b", "gloves"))
MOVING = _Caution(
    "Belts and fans move while it runs: no loose clothing, no hand near; an electric fan can start "
    "by itself.",
    (r"belts?\b|fan|pulley|shaft|coupling|propeller|chain", "clothing|near|clear"),
)
RUNNING = _Caution(
    "While it runs: brake set, wheels chocked, fumes led outside, one person at the controls.",
    ("brake|moored", "fumes"),
)
TRIAL = _Caution(
    "On the trial drive a second person watches the ground, not the driver.", ("trial drive",)
)
RAISED = _Caution(
    "Support the machine on rated stands on hard ground; never work under a jack.",
    ("rated stands",),
)
BATTERY = _Caution(
    "Battery: negative off first, on last, and nobody may turn the engine.", ("negative off first",)
)
DRAINED = _Caution(
    "Catch all of what is drained; hot fluid burns. Nobody may start it while it is empty.",
    ("start it while it is empty",),
)
SOLVENT = _Caution(
    "Solvent vapour ignites: cold machine, fresh air, no flame or spark, gloves.",
    ("solvent", "ignites", "flame|spark"),
)
EYES = _Caution("Eye protection on.", ("eye protection|goggles",))
DUST = _Caution("Do not breathe the powder.", ("powder",))
LAMP = _Caution(
    "Ultraviolet lamp: wear the matching glasses and do not look into the lamp.",
    ("lamp", "glasses"),
)
LOW_AIR = _Caution(
    "Low air pressure only, as the maker states it: seals are pushed out and covers burst.",
    (r"low (air )?pressure",),
)
TEST_PRESSURE = _Caution(
    "Never more test pressure than the maker states; let it off before anything is opened.",
    ("pressure than the maker|let it off before|low air pressure|cap pressure",),
)
COOLING = _Caution(
    "Never open a hot cooling system; release the cap in steps once it is hand-warm.",
    ("hot cooling system|hot hose",),
)
FUEL = _Caution(
    "Fuel under pressure: release it slowly under a rag, eye protection on, no flame or spark.",
    ("fuel|petrol", "slowly", "rag", "eye protection|goggles", "flame"),
)
SKIN = _Caution(
    "Fluid under high pressure goes through skin: never feel for a leak with a hand; hold a piece "
    "of card there.",
    ("through skin",),
)

_BY_STATE: dict[MachineState, tuple[_Caution, ...]] = {
    MachineState.RUNNING: (RUNNING, MOVING, HOT),
    MachineState.HOT_IDLE: (RUNNING, MOVING, HOT),
    MachineState.DRIVEN: (TRIAL, HOT),
    MachineState.LIFTED: (RAISED,),
    MachineState.BATTERY_OFF: (BATTERY,),
    MachineState.DRAINED: (DRAINED,),
    MachineState.WASHED: (SOLVENT, EYES),
}
_BY_METHOD: dict[Method, tuple[_Caution, ...]] = {
    Method.WASH_AND_RUN: (SOLVENT, EYES),
    Method.POWDER: (SOLVENT, EYES, DUST),
    Method.DYE_LAMP: (LAMP,),
    Method.SOAPY_WATER: (LOW_AIR, EYES),
    Method.CASE_PRESSURE: (LOW_AIR,),
    Method.PRESSURE_TEST: (TEST_PRESSURE, EYES),
}
_BY_FLUID: dict[FluidKind, tuple[_Caution, ...]] = {
    FluidKind.DIESEL_FUEL: (FUEL, SKIN),
    FluidKind.PETROL: (FUEL,),
    FluidKind.HYDRAULIC_OIL: (SKIN,),
    FluidKind.BRAKE_FLUID: (SKIN,),
}


def cautions_of(
    machine: Machine, inspection: Inspection, places: frozenset[str], own: Iterable[str]
) -> tuple[str, ...]:
    """All cautions of a look: its own and those of its steps, what its kind needs, the last.

    own: those of the machine file.  places: the zones it works at.
    """
    given = tuple(dict.fromkeys(c for c in own if c != FIRST_OF_ALL))
    needed = dict.fromkeys(_needed(machine, inspection, places))
    more = [c.text for c in needed if not c.said_in(given)]
    return (*given, *(c for c in more if c not in given), FIRST_OF_ALL)


def _needed(machine: Machine, inspection: Inspection, places: frozenset[str]) -> Iterator[_Caution]:
    for kind in _fluids(machine, inspection, places):
        yield from _BY_FLUID.get(kind, ())
        if kind is FluidKind.COOLANT and inspection.method is Method.PRESSURE_TEST:
            yield COOLING
    for state in MachineState:
        if state in inspection.state:
            yield from _BY_STATE.get(state, ())
    yield from _BY_METHOD.get(inspection.method, ())


def _fluids(
    machine: Machine, inspection: Inspection, places: frozenset[str]
) -> Iterator[FluidKind]:
    """Kinds of the fluids that come out at these places, or that its signs are of."""
    kinds = {f.id: f.kind for f in machine.fluids}
    reads = inspection.reads
    here = {
        kinds[s.fluid]
        for s in machine.seal_points
        if s.id in reads.seal_points or places & set(s.zones)
    }
    if reads.fluid is not None:
        here.add(kinds[reads.fluid])
    yield from (kind for kind in FluidKind if kind in here)
