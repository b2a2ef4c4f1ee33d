"""The ranking at once after each reading, on a network that is ready for any of them.

``solve`` builds a network for exactly the readings of a job, which takes a second.  A Swift
is built once for the machine and what was done to it; readings then only bring evidence.
At equal detail of the flow the chances are those of ``solve``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from leakdx.advice.leaning import Full, leaning
from leakdx.advice.prepared import Structure, prepared, structure_of
from leakdx.advice.ranking import Ranking, ranked_seals
from leakdx.advice.solving import ContradictoryReadings, Solved
from leakdx.advice.sums import Weighed, beliefs_of, chances, weighed, with_rest
from leakdx.advice.why import why_of
from leakdx.advice.words import next_step, notes_of
from leakdx.belief.contradiction import smallest_contradiction
from leakdx.belief.evidence import Evidence, ImpossibleEvidence
from leakdx.belief.tree import JunctionTree
from leakdx.case.evidence import Asked, can_take, label_of, readings_of, silent
from leakdx.case.model import Job, Sign, ZoneReading
from leakdx.case.read import LoadedJob
from leakdx.case.timeline import Story
from leakdx.machine.model import Machine
from leakdx.network.build import LeakNetwork
from leakdx.network.causes import causes_of
from leakdx.network.setting import OTHER_STATES, cause_name, flow_name, other_name, seal_name
from leakdx.network.tables import Maximum
from leakdx.priors.model import Priors

# Terms of the sums, all taken together: batch columns of one update; and table entries in all.
MOST_TERMS = 8
MOST_ENTRIES = 1_000_000
# How often effects beyond that tell their parents what they say of them.
ROUNDS = 2
# Three questions side by side: no listed seal leaks, no origin is unlisted, neither.
ASK_SEAL = np.stack([np.eye(4)[0], np.ones(4), np.eye(4)[0]], axis=1)
LISTED = np.array([float(state != "unlisted") for state in OTHER_STATES])
ASK_OTHER = np.stack([np.ones(3), LISTED, LISTED], axis=1)
ROUGH = "weighed roughly for now, in full in a moment: reading {}"
LACKING = "not counted yet, but in a moment: reading {}"
# Answers kept, so that a ranking that leans on the last full one is worked out once.
KEPT = 4


@dataclass(frozen=True, eq=False)
class _Answer:
    """A job with its readings taken in, and the plain ranking."""

    job: Job
    solved: Solved
    ranking: Ranking


@dataclass(frozen=True, eq=False)
class Swift:
    """A network in which any further reading of a job can be taken in without building.

    network: with every effect there could be a reading of.  tree: compiled without those
    ``apart``.  parents: of every variable of the network.  detail: as in Solved.  lacking:
    readings that were there when it was built and that it cannot weigh in full.
    lacking: readings that it did not weigh in full when it was built.
    """

    network: LeakNetwork
    tree: JunctionTree
    apart: Mapping[str, Maximum]
    parents: Mapping[str, tuple[str, ...]]
    structure: Structure
    detail: int
    priors: Priors

    lacking: frozenset[str] = frozenset()
    # Working memory only: what is kept here changes no answer.
    _answers: list[_Answer] = field(default_factory=list, repr=False)

    @staticmethod
    def of(loaded: LoadedJob, priors: Priors, like: Swift | None = None) -> Swift:
        """The network for a job's present structure and readings, compiled: about a second.

        like: one of the same machine, perhaps, with the same priors; where only numbers differ
        its shape is kept, which takes a fifth of the time.  Raises TooLarge where not even the
        strongest ways of the flow give tables that fit.
        """
        known = None if like is None else (like.tree, like.detail)
        made, tree = prepared(loaded, priors, known)
        net = made.whole.network
        parents = {t.child: t.parents for t in net.tables}
        parents |= {m.child: m.parents for m in net.maxima}
        story, structure = structure_of(loaded, priors)
        swift = Swift(made.whole, tree, made.apart, parents, structure, made.detail, priors)
        return replace(swift, lacking=swift._lacking(story))

    def fits(self, loaded: LoadedJob) -> bool:
        """Whether a job differs from the one it was built for in readings at most.

        So too where a context differs that is evidence of a shared cause and nothing else.
        """
        return structure_of(loaded, self.priors)[1] == self.structure

    def behind(self, loaded: LoadedJob) -> bool:
        """Whether a Swift built now would weigh readings of a job in full that this one does not.

        These are the ones that the notes of the ranking name, but for any that were beyond it
        when it was built.
        """
        story, _ = structure_of(loaded, self.priors)
        return bool(self._lacking(story) - self.lacking)

    def ranking(self, loaded: LoadedJob, last: Full | None = None) -> Ranking:
        """The ranking of a job that fits, without sets; its notes name readings it lacks.

        last: the last full ranking of the job, some readings earlier or later; the answer then
        leans on it, and is much the nearer to the full one to come.  One of a job that does not
        fit is left aside.

        Raises:
            ContradictoryReadings: where the readings cannot hold together.
            ValueError: for a job that does not fit.
        """
        answer = self._answer(loaded)
        if last is None or not self.fits(last.loaded):
            return answer.ranking
        then = self._answer(last.loaded).ranking
        leant = leaning(answer.ranking, then, last.ranking)
        return _in_words(loaded, answer.solved, leant)

    def _answer(self, loaded: LoadedJob) -> _Answer:
        known = [a for a in self._answers if a.job == loaded.job]
        made = known[0] if known else self._worked_out(loaded)
        # The one asked for last comes first.
        self._answers[:] = [made, *(a for a in self._answers if a is not made)][:KEPT]
        return made

    def _worked_out(self, loaded: LoadedJob) -> _Answer:
        story, structure = structure_of(loaded, self.priors)
        if structure != self.structure:
            raise ValueError(f"job {loaded.job.id} does not fit: its structure has changed")
        readings = self._readings(story)
        try:
            known = with_rest(self.tree, self._weighed(readings), self.apart, ROUNDS)
            beliefs = beliefs_of(self.tree, known, self._wanted(story))
        except ImpossibleEvidence as error:
            raise self._contradiction(readings) from error
        asked = Asked(story, self.network, readings)
        solved = Solved(asked, self.tree, known.evidence, beliefs, self.detail)
        notes = [LACKING.format(label.replace("_", " ")) for label in self._untaken(story)]
        notes += [ROUGH.format(label.replace("_", " ")) for label in known.rough]
        return _Answer(loaded.job, solved, self._ranked(loaded, solved, known, notes))

    def _weighed(self, readings: Mapping[str, Evidence]) -> Weighed:
        most = MOST_ENTRIES // sum(self.tree.clique_entries)
        return weighed(readings, self.apart, max(min(most, MOST_TERMS), 1))

    def _readings(self, story: Story) -> dict[str, Evidence]:
        there = tuple(t for t in story.taken if can_take(self.network, t))
        return readings_of(replace(story, taken=there), self.network, self.priors)

    def _lacking(self, story: Story) -> frozenset[str]:
        """Readings that are not weighed in full."""
        return frozenset((*self._untaken(story), *self._weighed(self._readings(story)).rough))

    def _untaken(self, story: Story) -> tuple[str, ...]:
        """Readings that the network has no variable for."""
        return tuple(label_of(t) for t in story.taken if not can_take(self.network, t))

    def _wanted(self, story: Story) -> tuple[str, ...]:
        """Variables of the seal points as they are now, and of the causes."""
        machine = self.network.setting.machine
        return (*_seals(machine, story), *(cause_name(c.id) for c in causes_of(machine)))

    def _ranked(
        self, loaded: LoadedJob, solved: Solved, known: Weighed, more: list[str]
    ) -> Ranking:
        job, machine = loaded.job, loaded.machine
        rows = ranked_seals(loaded, solved)
        none, not_listed, nothing = self._not_these(solved, known)
        plain = Ranking(
            job=job.id,
            machine=machine.id,
            title=job.name or job.id,
            rows=rows,
            sets=(),
            sets_proven=False,
            none_leaks=none,
            not_listed=not_listed,
            nothing_leaks=nothing,
            log_evidence=float(np.asarray(solved.beliefs.log_evidence)),
            readings=len(solved.asked.readings),
            why=(),
            notes=(*notes_of(loaded, solved), *more),
            next_step="",
        )
        return _in_words(loaded, solved, plain)

    def _not_these(self, solved: Solved, known: Weighed) -> tuple[float, float, float]:
        """As ranking.not_these, where the readings are a sum."""
        names = _seals(self.network.setting.machine, solved.asked.story)
        others, elsewhere = self._others(solved.asked)
        asked = dict.fromkeys(others, ASK_OTHER) | dict.fromkeys(names, ASK_SEAL)
        logs = chances(self.tree, known, asked) - np.asarray(solved.beliefs.log_evidence)
        none, all_listed, nothing = np.clip(np.exp(logs), 0.0, 1.0)
        there = 1 - elsewhere
        return float(none), float(1 - all_listed * there), float(nothing * there)

    def _others(self, asked: Asked) -> tuple[list[str], float]:
        """Variables of other origins that bear on what was read, and the chance elsewhere.

        Of each fluid and zone the newest that does; last comes the chance of an unlisted origin
        where none does: there it keeps its prior.
        """
        bearing = self._bearing({n for e in asked.readings.values() for n in e}, asked.story)
        setting = self.network.setting
        epochs = range(len(self.network.spreads) - 1, -1, -1)
        found: list[str] = []
        left = 1.0
        for fluid in setting.machine.fluids:
            here: list[str | None] = []
            for zone in setting.machine.zones:
                names = (other_name(fluid.id, zone.id, e) for e in epochs)
                there = [n for n in names if n in self.tree.network]
                if there:
                    here.append(next((n for n in there if n in bearing), None))
            found += [n for n in here if n is not None]
            share = here.count(None) / max(len(here), 1)
            left *= (1 - self.priors["base_rates.unlisted"]) ** share
        return found, 1 - left

    def _bearing(self, read: set[str], story: Story) -> set[str]:
        """Variables that bear on what was read; of a zone that was read, those of any fluid."""
        seals = {s.id: s.zones for s in self.network.setting.machine.seal_points}
        places = [
            (zone, t.epoch)
            for t in story.taken
            if not silent(t.reading) and not isinstance(t.reading, Sign)
            for zone in (
                (t.reading.zone,)
                if isinstance(t.reading, ZoneReading)
                else seals[t.reading.seal_point]
            )
        ]
        found = read | {flow_name(f, z, e) for z, e in places for f in self.network.flows(z, e)}
        stack = list(found)
        while stack:
            new = set(self.parents.get(stack.pop(), ())) - found
            found |= new
            stack.extend(new)
        return found

    def _contradiction(self, readings: Mapping[str, Evidence]) -> ContradictoryReadings:
        """A smallest contradiction of readings on the tree; else all of them, unproven."""
        plain = {k: e for k, e in readings.items() if not e.keys() & self.apart.keys()}
        found = smallest_contradiction(self.tree, plain)
        if found is None:
            return ContradictoryReadings(tuple(readings), proven=False)
        return ContradictoryReadings(found.labels, found.proven)


def _in_words(loaded: LoadedJob, solved: Solved, ranking: Ranking) -> Ranking:
    """The ranking with the sentences that its numbers ask for."""
    order = [r.seal_point for r in ranking.rows]
    leaks = {r.seal_point: r.leaks for r in ranking.rows}
    return replace(
        ranking,
        why=why_of(loaded.machine, solved, leaks),
        next_step=next_step(loaded, solved, order, ranking.nothing_leaks),
    )


def _seals(machine: Machine, story: Story) -> tuple[str, ...]:
    """Variables of the seal points as they are now, in the machine's order."""
    return tuple(seal_name(s.id, story.generations.get(s.id, 1) - 1) for s in machine.seal_points)
