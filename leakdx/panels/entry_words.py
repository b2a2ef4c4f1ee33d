"""What each entry of a job says, in the words of a workshop: names, never ids."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from leakdx.case.model import (
    Conditions,
    Context,
    Correct,
    Done,
    Event,
    Renewal,
    Run,
    SealReading,
    SealState,
    Sign,
    Sureness,
    Wash,
    Withdraw,
    Yes,
    ZoneReading,
    ZoneState,
)
from leakdx.drawing.words import name_of
from leakdx.machine.model import Fluid, Machine, Method
from leakdx.network.setting import Use
from leakdx.panels.glossary import (
    AGES,
    CHECKS,
    CONTEXTS,
    HOWS,
    METHODS,
    SEAL_STATES,
    SIGNS,
    USES,
    ZONE_STATES,
)
from leakdx.panels.names import Names

NOT_LOOKED = "not looked at"
SEEN = {Sureness.POOR: "seen poorly", Sureness.GOOD: "seen well"}
# How thoroughly a wash cleans where nothing is said.
USUAL_WASH = Wash.model_fields["thoroughness"].default


@dataclass(frozen=True)
class EntryWords:
    """What the entries of one machine's jobs say."""

    machine: Machine

    @cached_property
    def names(self) -> Names:
        """Of its things."""
        return Names(self.machine)

    @cached_property
    def fluids(self) -> Mapping[str, str]:
        """Its fluids as they are named within a sentence: "engine oil"."""
        short = [_within(name_of(f).split(",")[0]) for f in self.machine.fluids]
        return {
            f.id: _told_apart(f, s, short) for f, s in zip(self.machine.fluids, short, strict=True)
        }

    @cached_property
    def stands(self) -> Mapping[str, str]:
        """The ways it is known to stand."""
        return {s.id: s.name or s.id.replace("_", " ") for s in self.machine.stands}

    @cached_property
    def _methods(self) -> Mapping[str, Method]:
        return {i.id: i.method for i in self.machine.inspections}

    def event(self, event: Event, before: Sequence[Event]) -> str:
        """What an entry says; ``before``: all that stand before it in the timeline."""
        match event:
            case Withdraw(withdraw=number):
                return f"Took back {self._earlier(number, before)}"
            case Correct(correct=number, to=to):
                return f"Put entry {number} right: {self.done(to)}"
        return self.done(event)

    def done(self, event: Done) -> str:
        """What was seen or done, with the name of the place."""
        names = self.names
        match event:
            case ZoneReading():
                return f"{names.thing(event.zone)}: {self.reading(event)}"
            case SealReading():
                return f"{names.thing(event.seal_point)}: {self.reading(event)}"
            case Sign():
                return self.sign(event)
            case Context():
                about = [names.thing(n) for n in (event.seal_point, event.zone) if n]
                about += [self.fluids.get(f, f) for f in [event.fluid] if f]
                said = CONTEXTS[event.context].said
                return f"{said}: {', '.join(about)}" if about else said
            case Wash(wash=wash):
                what = "the whole machine" if wash == "whole" else ", ".join(map(names.thing, wash))
                share = event.thoroughness
                how = "" if share == USUAL_WASH else f", about {100 * share:.0f} % of it off"
                return f"Washed: {what}{how}"
            case Run():
                return self._run(event)
            case Renewal():
                checks = [CHECKS[c].within for c in event.checks]
                done = f"; checked: {', '.join(checks)}" if checks else ""
                return f"Renewed: {names.thing(event.renew)}, {HOWS[event.how].within}{done}"

    def reading(self, reading: ZoneReading | SealReading) -> str:
        """How it looked, without the place: "film, fresh, engine oil, with a mirror"."""
        if reading.state in (ZoneState.NOT_LOOKED, SealState.NOT_LOOKED):
            return NOT_LOOKED
        said: list[str | None]
        if isinstance(reading, ZoneReading):
            drops = reading.drops_per_minute
            said = [
                ZONE_STATES[reading.state].within,
                reading.age and AGES[reading.age].within,
                reading.fluid and self.fluids.get(reading.fluid, reading.fluid),
                None if drops is None else f"{drops:g} drops a minute",
            ]
        else:
            said = [SEAL_STATES[reading.state].within]
        method = reading.method
        if method is Method.EYES and reading.inspection is not None:
            method = self._methods.get(reading.inspection, method)
        said.append(None if method is Method.EYES else METHODS[method].within)
        said.append(SEEN.get(reading.sure))
        return ", ".join(s for s in said if s)

    def sign(self, sign: Sign) -> str:
        """A sign as a sentence: "The level of the engine oil falls"."""
        words = SIGNS[sign.sign]
        fluid = self.fluids.get(sign.fluid, sign.fluid) if sign.fluid else "fluid"
        if sign.value is Yes.NOT_LOOKED:
            return f"{words.ask.format(fluid=fluid)} Not looked at"
        said = (words.is_so if sign.value is Yes.YES else words.is_not).format(fluid=fluid)
        # Where the sentence has no place for the fluid, it is told after it.
        told = sign.fluid is None or "{fluid}" in words.is_so
        return said if told else f"{said} ({fluid})"

    def conditions(self, now: Conditions) -> str:
        """How it stands and runs, in a line: "level, driven, 90 °C, 50 h since clean"."""
        said = [self._stands(now)]
        if now.use is not None:
            said.append(USES[now.use].within)
        if now.airflow_m_s is not None:
            said.append(f"air at {now.airflow_m_s:g} m/s")
        if now.fluid_temperature_C is not None:
            said.append(f"{now.fluid_temperature_C:g} °C")
        if now.hours is not None:
            said.append(f"{now.hours:g} h since clean")
        return ", ".join(said)

    def _stands(self, now: Conditions) -> str:
        if now.stand is not None:
            return _within(self.stands.get(now.stand, now.stand))
        pitch, roll = now.pitch_deg or 0.0, now.roll_deg or 0.0
        said = []
        if pitch:
            said.append(f"nose {'up' if pitch > 0 else 'down'} {abs(pitch):g} degrees")
        if roll:
            said.append(f"{'left' if roll > 0 else 'right'} side up {abs(roll):g} degrees")
        return ", ".join(said) or "level"

    def _run(self, run: Run) -> str:
        parked = run.use is Use.PARKED
        said = [f"{'Stood' if parked else 'Ran'} for {_minutes(run.run_minutes)}"]
        if run.use is not None and not parked:
            said.append(USES[run.use].within)
        if run.stand is not None:
            said.append(_within(self.stands.get(run.stand, run.stand)))
        if run.airflow_m_s is not None:
            said.append(f"air at {run.airflow_m_s:g} m/s")
        if run.fluid_temperature_C is not None:
            said.append(f"{run.fluid_temperature_C:g} °C")
        return ", ".join(said)

    def _earlier(self, number: int, before: Sequence[Event]) -> str:
        if not 0 < number <= len(before):
            return f"entry {number}"
        event = before[number - 1]
        if isinstance(event, Withdraw):
            return f"the taking back of {self._earlier(event.withdraw, before[: number - 1])}"
        return f"entry {number}: {self.event(event, before[: number - 1])}"


def _minutes(minutes: float) -> str:
    return "1 minute" if minutes == 1 else f"{minutes:g} minutes"


def _within(name: str) -> str:
    """A name as it stands within a sentence; what is all capitals stays so."""
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def _told_apart(fluid: Fluid, short: str, every: Sequence[str]) -> str:
    return short if every.count(short) == 1 else _within(name_of(fluid))
