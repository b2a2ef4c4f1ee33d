"""What the owner should watch for, and what can hurt whoever is near a leak.

Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from leakdx.machine.model import FluidKind, Machine
from leakdx.report.found import fluid_said

GROUND = (
    "Look at the ground under it before each start. A fresh spot, a drip, smoke or a smell of "
    "burning: note where and when, and tell us before it is wiped off or washed."
)
STOP = (
    "Stop it at once where a warning lamp for pressure or heat comes on, where it smokes, or where "
    "fluid drips on hot parts."
)
FUEL = (
    "At a smell of fuel stop the engine, keep flames and sparks away, and do not run it before it "
    "was looked at."
)
BRAKES = "Where brake fluid is lost or the pedal or lever goes soft, do not drive it."
COOLANT = (
    "Coolant is poisonous and tastes sweet: keep children and animals from what drips. Never open "
    "the cooling system while it is hot."
)
SKIN = "Never feel for a leak with a hand: fluid under pressure goes through skin."
_OWN = (
    ({FluidKind.BRAKE_FLUID}, BRAKES),
    ({FluidKind.DIESEL_FUEL, FluidKind.PETROL}, FUEL),
    ({FluidKind.COOLANT}, COOLANT),
    ({FluidKind.HYDRAULIC_OIL, FluidKind.DIESEL_FUEL, FluidKind.PETROL}, SKIN),
)


def watching(machine: Machine, fluids: Sequence[str]) -> tuple[str, ...]:
    """What to watch for; fluids: ids of those that may leak."""
    return tuple(_watching(machine, fluids))


def _watching(machine: Machine, fluids: Sequence[str]) -> Iterator[str]:
    kinds = {f.kind for f in machine.fluids if f.id in fluids}
    levels = [
        fluid_said(machine, f.id)
        for f in machine.fluids
        if f.id in fluids and f.kind is not FluidKind.GREASE
    ]
    yield GROUND
    if levels:
        yield (
            f"Check the level before each start in the first week, cold and on level ground: "
            f"{'; '.join(str(n) for n in levels)}. Write down what had to be topped up."
        )
    yield STOP
    yield from (text for about, text in _OWN if kinds & about)
