"""Which inspections can still be made, what each then takes, and what it spoils."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from leakdx.advice.cautions import FIRST_OF_ALL, cautions_of
from leakdx.advice.readying import (
    TURNING,
    States,
    after,
    brought_by,
    made_by,
    readying,
    standing,
    wanted,
)
from leakdx.advice.renewal import steps_behind
from leakdx.advice.risks import Harm, harms_of
from leakdx.case.history import effective
from leakdx.case.model import (
    Event,
    Job,
    Run,
    SealReading,
    SealState,
    Sign,
    Wash,
    Yes,
    ZoneReading,
    ZoneState,
)
from leakdx.machine.model import Inspection, Machine, MachineState, Method, SignKind
from leakdx.network.setting import Use
from leakdx.priors.model import Priors

# No machine can be in one of the first and one of the second at once.  Cold and running is a
# cold start, running on stands is usual, and what is driven is lifted afterwards.
_EXCLUDES = (
    (
        frozenset({MachineState.COLD, MachineState.COOLED}),
        frozenset({MachineState.HOT_IDLE, MachineState.DRIVEN}),
    ),
    (frozenset({MachineState.BATTERY_OFF, MachineState.DRAINED}), TURNING),
)
# Ways of looking that go by the fluid that has collected on a surface.
_BY_RESIDUE = frozenset({Method.EYES, Method.MIRROR, Method.BORESCOPE, Method.WIPE, Method.FINGER})
_LEVELS = frozenset({SignKind.LEVEL_FALLS, SignKind.LEVEL_RISES})
# How, and what: a method and a zone or seal point, or a sign and its fluid.
Seen = tuple[str, str]
__all__ = [
    "FIRST_OF_ALL",
    "Look",
    "Looks",
    "Standing",
    "in_order",
    "look_at",
    "look_from",
    "looks_of",
    "spoilt_by",
    "standing_after",
    "steps_off",
]


@dataclass(frozen=True)
class Look:
    """One inspection as it stands now.

    steps: what must still come off, in an order that can be done.  minutes: for those, for the
    look itself and to bring the machine into the state it asks for.  spoils: what cannot be
    looked at as it was afterwards.  places: zones it works at, those of the seal points it reads
    included.  ready: how many of the minutes bring the machine there; it stands for ``waits``
    minutes meanwhile if need be, only a share of which is labour.  harms: joints that it may
    make leak.
    """

    inspection: Inspection
    steps: tuple[str, ...]
    minutes: float
    spoils: tuple[str, ...]
    cautions: tuple[str, ...]
    places: frozenset[str]
    ready: float = 0.0
    waits: float = 0.0
    harms: tuple[Harm, ...] = ()


@dataclass(frozen=True)
class Standing:
    """How the machine stands: the access steps that are off, and the state it is known to be in."""

    off: frozenset[str]
    states: States = frozenset()


@dataclass(frozen=True)
class Looks:
    """The looks that can be taken, and for the others the reason, by id of the inspection."""

    open: tuple[Look, ...]
    closed: Mapping[str, str]
    standing: Standing

    @property
    def off(self) -> frozenset[str]:
        """Access steps that are off, or need not be taken as the machine stands."""
        return self.standing.off


def looks_of(machine: Machine, job: Job, priors: Priors) -> Looks:
    """What can still be looked at in a job, and how the machine stands."""
    now = _stands(machine, steps_off(machine, job), standing(machine, job, priors))
    done = _done(machine, job)
    found: list[Look] = []
    closed: dict[str, str] = {}
    for inspection in machine.inspections:
        reason = _closed(inspection, done)
        if reason is None:
            found.append(look_from(machine, inspection, now, priors))
        else:
            closed[inspection.id] = reason
    return Looks(tuple(found), closed, now)


def look_from(machine: Machine, inspection: Inspection, now: Standing, priors: Priors) -> Look:
    """An inspection as the machine stands now, bringing it into the right state included."""
    look = look_at(machine, inspection, now.off)
    ready = readying(wanted(machine, inspection, look.steps), now.states, priors)
    return replace(
        look,
        minutes=look.minutes + ready.minutes,
        ready=ready.minutes,
        waits=ready.waits,
        harms=harms_of(machine, inspection, look.places, priors),
    )


def look_at(machine: Machine, inspection: Inspection, off: frozenset[str]) -> Look:
    """An inspection on a machine in the state it asks for, with the steps that are not off yet,
    each counted once."""
    steps = {step.id: step for step in machine.access_steps}
    left = steps_behind(machine, inspection.access) - off
    order = tuple(in_order(machine, left))
    places = _places(machine, inspection)
    own = [*inspection.cautions, *(c for s in order for c in steps[s].cautions)]
    return Look(
        inspection=inspection,
        steps=order,
        minutes=inspection.minutes + sum(steps[s].minutes for s in order),
        spoils=inspection.destroys,
        cautions=cautions_of(machine, inspection, places, own),
        places=places,
    )


def standing_after(machine: Machine, inspection: Inspection, now: Standing) -> Standing:
    """How the machine stands once an inspection was made."""
    return _stands(
        machine, _off_after(machine, inspection, now.off), after(machine, inspection, now.states)
    )


def _stands(machine: Machine, off: frozenset[str], states: States) -> Standing:
    """Cooling down is no step to be taken where it is cold already."""
    if MachineState.COLD in states:
        states |= {MachineState.COOLED}
    cools = {
        s.id
        for s in machine.access_steps
        if MachineState.COOLED in states & brought_by(machine, [s.id])
    }
    return Standing(off | cools, states)


def _places(machine: Machine, inspection: Inspection) -> frozenset[str]:
    reads = inspection.reads
    joints = (s.zones for s in machine.seal_points if s.id in reads.seal_points)
    return frozenset(reads.zones).union(*joints)


def spoilt_by(look: Look, others: Iterable[Look]) -> tuple[str, ...]:
    """Ids of the looks that can no longer be taken as they are once this one was.

    They lose the fluid they would go by, the dye, the joint as it was, or the level.
    """
    mine = look.inspection.id
    return tuple(o.inspection.id for o in others if o.inspection.id != mine and _spoils(look, o))


def _spoils(look: Look, other: Look) -> bool:
    gone = set(look.spoils)
    if look.inspection.method is Method.WASH_AND_RUN:
        gone.add("residue")
    mine, its = look.inspection.reads, other.inspection.reads
    method = other.inspection.method
    here = bool(look.places & other.places)
    dye = method is Method.DYE_LAMP
    # What is washed for the look anyway goes by no residue.
    by_residue = method in _BY_RESIDUE and MachineState.WASHED not in other.inspection.state
    return (
        ("residue" in gone and here and by_residue)
        or ("residue" in gone and dye and bool(look.places & set(its.zones)))
        or ("dye" in gone and dye and here)
        or ("joint" in gone and bool(set(mine.seal_points) & set(its.seal_points)))
        or ("level" in gone and bool(_LEVELS & set(its.signs)))
    )


def in_order(machine: Machine, names: frozenset[str]) -> Iterator[str]:
    """Access steps so that each comes after those it needs."""
    after = {step.id: step.after for step in machine.access_steps}
    done: set[str] = set()

    def visit(name: str) -> Iterator[str]:
        if name in done or name not in names:
            return
        done.add(name)
        for before in after.get(name, ()):
            yield from visit(before)
        yield name

    for step in machine.access_steps:
        yield from visit(step.id)


def steps_off(machine: Machine, job: Job) -> frozenset[str]:
    """Access steps that inspections since the last run have taken: what is off stays off.

    A machine that was run again is taken to have been put together for it, but for what a
    look at it running needs off.  While it stands parked, what is off stays off.
    """
    by_id = {i.id: i for i in machine.inspections}
    off = frozenset[str]()
    for _, event in effective(job):
        if isinstance(event, Run) and (event.use or job.conditions.use) is not Use.PARKED:
            off = frozenset()
        elif (name := made_by(event)) in by_id:
            off = _off_after(machine, by_id[name], off)
    return off


def _off_after(machine: Machine, inspection: Inspection, off: frozenset[str]) -> frozenset[str]:
    """Access steps that are off once an inspection was made."""
    kept = frozenset[str]() if TURNING & set(inspection.state) else off
    return kept | steps_behind(machine, inspection.access)


def _done(machine: Machine, job: Job) -> dict[str, str]:
    """Inspections that were made since the last wash or run, and how that is known."""
    named: set[str] = set()
    seen: set[Seen] = set()
    methods = {i.id: i.method for i in machine.inspections}
    for _, event in effective(job):
        if isinstance(event, Wash | Run):
            named.clear()
            seen.clear()
            continue
        if (name := made_by(event)) is not None:
            named.add(name)
        seen |= set(_seen(event, machine, methods))
    done = dict.fromkeys(named, "has been made already")
    for inspection in machine.inspections:
        things = set(_read_by(inspection, machine))
        if things and things <= seen:
            done.setdefault(inspection.id, "reads only what has been read already in that way")
    return done


def _seen(event: Event, machine: Machine, methods: Mapping[str, Method]) -> Iterator[Seen]:
    """What an event tells of, and by what method; a sign is a sign however it was found."""
    if isinstance(event, Sign):
        if event.value is not Yes.NOT_LOOKED:
            yield event.sign.value, event.fluid or machine.fluids[0].id
    elif isinstance(event, ZoneReading | SealReading):
        if event.state in (ZoneState.NOT_LOOKED, SealState.NOT_LOOKED):
            return
        method = event.method
        if "method" not in event.model_fields_set:
            method = methods.get(event.inspection or "", method)
        if isinstance(event, ZoneReading):
            yield method.value, f"zone {event.zone}"
        else:
            yield method.value, f"seal {event.seal_point}"


def _read_by(inspection: Inspection, machine: Machine) -> Iterator[Seen]:
    reads = inspection.reads
    for zone in reads.zones:
        yield inspection.method.value, f"zone {zone}"
    for seal in reads.seal_points:
        yield inspection.method.value, f"seal {seal}"
    for sign in reads.signs:
        yield sign.value, reads.fluid or machine.fluids[0].id


def _closed(inspection: Inspection, done: Mapping[str, str]) -> str | None:
    """Why an inspection cannot or need not be made; None where it can."""
    if inspection.id in done:
        return done[inspection.id]
    asked = set(inspection.state)
    # A wash and run goes through several states one after another.
    for one, other in _EXCLUDES if inspection.method is not Method.WASH_AND_RUN else ():
        if asked & one and asked & other:
            both = " and ".join(sorted(s.value.replace("_", " ") for s in asked & (one | other)))
            return f"asks for a machine that is {both} at once, which cannot be"
    return None
