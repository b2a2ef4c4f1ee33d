"""How long to wash, run and look until it is as good as sure that nothing leaks.

The job is carried on as it would go if all went well: the whole machine washed, run for a time,
and every zone that can be looked at without strip-down found dry.  What the network then says is
worked out for a grid of times; the times between are interpolated in log odds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from leakdx.advice.counting import between
from leakdx.advice.finest import finest
from leakdx.advice.looks import Look, looks_of
from leakdx.advice.solving import TooLarge
from leakdx.advice.solving import limits as solving_limits
from leakdx.belief.evidence import Evidence, combine
from leakdx.belief.tree import JunctionTree, TooWide, compile_network
from leakdx.case.evidence import Asked, asked_of, label_of, readings_of, setting_of, with_histories
from leakdx.case.model import Event, Job, Run, SealReading, SealState, Wash, ZoneReading, ZoneState
from leakdx.case.read import LoadedJob
from leakdx.case.timeline import story_of
from leakdx.flow.courses import DETAILS
from leakdx.machine.model import MachineState, Method
from leakdx.network.build import LeakNetwork, Numbers, network_of, spreads_of, unlisted_elsewhere
from leakdx.network.setting import OTHER_STATES, Use, seal_name
from leakdx.network.tables import Array, NetworkError
from leakdx.priors.model import Priors

MINUTES = (5, 10, 20, 30, 45, 60, 90, 120, 180, 240)
# The chances to be sure of.
SURE = (0.90, 0.95, 0.99)
# A run that is always worked out, beside the shortest and the longest.
USUAL = 60
# A night parked after the run.
NIGHT = 720
# Minutes of opening up, beyond which a look counts as strip-down.
OPENED = 45.0
# How the fluid that has run in the meantime is looked for.
_LOOKING = frozenset({Method.EYES, Method.MIRROR, Method.BORESCOPE})
# States a machine just run is not in.
_LATER = frozenset(
    {
        MachineState.COLD,
        MachineState.COOLED,
        MachineState.BATTERY_OFF,
        MachineState.DRAINED,
        MachineState.WASHED,
    }
)
# Largest table in the barest detail: with the whole machine looked at once more, networks are
# wider than for a ranking.  A run of one length then takes up to half a second.
WIDEST = 2**20
Question = Mapping[str, Array]


def limits(detail: int) -> tuple[int, int | None]:
    """Largest table, and entries of all together, for a job carried on."""
    largest, together = solving_limits(detail)
    return (WIDEST if together is None else largest), together


def chances(
    tree: JunctionTree, columns: Sequence[Evidence], questions: Sequence[Question]
) -> Array:
    """P(question | column), (questions, columns): all asked of the network in one batch.

    A question is a likelihood of each variable it is about, 1 where the answer is yes and 0
    where it is no.  Raises as JunctionTree.log_evidence.
    """
    count, sizes = len(columns), tree.plan.sizes
    names = dict.fromkeys(n for each in (*columns, *questions) for n in each)
    stacked: dict[str, Array] = {}
    for name in names:
        seen = np.ones((sizes[name], count))
        for k, column in enumerate(columns):
            if name in column:
                seen[:, k] = column[name]
        asked = [seen] + [seen * q[name][:, None] if name in q else seen for q in questions]
        stacked[name] = np.concatenate(asked, axis=1)
    if not names:
        return np.ones((len(questions), count))
    logs = np.asarray(tree.log_evidence(Evidence(stacked))).reshape(len(questions) + 1, count)
    return np.asarray(np.clip(np.exp(logs[1:] - logs[0]), 0.0, 1.0))


TIGHT = np.array([1.0, 0.0, 0.0, 0.0])


def dry_question(asked: Asked, priors: Priors) -> tuple[dict[str, Array], float]:
    """That no listed seal point leaks as it is now, and no unlisted origin at a zone built.

    Second: the chance that none of the zones that are not built has an unlisted origin, by
    which the answer is multiplied.
    """
    network, generations = asked.network, asked.story.generations
    tight = {
        seal_name(s.id, generations.get(s.id, 1) - 1): TIGHT
        for s in network.setting.machine.seal_points
    }
    return tight | listed_question(network), 1 - unlisted_elsewhere(network, priors)


def listed_question(network: LeakNetwork) -> dict[str, Array]:
    """That no unlisted origin lets fluid out now at a zone that is built."""
    listed = np.array([1.0 - (state == "unlisted") for state in OTHER_STATES])
    return dict.fromkeys(network.others.values(), listed)


@dataclass(frozen=True)
class Round:
    """What is looked at after the run.

    looks: ids of the inspections, in the machine's order; zones: each with the inspection that
    reads it (None where the machine lists none).  minutes: of labour, opening up included.
    """

    looks: tuple[str, ...]
    zones: tuple[tuple[str, str | None], ...]
    minutes: float

    def dry(self) -> tuple[Event, ...]:
        """All of it found dry."""
        return tuple(
            ZoneReading(zone=z, state=ZoneState.DRY)
            if i is None
            else ZoneReading(zone=z, state=ZoneState.DRY, inspection=i)
            for z, i in self.zones
        )


def round_of(loaded: LoadedJob, priors: Priors, only: frozenset[str] | None = None) -> Round:
    """All zones that can be looked at without strip-down once the machine was washed and run.

    only: of these, those named.
    """
    machine = loaded.machine
    opened = {s.id: s.minutes for s in machine.access_steps}
    ready = Trial(Use.IDLED, USUAL).carried_on(loaded.job, ())
    zones: dict[str, str | None] = {}
    used: list[Look] = []
    for look in looks_of(machine, ready, priors).open:
        asks = look.inspection
        if asks.method not in _LOOKING or _LATER & set(asks.state):
            continue
        new = [z for z in asks.reads.zones if z not in zones and (only is None or z in only)]
        if new and sum(opened[s] for s in look.steps) <= OPENED:
            zones.update(dict.fromkeys(new, asks.id))
            used.append(look)
    if not zones:
        seen = (z.id for z in machine.zones if not z.hidden)
        zones = {z: None for z in seen if only is None or z in only}
    steps = frozenset(s for look in used for s in look.steps)
    minutes = sum(opened[s] for s in steps) + sum(look.inspection.minutes for look in used)
    return Round(tuple(look.inspection.id for look in used), tuple(zones.items()), minutes)


@dataclass(frozen=True)
class Trial:
    """What is done to see whether it is dry: washed whole, run, left to stand, looked at.

    night: parked for a night after the run.  close: seal points looked at closely as well,
    each with the inspection that does it.
    """

    use: Use
    minutes: float
    night: bool = False
    close: tuple[tuple[str, str | None], ...] = ()

    def carried_on(self, job: Job, found: Sequence[Event]) -> Job:
        """The job with this done, and what was found then."""
        more: tuple[Event, ...] = (Wash(wash="whole"), Run(run_minutes=self.minutes, use=self.use))
        if self.night:
            more = (*more, Run(run_minutes=NIGHT, use=Use.PARKED))
        tight = tuple(
            SealReading(seal_point=s, state=SealState.TIGHT)
            if i is None
            else SealReading(seal_point=s, state=SealState.TIGHT, inspection=i)
            for s, i in self.close
        )
        return job.model_copy(update={"timeline": (*job.timeline, *more, *found, *tight)})


@dataclass(frozen=True)
class Outlook:
    """If all that is looked at after a trial is dry.

    dry: chance that nothing leaks; holds: that all that was renewed is tight; each (as it is
    known now, after the trial).  leaks: chance of each seal point to leak all the same.
    """

    trial: Trial
    dry: tuple[float, float]
    holds: tuple[float, float]
    leaks: Mapping[str, float]


@dataclass(frozen=True, eq=False)
class Prospect:
    """A job carried on in one use, its network compiled; runs of other lengths fit into it."""

    loaded: LoadedJob
    priors: Priors
    round: Round
    asked: Asked
    tree: JunctionTree
    detail: int

    @staticmethod
    def of(loaded: LoadedJob, priors: Priors, found: Round, trial: Trial) -> Prospect:
        """Followed in the fullest detail that fits.  Raises TooLarge where none does."""
        job = trial.carried_on(loaded.job, found.dry())
        try:
            asked, tree, detail = finest(
                lambda detail: asked_of(loaded.machine, job, priors, detail),
                lambda asked: asked.network.network,
                limits,
            )
        except TooWide as error:
            raise TooLarge(loaded.machine.id, error.entries) from error
        return Prospect(loaded, priors, found, asked, tree, detail)

    def also(self, trial: Trial) -> Prospect:
        """The same in as much detail for another trial; raises TooLarge where that is too wide."""
        job = trial.carried_on(self.loaded.job, self.round.dry())
        try:
            asked = asked_of(self.loaded.machine, job, self.priors, self.detail)
            tree = compile_network(asked.network.network, *limits(self.detail))
        except TooWide:
            return Prospect.of(self.loaded, self.priors, self.round, trial)
        return replace(self, asked=asked, tree=tree)

    def outlook(self, trial: Trial, renewed: Sequence[str]) -> Outlook:
        """What is known if all is dry after a trial in the same use."""
        asked, tree, known, found = self._looked(trial)
        now = self.seals(asked)
        sound = dict.fromkeys((now[s] for s in renewed), TIGHT)
        nothing, elsewhere = dry_question(asked, self.priors)
        everything = combine([known, *found.values()])
        dry, holds = chances(tree, [known, everything], [nothing, sound])
        beliefs = tree.update(everything, only=list(now.values()))
        return Outlook(
            trial,
            (float(dry[0] * elsewhere), float(dry[1] * elsewhere)),
            (float(holds[0]), float(holds[1])),
            {s: float(1 - beliefs[name][0]) for s, name in now.items()},
        )

    def sure_without(
        self, trial: Trial, renewed: Sequence[str], inspections: Sequence[frozenset[str]]
    ) -> list[tuple[float, float]]:
        """Chances that what was renewed is tight, and that nothing leaks, if all is dry.

        One pair for each set of inspections, whose close looks are left out.
        """
        asked, tree, known, found = self._looked(trial)
        read = {t.number: t.reading for t in asked.story.taken}
        columns = []
        for left_out in inspections:
            kept = [
                evidence
                for number, evidence in found.items()
                if not (
                    isinstance(reading := read[number], SealReading)
                    and reading.inspection in left_out
                )
            ]
            columns.append(combine([known, *kept]))
        now = self.seals(asked)
        nothing, elsewhere = dry_question(asked, self.priors)
        sound = dict.fromkeys((now[s] for s in renewed), TIGHT)
        holds, dry = chances(tree, columns, [sound, nothing])
        return [(float(h), float(d * elsewhere)) for h, d in zip(holds, dry, strict=True)]

    def seals(self, asked: Asked) -> dict[str, str]:
        """Each seal point -> the variable of what it is now."""
        generations = asked.story.generations
        machine = self.loaded.machine
        return {s.id: seal_name(s.id, generations.get(s.id, 1) - 1) for s in machine.seal_points}

    def _looked(self, trial: Trial) -> tuple[Asked, JunctionTree, Evidence, dict[int, Evidence]]:
        """Network of a trial, what was known before it, and by number what is found then."""
        asked = self._asked(trial.carried_on(self.loaded.job, self.round.dry()))
        there = len(self.loaded.job.timeline)
        new = {label_of(t): t.number for t in asked.story.taken if t.number >= there}
        known = combine(e for label, e in asked.readings.items() if label not in new)
        found = {new[label]: e for label, e in asked.readings.items() if label in new}
        return asked, self._tree(asked.network), known, found

    def _asked(self, job: Job) -> Asked:
        """As asked_of, along the courses known already: they do not hang on the run's length."""
        machine = with_histories(self.loaded.machine, job)
        story = story_of(job, machine, self.priors)
        winds = [e.wind for e in story.epochs]
        if winds != [e.wind for e in self.asked.story.epochs]:
            return asked_of(self.loaded.machine, job, self.priors, self.detail)
        setting = setting_of(machine, story, self.detail, self.priors)
        flows = tuple(spread.flow for spread in self.asked.network.spreads)
        spreads = spreads_of(setting, flows, self.priors)
        network = network_of(setting, spreads, Numbers(self.priors, self.priors), None)
        return Asked(story, network, readings_of(story, network, self.priors))

    def _tree(self, network: LeakNetwork) -> JunctionTree:
        try:
            return self.tree.with_tables(network.network)
        except NetworkError:
            return compile_network(network.network, *limits(len(DETAILS) - 1))


