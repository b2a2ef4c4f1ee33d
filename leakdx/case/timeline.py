"""A job's timeline as epochs: what was clean when, which seals were renewed, what was read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from leakdx.case.model import (
    Context,
    ContextKind,
    Event,
    Job,
    Renewal,
    Run,
    SealReading,
    Sign,
    Wash,
    ZoneReading,
)
from leakdx.flow.attitude import Attitude
from leakdx.network.setting import Epoch

# The joint was apart: what it was before and what it is now are two things.
NEW_START = frozenset({ContextKind.RENEWED, ContextKind.RECENT_WORK})

Reading = ZoneReading | SealReading | Sign


@dataclass(frozen=True)
class Taken:
    """A reading and the epoch it was taken in; ``number`` is its place in the timeline."""

    number: int
    epoch: int
    reading: Reading


@dataclass(frozen=True)
class Story:
    """A job told in order.

    epochs: one for each stretch between washes.  washed: for each epoch, how thoroughly
    the surface was cleaned at its start (0 for the first).  repaired: epochs in which
    something was renewed or worked on with no wash after it.  generations: how many
    times each seal point began anew, its first time included.
    """

    epochs: tuple[Epoch, ...]
    washed: tuple[float, ...]
    repaired: frozenset[int]
    generations: Mapping[str, int]
    taken: tuple[Taken, ...]
    contexts: tuple[Context, ...]


def story_of(job: Job) -> Story:
    """The epochs and readings of a job, in the order of its timeline.

    A wash of the whole machine starts an epoch; a run adds its time to the epoch it falls
    in; a renewal starts a new generation of that seal point in the same epoch, so that
    the mess it left before is still explained by what it was.
    """
    start = Epoch(
        attitude=Attitude(job.conditions.pitch_deg, job.conditions.roll_deg),
        airflow_m_s=job.conditions.airflow_m_s,
        temperature_C=job.conditions.fluid_temperature_C,
        hours=job.conditions.hours,
    )
    telling = _Telling(start, epochs=[start], washed=[0.0])
    for number, event in enumerate(job.timeline):
        telling.hear(number, event)
    return telling.story()


@dataclass
class _Telling:
    """What is gathered while the timeline is read; never leaves this module."""

    start: Epoch
    epochs: list[Epoch]
    washed: list[float]
    repaired: set[int] = field(default_factory=set)
    generations: dict[str, int] = field(default_factory=dict)
    taken: list[Taken] = field(default_factory=list)
    contexts: list[Context] = field(default_factory=list)
    since: dict[str, int] = field(default_factory=dict)  # zone -> epoch of its last wash
    all_since: int = 0

    def hear(self, number: int, event: Event) -> None:
        if isinstance(event, Wash):
            self._wash(event)
        elif isinstance(event, Run):
            for epoch in self._live():
                self.epochs[epoch] = _run(self.epochs[epoch], event)
        elif isinstance(event, Renewal):
            self._begin_anew(event.renew)
        elif isinstance(event, Context):
            self._context(event)
        elif isinstance(event, ZoneReading):
            # A zone that a wash left out still wears what it wore before.
            self.taken.append(Taken(number, self._last_wash_of(event.zone), event))
        else:
            self.taken.append(Taken(number, len(self.epochs) - 1, event))

    def _live(self) -> set[int]:
        """Epochs whose surface is still there: of the last whole wash, and of parts since."""
        return {self.all_since, *self.since.values()}

    def _wash(self, event: Wash) -> None:
        if not event.wash:
            return
        latest = {s: (n - 1,) for s, n in self.generations.items()}
        fresh = replace(self.start, hours=0.0, active=latest)
        self.epochs.append(fresh)
        self.washed.append(event.thoroughness)
        here = len(self.epochs) - 1
        if event.wash == "whole":
            self.all_since, self.since = here, {}
        else:
            self.since |= dict.fromkeys(event.wash, here)

    def _begin_anew(self, seal: str) -> None:
        self.generations[seal] = self.generations.get(seal, 1) + 1
        read = {t.epoch for t in self.taken}
        for epoch in sorted(self._live()):
            active = dict(self.epochs[epoch].active)
            active[seal] = (*active.get(seal, (0,)), self.generations[seal] - 1)
            renewed = replace(self.epochs[epoch], active=active)
            if epoch in read:
                # What was read before the repair knows nothing of the new seal: the same
                # surface goes on as an epoch of its own.
                self._move(epoch, renewed)
            else:
                self.epochs[epoch] = renewed
                self.repaired.add(epoch)

    def _move(self, epoch: int, renewed: Epoch) -> None:
        new = len(self.epochs)
        self.epochs.append(renewed)
        self.washed.append(self.washed[epoch])
        self.repaired.add(new)
        self.since = {z: new if e == epoch else e for z, e in self.since.items()}
        if self.all_since == epoch:
            self.all_since = new

    def _context(self, event: Context) -> None:
        self.contexts.append(event)
        if event.context in NEW_START and event.seal_point:
            self._begin_anew(event.seal_point)
        elif event.context is ContextKind.SPILLED_AT_FILLING and event.zone:
            on = self._last_wash_of(event.zone)
            spilled = self.epochs[on].spilled | {(event.fluid, event.zone)}
            self.epochs[on] = replace(self.epochs[on], spilled=spilled)

    def _last_wash_of(self, zone: str) -> int:
        return self.since.get(zone, self.all_since)

    def story(self) -> Story:
        return Story(
            tuple(self.epochs),
            tuple(self.washed),
            frozenset(self.repaired),
            dict(self.generations),
            tuple(self.taken),
            tuple(self.contexts),
        )


def _run(epoch: Epoch, run: Run) -> Epoch:
    """The epoch with a run added.

    Air and warmth are averaged over the hours where those are known; where they are not,
    the run is all that is known.
    """
    more = run.run_minutes / 60
    before = epoch.hours or 0.0
    part = more / (before + more)
    air = epoch.airflow_m_s if run.airflow_m_s is None else run.airflow_m_s
    warm = epoch.temperature_C if run.fluid_temperature_C is None else run.fluid_temperature_C
    if warm is not None and epoch.temperature_C is not None:
        warm = epoch.temperature_C + part * (warm - epoch.temperature_C)
    return replace(
        epoch,
        hours=None if epoch.hours is None else before + more,
        airflow_m_s=epoch.airflow_m_s + part * (air - epoch.airflow_m_s),
        temperature_C=warm,
    )
