"""Checks of a job against itself and against its machine."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import Any

from pydantic import TypeAdapter, ValidationError

from leakdx.case.history import standing_of
from leakdx.case.model import (
    KINDS,
    Conditions,
    Context,
    ContextKind,
    Correct,
    Costs,
    Done,
    Event,
    Job,
    Renewal,
    Run,
    SealReading,
    Sign,
    Wash,
    Withdraw,
    Yes,
    ZoneReading,
    ZoneState,
    entry_kind,
)
from leakdx.files.checked import CrossCheck, Names, Problem
from leakdx.files.locations import Location
from leakdx.files.words import listed, shown
from leakdx.machine.checks import unknown
from leakdx.machine.model import CauseKind, Machine, SealKind, SignKind
from leakdx.network.causes import causes_of
from leakdx.network.refit import How
from leakdx.network.setting import Use

# Each of these is a fact about one joint and says nothing without it.
NEEDS_SEAL_POINT = frozenset(
    {
        ContextKind.RECENT_WORK,
        ContextKind.RENEWED,
        ContextKind.SEALANT_SEEN,
        ContextKind.HARD_AND_RIGID,
        ContextKind.FASTENER_LOOSE,
        ContextKind.FASTENER_MISSING,
        ContextKind.FASTENER_TOO_LONG,
        ContextKind.OVERTIGHTENED,
        ContextKind.GASKET_ROLLED,
        ContextKind.CORRODED,
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

# Money worth more labour than this is a slip of a decimal point or of the currency.
MOST_HOURS = 10_000

Named = tuple[str, Location, str | None]


def _named(job: Job) -> Iterator[Named]:
    """Every id of the machine that the job names: (list of the machine, where, id)."""
    yield "stands", ("conditions", "stand"), job.conditions.stand
    for name in job.costs.parts if job.costs is not None else ():
        yield "seal_points", ("costs", "parts", name), name
    for i, history in enumerate(job.seal_histories):
        yield "seal_points", ("seal_histories", i, "seal_point"), history.seal_point
    for here, event in _entries(job):
        yield from _named_by(here, event)


def _entries(job: Job) -> Iterator[tuple[Location, Done]]:
    """Everything seen or done, corrections included, and where it stands."""
    for i, event in enumerate(job.timeline):
        if isinstance(event, Correct):
            yield ("timeline", i, "to"), event.to
        elif not isinstance(event, Withdraw):
            yield ("timeline", i), event


def _named_by(here: Location, event: Done) -> Iterator[Named]:
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
        case Run():
            yield "stands", (*here, "stand"), event.stand
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
            "stands": tuple((i, x.id) for i, x in enumerate(machine.stands)),
        }
    )


def _needs(here: Location, event: Done, several_fluids: bool) -> Iterator[Problem]:
    match event:
        case Context(context=kind, seal_point=None) if kind in NEEDS_SEAL_POINT:
            yield Problem(
                (*here, "context"),
                f"'{kind}' is about one joint, and none is named",
                "Add 'seal_point:' with the id of the joint.",
            )
        case Context(context=kind, fluid=None, seal_point=None) if (
            several_fluids and kind in CONTEXT_NEEDS_FLUID
        ):
            yield _needs_fluid((*here, "context"), kind)
        case Sign(sign=sign, fluid=None, value=value) if (
            several_fluids and sign in SIGN_NEEDS_FLUID and value is not Yes.NOT_LOOKED
        ):
            yield _needs_fluid((*here, "sign"), sign)
        case ZoneReading(state=state, drops_per_minute=float()) if state is not ZoneState.DRIPPING:
            yield Problem(
                (*here, "drops_per_minute"),
                f"counts drops at a zone that is said to be {state.value}",
                "Write 'state: dripping', or leave the count out.",
            )
        case Wash(wash=()):
            yield Problem(
                (*here, "wash"),
                "names no zone",
                "Name the zones that were washed, or write: wash: whole.",
            )


def _needs_fluid(location: Location, kind: str) -> Problem:
    return Problem(
        location,
        f"'{kind}' is about one fluid, and the machine has several",
        "Add 'fluid:' with the id of the fluid.",
    )


def _conditions(conditions: Conditions) -> Iterator[Problem]:
    for key in ("pitch_deg", "roll_deg"):
        if conditions.stand is not None and getattr(conditions, key) is not None:
            yield Problem(
                ("conditions", key),
                f"is given beside the stand '{conditions.stand}', which says how the machine "
                "stands",
                f"Keep one: take out 'stand', or '{key}'.",
            )
    if conditions.use is Use.PARKED and conditions.airflow_m_s:
        yield _air_while_parked(("conditions", "airflow_m_s"))


def _costs(costs: Costs) -> Iterator[Problem]:
    money: list[tuple[Location, float | None]] = [
        (("costs", "comeback"), costs.comeback),
        (("costs", "part"), costs.part),
        *((("costs", "parts", name), price) for name, price in costs.parts.items()),
    ]
    for location, amount in money:
        if amount is not None and amount > MOST_HOURS * costs.labour_per_hour:
            yield Problem(
                location,
                f"is worth more than {MOST_HOURS} hours of labour at {shown(costs.labour_per_hour)}"
                " an hour",
                "Give it and 'labour_per_hour' in the same currency.",
            )


def _run(here: Location, run: Run, conditions: Conditions) -> Iterator[Problem]:
    if (run.use or conditions.use) is Use.PARKED and run.airflow_m_s:
        yield _air_while_parked((*here, "airflow_m_s"))


def _air_while_parked(location: Location) -> Problem:
    return Problem(
        location,
        "blows on a machine that is parked",
        "Take it out, or write 'use: idled' or 'use: driven' here.",
    )


def _unknown_stand(ids: Names, location: Location, name: str | None) -> Iterator[Problem]:
    known = ids.of("stands")
    if name is None or name in known:
        return
    remedy = "The machine has none: give 'pitch_deg' and 'roll_deg' in the conditions instead."
    if known:
        remedy = f"Use one of: {listed(known)}."
    yield Problem(location, f"names the stand '{name}', which the machine does not have", remedy)


def _drain_back(here: Location, event: Done, machine: Machine) -> Iterator[Problem]:
    """A blocked drain-back is told of one joint, or of the only such cause that is listed."""
    if not isinstance(event, Context) or event.context is not ContextKind.DRAIN_BACK_BLOCKED:
        return
    causes = [
        c.id
        for c in causes_of(machine)
        if c.kind is CauseKind.DRAIN_BACK_BLOCKED
        and (event.fluid is None or c.fluid in (None, event.fluid))
    ]
    if event.seal_point is None and len(causes) != 1:
        there = f"has several: {listed(causes)}" if causes else "lists none"
        yield Problem(
            (*here, "context"),
            f"'{event.context}' does not say where, and the machine {there}",
            "Add 'seal_point:' with the id of a joint over which the oil stands.",
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


def _renewal(here: Location, event: Done, machine: Machine) -> Iterator[Problem]:
    """Only a hose end can be cut back."""
    if not isinstance(event, Renewal) or event.how is not How.SHORTENED:
        return
    kind = next((s.kind for s in machine.seal_points if s.id == event.renew), None)
    if kind is not None and kind is not SealKind.HOSE_END:
        yield Problem(
            (*here, "how"),
            f"is 'shortened', but '{event.renew}' is a {kind.value.replace('_', ' ')}: only a hose "
            "end can be cut back and refitted",
            "Write 'new_part', or 'refitted' where the same part was put back.",
        )


def _pointing(timeline: Sequence[Event], written: Sequence[Any]) -> Iterator[Problem]:
    """Withdrawals and corrections of entries that are not there, or not of that kind.

    written: the entries as they stand in the file, faulty ones included, whose numbers count.
    """
    places = _places(timeline, written)
    if places is None:
        return
    for i, event in enumerate(timeline):
        if not isinstance(event, Withdraw | Correct):
            continue
        key = "withdraw" if isinstance(event, Withdraw) else "correct"
        number = event.withdraw if isinstance(event, Withdraw) else event.correct
        here: Location = ("timeline", i, key)
        if number > len(written):
            yield Problem(
                here,
                f"names entry {number}, and the timeline has {len(written)}",
                "Give the number of an earlier entry, counted from 1.",
            )
        elif number > places[i]:
            yield Problem(
                here,
                f"names entry {number}, which is not before it: it is entry {places[i] + 1} itself"
                if number == places[i] + 1
                else f"names entry {number}, which comes after it: it is entry {places[i] + 1}",
                "Give the number of an earlier entry, counted from 1.",
            )
        elif number - 1 in places:
            before = standing_of(timeline[:i])
            if not before[places.index(number - 1)]:
                yield Problem(
                    here,
                    f"names entry {number}, which has been withdrawn already",
                    "Take this entry out, or withdraw the withdrawal first.",
                )
        if isinstance(event, Correct) and number <= places[i]:
            yield from _other_kind(("timeline", i, "to"), event, written)


def _other_kind(here: Location, event: Correct, written: Sequence[Any]) -> Iterator[Problem]:
    old, new = entry_kind(written[event.correct - 1]), entry_kind(event.to)
    if old is None or old == new:
        return
    if old in ("withdraw", "correct"):
        problem = f"corrects entry {event.correct}, which is {KINDS[old]}"
        remedy = "Correct the entry that it names, or withdraw it."
    else:
        problem = (
            f"puts {KINDS[new or old]} in the place of entry {event.correct}, which is {KINDS[old]}"
        )
        remedy = f"Give {KINDS[old]}, or withdraw entry {event.correct} and write a new entry."
    yield Problem(here, problem, remedy)


_ENTRY: TypeAdapter[Event] = TypeAdapter(Event)


def _places(timeline: Sequence[Event], written: Sequence[Any]) -> list[int] | None:
    """The place of each entry as written, where faulty ones were left out; None if unclear."""
    if len(timeline) == len(written):
        return list(range(len(written)))
    sound = [n for n, entry in enumerate(written) if _is_sound(entry)]
    return sound if len(sound) == len(timeline) else None


def _is_sound(entry: Any) -> bool:
    try:
        _ENTRY.validate_python(entry)
    except ValidationError:
        return False
    return True


def _problems(machine: Machine | None, data: Any, job: Job, _names: Names) -> Iterator[Problem]:
    """What is wrong with the job; without a machine, what the job alone shows."""
    yield from _conditions(job.conditions)
    if job.costs is not None:
        yield from _costs(job.costs)
    yield from _repeated_histories(job)
    written = data.get("timeline") if isinstance(data, Mapping) else None
    yield from _pointing(
        job.timeline, written if isinstance(written, list | tuple) else job.timeline
    )
    several = machine is not None and len(machine.fluids) > 1
    for here, event in _entries(job):
        yield from _needs(here, event, several)
        if isinstance(event, Run):
            yield from _run(here, event, job.conditions)
        if machine is not None:
            yield from _drain_back(here, event, machine)
            yield from _renewal(here, event, machine)
    if machine is None:
        return
    ids = _names_of(machine)
    for key, location, name in _named(job):
        if key == "stands":
            yield from _unknown_stand(ids, location, name)
        else:
            yield from unknown(ids, key, [(location, name)])


def job_check(machine: Machine | None, data: Any = None) -> CrossCheck[Job]:
    """The checks of a job on that machine; on None, only those that need no machine.

    data: the job as written, so that an entry with a fault of its own keeps its number.
    """
    problems: Callable[[Job, Names], Iterator[Problem]] = partial(_problems, machine, data)
    return CrossCheck(
        problems,
        {
            "format": "leakdx-job/1",
            "id": "job",
            "machine": {"id": "machine", "version": "1"},
        },
    )
