"""Whether a ranking would survive other plausible numbers in place of the prior ones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from leakdx.advice.solving import Solved
from leakdx.case.read import LoadedJob
from leakdx.network.tables import Array
from leakdx.priors.drawing import drawn
from leakdx.priors.model import Priors
from leakdx.reasons.draws import redrawn

# Sets of flow numbers: each takes a network rebuilt (0.1 s on a reference engine).  With five
# times as many the percentiles move no more than from one seed to the next.
FLOW_DRAWS = 8
SEED = 20240229
PERCENTILES = (5.0, 50.0, 95.0)


@dataclass(frozen=True, eq=False)
class Firmness:
    """What draws of all prior numbers make of the chances to leak.

    seals: ids, in the machine's order.  low, median, high: (S,) 5th, 50th and 95th percentile of
    each one's chance to leak.  first: (S,) share of the draws in which it is the likeliest.
    leader: the likeliest under the stated numbers.  draws: sets of numbers drawn, among which
    only ``flow_draws`` differ in the numbers that rule how fluid spreads.
    """

    seals: tuple[str, ...]
    low: Array
    median: Array
    high: Array
    first: Array
    leader: str
    leader_name: str
    draws: int
    flow_draws: int

    @property
    def sentences(self) -> tuple[str, ...]:
        """How firm the first place is, in plain words."""
        k = self.seals.index(self.leader)
        low, high = round(100 * self.low[k]), round(100 * self.high[k])
        name = self.leader_name[:1].lower() + self.leader_name[1:]
        sets = f"{self.draws} sets of all numbers were drawn"
        if self.flow_draws < self.draws:
            sets += f", with {self.flow_draws} of those that rule how fluid spreads"
        return (
            f"The {name} stays first in {round(100 * self.first[k])} of 100 draws of the numbers; "
            f"its chance lies between {low} and {high} % in nine of ten.",
            f"{sets}, each from its own distribution in the prior files.",
        )


def firmness(
    loaded: LoadedJob,
    solved: Solved,
    priors: Priors,
    draws: int = 500,
    seed: int = SEED,
    step: Callable[[], object] = lambda: None,
) -> Firmness:
    """Draw all prior numbers that a solved job asks for, and rank anew with each set.

    priors: those the job was solved with.  Numbers are drawn independently of each other.
    FLOW_DRAWS sets of flow numbers are drawn, and under each its share of the ``draws`` sets of
    all others.  step: called after each set of flow numbers.  Raises ValueError for fewer draws
    than one.
    """
    if draws < 1:
        raise ValueError(f"{draws} draws are none")
    job = redrawn(loaded, solved, priors)
    random = np.random.default_rng(seed)
    count = min(FLOW_DRAWS, draws) if job.flow else 1
    flow = drawn(priors, job.flow, count, random)
    others = drawn(priors, job.others, draws, random)
    # Which set of flow numbers each draw goes with.
    turn = np.arange(draws) * count // draws
    tables = job.tables({**others, **{key: v[turn] for key, v in flow.items()}}, draws)
    chances = np.empty((len(job.seals), draws))
    for k in range(count):
        here = turn == k
        values = {key: float(v[k]) for key, v in flow.items()}
        many = {key: v[here] for key, v in others.items()}
        new = {child: table[..., here] for child, table in tables.items()}
        chances[:, here] = job.chances(values, many, new)
        step()
    leader = int(np.argmax(job.stated))
    low, median, high = np.percentile(chances, PERCENTILES, axis=1)
    seal = job.machine.seal_points[leader]
    firsts = np.bincount(chances.argmax(axis=0), minlength=len(job.seals)) / draws
    name = seal.name or seal.id.replace("_", " ")
    return Firmness(job.seals, low, median, high, firsts, seal.id, name, draws, count)
