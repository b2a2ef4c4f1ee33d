"""What the engine multiplies: ordinary tables, and the influences of large noisy-MAX families.

A small family is written out as P(child | parents).  A large one gets a deputy of its
child: the highest level among those contributions that have been taken together so far.
Each influence is then a small table over (deputy, parent), and two tables that share the
deputy are taken together by distributing the maximum instead of multiplying.  Once all
contributions are together, the deputy is the child itself.

Sources: Zhang & Poole, "Exploiting causal independence in Bayesian network inference",
J. Artificial Intelligence Research 5, 1996, for deputies and their combination; Diez &
Galan, "Efficient computation for the noisy MAX", Int. J. Intelligent Systems 18, 2003,
for the same star of one extra variable with cumulative tables.  Those take differences,
which lose digits where an effect is rare; distributions of the maximum never do.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import prod

import numpy as np

from leakdx.network.noisymax import combine
from leakdx.network.tables import Array, Influence, Maximum, Network

# A family is written out as one table up to this many parents that also matter elsewhere,
# and this many entries.  Measured on machines with seventy zones: with fewer parents the
# cliques get hardly smaller and the deputies many, with more the cliques grow tenfold.
WRITTEN_PARENTS = 3
WRITTEN_ENTRIES = 4096
# Parents that matter nowhere else go into one table with the background, up to this size.
PRIVATE_ENTRIES = 128


@dataclass(frozen=True, eq=False)
class Factor:
    """A table over named variables, one axis each; for an influence the deputy is first."""

    scope: tuple[str, ...]
    values: Array


@dataclass(frozen=True, eq=False)
class Parts:
    """All factors of a network.

    ``sizes`` has the variables and the deputies; ``deputies`` maps each deputy to its child.
    A factor that holds a deputy is the distribution of a part of what the child is the
    maximum of; all other factors are ordinary.
    """

    sizes: Mapping[str, int]
    factors: tuple[Factor, ...]
    deputies: Mapping[str, str]


def parts(network: Network) -> Parts:
    """The factors of a network.  Which they are depends on its structure, not its numbers."""
    sizes = {v.name: v.size for v in network.variables}
    scopes = [*(t.parents for t in network.tables), *(m.parents for m in network.maxima)]
    uses = Counter(parent for parents in scopes for parent in parents)
    private = {t.child for t in network.tables if not t.parents and uses[t.child] == 1}
    factors = [Factor(t.scope, t.values) for t in network.tables]
    deputies: dict[str, str] = {}
    for maximum in network.maxima:
        shared = sum(p not in private for p in maximum.parents)
        entries = prod(sizes[n] for n in (maximum.child, *maximum.parents))
        if shared <= WRITTEN_PARENTS and entries <= WRITTEN_ENTRIES:
            factors.append(_written(maximum.child, maximum.background, maximum.influences))
            continue
        deputy = _unused(f"largest for {maximum.child}", sizes)
        deputies[deputy] = maximum.child
        sizes[deputy] = sizes[maximum.child]
        factors += _star(deputy, maximum, private, sizes)
    return Parts(sizes, tuple(factors), deputies)


def _unused(name: str, names: Mapping[str, int]) -> str:
    while name in names:
        name += "'"
    return name


def _star(
    deputy: str, maximum: Maximum, private: set[str], sizes: Mapping[str, int]
) -> Iterator[Factor]:
    """The background with as many private parents as fit, then the influences one by one."""
    together: list[Influence] = []
    alone: list[Influence] = []
    entries = sizes[deputy]
    for influence in maximum.influences:
        size = sizes[influence.parent]
        if influence.parent in private and entries * size <= PRIVATE_ENTRIES:
            together.append(influence)
            entries *= size
        else:
            alone.append(influence)
    yield _written(deputy, maximum.background, together)
    for influence in alone:
        yield Factor((deputy, influence.parent), influence.table)


def _written(
    child: str, background: Array, influences: list[Influence] | tuple[Influence, ...]
) -> Factor:
    """P(child | parents of the influences), the maximum of background and influences."""
    values = background
    for n, influence in enumerate(influences):
        levels = len(background)
        both = influence.table.reshape(levels, *[1] * n, -1)
        values = combine(values[..., None], both)
    return Factor((child, *(i.parent for i in influences)), np.ascontiguousarray(values))
