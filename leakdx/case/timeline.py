"""A job's timeline as epochs: what was clean when, which seals were renewed, what was read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from leakdx.case.history import effective
from leakdx.case.model import (
    Conditions,
    Context,
    ContextKind,
    Done,
    Job,
    Renewal,
    Run,
    SealReading,
    Sign,
    Wash,
    ZoneReading,
)
from leakdx.flow.attitude import Attitude
from leakdx.machine.model import Machine, Stand
from leakdx.network.refit import Check, How, Nearness, neighbours
from leakdx.network.setting import Epoch, Use
from leakdx.network.uses import airflow
from leakdx.priors.model import Priors

# The joint was apart: what it was before and what it is now are two things.
NEW_START = frozenset({ContextKind.RENEWED, ContextKind.RECENT_WORK})

Reading = ZoneReading | SealReading | Sign

# Joints that one repair is taken to disturb, at most; the nearest count.
MOST_DISTURBED = 4


class Origin(StrEnum):
    """What a generation of a seal point began with."""

    FIRST = "first"
    RENEWED = "renewed"
    WORKED_ON = "worked_on"
    DISTURBED = "disturbed"


@dataclass(frozen=True)
class Life:
    """One generation of a seal point.

    checks, how: of its renewal.  disturbed: how the joint lay to each later work that may have
    made it leak.
    """

    origin: Origin
    checks: frozenset[Check] = frozenset()
    how: How = How.NEW_PART
    disturbed: tuple[Nearness, ...] = ()


FIRST = Life(Origin.FIRST)


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
    times each seal point began anew, its first time included.  lives: those generations, of
    each seal point of which there is anything to tell.  told: for each context, the
    generations there were when it was told.
    """

    epochs: tuple[Epoch, ...]
    washed: tuple[float, ...]
    repaired: frozenset[int]
    generations: Mapping[str, int]
    taken: tuple[Taken, ...]
    contexts: tuple[Context, ...]
    lives: Mapping[str, tuple[Life, ...]] = field(default_factory=dict)
    told: tuple[Mapping[str, int], ...] = ()


def story_of(job: Job, machine: Machine, priors: Priors) -> Story:
    """The epochs and readings of a job, in the order of its timeline.

    A wash of the whole machine starts an epoch; a run adds its time to the epoch it falls
    in; a renewal starts a new generation of that seal point in the same epoch, so that
    the mess it left before is still explained by what it was.  Work may disturb joints beside
    it: what was read before then is still of the joint as it was.  What was withdrawn or
    corrected counts as in ``history.effective``.  Raises KeyError for a stand that the machine
    does not have, UnknownNumber if a prior number is missing.
    """
    ground = _Ground(job.conditions, {s.id: s for s in machine.stands}, priors)
    start = ground.start()
    telling = _Telling(ground, machine, epochs=[start], washed=[0.0], longest=[start.hours or 0.0])
    for number, event in effective(job):
        telling.hear(number, event)
    return telling.story()


@dataclass(frozen=True)
class _Ground:
    """How the machine stands and what meets it, where an event does not say otherwise."""

    conditions: Conditions
    stands: Mapping[str, Stand]
    priors: Priors

    def attitude(self, stand: str | None) -> Attitude:
        """The attitude in a stand; where none is named, that of the conditions."""
        named = stand or self.conditions.stand
        if named is not None:
            return Attitude(self.stands[named].pitch_deg, self.stands[named].roll_deg)
        return Attitude(self.conditions.pitch_deg or 0.0, self.conditions.roll_deg or 0.0)

    def start(self) -> Epoch:
        """The machine as it came, run for as long as is stated, or for as long as is usual."""
        stated = self.conditions
        hours = stated.hours
        air = stated.airflow_m_s
        return Epoch(
            attitude=self.attitude(None),
            airflow_m_s=airflow(stated.use, self.priors) if air is None else air,
            temperature_C=stated.fluid_temperature_C,
            hours=hours,
            spent={stated.use: self.priors["flow.hours_since_clean"] if hours is None else hours},
        )

    def fresh(self, active: Mapping[str, tuple[int, ...]]) -> Epoch:
        """The machine just washed."""
        return replace(self.start(), hours=0.0, spent={self.conditions.use: 0.0}, active=active)

    def after(self, epoch: Epoch, run: Run) -> Epoch:
        """The epoch with a run added.

        Air and warmth are averaged over the hours where those are known; where they are not,
        the run is all that is known.  What stands parked meets no air and is left out of it.
        """
        more = run.run_minutes / 60
        before = epoch.hours or 0.0
        use = run.use or self.conditions.use
        part = more / (before + more)
        warm = epoch.temperature_C if run.fluid_temperature_C is None else run.fluid_temperature_C
        if warm is not None and epoch.temperature_C is not None:
            warm = epoch.temperature_C + part * (warm - epoch.temperature_C)
        return replace(
            epoch,
            hours=None if epoch.hours is None else before + more,
            airflow_m_s=epoch.airflow_m_s if use is Use.PARKED else self._air(epoch, run),
            temperature_C=warm,
            spent={**epoch.spent, use: epoch.spent.get(use, 0.0) + more},
        )

    def _air(self, epoch: Epoch, run: Run) -> float:
        more = run.run_minutes / 60
        turned = max((epoch.hours or 0.0) - epoch.spent.get(Use.PARKED, 0.0), 0.0)
        air = run.airflow_m_s
        if air is None:
            other_use = run.use is not None and run.use is not self.conditions.use
            air = airflow(run.use, self.priors) if other_use else epoch.airflow_m_s
        return epoch.airflow_m_s + more / (turned + more) * (air - epoch.airflow_m_s)


