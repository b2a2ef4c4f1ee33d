"""What to know before work begins: cautions gathered once, and fluids that will run out.

Common practice, no source.  The machine file's own cautions come first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from leakdx.advice.cautions import (
    BATTERY,
    COOLING,
    DRAINED,
    EYES,
    FIRST_OF_ALL,
    FUEL,
    HOT,
    MOVING,
    RAISED,
    RUNNING,
    SKIN,
    SOLVENT,
)
from leakdx.advice.readying import brought_by
from leakdx.advice.sheet_steps import Step
from leakdx.machine.model import (
    AccessStep,
    Drive,
    Fluid,
    FluidKind,
    Machine,
    MachineState,
    SealPoint,
)

# Warm enough to burn a hand, degrees C; from memory.
_BURNS = 50.0
STOPPED = "Stopped, key out, brake set: nobody can start or move it while hands are in it."
RELIEVE = "Let all pressure off, the accumulator's too, and rest the load before a line is opened."
BRAKES = "Brake fluid eats paint and harms skin; only fresh fluid of the stated kind goes back in."
WASTE = (
    "Catch all waste fluid and keep it by kind, with the oily rags in a lidded metal bin; none of "
    "it into a drain."
)
COOLANT = "Coolant is poisonous and tastes sweet: keep it from children and animals."
RUN_CAUTIONS = tuple(c.text for c in (SOLVENT, EYES, RUNNING, MOVING, HOT))
_BY_FLUID = {
    FluidKind.HYDRAULIC_OIL: RELIEVE,
    FluidKind.BRAKE_FLUID: BRAKES,
    FluidKind.COOLANT: COOLANT,
}
_FUELS = {FluidKind.DIESEL_FUEL, FluidKind.PETROL}
_HIGH = {FluidKind.DIESEL_FUEL, FluidKind.HYDRAULIC_OIL, FluidKind.BRAKE_FLUID}


def cautions_before(
    machine: Machine, seals: Sequence[SealPoint], steps: Sequence[Step], off: frozenset[str]
) -> tuple[str, ...]:
    """Every caution of the work once: the machine file's own, then what the work needs.

    off: steps taken before, whose cautions still hold.
    """
    if not seals:
        return ()
    taken = _taken(machine, steps, off)
    own = tuple(dict.fromkeys(c for k in taken for c in k.cautions if c != FIRST_OF_ALL))
    kinds = {f.kind for f in machine.fluids if f.id in _fluids_of(seals)}
    brings = brought_by(machine, [k.id for k in taken])
    if any("fuel" in f"{k.id} {k.name}".lower() for k in taken):
        kinds |= _FUELS & {f.kind for f in machine.fluids}
    needed = (
        (HOT, _hot(machine, seals)),
        (BATTERY, MachineState.BATTERY_OFF in brings | _asked_for(machine, seals)),
        (RAISED, MachineState.LIFTED in brings),
        (DRAINED, MachineState.DRAINED in brings),
        (FUEL, bool(kinds & _FUELS)),
        (SKIN, bool(kinds & _HIGH)),
        (COOLING, FluidKind.COOLANT in kinds),
        (SOLVENT, True),
        (EYES, True),
    )
    more = [c.text for c, here in needed if here and not c.said_in(own)]
    plain = [STOPPED, *(text for kind, text in _BY_FLUID.items() if kind in kinds)]
    return (*plain, *own, *(c for c in more if c not in own), WASTE)


def _taken(machine: Machine, steps: Sequence[Step], off: frozenset[str]) -> list[AccessStep]:
    here = {s.id for s in steps} | off
    return [k for k in machine.access_steps if k.id in here]


def _fluids_of(seals: Sequence[SealPoint]) -> set[str]:
    return {f for s in seals for f in (s.fluid, s.leaks_into) if f is not None}


def _hot(machine: Machine, seals: Sequence[SealPoint]) -> bool:
    here = {z for s in seals for z in s.zones}
    warm = [s.temperature_C for s in seals]
    warm += [z.temperature_C for z in machine.zones if z.id in here]
    return any(t is not None and t >= _BURNS for t in warm)


def _asked_for(machine: Machine, seals: Sequence[SealPoint]) -> frozenset[MachineState]:
    """States that looks at these seal points ask for."""
    ids = {s.id for s in seals}
    asked = (set(i.state) for i in machine.inspections if ids & set(i.reads.seal_points))
    return frozenset().union(*asked)


def fluids_before(
    machine: Machine, seals: Sequence[SealPoint], steps: Sequence[Step], off: frozenset[str]
) -> tuple[str, ...]:
    """What is drained on the way, and what will run out of a joint below its level."""
    return tuple(dict.fromkeys(_fluids(machine, seals, steps, off)))


def _fluids(
    machine: Machine, seals: Sequence[SealPoint], steps: Sequence[Step], off: frozenset[str]
) -> Iterator[str]:
    drains = [
        k
        for k in _taken(machine, steps, off)
        if MachineState.DRAINED in brought_by(machine, [k.id])
    ]
    for fluid in machine.fluids:
        name = fluid.name or fluid.id.replace("_", " ")
        grade = f", {fluid.grade} in the machine file" if fluid.grade else ""
        if any(_about(k, fluid) for k in drains):
            yield (
                f"{name}: drained in the strip-down. A pan for all of it; fresh fluid of the "
                f"maker's grade{grade} to fill up to the mark."
            )
            continue
        # The machine file says so by the drive; a coolant stands over most of its joints.
        below = [
            seal.name or seal.id.replace("_", " ")
            for seal in seals
            if seal.fluid == fluid.id
            and (seal.drive is Drive.STATIC_HEAD or fluid.kind is FluidKind.COOLANT)
        ]
        if below:
            yield (
                f"{name}: runs out when these are opened: {'; '.join(below)}. Drain it first or "
                f"have a pan there; then fill to the mark with fluid of the maker's grade{grade}."
            )


def _about(step: AccessStep, fluid: Fluid) -> bool:
    """Whether a step that drains something drains this fluid, by its words."""
    words = set(f"{step.id} {step.name or ''}".lower().replace("_", " ").split())
    return set(fluid.kind.value.split("_")) <= words or set(fluid.id.split("_")) <= words
