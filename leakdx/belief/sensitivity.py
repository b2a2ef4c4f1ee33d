"""How a posterior hangs on one number of one table.

With the other entries of its column changed in proportion, so that they still sum to one, both
P(evidence) and P(claim, evidence) are straight lines in the entry x, so the posterior is
(a x + b) / (c x + d).  Two points give both lines exactly.

Sources: Castillo, Gutierrez & Hadi, "Sensitivity analysis in discrete Bayesian networks", IEEE
Trans. Systems, Man, and Cybernetics A 27, 1997; Coupe & van der Gaag, "Properties of sensitivity
analysis of Bayesian belief networks", Annals of Mathematics and Artificial Intelligence 36, 2002.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from leakdx.belief.evidence import Evidence, ImpossibleEvidence, combine
from leakdx.belief.families import changed
from leakdx.belief.tree import JunctionTree
from leakdx.network.tables import Array


@dataclass(frozen=True)
class Entry:
    """One number of a table: P(child in a state | parents in theirs), states by index."""

    child: str
    state: int
    parents: tuple[int, ...] = ()


@dataclass(frozen=True)
class Sensitivity:
    """P(claim | evidence) as (a x + b) / (c x + d) of one entry x; ``stated`` is x as it is.

    The coefficients have a common factor taken out, so that c x + d is P(evidence) over its
    greatest value.
    """

    a: float
    b: float
    c: float
    d: float
    stated: float

    def at(self, x: ArrayLike) -> Array:
        """The posterior with the entry at x, of its shape; NaN where the evidence cannot be."""
        x = np.asarray(x, dtype=np.float64)
        below = self.c * x + self.d
        above = np.where(below > 0, self.a * x + self.b, np.nan)
        found: Array = above / np.where(below > 0, below, 1.0)
        return found

    def slope(self, x: ArrayLike) -> Array:
        """The derivative by x, of its shape; NaN where the evidence cannot be."""
        below = self.c * np.asarray(x, dtype=np.float64) + self.d
        top = np.where(below > 0, self.a * self.d - self.b * self.c, np.nan)
        found: Array = top / np.where(below > 0, below, 1.0) ** 2
        return found


def sensitivities(
    tree: JunctionTree,
    entries: Sequence[Entry],
    claim: Mapping[str, Array],
    evidence: Mapping[str, Array],
) -> tuple[Sensitivity, ...]:
    """The function of each entry.  claim: likelihoods of variables, 1 where it holds, 0 else.

    Raises KeyError for a child without a table, ValueError for an entry that is 0 or 1 (no
    factor brings back what cannot be), EvidenceError as ``update`` does, ImpossibleEvidence
    where the evidence is impossible whatever the entry.
    """
    return tuple(_sensitivity(tree, entry, _fixed(claim), _fixed(evidence)) for entry in entries)


def _fixed(evidence: Mapping[str, Array]) -> Evidence:
    return evidence if isinstance(evidence, Evidence) else Evidence(evidence)


def _sensitivity(
    tree: JunctionTree, entry: Entry, claim: Evidence, evidence: Evidence
) -> Sensitivity:
    table = next((t for t in tree.network.tables if t.child == entry.child), None)
    if table is None:
        raise KeyError(entry.child)
    column: tuple[slice | int, ...] = (slice(None), *entry.parents)
    stated = float(table.values[column][entry.state])
    if not 0 < stated < 1:
        raise ValueError(
            f"the entry of {entry.child} is {stated}: it cannot be changed by a factor"
        )
    # With the entry at 0, and at 1.
    ends = np.repeat(table.values[..., None], 2, axis=-1)
    ends[column] = table.values[column][:, None] * np.array([1 / (1 - stated), 0.0])
    ends[column][entry.state] = 0.0, 1.0
    given = combine([evidence, changed(tree.network, {entry.child: ends})])
    both = np.array([tree.log_evidence(combine([given, claim])), tree.log_evidence(given)])
    top = both[1].max()
    if np.isneginf(top):
        raise ImpossibleEvidence(tuple(evidence), ())
    (b, one), (d, all_one) = np.exp(both - top)
    return Sensitivity(float(one - b), float(b), float(all_one - d), float(d), stated)