@dataclass
class _Telling:
    """What is gathered while the timeline is read; never leaves this module."""

    ground: _Ground
    machine: Machine
    epochs: list[Epoch]
    washed: list[float]
    longest: list[float]  # hours of the longest stretch of each epoch in one stand
    repaired: set[int] = field(default_factory=set)
    lives: dict[str, list[Life]] = field(default_factory=dict)
    worked: list[str] = field(default_factory=list)  # seal points of the repair going on
    taken: list[Taken] = field(default_factory=list)
    contexts: list[Context] = field(default_factory=list)
    told: list[Mapping[str, int]] = field(default_factory=list)
    since: dict[str, int] = field(default_factory=dict)  # zone -> epoch of its last wash
    all_since: int = 0

    def hear(self, number: int, event: Done) -> None:
        if isinstance(event, Wash) and not event.wash:
            return
        if not isinstance(event, Renewal | Context):
            self._disturb()
        if isinstance(event, Wash):
            self._wash(event)
        elif isinstance(event, Run):
            for epoch in self._live():
                self._run(epoch, event)
        elif isinstance(event, Renewal):
            life = Life(Origin.RENEWED, frozenset(event.checks), event.how)
            self._begin_anew(event.renew, life)
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

    def _run(self, epoch: int, event: Run) -> None:
        self.epochs[epoch] = self.ground.after(self.epochs[epoch], event)
        # Fluid shows the way it ran for longest.
        if event.run_minutes / 60 > self.longest[epoch]:
            self.longest[epoch] = event.run_minutes / 60
            attitude = self.ground.attitude(event.stand)
            self.epochs[epoch] = replace(self.epochs[epoch], attitude=attitude)

    def _wash(self, event: Wash) -> None:
        latest = {s: (n - 1,) for s, n in self._generations().items()}
        self.epochs.append(self.ground.fresh(latest))
        self.washed.append(event.thoroughness)
        self.longest.append(0.0)
        here = len(self.epochs) - 1
        if event.wash == "whole":
            self.all_since, self.since = here, {}
        else:
            self.since |= dict.fromkeys(event.wash, here)

    def _generations(self) -> dict[str, int]:
        return {s: len(lives) for s, lives in self.lives.items() if len(lives) > 1}

    def _begin_anew(self, seal: str, life: Life) -> None:
        if seal not in self.worked:
            self.worked.append(seal)
        self.lives.setdefault(seal, [FIRST]).append(life)
        read = {t.epoch for t in self.taken}
        for epoch in sorted(self._live()):
            active = dict(self.epochs[epoch].active)
            active[seal] = (*active.get(seal, (0,)), len(self.lives[seal]) - 1)
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
        self.longest.append(self.longest[epoch])
        self.repaired.add(new)
        self.since = {z: new if e == epoch else e for z, e in self.since.items()}
        if self.all_since == epoch:
            self.all_since = new

    def _disturb(self) -> None:
        """A repair is over: joints beside it may have begun to leak."""
        if not self.worked:
            return
        seals = {s.id: s for s in self.machine.seal_points}
        reach = self.ground.priors["refit.reach_mm"]
        beside: dict[str, tuple[tuple[int, float], Nearness]] = {}
        for worked in filter(seals.__contains__, self.worked):
            for order, seal, near in neighbours(self.machine, seals[worked], reach):
                if seal not in self.worked:
                    beside[seal] = min(beside.get(seal, (order, near)), (order, near))
        for seal in sorted(beside, key=lambda s: beside[s][0])[:MOST_DISTURBED]:
            self._disturbed(seal, beside[seal][1])
        self.worked.clear()

    def _disturbed(self, seal: str, near: Nearness) -> None:
        lives = self.lives.setdefault(seal, [FIRST])
        latest = len(lives) - 1
        if not any(latest in self.epochs[t.epoch].active.get(seal, (0,)) for t in self.taken):
            # Nothing was read of it as it was, so it need not be told apart.
            lives[latest] = replace(lives[latest], disturbed=(*lives[latest].disturbed, near))
            return
        lives.append(Life(Origin.DISTURBED, disturbed=(near,)))
        for epoch in self._live():
            active = dict(self.epochs[epoch].active)
            # It leaks wherever it leaked before, so the former generation brings nothing more.
            active[seal] = (*active.get(seal, (0,))[:-1], latest + 1)
            self.epochs[epoch] = replace(self.epochs[epoch], active=active)

    def _context(self, event: Context) -> None:
        self.contexts.append(event)
        if event.context in NEW_START and event.seal_point:
            renewed = event.context is ContextKind.RENEWED
            self._begin_anew(
                event.seal_point, Life(Origin.RENEWED if renewed else Origin.WORKED_ON)
            )
        elif event.context is ContextKind.SPILLED_AT_FILLING and event.zone:
            on = self._last_wash_of(event.zone)
            spilled = self.epochs[on].spilled | {(event.fluid, event.zone)}
            self.epochs[on] = replace(self.epochs[on], spilled=spilled)
        self.told.append({s: len(lives) for s, lives in self.lives.items()})

    def _last_wash_of(self, zone: str) -> int:
        return self.since.get(zone, self.all_since)

    def story(self) -> Story:
        self._disturb()
        return Story(
            tuple(self.epochs),
            tuple(self.washed),
            frozenset(self.repaired),
            self._generations(),
            tuple(self.taken),
            tuple(self.contexts),
            {s: tuple(lives) for s, lives in self.lives.items()},
            tuple(self.told),
        )
