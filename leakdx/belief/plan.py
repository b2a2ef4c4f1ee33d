"""The fixed part of propagation: axes, shapes and row numbers of every clique.

A clique's axes are its own (absent from the parent clique) first, then the separator to
the parent in the parent's axis order, so that the message upwards is a sum over the
leading axis of a plain reshape.  Every variable is at home in exactly one clique, the
topmost that holds it; rows of the stacked marginals follow the cliques depth first, so
the rows of a whole subtree are one slice.

A clique that holds a deputy has a fold (see ``fold``): the order in which its tables are
taken together.  An axis that a deputy shares with its child goes by the child's name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import prod

from leakdx.belief.fold import Axis, Fold, Leaf, make_fold
from leakdx.belief.star import Parts
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
    above: tuple[str, ...]
    """The separator's axes as the parent calls them."""
    up: Runs
    """How the separator lies in the parent's table."""
    home: tuple[str, ...]
    """Variables at home here; without a fold these are the own axes."""
    own_runs: tuple[tuple[Runs, slice], ...]
    """How each of these lies in the table of the own axes, and its rows among the marginals."""
    rows: slice
    subtree_rows: slice
    last: int
    """One past the highest clique number of the subtree."""
    fold: Fold | None
    parts_above: bool
    """Whether the separator holds a deputy: the message is then no chance of evidence."""


@dataclass(frozen=True)
class TablePlace:
    """Which clique takes a factor, the order of its axes there, and its broadcast shape."""

    clique: int
    axes: tuple[int, ...]
    runs: Runs


@dataclass(frozen=True)
class Plan:
    """Everything about propagation that does not depend on the numbers in the tables."""

    sizes: Mapping[str, int]
    """States of the network's variables."""
    cliques: tuple[Clique, ...]
    home: Mapping[str, int]
    rows: Mapping[str, slice]
    row_starts: tuple[int, ...]
    """First row of each variable, in the order of the rows."""
    lies: Mapping[str, Runs]
    """How each variable lies in the table of its home clique."""
    places: tuple[TablePlace, ...]
    width: int
    scopes: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...] = field(repr=False)
    """(child, parents) of the network's variables and tables, to recognise the same shape."""

    @cached_property
    def families(self) -> Mapping[str, tuple[int, tuple[str, ...]]]:
        """Of each variable with a table: the number of its place, and (child, *parents)."""
        tables = [(c[0], p) for c, p in self.scopes[len(self.sizes) :] if len(c) == 1]
        # The tables are the first of the factors (``star.parts``).
        return {child: (n, (child, *parents)) for n, (child, parents) in enumerate(tables)}

    @property
    def row_count(self) -> int:
        """Total number of states."""
        return sum(self.sizes.values())

    @property
    def work(self) -> int:
        """Multiplications for each column of an inward pass over all cliques."""
        folds = sum(p.forth.work for c in self.cliques if c.fold for p in c.fold.pairs)
        return folds + sum(prod(c.shape) for c in self.cliques if c.fold is None)


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
        *(((m.child, "maximum"), m.parents) for m in network.maxima),
    )


def make_plan(network: Network, model: Parts, tree: CliqueTree) -> Plan:
    """Lay out the cliques of the tree for the network's factors."""
    frames = _frames(network, model, tree)
    count = len(frames)
    children: list[list[int]] = [[] for _ in frames]
    for i in range(1, count):
        children[tree.parents[i]].append(i)
    last = list(range(1, count + 1))
    for i in range(count - 1, 0, -1):
        last[tree.parents[i]] = max(last[tree.parents[i]], last[i])
    rows: dict[str, slice] = {}
    starts: list[int] = []
    start = 0
    for frame in frames:
        starts.append(start)
        for name in frame.home:
            rows[name] = slice(start, start + model.sizes[name])
            start += model.sizes[name]
    starts.append(start)
    places = _places(model, tree, frames)
    folds = _folds(model, tree, frames, places, last)
    cliques: list[Clique] = []
    for i, frame in enumerate(frames):
        shape = tuple(model.sizes[n] for n in frame.scope)
        own = frame.scope[: frame.own]
        own_shape = shape[: frame.own]
        above = frames[tree.parents[i]].scope if i else ()
        here = () if folds[i] else frame.home
        cliques.append(
            Clique(
                parent=tree.parents[i],
                children=tuple(children[i]),
                scope=frame.scope,
                shape=shape,
                own=own,
                own_size=prod(own_shape),
                separator_size=prod(shape[frame.own :]),
                above=frame.above,
                up=runs(above, [model.sizes[n] for n in above], frozenset(frame.above)),
                home=frame.home,
                own_runs=tuple((runs(own, own_shape, frozenset([n])), rows[n]) for n in here),
                rows=slice(starts[i], starts[i + 1]),
                subtree_rows=slice(starts[i], starts[last[i]]),
                last=last[i],
                fold=folds[i],
                parts_above=bool(_shared(tree, i) & model.deputies.keys()),
            )
        )
    home = {name: i for i, frame in enumerate(frames) for name in frame.home}
    return Plan(
        {v.name: v.size for v in network.variables},
        tuple(cliques),
        home,
        rows,
        tuple(cut.start for cut in rows.values()),
        {n: runs(cliques[i].scope, cliques[i].shape, frozenset([n])) for n, i in home.items()},
        places,
        tree.width,
        signature(network),
    )


@dataclass(frozen=True)
class _Frame:
    """Axes of a clique, the first ``own`` of them its own; the others as the parent calls them."""

    scope: tuple[str, ...]
    own: int
    above: tuple[str, ...]
    home: tuple[str, ...]


