"""What it takes to bring a machine into the state that a look asks for.

A machine is cold, cooled, hot at idle or hot from a drive, or nothing is known of that; and it
may be lifted, its battery off, drained, washed.  Waiting is no labour, but a share of it is lost
to the job all the same.  All minutes are priors.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from leakdx.advice.renewal import steps_behind
from leakdx.case.history import effective
from leakdx.case.model import Event, Job, Run, SealReading, SealState, Wash, ZoneReading, ZoneState
from leakdx.machine.model import Inspection, Machine, MachineState, Method
from leakdx.network.setting import Use
from leakdx.priors.model import Priors

States = frozenset[MachineState]
TURNING: States = frozenset({MachineState.RUNNING, MachineState.HOT_IDLE, MachineState.DRIVEN})
_HOT: States = frozenset({MachineState.HOT_IDLE, MachineState.DRIVEN})
_COLD: States = frozenset({MachineState.COLD, MachineState.COOLED})
# Ways of looking that wash, run or drive as a part of themselves, within their own minutes:
# "clean and powder, then run", "dye in the oil, drive, lamp".
_CLEANS = frozenset({Method.WASH_AND_RUN, Method.POWDER})
_RUNS = _CLEANS | {Method.DYE_LAMP}
# An id, a comma and a name, in small letters.
_BRINGS = {
    MachineState.LIFTED: re.compile(r"\bon (an? )?(\w+ )?(stands?|lift|hoist|ramp)\b"),
    MachineState.COOLED: re.compile(r"\bcool\b"),
    MachineState.BATTERY_OFF: re.compile(r"\bbattery\b"),
    MachineState.DRAINED: re.compile(r"(^|, )drain\b(?! plug)"),
}


@dataclass(frozen=True)
class Ready:
    """What bringing the machine there takes.

    minutes: labour, with the share of the waiting that is lost to the job.  waits: minutes that
    it stands meanwhile, if it is not cold enough already.
    """

    minutes: float = 0.0
    waits: float = 0.0


def brought_by(machine: Machine, steps: Iterable[str]) -> States:
    """States that access steps bring about, by the words of their ids and names.

    "cool_down", "Drain the engine oil", "Lift the front and set it on stands".
    """
    names = {s.id: s.name or "" for s in machine.access_steps}
    said = [f"{s.replace('_', ' ')}, {names.get(s, '')}".lower() for s in steps]
    return frozenset(state for state, way in _BRINGS.items() if any(map(way.search, said)))


def standing(machine: Machine, job: Job, priors: Priors) -> States:
    """The state the machine is in now, as known from the job; nothing is known at its start.

    What was hot when something else was noted may have cooled since.
    """
    by_id = {i.id: i for i in machine.inspections}
    states: States = frozenset()
    since: str | None = None
    for _, event in effective(job):
        if _later(since, event.at, priors["looks.waits.cooled"]):
            # It was hot then; how hot it is now nobody says.
            states -= _HOT | {MachineState.RUNNING}
        since = event.at or since
        if isinstance(event, Run):
            states = _after_run(event, event.use or job.conditions.use, states, priors)
        elif isinstance(event, Wash):
            # A part that was washed does not make a washed machine.
            states |= {MachineState.WASHED} if event.wash == "whole" else set()
        elif (name := made_by(event)) in by_id:
            states = after(machine, by_id[name], states)
    return states


def _later(then: str | None, now: str | None, minutes: float) -> bool:
    """Whether something was noted so long after something else that a hot machine has cooled.

    Times in free text are the same time only where they are the same words.
    """
    if then is None or now is None or then == now:
        return False
    try:
        passed = datetime.fromisoformat(now) - datetime.fromisoformat(then)
    except (TypeError, ValueError):
        return True
    return passed > timedelta(minutes=minutes)


def _after_run(run: Run, use: Use | None, states: States, priors: Priors) -> States:
    minutes = run.run_minutes
    if use is Use.PARKED:
        stays = states - {MachineState.RUNNING}
        if minutes >= priors["looks.waits.cold"]:
            return stays - _HOT - _COLD | {MachineState.COLD}
        if minutes >= priors["looks.waits.cooled"] and MachineState.COLD not in states:
            return stays - _HOT | {MachineState.COOLED}
        return stays
    if minutes < priors["looks.ready.hot_idle"]:
        # Neither cold any more nor hot yet.
        return states & _HOT
    return frozenset({MachineState.DRIVEN if use is Use.DRIVEN else MachineState.HOT_IDLE})


def after(machine: Machine, inspection: Inspection, states: States) -> States:
    """The state a machine is in once an inspection was made.

    A machine that was run is taken to stand on its wheels again, filled and connected, but for
    what the look at it running asks for: as ``looks.steps_off`` takes it.
    """
    asked = frozenset(inspection.state) - {MachineState.ANY}
    found = asked | brought_by(machine, steps_behind(machine, inspection.access))
    stays = states - {MachineState.RUNNING}
    if inspection.method in _RUNS:
        stays, found = stays - _COLD - {MachineState.WASHED}, found - {MachineState.WASHED}
    if asked & TURNING:
        stays &= _HOT
    if asked & TURNING or inspection.method in _RUNS:
        found -= _COLD
    if found & (_HOT | _COLD):
        stays -= _HOT | _COLD
    return stays | found


def wanted(machine: Machine, inspection: Inspection, steps: Iterable[str]) -> States:
    """What a look asks for beyond what it does itself and these access steps bring."""
    does: set[MachineState] = {MachineState.ANY}
    if inspection.method in _CLEANS:
        does.add(MachineState.WASHED)
    if inspection.method in _RUNS:
        does |= TURNING
    return frozenset(inspection.state) - does - brought_by(machine, steps)


def minutes_to(state: States, now: States, priors: Priors) -> float:
    """Minutes of labour to bring a machine from one state to another."""
    return readying(state, now, priors).minutes


def readying(state: States, now: States, priors: Priors) -> Ready:
    """What it takes to bring a machine from one state to another, undoing what is in the way.

    ``state`` may ask for a cold machine that then runs, or a driven one that is then lifted.
    """
    waits, lost = _waiting(state, now, priors)
    return Ready(lost + _undoing(state, now, priors) + _doing(state, now, priors), waits)


def _waiting(state: States, now: States, priors: Priors) -> tuple[float, float]:
    """Minutes that it stands if need be, and how many of them are lost on average."""
    # Where nothing is known of it, it may have stood long enough already.
    chance = 1.0 if now & (_HOT | {MachineState.RUNNING}) else priors["looks.came_in_hot"]
    cooling = priors["looks.waits.cooled"]
    if MachineState.COLD in state and MachineState.COLD not in now:
        waits = priors["looks.waits.cold"]
        if MachineState.COOLED in now:
            # Whoever let it cool may have found it cold: to cool it makes nothing dearer.
            waits -= cooling
        return waits, chance * waits * priors["looks.overnight_share"]
    if MachineState.COOLED in state and not now & _COLD:
        return cooling, chance * cooling * priors["looks.waiting_share"]
    return 0.0, 0.0


def _lowers(state: States, now: States) -> bool:
    drives = MachineState.DRIVEN in state and MachineState.DRIVEN not in now
    return drives and MachineState.LIFTED in now


def _undoing(state: States, now: States, priors: Priors) -> float:
    minutes = priors["looks.ready.lowered"] if _lowers(state, now) else 0.0
    if state & TURNING and MachineState.BATTERY_OFF in now:
        minutes += priors["looks.ready.battery_on"]
    if state & TURNING and MachineState.DRAINED in now:
        minutes += priors["looks.ready.filled"]
    return minutes


def _doing(state: States, now: States, priors: Priors) -> float:
    minutes = 0.0
    if MachineState.DRIVEN in state:
        minutes += 0.0 if MachineState.DRIVEN in now else priors["looks.ready.driven"]
    elif MachineState.HOT_IDLE in state:
        minutes += 0.0 if now & _HOT else priors["looks.ready.hot_idle"]
    elif MachineState.RUNNING in state and MachineState.RUNNING not in now:
        minutes += priors["looks.ready.running"]
    # What drives is on its wheels.
    left = now - {MachineState.LIFTED} if _lowers(state, now) else now
    if MachineState.LIFTED in state - left:
        minutes += priors["looks.ready.lifted"]
    if MachineState.BATTERY_OFF in state - left:
        minutes += priors["looks.ready.battery_off"]
    if MachineState.DRAINED in state - left:
        minutes += priors["looks.ready.drained"]
    if MachineState.WASHED in state - left:
        minutes += priors["looks.ready.washed"]
    return minutes


def made_by(event: Event) -> str | None:
    """The inspection a reading names; None where nothing was looked at."""
    if not isinstance(event, ZoneReading | SealReading):
        return None
    if event.state in (ZoneState.NOT_LOOKED, SealState.NOT_LOOKED):
        return None
    return event.inspection
