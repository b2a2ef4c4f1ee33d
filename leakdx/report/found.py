"""What was seen, in words for the owner: the last that was seen of each place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from leakdx.case.model import (
    Age,
    Done,
    SealReading,
    SealState,
    Sign,
    Wash,
    Yes,
    ZoneReading,
    ZoneState,
)
from leakdx.machine.model import Machine, SignKind

_DRY = (ZoneState.DRY, SealState.TIGHT)
_UNSEEN = (ZoneState.NOT_LOOKED, SealState.NOT_LOOKED)
_WITH_FLUID = {
    "film": "a thin film of {}",
    "running": "{}, running",
    "dripping": "{}, dripping",
    "wet": "wet with {}",
}
_WITHOUT = {"film": "a thin film", "drops_form": "drops form"}
_AGES = {Age.FRESH: ", fresh", Age.AGED: ", not fresh", Age.BAKED: ", old and baked on"}
_SIGNS = {
    SignKind.LEVEL_FALLS: "the level of {} falls",
    SignKind.LEVEL_RISES: "the level of {} rises",
    SignKind.PRESSURE_LOSS: "{} does not hold its pressure",
    SignKind.GROUND_WET: "the ground under it is wet",
    SignKind.SMOKE: "it smokes",
    SignKind.BURNT_SMELL: "it smells of burning",
    SignKind.FUEL_SMELL: "it smells of fuel",
    SignKind.FLUID_THINNED: "{} is thinned by another fluid",
    SignKind.FLUID_EMULSIFIED: "{} is milky",
    SignKind.LEAKS_COLD_START: "it leaks after a cold start",
    SignKind.LEAKS_HOT_IDLE: "it leaks when it idles hot",
    SignKind.LEAKS_AT_SPEED: "it leaks at speed",
    SignKind.LEAKS_AT_REST: "it leaks while it stands",
}


@dataclass(frozen=True)
class Place:
    """A place by name, and how it was; washed: it was washed after that."""

    name: str
    how: str
    washed: bool = False


@dataclass(frozen=True)
class Found:
    """What some entries say was seen.

    wet: places and joints.  dry: names of places and of joints seen to be dry.  signs: of the
    whole machine.  zones: places looked at.  unsure: wet places whose fluid was not told.
    """

    wet: tuple[Place, ...]
    dry: tuple[str, ...]
    signs: tuple[str, ...]
    zones: frozenset[str]
    unsure: int


def fluid_said(machine: Machine, fluid: str | None) -> str | None:
    """A fluid as an owner calls it; by its own name only where two are of one kind."""
    of = next((f for f in machine.fluids if f.id == fluid), None)
    if of is None:
        return None
    alike = [f for f in machine.fluids if f.kind is of.kind]
    return of.kind.value.replace("_", " ") if len(alike) == 1 else of.name or _words(of.id)


def found_of(machine: Machine, entries: Sequence[Done]) -> Found:
    """What was seen last of each place; a wet place that was washed since says so."""
    last: dict[str, ZoneReading | SealReading | Sign] = {}
    washed: set[str] = set()
    for entry in entries:
        match entry:
            case Wash(wash="whole"):
                washed = {z.id for z in machine.zones} | {s.id for s in machine.seal_points}
            case Wash(wash=tuple(zones)):
                washed |= set(zones)
            case ZoneReading(zone=key) | SealReading(seal_point=key):
                if entry.state not in _UNSEEN:
                    last[key] = entry
                    washed.discard(key)
            case Sign():
                last[f"{entry.sign} {entry.fluid}"] = entry
    return _told(machine, last, washed)


def _told(
    machine: Machine, last: dict[str, ZoneReading | SealReading | Sign], washed: set[str]
) -> Found:
    names = {z.id: z.name or _words(z.id) for z in machine.zones}
    names |= {s.id: s.name or _words(s.id) for s in machine.seal_points}
    wet, dry, signs = [], [], []
    zones, unsure = set(), 0
    for key, seen in last.items():
        if isinstance(seen, Sign):
            if seen.value is Yes.YES:
                signs.append(_SIGNS[seen.sign].format(fluid_said(machine, seen.fluid) or "a fluid"))
            continue
        if isinstance(seen, ZoneReading):
            zones.add(key)
        if seen.state in _DRY:
            dry.append(names[key])
            continue
        wet.append(Place(names[key], _how(machine, seen), key in washed))
        unsure += isinstance(seen, ZoneReading) and seen.fluid is None
    return Found(tuple(wet), tuple(dry), tuple(signs), frozenset(zones), unsure)


def _how(machine: Machine, seen: ZoneReading | SealReading) -> str:
    if isinstance(seen, SealReading):
        return f"{_WITHOUT.get(seen.state, _words(seen.state))} at the joint itself"
    fluid = fluid_said(machine, seen.fluid)
    how = _WITHOUT.get(seen.state, seen.state.value)
    if fluid is not None:
        how = _WITH_FLUID[seen.state].format(fluid)
    elif len(machine.fluids) > 1:
        how += ", fluid not known"
    return how + (_AGES[seen.age] if seen.age is not None else "")


def _words(name: str) -> str:
    return name.replace("_", " ")