@dataclass
class Curve:
    """P(nothing leaks | all dry after a run) by its length; a length is worked out when asked."""

    at: Callable[[int], float]
    known: dict[int, float] = field(default_factory=dict)

    def value(self, place: int) -> float:
        """At ``MINUTES[place]``."""
        if place not in self.known:
            self.known[place] = self.at(MINUTES[place])
        return self.known[place]

    @property
    def points(self) -> tuple[tuple[int, float], ...]:
        """What has been worked out, the shortest run first."""
        return tuple((MINUTES[k], self.known[k]) for k in sorted(self.known))

    def minutes(self, sure: float) -> float | None:
        """Shortest run after which it is that sure; None where the longest does not do.

        Found by halving, since longer runs show more.  Where they do not (fluid that has run
        off again), every length is worked out and the first that does is taken.
        """
        low, high = 0, len(MINUTES) - 1
        if self.value(low) >= sure:
            return float(MINUTES[low])
        if self.value(high) >= sure:
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (low, middle) if self.value(middle) >= sure else (middle, high)
        if not self._rising():
            each = [self.value(k) for k in range(len(MINUTES))]
            high = next((k for k, p in enumerate(each) if p >= sure), len(each) - 1)
            low = high - 1
        if self.value(high) < sure:
            return None
        if high == 0:
            return float(MINUTES[0])
        return between((MINUTES[low], self.value(low)), (MINUTES[high], self.value(high)), sure)

    def _rising(self) -> bool:
        each = [p for _, p in self.points]
        return all(one <= other + 1e-12 for one, other in pairwise(each))
