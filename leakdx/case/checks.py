"""Checks of a job against itself and against its machine."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from leakdx.case.model import (
    Context,
    ContextKind,
    Event,
    Job,
    Renewal,
    SealReading,
    Sign,
    Wash,
    Yes,
    ZoneReading,
    ZoneState,
)
from leakdx.files.checked import CrossCheck, Names, Problem
from leakdx.files.locations import Location
from leakdx.machine.checks import unknown
from leakdx.machine.model import Machine, SignKind

# Each of these is a fact about one joint and says nothing without it.
NEEDS_SEAL_POINT = frozenset(
    {
        ContextKind.RECENT_WORK,
        ContextKind.RENEWED,
        ContextKind.SEALANT_SEEN,
        ContextKind.HARD_AND_RIGID,
        ContextKind.FASTENER_LOOSE,
        ContextKind.FASTENER_MISSING,
        ContextKind.GASKET_ROLLED,
    }
)
# Each of these is about one fluid; with a single fluid on the machine it goes without saying.
SIGN_NEEDS_FLUID = frozenset(
    {
        SignKind.LEVEL_FALLS,
        SignKind.LEVEL_RISES,
        SignKind.FLUID_THINNED,
        SignKind.FLUID_EMULSIFIED,
    }
)
CONTEXT_NEEDS_FLUID = frozenset(
    {
        ContextKind.OVERFILLED,
        ContextKind.SPILLED_AT_FILLING,
        ContextKind.VENTILATION_BLOCKED,
        ContextKind.VENTILATION_CLEAR,
    }
)

Use = tuple[str, Location, str | None]


def _uses(job: Job) -> Iterator[Use]:
    """Every id of the machine that the job names: (list of the machine, where, id)."""
    for i, history in enumerate(job.seal_histories):
        yield "seal_points", ("seal_histories", i, "seal_point"), history.seal_point
    for i, event in enumerate(job.timeline):
        here: Location = ("timeline", i)
        match event:
            case ZoneReading():
                yield "zones", (*here, "zone"), event.zone
                yield "fluids", (*here, "fluid"), event.fluid
                yield "inspections", (*here, "inspection"), event.inspection
            case SealReading():
                yield "seal_points", (*here, "seal_point"), event.seal_point
                yield "inspections", (*here, "inspection"), event.inspection
            case Sign():
                yield "fluids", (*here, "fluid"), event.fluid
            case Context():
                yield "seal_points", (*here, "seal_point"), event.seal_point
                yield "fluids", (*here, "fluid"), event.fluid
                yield "zones", (*here, "zone"), event.zone
            case Wash(wash=tuple() as zones):
                for n, zone in enumerate(zones):
                    yield "zones", (*here, "wash", n), zone
            case Renewal():
                yield "seal_points", (*here, "renew"), event.renew


def _names_of(machine: Machine) -> Names:
    """The ids of the machine, as the checks of a machine see them."""
    return Names(
        {
            "fluids": tuple((i, x.id) for i, x in enumerate(machine.fluids)),
            "zones": tuple((i, x.id) for i, x in enumerate(machine.zones)),
            "seal_points": tuple((i, x.id) for i, x in enumerate(machine.seal_points)),
            "inspections": tuple((i, x.id) for i, x in enumerate(machine.inspections)),
        }
    )


def _needs(i: int, event: Event, several_fluids: bool) -> Iterator[Problem]:
    match event:
        case Context(context=kind, seal_point=None) if kind in NEEDS_SEAL_POINT:
            yield Problem(
                ("timeline", i, "context"),
                f"'{kind}' is about one joint, and none is named",
                "Add 'seal_point:' with the id of the joint.",
            )
        case Context(context=kind, fluid=None, seal_point=None) if (
            several_fluids and kind in CONTEXT_NEEDS_FLUID
        ):
            yield _needs_fluid(("timeline", i, "context"), kind)
        case Sign(sign=sign, fluid=None, value=value) if (
            several_fluids and sign in SIGN_NEEDS_FLUID and value is not Yes.NOT_LOOKED
        ):
            yield _needs_fluid(("timeline", i, "sign"), sign)
        case ZoneReading(state=state, drops_per_minute=float()) if state is not ZoneState.DRIPPING:
            yield Problem(
                ("timeline", i, "drops_per_minute"),
                f"counts drops at a zone that is said to be {state.value}",
                "Write 'state: dripping', or leave the count out.",
            )
        case Wash(wash=()):
            yield Problem(
                ("timeline", i, "wash"),
                "names no zone",
                "Name the zones that were washed, or write: wash: whole.",
            )


def _needs_fluid(location: Location, kind: str) -> Problem:
    return Problem(
        location,
        f"'{kind}' is about one fluid, and the machine has several",
        "Add 'fluid:' with the id of the fluid.",
    )


def _repeated_histories(job: Job) -> Iterator[Problem]:
    first: dict[str, int] = {}
    for i, history in enumerate(job.seal_histories):
        name = history.seal_point
        if name in first:
            yield Problem(
                ("seal_histories", i, "seal_point"),
                f"gives '{name}' a second history, after entry number {first[name] + 1}",
                "Keep one.",
            )
        first.setdefault(name, i)


def _problems(machine: Machine | None, job: Job, _names: Names) -> Iterator[Problem]:
    """What is wrong with the job; without a machine, what the job alone shows."""
    yield from _repeated_histories(job)
    several = machine is not None and len(machine.fluids) > 1
    for i, event in enumerate(job.timeline):
        yield from _needs(i, event, several)
    if machine is None:
        return
    ids = _names_of(machine)
    for key, location, name in _uses(job):
        yield from unknown(ids, key, [(location, name)])


def job_check(machine: Machine | None) -> CrossCheck[Job]:
    """The checks of a job on that machine; on None, only those that need no machine."""
    problems: Callable[[Job, Names], Iterator[Problem]] = partial(_problems, machine)
    return CrossCheck(
        problems,
        {
            "format": "leakdx-job/1",
            "id": "job",
            "machine": {"id": "machine", "version": "1"},
        },
    )
