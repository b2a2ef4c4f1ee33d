"""A discrete Bayesian network as plain frozen data: variables and conditional tables.

Nothing here knows of seals or zones.  A network is checked once, when it is made,
and strictly: a table that does not sum to one is an error, never renormalised.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Tables are built by multiplying and subtracting doubles, so a sum may miss one by
# a few rounding errors; anything beyond that is a mistake of the builder.
SUM_TOLERANCE = 1e-9


class NetworkError(ValueError):
    """The tables do not make a Bayesian network; the message lists every fault."""


@dataclass(frozen=True)
class Variable:
    """A discrete variable: its name and the names of its states, in order."""

    name: str
    states: tuple[str, ...]

    @property
    def size(self) -> int:
        """Number of states."""
        return len(self.states)


@dataclass(frozen=True, eq=False)
class Table:
    """P(child | parents).

    ``values`` has shape (size of child, size of parent 1, size of parent 2, ...) and
    sums to one along axis 0.
    """

    child: str
    parents: tuple[str, ...]
    values: Array

    @property
    def scope(self) -> tuple[str, ...]:
        """Child first, then the parents, in the order of the axes."""
        return (self.child, *self.parents)


@dataclass(frozen=True, eq=False)
class Influence:
    """What one parent brings about: ``table[k, p]`` is the chance that parent state p
    brings level k; shape (levels, states of the parent), columns sum to one."""

    parent: str
    table: Array


@dataclass(frozen=True, eq=False)
class Maximum:
    """Noisy-MAX: the child is the highest level that its background or a parent brings about.

    background: (levels,) what shows without any parent.  It stands for a table over all
    parents at once, which would be far too large to write down; ``network.noisymax``
    writes it as ordinary tables with helper variables.
    """

    child: str
    background: Array
    influences: tuple[Influence, ...]

    @property
    def parents(self) -> tuple[str, ...]:
        """Names of the parents, in order."""
        return tuple(i.parent for i in self.influences)


@dataclass(frozen=True, eq=False)
class Network:
    """Variables, and one table or one maximum for each; an acyclic graph.

    Raises NetworkError, naming all faults at once, when made from parts that do not fit.
    """

    variables: tuple[Variable, ...]
    tables: tuple[Table, ...]
    maxima: tuple[Maximum, ...] = ()
    _index: Mapping[str, Variable] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_index", {v.name: v for v in self.variables})
        faults = list(_faults(self))
        if faults:
            raise NetworkError("; ".join(faults))

    def __getitem__(self, name: str) -> Variable:
        """The variable of that name; KeyError if there is none."""
        return self._index[name]

    def __contains__(self, name: object) -> bool:
        return name in self._index

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the variables, in order."""
        return tuple(v.name for v in self.variables)


def _faults(network: Network) -> Iterable[str]:
    sizes = {v.name: v.size for v in network.variables}
    if len(sizes) != len(network.variables):
        yield "a variable name is used twice"
    counted = Counter([t.child for t in network.tables] + [m.child for m in network.maxima])
    for name in sizes.keys() | counted.keys():
        if counted[name] != 1 or name not in sizes:
            yield f"{name} has {counted[name]} tables, not one"
    for t in network.tables:
        yield from _part_faults(f"table of {t.child}", t.scope, t.values, sizes)
    for m in network.maxima:
        yield from _part_faults(f"background of {m.child}", (m.child,), m.background, sizes)
        for i in m.influences:
            name = f"influence of {i.parent} on {m.child}"
            yield from _part_faults(name, (m.child, i.parent), i.table, sizes)
        if len(set(m.parents)) != len(m.parents):
            yield f"{m.child} names a parent twice"
    parents = {t.child: t.parents for t in network.tables}
    if _has_cycle(parents | {m.child: m.parents for m in network.maxima}):
        yield "the arrows form a cycle"


def _part_faults(
    what: str, scope: tuple[str, ...], values: Array, sizes: Mapping[str, int]
) -> Iterable[str]:
    unknown = [n for n in scope if n not in sizes]
    if unknown:
        yield f"{what} names unknown variables {unknown}"
        return
    shape = tuple(sizes[n] for n in scope)
    if values.shape != shape:
        yield f"{what} has shape {values.shape}, not {shape}"
    elif not np.isfinite(values).all() or (values < 0).any():
        yield f"{what} holds a negative number, an infinity or NaN"
    elif np.abs(values.sum(axis=0) - 1).max() > SUM_TOLERANCE:
        yield f"{what} does not sum to one over its own states"


def _has_cycle(parents: Mapping[str, tuple[str, ...]]) -> bool:
    left = {c: {p for p in ps if p in parents} for c, ps in parents.items()}
    while left:
        free = {c for c, ps in left.items() if not ps}
        if not free:
            return True
        left = {c: ps - free for c, ps in left.items() if c not in free}
    return False
