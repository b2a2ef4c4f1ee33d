"""Which seal points to renew together: strip-down shared on the way, parts, and comebacks.

All costs are in minutes of labour.  What is taken off is taken off once, however many seal
points lie behind it.  A leak that is left brings the machine back: it costs a comeback, and the
work that was saved, done then for that seal point alone.

Sources: choosing what pays together with what it needs is a greatest closure, found as a
least cut (Picard, "Maximal closure of a graph and applications to combinatorial problems",
Management Science 22, 1976).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from leakdx.machine.model import Machine

Array = NDArray[np.float64]
# Minutes are counted in hundredths for the cut, which wants whole numbers.
_PARTS = 100
_ALWAYS = 2**30


@dataclass(frozen=True, eq=False)
class Labour:
    """What renewing costs on one machine, minutes of labour.

    renew: of each seal point, its part included, once it is laid bare.  steps: of each access
    step, taking off and refitting.  needs: the steps each seal point lies behind, with all
    that must come off before; what is off already is not among them.  comeback: where a leak
    is left.
    """

    renew: Mapping[str, float]
    steps: Mapping[str, float]
    needs: Mapping[str, frozenset[str]]
    comeback: float

    def of(self, seals: Iterable[str]) -> float:
        """Minutes to renew these together, strip-down shared."""
        chosen = set(seals)
        off = frozenset[str]().union(*(self.needs[s] for s in chosen))
        return sum(self.renew[s] for s in chosen) + sum(self.steps[k] for k in off)

    def left(self, seal: str) -> float:
        """Minutes that a leak costs which is left at a seal point."""
        return self._left[seal]

    @cached_property
    def _left(self) -> Mapping[str, float]:
        return {seal: self.comeback + self.of([seal]) for seal in self.renew}

    def cost(self, seals: Iterable[str], leaks: Mapping[str, float]) -> float:
        """Expected cost of renewing these, given the chance that each seal point leaks."""
        chosen = set(seals)
        return self.of(chosen) + sum(p * self.left(s) for s, p in leaks.items() if s not in chosen)


@dataclass(frozen=True)
class Renewal:
    """Seal points to renew together, the likeliest to leak first.

    minutes: of labour, parts included.  cost: with the leaks that may be left.  nothing: cost
    of renewing nothing.
    """

    seals: tuple[str, ...]
    minutes: float
    cost: float
    nothing: float


def steps_behind(machine: Machine, names: Iterable[str]) -> frozenset[str]:
    """The access steps and all that has to be done before them."""
    after = {step.id: step.after for step in machine.access_steps}
    found: set[str] = set()
    waiting = list(names)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += after.get(name, ())
    return frozenset(found)


def best_renewal(labour: Labour, leaks: Mapping[str, float]) -> Renewal:
    """The set of seal points of least expected cost; leaks: chance that each leaks.  Exact."""
    best = closure(labour, leaks)
    return Renewal(
        seals=tuple(sorted(best, key=lambda s: (-leaks[s], s))),
        minutes=labour.of(best),
        cost=labour.cost(best, leaks),
        nothing=labour.cost((), leaks),
    )


def closure(labour: Labour, leaks: Mapping[str, float]) -> frozenset[str]:
    """The set of least expected cost; of several the smallest.

    Seal points that pay are weighed against the steps they need, by a least cut.
    """
    return _cut(labour, _paying(labour, leaks), frozenset())


def closure_with(
    labour: Labour, leaks: Mapping[str, float], best: frozenset[str], seal: str
) -> frozenset[str]:
    """The set of least expected cost once a seal point is likelier to leak than it was.

    best: the set before, of which nothing falls out, and whose steps come off anyway.  So only
    what shares further steps with the seal point is weighed anew.  leaks: with its new chance.
    """
    off = _steps(labour, best)
    paying = {s: pay for s, pay in _paying(labour, leaks).items() if s not in best}
    tied = _tied(seal, {s: labour.needs[s] - off for s in paying})
    return best | _cut(labour, {s: paying[s] for s in tied}, off)


def closure_without(
    labour: Labour, leaks: Mapping[str, float], best: frozenset[str], seal: str
) -> frozenset[str]:
    """The set of least expected cost once a seal point of the best one is sure to be tight.

    best: the set before, to which nothing is added.  Only what shares steps with the seal point
    is weighed anew.
    """
    tied = _tied(seal, {s: labour.needs[s] for s in best})
    paying = _paying(labour, leaks)
    return best - tied | _cut(labour, {s: paying[s] for s in tied - {seal}}, frozenset())


def _paying(labour: Labour, leaks: Mapping[str, float]) -> dict[str, int]:
    """Seal points worth renewing where they are bare already, and what that saves, hundredths."""
    saves = {s: p * labour.left(s) - labour.renew[s] for s, p in leaks.items()}
    parts = {s: round(_PARTS * saved) for s, saved in saves.items()}
    return {s: n for s, n in parts.items() if n > 0}


def _steps(labour: Labour, seals: Iterable[str]) -> frozenset[str]:
    return frozenset[str]().union(*(labour.needs[s] for s in seals))


def _tied(seal: str, needs: Mapping[str, frozenset[str]]) -> frozenset[str]:
    """The seal point, if it is there, with all that share steps with it or with one another."""
    found = {seal} & needs.keys()
    waiting = list(found)
    while waiting:
        steps = needs[waiting.pop()]
        new = {s for s, need in needs.items() if s not in found and need & steps}
        found |= new
        waiting += new
    return frozenset(found)


def _cut(labour: Labour, pays: Mapping[str, int], off: frozenset[str]) -> frozenset[str]:
    """The seal points that are worth what comes off for them; ``off``: what is off anyway."""
    needs = {s: labour.needs[s] - off for s in pays}
    costs = {k: round(_PARTS * labour.steps[k]) for k in sorted(_steps(labour, pays) - off)}
    if len(pays) < 2:
        return frozenset(s for s in pays if pays[s] > sum(costs.values()))
    node = {name: k + 2 for k, name in enumerate([*pays, *(f"step {s}" for s in costs)])}
    edges: list[tuple[int, int, int]] = []
    for s, pay in pays.items():
        edges.append((0, node[s], pay))
        edges += [(node[s], node[f"step {k}"], _ALWAYS) for k in needs[s]]
    edges += [(node[f"step {k}"], 1, cost) for k, cost in costs.items()]
    rows, columns, capacity = (np.array(c, dtype=np.int32) for c in zip(*edges, strict=True))
    # A few dozen nodes: whole tables are quicker than sparse ones.
    room = np.zeros((len(node) + 2, len(node) + 2), dtype=np.int32)
    room[rows, columns] = capacity
    open_still = room > maximum_flow(csr_array(room), 0, 1).flow.toarray()
    reached = np.zeros(len(room), dtype=bool)
    further = np.arange(len(room)) == 0
    while further.any():
        reached |= further
        further = open_still[further].any(axis=0) & ~reached
    return frozenset(s for s in pays if reached[node[s]])