def _shared(tree: CliqueTree, i: int) -> frozenset[str]:
    """Names that a clique has in common with its parent."""
    return tree.cliques[i] & tree.cliques[tree.parents[i]] if i else frozenset()


def _axis(model: Parts, tree: CliqueTree, i: int, name: str) -> str:
    """The axis of a name in clique i."""
    return model.deputies[name] if name in tree.fused[i] else name


def _frames(network: Network, model: Parts, tree: CliqueTree) -> list[_Frame]:
    position = {name: n for n, name in enumerate((*network.names, *model.deputies))}
    frames: list[_Frame] = []
    for i, clique in enumerate(tree.cliques):
        shared = _shared(tree, i)
        parent = tree.parents[i]
        upper = frames[parent].scope if i else ()
        ordered = sorted(shared, key=lambda n: upper.index(_axis(model, tree, parent, n)))
        separator = tuple(_axis(model, tree, i, n) for n in ordered)
        own = sorted(
            {_axis(model, tree, i, n) for n in clique}.difference(separator),
            key=position.__getitem__,
        )
        home = (n for n in clique.difference(shared) if n not in model.deputies)
        frames.append(
            _Frame(
                (*own, *separator),
                len(own),
                tuple(_axis(model, tree, parent, n) for n in ordered),
                tuple(sorted(home, key=position.__getitem__)),
            )
        )
    return frames


def _places(model: Parts, tree: CliqueTree, frames: Sequence[_Frame]) -> tuple[TablePlace, ...]:
    """The smallest clique that holds each factor, and how the factor lies in it."""
    entries = tree.entries
    holders: dict[str, set[int]] = {name: set() for name in model.sizes}
    for i, clique in enumerate(tree.cliques):
        for name in clique:
            holders[name].add(i)
    places: list[TablePlace] = []
    for factor in model.factors:
        fits = set.intersection(*(holders[n] for n in factor.scope))
        i = min(fits, key=lambda i: (entries[i], i))
        scope = frames[i].scope
        at = [scope.index(_axis(model, tree, i, n)) for n in factor.scope]
        order = sorted(range(len(at)), key=at.__getitem__)
        part = frozenset(scope[a] for a in at)
        places.append(
            TablePlace(i, tuple(order), runs(scope, [model.sizes[n] for n in scope], part))
        )
    return tuple(places)


def _folds(
    model: Parts,
    tree: CliqueTree,
    frames: Sequence[_Frame],
    places: Sequence[TablePlace],
    last: Sequence[int],
) -> list[Fold | None]:
    """The fold of each clique that holds a deputy."""
    tied = {q: i for i in range(len(frames)) for q in tree.fused[i] | tree.met[i]}
    here: list[list[int]] = [[] for _ in frames]
    for number, place in enumerate(places):
        here[place.clique].append(number)
    leaves: list[list[Leaf]] = [[] for _ in frames]
    for i in range(len(frames) - 1, -1, -1):
        scope = frames[i].scope
        if not tree.cliques[i] & model.deputies.keys():
            continue
        for number in here[i]:
            names = model.factors[number].scope
            parts = {_axis(model, tree, i, n) for n in names if n in model.deputies}
            axes = {_axis(model, tree, i, n) for n in names}
            leaves[i].append(_leaf(scope, ("factor", number), axes, parts))
        for q in tree.met[i]:
            leaves[i].append(_leaf(scope, ("met", q), {q, model.deputies[q]}, set()))
        for name in frames[i].home:
            leaves[i].append(_leaf(scope, ("seen", name), {name}, set()))
        for k in (k for k in range(i + 1, last[i]) if tree.parents[k] == i):
            # Below the clique where a deputy meets its child, the deputy's table is a score.
            parts = {
                _axis(model, tree, i, n)
                for n in _shared(tree, k)
                if n in model.deputies and not k <= tied[n] < last[k]
            }
            leaves[i].append(_leaf(scope, ("child", k), set(frames[k].above), parts))
        for q in (tree.cliques[i] & model.deputies.keys()) - _shared(tree, i):
            # Its topmost clique, above the meeting, with no contribution left: without the lowest
            # level here the score would be summed as if each level had come.
            a = scope.index(_axis(model, tree, i, q))
            if i < tied[q] and not any(a in leaf.parts for leaf in leaves[i]):
                leaves[i].append(_leaf(scope, ("none", q), {scope[a]}, {scope[a]}))
        covered = {a for leaf in leaves[i] for a in leaf.axes}
        for a, name in enumerate(scope):
            if a not in covered:
                leaves[i].append(
                    _leaf(scope, ("none", name), {name}, {name} & model.deputies.keys())
                )
    return [
        make_fold(_axes(model, tree, i, frames[i]), frames[i].own, leaves[i]) if leaves[i] else None
        for i in range(len(frames))
    ]


def _leaf(
    scope: Sequence[str], source: tuple[str, str | int], axes: set[str], parts: set[str]
) -> Leaf:
    at = {name: a for a, name in enumerate(scope)}
    return Leaf(source, tuple(sorted(at[n] for n in axes)), frozenset(at[n] for n in parts))


def _axes(model: Parts, tree: CliqueTree, i: int, frame: _Frame) -> list[Axis]:
    """Contributions come first where they are complete here, scores where they are not."""
    deputy = {_axis(model, tree, i, q): q for q in tree.cliques[i] & model.deputies.keys()}
    shared = _shared(tree, i)
    return [
        Axis(
            model.sizes[name],
            None if name not in deputy else "scores" if deputy[name] in shared else "parts",
        )
        for name in frame.scope
    ]
