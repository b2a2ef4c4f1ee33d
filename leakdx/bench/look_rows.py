"""The measurements of the next inspection; importing this puts them into ``ROWS``."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from leakdx.advice.lookahead import FIRSTS, two_ahead
from leakdx.advice.next_look import Weigher
from leakdx.advice.separating import Separation, separations
from leakdx.advice.weighing import View, Weighed, view_of
from leakdx.belief.evidence import Evidence
from leakdx.bench.asking import Reply
from leakdx.bench.look_asking import Call, ask_looks, listening
from leakdx.bench.problem import Bench
from leakdx.bench.report import NOT_ASKED, Row
from leakdx.bench.rows import Measure, beside, plain_row, row
from leakdx.bench.side_by_side import loaded_row
from leakdx.bench.timing import timed
from leakdx.flow.courses import DETAILS

# Evidence differs from one repeat to the next, so that nobody answers from memory.
VARIANTS = 16
# Of these, those that two looks ahead are followed from.
FOLLOWED = 4
GROWTH = (20, 40, 80, 160)


def refreshed(weigher: Weigher) -> tuple[View, list[Weighed], list[Separation]]:
    """All that a change of the readings makes new: every look, and the two likeliest apart."""
    view = view_of(weigher.ahead)
    weighed = weigher.weighed(view)
    if len(view.leaks) < 2:
        return view, weighed, []
    first, second = (int(k) for k in np.argsort(-view.leaks, kind="stable")[:2])
    return view, weighed, separations(weigher.ahead, weigher.open, first, second)


@dataclass(frozen=True, eq=False)
class Refreshing:
    """A job made ready, with its readings in variants."""

    weigher: Weigher

    @cached_property
    def variants(self) -> tuple[Weigher, ...]:
        """The job with some readings taken less seriously, each time others."""
        known = self.weigher.ahead.known
        keep = np.random.default_rng(0).uniform(0.5, 1.0, (VARIANTS, len(known)))
        found = []
        for shares in keep:
            less = {
                name: likelihood * k + likelihood.max() * (1 - k)
                for k, (name, likelihood) in zip(shares, known.items(), strict=True)
            }
            ahead = replace(self.weigher.ahead, known=Evidence(less))
            found.append(replace(self.weigher, ahead=ahead))
        return tuple(found)

    def once(self, number: int) -> None:
        """One refresh of a variant."""
        refreshed(self.variants[number % VARIANTS])

    @cached_property
    def calls(self) -> list[Call]:
        """What the refresh of variant 0 asks of the network, and the answers."""
        tree = listening(self.variants[0].ahead.tree)
        refreshed(replace(self.weigher, ahead=replace(self.variants[0].ahead, tree=tree)))
        return tree.heard

    @property
    def size(self) -> str:
        """Its size in words."""
        w = self.weigher
        things = sum(len(reads.things) for reads in w.ahead.reads)
        return f"{len(w.open)} looks at {things} things, {len(w.ids)} seal points"

    @property
    def shape(self) -> str:
        """How it was compiled, in words."""
        ahead = self.weigher.ahead
        entries = ahead.tree.clique_entries
        return (
            f"{len(self.weigher.loaded.machine.zones)} zones, "
            f"{len(ahead.asked.network.network.variables)} variables; "
            f"detail {ahead.detail} of 0 to {len(DETAILS) - 1}: {len(entries)} cliques, "
            f"{sum(entries):,} entries, the largest {max(entries):,}"
        )

    @property
    def asked(self) -> str:
        """The settings of one refresh, in words."""
        widths = [np.size(beliefs.log_evidence) for _, beliefs in self.calls]
        told = " + ".join(str(n) for n in widths)
        return f"one refresh asks the network for {told} settings of what is seen"


@row("refresh")
def refresh(bench: Bench) -> Row:
    """All open inspections weighed again, on the compiled network."""
    ready = Refreshing(Weigher.of(bench.loaded, bench.priors))
    what = (
        "after new readings: every open inspection weighed, the promising ones outcome by "
        "outcome, and the two likeliest seal points told apart"
    )
    timing = timed(ready.once, bench.repeats(50))
    notes = (ready.shape, ready.asked)
    if not bench.referees:
        return plain_row("refresh", what, ready.size, "ms", timing, *notes, NOT_ASKED)
    pyagrum, pgmpy = (_ask(name, ready) for name in ("pyagrum", "pgmpy"))
    made = plain_row("refresh", what, ready.size, "ms", timing, *notes)
    return beside(made, timing, pyagrum, pgmpy)


def _ask(referee: str, ready: Refreshing) -> Reply:
    network = ready.weigher.ahead.asked.network.network
    return ask_looks(referee, network, ready.calls)


@row("ahead")
def making_ready(bench: Bench) -> Row:
    """From a loaded job to a compiled network with every reading that may still come."""
    ready = Refreshing(Weigher.of(bench.loaded, bench.priors))
    timing = timed(lambda _: Weigher.of(bench.loaded, bench.priors), bench.repeats(7))
    what = (
        "from a loaded job to the compiled network of all readings that its open inspections "
        "could bring, with attempts that turn out too wide"
    )
    return plain_row("ahead", what, ready.size, "s", timing, ready.shape, NOT_ASKED)


@row("lookahead")
def lookahead(bench: Bench) -> Row:
    """The best second look after each promising first one."""
    ready = Refreshing(Weigher.of(bench.loaded, bench.priors))
    several = []
    for w in ready.variants[:FOLLOWED]:
        view, weighed, _ = refreshed(w)
        several.append((w.prospect, view, weighed))
    timing = timed(lambda n: two_ahead(*several[n % FOLLOWED]), bench.repeats(15))
    firsts = min(FIRSTS, len(ready.weigher.open))
    what = f"after a refresh: {firsts} first looks, each with the best look after it is wet or dry"
    return plain_row("lookahead", what, ready.size, "s", timing, ready.shape, NOT_ASKED)


def _growth(seal_points: int) -> Measure:
    def measure(bench: Bench) -> Row:
        loaded = loaded_row(seal_points)
        ready = Refreshing(Weigher.of(loaded, bench.priors))
        timing = timed(ready.once, bench.repeats(20))
        what = f"the same refresh on an invented row of cases with {seal_points} seal points"
        name = f"growth-{seal_points}"
        return plain_row(name, what, ready.size, "ms", timing, ready.shape, NOT_ASKED)

    measure.__doc__ = f"The refresh on an invented machine of {seal_points} seal points."
    return measure


for _count in GROWTH:
    row(f"growth-{_count}")(_growth(_count))
