"""The fixed part of propagation: axes, shapes and row numbers of every clique.

A clique's axes are its own variables (absent from the parent clique) first, then the
separator to the parent in the parent's axis order, so that the message upwards is a
sum over the leading axis of a plain reshape.  Every variable is 'own' in exactly one
clique, the topmost that holds it; rows of the stacked marginals follow the cliques
depth first, so the rows of a whole subtree are one slice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import prod

from leakdx.belief.triangulate import CliqueTree
from leakdx.network.tables import Network


@dataclass(frozen=True)
class Runs:
    """A clique table reshaped so that the axes of a smaller scope form few runs.

    ``full`` is the shape of the clique table with neighbouring axes merged, ``part`` the
    same with 1 where the smaller scope has no axes, ``out`` the merged axes to sum away.
    """

    full: tuple[int, ...]
    part: tuple[int, ...]
    out: tuple[int, ...]


@dataclass(frozen=True)
class Clique:
    """One clique of the rooted tree; see the module text for the order of axes."""

    parent: int
    children: tuple[int, ...]
    scope: tuple[str, ...]
    shape: tuple[int, ...]
    own: tuple[str, ...]
    own_size: int
    separator_size: int
    up: Runs
    """How the separator lies in the parent's table."""
    own_runs: tuple[tuple[Runs, slice], ...]
    """How each own variable lies in the table, and its rows among the marginals."""
    rows: slice
    subtree_rows: slice
    last: int
    """One past the highest clique number of the subtree."""


@dataclass(frozen=True)
class TablePlace:
    """Which clique takes a table, the order of its axes there, and its broadcast shape."""

    clique: int
    axes: tuple[int, ...]
    runs: Runs


@dataclass(frozen=True)
class Plan:
    """Everything about propagation that does not depend on the numbers in the tables."""

    sizes: Mapping[str, int]
    cliques: tuple[Clique, ...]
    home: Mapping[str, int]
    rows: Mapping[str, slice]
    row_starts: tuple[int, ...]
    """First row of each variable, in the order of the rows."""
    lies: Mapping[str, Runs]
    """How each variable lies in the table of its home clique."""
    tables: tuple[TablePlace, ...]
    width: int
    scopes: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...] = field(repr=False)
    """(child, parents) of the network's variables and tables, to recognise the same shape."""

    @property
    def row_count(self) -> int:
        """Total number of states."""
        return sum(self.sizes.values())


def runs(scope: Sequence[str], shape: Sequence[int], part: frozenset[str]) -> Runs:
    """The runs of ``part`` within a table over ``scope``."""
    full: list[int] = []
    inside: list[bool] = []
    for name, size in zip(scope, shape, strict=True):
        if inside and inside[-1] == (name in part):
            full[-1] *= size
        else:
            full.append(size)
            inside.append(name in part)
    return Runs(
        tuple(full),
        tuple(n if keep else 1 for n, keep in zip(full, inside, strict=True)),
        tuple(i for i, keep in enumerate(inside) if not keep),
    )


def signature(network: Network) -> tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]:
    """What two networks must share for one plan to serve both: names, states, arrows."""
    return (
        *(((v.name,), v.states) for v in network.variables),
        *(((t.child,), t.parents) for t in network.tables),
    )


def make_plan(network: Network, tree: CliqueTree) -> Plan:
    """Lay out the cliques of the tree for the network's tables."""
    scopes, owns = _scopes(network, tree)
    children: list[list[int]] = [[] for _ in scopes]
    for i, parent in enumerate(tree.parents):
        if parent >= 0:
            children[parent].append(i)
    last = list(range(1, len(scopes) + 1))
    for i in range(len(scopes) - 1, 0, -1):
        last[tree.parents[i]] = max(last[tree.parents[i]], last[i])
    sizes = {v.name: v.size for v in network.variables}
    rows: dict[str, slice] = {}
    starts: list[int] = []
    start = 0
    for own in owns:
        starts.append(start)
        for name in own:
            rows[name] = slice(start, start + sizes[name])
            start += sizes[name]
    starts.append(start)
    cliques: list[Clique] = []
    for i, (scope, own) in enumerate(zip(scopes, owns, strict=True)):
        shape = tuple(sizes[n] for n in scope)
        separator = scope[len(own) :]
        above = scopes[tree.parents[i]] if i else ()
        own_shape = shape[: len(own)]
        cliques.append(
            Clique(
                parent=tree.parents[i],
                children=tuple(children[i]),
                scope=scope,
                shape=shape,
                own=own,
                own_size=prod(own_shape),
                separator_size=prod(shape[len(own) :]),
                up=runs(above, [sizes[n] for n in above], frozenset(separator)),
                own_runs=tuple((runs(own, own_shape, frozenset([n])), rows[n]) for n in own),
                rows=slice(starts[i], starts[i + 1]),
                subtree_rows=slice(starts[i], starts[last[i]]),
                last=last[i],
            )
        )
    home = {name: i for i, own in enumerate(owns) for name in own}
    return Plan(
        sizes,
        tuple(cliques),
        home,
        rows,
        tuple(cut.start for cut in rows.values()),
        {n: runs(cliques[i].scope, cliques[i].shape, frozenset([n])) for n, i in home.items()},
        _table_places(network, cliques),
        tree.width,
        signature(network),
    )


def _scopes(
    network: Network, tree: CliqueTree
) -> tuple[list[tuple[str, ...]], list[tuple[str, ...]]]:
    """Axis order and own variables of each clique."""
    position = {name: i for i, name in enumerate(network.names)}
    scopes: list[tuple[str, ...]] = []
    owns: list[tuple[str, ...]] = []
    for clique, parent in zip(tree.cliques, tree.parents, strict=True):
        above = scopes[parent] if parent >= 0 else ()
        separator = tuple(n for n in above if n in clique)
        own = tuple(sorted(clique.difference(above), key=position.__getitem__))
        scopes.append(own + separator)
        owns.append(own)
    return scopes, owns


def _table_places(network: Network, cliques: Sequence[Clique]) -> tuple[TablePlace, ...]:
    """The smallest clique that holds each table, and how the table lies in it."""
    holders: dict[str, set[int]] = {name: set() for name in network.names}
    for i, clique in enumerate(cliques):
        for name in clique.scope:
            holders[name].add(i)
    places: list[TablePlace] = []
    for table in network.tables:
        fits = set.intersection(*(holders[n] for n in table.scope))
        i = min(fits, key=lambda i: (prod(cliques[i].shape), i))
        clique = cliques[i]
        order = sorted(range(len(table.scope)), key=lambda a: clique.scope.index(table.scope[a]))
        within = runs(clique.scope, clique.shape, frozenset(table.scope))
        places.append(TablePlace(i, tuple(order), within))
    return tuple(places)
