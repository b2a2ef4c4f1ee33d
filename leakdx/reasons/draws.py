"""A job asked again under other prior numbers, many sets of them at once.

What a number goes into decides how it is changed.  *Flow* numbers shape how fluid spreads and
how it looks: each set of them takes a network rebuilt.  All others go into the tables of
causes, seal points and other origins, or into the likelihoods of readings: sets of them are
columns of one batch.  Either way the answer is that of a complete rebuild, but for one thing:
the flow keeps the courses it takes under the stated numbers, in other shares
(``network.build_network``, ``like``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from leakdx.advice.solving import Solved
from leakdx.belief.evidence import Evidence, combine
from leakdx.belief.families import changed
from leakdx.belief.tree import Beliefs, JunctionTree
from leakdx.case.evidence import readings_of, setting_of, with_histories
from leakdx.case.model import Job
from leakdx.case.read import LoadedJob
from leakdx.case.timeline import story_of
from leakdx.machine.model import Machine
from leakdx.network.build import (
    LeakNetwork,
    Numbers,
    flows_of,
    network_of,
    pieces_of,
    spreads_of,
)
from leakdx.network.setting import seal_name
from leakdx.network.tables import Array, Table
from leakdx.priors.drawing import ManyPriors, TracedPriors, doubted, with_values
from leakdx.priors.model import Priors

# Numbers of these files are flow numbers even where only a reading asks for them.
FLOW_FILES = ("flow.", "fluids.", "leak_rates.")
LEAKS = np.array([0.0, 1.0, 1.0, 1.0])


@dataclass(frozen=True, eq=False)
class Redrawn:
    """A solved job whose prior numbers can be changed.

    machine: with what the job knows of the seals' lives.  flow, others: keys of the numbers that
    the job asks for and that are in doubt, sorted.  courses: those of ``flow`` that rule how the
    flow divides; spreading: those that rule anything but how a reading is taken.  tables_read: all
    that tables are made of, in doubt or not.
    """

    machine: Machine
    job: Job
    solved: Solved
    priors: Priors
    flow: tuple[str, ...]
    others: tuple[str, ...]
    courses: frozenset[str]
    spreading: frozenset[str]
    tables_read: frozenset[str]

    @property
    def seals(self) -> tuple[str, ...]:
        """Seal points, in the machine's order."""
        return tuple(s.id for s in self.machine.seal_points)

    def tables(self, values: Mapping[str, Array], width: int) -> dict[str, Array]:
        """The tables that differ from the stated ones, by child, (child, *parents, width).

        values: of ``width`` draws, (width,) each, of flow numbers as well; what is not named keeps
        its stated value.
        """
        if self.tables_read.isdisjoint(values):
            return {}
        asked = self.solved.asked
        like = asked.network
        # Every number with its axis of draws: the axes of a table then stand alike.
        stated_too = {k: np.full(width, self.priors[k]) for k in self.tables_read}
        many = ManyPriors(self.priors.numbers, {**stated_too, **values})
        setting = setting_of(self.machine, asked.story, self.solved.detail, many)
        stated = {t.child: t.values for t in like.network.tables}
        found: dict[str, Array] = {}
        for _, piece in pieces_of(setting, like.spreads, Numbers(many, self.priors), like):
            if not isinstance(piece, Table):
                continue
            before = stated[piece.child]
            new = piece.values if piece.values.ndim > before.ndim else piece.values[..., None]
            new = np.broadcast_to(new, (*before.shape, width))
            if (new != before[..., None]).any():
                found[piece.child] = new
        return found

    def chances(
        self, flow: Mapping[str, float], others: Mapping[str, Array], tables: Mapping[str, Array]
    ) -> Array:
        """Chance that each seal point leaks, (seal points, B), the present one where renewed.

        B is 1 where neither ``others`` nor ``tables`` changes anything.  Raises as ``asked`` does.
        """
        tree, evidence = self.asked(flow, others, tables)
        found = _leaks(tree.update(evidence, only=self._names), self._names)
        return found.reshape(len(self._names), -1)

    def chance(self, row: int, flow: Mapping[str, float]) -> float:
        """Chance that one seal point (by its place) leaks under other flow numbers.

        Raises as ``asked`` does.
        """
        tables = self.tables({k: np.array([v]) for k, v in flow.items()}, 1)
        tree, evidence = self.asked(flow, {}, tables)
        leaks = Evidence({self._names[row]: LEAKS})
        # Far quicker than the chances of all.
        both = (tree.log_evidence(combine([evidence, leaks])), tree.log_evidence(evidence))
        return float(np.exp(np.subtract(*both)).item())

    def asked(
        self, flow: Mapping[str, float], others: Mapping[str, Array], tables: Mapping[str, Array]
    ) -> tuple[JunctionTree, Evidence]:
        """A network under other numbers, and all readings.

        flow: new values of flow numbers; others: of B draws, (B,) each; tables: those that the
        two make (``tables``).  What is not named keeps its stated value.  Asking it raises
        ImpossibleEvidence where the readings cannot be under some draw.
        """
        told = with_values(self.priors, flow)
        story = story_of(self.job, self.machine, told)
        like = self.solved.asked.network
        network, tree = like, self.solved.tree
        if not self.spreading.isdisjoint(flow):
            # What the job says of the joints is as stated; how the machine stood may not be.
            setting = replace(like.setting, epochs=story.epochs)
            # The courses' shares are the costly part, and few numbers rule them.
            again = not self.courses.isdisjoint(flow)
            flows = flows_of(setting, told, like) if again else [s.flow for s in like.spreads]
            spreads = spreads_of(setting, tuple(flows), told)
            network = network_of(setting, spreads, Numbers(self.priors, told), like)
            if not _same(network, like):
                tree = tree.with_tables(network.network)
        many = ManyPriors(told.numbers, others)
        said = readings_of(story, network, many).values()
        evidence = combine([changed(network.network, tables), *said])
        return tree, evidence

    @property
    def stated(self) -> Array:
        """The chances under the stated numbers, (seal points,)."""
        return _leaks(self.solved.beliefs, self._names)

    @property
    def _names(self) -> list[str]:
        """Variables of the present seal points."""
        generations = self.solved.asked.story.generations
        return [seal_name(s, generations.get(s, 1) - 1) for s in self.seals]


def _same(one: LeakNetwork, other: LeakNetwork) -> bool:
    """Whether all maxima of two networks alike have the same numbers."""
    return all(
        np.array_equal(a.background, b.background)
        and all(
            np.array_equal(i.table, k.table)
            for i, k in zip(a.influences, b.influences, strict=True)
        )
        for a, b in zip(one.network.maxima, other.network.maxima, strict=True)
    )


def _leaks(beliefs: Beliefs, names: list[str]) -> Array:
    return np.array([beliefs[n][1:].sum(axis=0) for n in names])


def redrawn(loaded: LoadedJob, solved: Solved, priors: Priors) -> Redrawn:
    """A solved job made ready; ``priors`` are those it was solved with."""
    machine = with_histories(loaded.machine, loaded.job)
    courses, tables, maxima, readings = (TracedPriors(priors.numbers) for _ in range(4))
    story = story_of(loaded.job, machine, courses)
    setting = setting_of(machine, story, solved.detail, tables)
    like = solved.asked.network
    spreads = spreads_of(setting, flows_of(setting, courses, like), maxima)
    pieces_of(setting, spreads, Numbers(tables, maxima), like)
    readings_of(story, like, readings)
    asked = tables.asked | readings.asked
    flow = maxima.asked | courses.asked | {k for k in asked if k.startswith(FLOW_FILES)}
    return Redrawn(
        machine,
        loaded.job,
        solved,
        priors,
        tuple(sorted(k for k in flow if doubted(priors, k))),
        tuple(sorted(k for k in asked - flow if doubted(priors, k))),
        frozenset(courses.asked),
        frozenset(courses.asked | maxima.asked),
        frozenset(tables.asked),
    )
