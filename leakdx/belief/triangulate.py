"""From a network's graph to a tree of cliques with few and small tables.

Greedy elimination by fewest fill-in edges and by smallest table, with random choice
among equals; the cheapest of a fixed number of tries is kept, so the result depends
on the network alone and not on the clock.

A deputy (see ``star``) and its child are tied, but share no table: the first of the two
to be eliminated takes the place of the other, so that its clique has one axis for both.
Only where earlier eliminations made them neighbours does the clique hold both.
"""

from __future__ import annotations

import heapq
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import inf, prod

from leakdx.belief.star import Parts

# A clique of this many entries costs less arithmetic than the numpy calls around it,
# so neighbours are merged up to this size.
MERGE_ENTRIES = 128
# Tries are bounded by elimination steps: about 0.1 ms each.
STEPS = 8000
TRIES = (4, 24)


@dataclass(frozen=True)
class CliqueTree:
    """Cliques of names, rooted: ``parents[i] < i``, and -1 for clique 0 only.

    Any name's cliques hang together, and every factor's names lie in one.  Each deputy
    meets its child in one clique: ``fused`` has it where the two share an axis, ``met``
    where they have one each.
    """

    cliques: tuple[frozenset[str], ...]
    parents: tuple[int, ...]
    sizes: Mapping[str, int]
    fused: tuple[frozenset[str], ...]
    met: tuple[frozenset[str], ...]

    @property
    def entries(self) -> tuple[int, ...]:
        """Table entries of each clique."""
        pairs = zip(self.cliques, self.fused, strict=True)
        return tuple(prod(self.sizes[n] for n in c - f) for c, f in pairs)

    @property
    def width(self) -> int:
        """Axes of the biggest clique table, less one."""
        return max(len(c - f) for c, f in zip(self.cliques, self.fused, strict=True)) - 1


@dataclass(frozen=True)
class _Step:
    """The elimination of one name: its clique, and its deputy if the tie was used here."""

    name: str
    clique: frozenset[str]
    fused: frozenset[str]
    met: frozenset[str]
    closes: int
    """1 if contributions are completed here.  A clique does this for one deputy at most:
    for one there is always an order of multiplying, for two there need not be."""


def moral_graph(model: Parts) -> dict[str, set[str]]:
    """Neighbours of each name: those it shares a factor with."""
    graph: dict[str, set[str]] = {name: set() for name in model.sizes}
    for factor in model.factors:
        for a, b in combinations(factor.scope, 2):
            graph[a].add(b)
            graph[b].add(a)
    return graph


def clique_tree(model: Parts, seed: int = 0, tries: int | None = None) -> CliqueTree:
    """The cheapest clique tree found, by total table entries; tries None: as many as fit."""
    sizes = model.sizes
    if not sizes:
        return CliqueTree((frozenset(),), (-1,), sizes, (frozenset(),), (frozenset(),))
    graph = moral_graph(model)
    rng = random.Random(seed)
    if tries is None:
        tries = min(max(STEPS // len(sizes), TRIES[0]), TRIES[1])
    best: list[_Step] = []
    best_cost: float = inf
    for attempt in range(tries):
        choice = _Choice(attempt % 2 == 0, rng, best_cost)
        found, cost = _Elimination(graph, model, choice).run()
        if cost < best_cost:
            best, best_cost = found, cost
    bags, links = _maximal(best)
    _merge(bags, links, sizes)
    # Deputies fix the direction: contributions are completed in the order of elimination.
    return _rooted(bags, links, sizes, fixed=bool(model.deputies))


@dataclass(frozen=True)
class _Choice:
    """How one try picks: by fill-in or by weight, and the cost at which to give up."""

    by_fill: bool
    rng: random.Random
    give_up: float


class _Elimination:
    """One try: names are eliminated one by one, the best rated first."""

    def __init__(self, graph: Mapping[str, set[str]], model: Parts, choice: _Choice) -> None:
        self._left = {name: set(near) for name, near in graph.items()}
        self._sizes = model.sizes
        self._deputies = model.deputies
        self._tie = {**model.deputies, **{z: q for q, z in model.deputies.items()}}
        self._choice = choice
        self._heap: list[tuple[float, float, float, str]] = []
        self._current: dict[str, tuple[float, float, float, str]] = {}

    def run(self) -> tuple[list[_Step], float]:
        """The eliminations in order, and the total of entries; infinite if given up."""
        for name in self._left:
            self._rate(name)
        found: list[_Step] = []
        cost = 0.0
        while self._heap:
            entry = heapq.heappop(self._heap)
            name = entry[3]
            if self._current.get(name) is not entry:
                continue
            del self._current[name]
            cost += self._sizes[name] * prod(self._sizes[n] for n in self._left[name])
            if cost >= self._choice.give_up:
                return found, inf
            found.append(self._eliminate(name))
        return found, cost

    def _rate(self, name: str) -> None:
        left = self._left
        near = left[name]
        # Twice the number of missing edges among the neighbours.
        fill = float(sum(len(near) - 1 - len(near & left[n]) for n in near))
        other = self._tie.get(name)
        if other is not None and other not in near:
            fill += 2.0 * len(near - left[other])
        weight = float(self._sizes[name] * prod(self._sizes[n] for n in near))
        pair = (fill, weight) if self._choice.by_fill else (weight, fill)
        entry = (*pair, self._choice.rng.random(), name)
        self._current[name] = entry
        heapq.heappush(self._heap, entry)

    def _eliminate(self, name: str) -> _Step:
        left = self._left
        near = left.pop(name)
        other = self._tie.pop(name, None)
        pair: frozenset[str] = frozenset()
        apart = other in near
        for n in near:
            left[n].discard(name)
        if other is not None:
            del self._tie[other]
            pair = frozenset([name if name in self._deputies else other])
            near.add(other)
        touched = set(near)
        for n in near:
            missing = near - left[n] - {n}
            if missing:
                # A new edge changes the fill of whoever sees both ends.
                left[n] |= missing
                touched |= left[n]
        for n in sorted(touched):
            self._rate(n)
        closes = int(bool(pair) or name in self._deputies)
        nothing: frozenset[str] = frozenset()
        fused, met = (nothing, pair) if apart else (pair, nothing)
        return _Step(name, frozenset(near | {name}), fused, met, closes)


@dataclass
class _Bag:
    """A clique while cliques are being joined."""

    names: frozenset[str]
    fused: frozenset[str]
    met: frozenset[str]
    closes: int
    last: bool
    """Whether the last elimination was here."""
    alive: bool = True

    def entries(self, sizes: Mapping[str, int]) -> int:
        """Table entries."""
        return prod(sizes[n] for n in self.names - self.fused)

    def with_(self, other: _Bag) -> _Bag:
        """The two as one."""
        return _Bag(
            self.names | other.names,
            self.fused | other.fused,
            self.met | other.met,
            self.closes + other.closes,
            self.last or other.last,
        )


def _maximal(found: Sequence[_Step]) -> tuple[list[_Bag], list[set[int]]]:
    """Join each elimination clique to that of its next eliminated name; drop subsets."""
    place = {step.name: i for i, step in enumerate(found)}
    bags = [_Bag(s.clique, s.fused, s.met, s.closes, s is found[-1]) for s in found]
    links: list[set[int]] = [set() for _ in bags]
    previous: int | None = None
    for i, step in enumerate(found):
        rest = step.clique - {step.name}
        if rest:
            j = min(place[n] for n in rest)
        elif previous is None:
            previous = i
            continue
        else:
            # Separate parts of the network are tied together through empty separators.
            j, previous = previous, i
        links[i].add(j)
        links[j].add(i)
    for i, bag in enumerate(bags):
        for j in sorted(links[i]):
            if bag.names <= bags[j].names and bag.closes + bags[j].closes <= 1:
                _absorb(bags, links, i, j)
                break
    return bags, links


def _absorb(bags: list[_Bag], links: list[set[int]], i: int, j: int) -> None:
    """Make clique i part of its neighbour j, which gets its neighbours."""
    bags[j] = bags[j].with_(bags[i])
    bags[i].alive = False
    for k in links[i]:
        links[k].discard(i)
        if k != j:
            links[k].add(j)
            links[j].add(k)
    links[i] = set()


def _merge(bags: list[_Bag], links: list[set[int]], sizes: Mapping[str, int]) -> None:
    """Merge neighbours whose union is small, or no bigger than the two apart."""

    def united(i: int, j: int) -> int:
        return bags[i].with_(bags[j]).entries(sizes)

    pairs = ((i, j) for i in range(len(bags)) for j in links[i] if i < j)
    heap = [(united(i, j), i, j) for i, j in pairs]
    heapq.heapify(heap)
    while heap:
        size, i, j = heapq.heappop(heap)
        if not bags[i].alive or j not in links[i] or united(i, j) != size:
            continue
        if not bags[i].names & bags[j].names or bags[i].closes + bags[j].closes > 1:
            continue
        if size > max(MERGE_ENTRIES, bags[i].entries(sizes) + bags[j].entries(sizes)):
            continue
        _absorb(bags, links, i, j)
        for k in sorted(links[j]):
            heapq.heappush(heap, (united(j, k), min(j, k), max(j, k)))


def _rooted(
    bags: Sequence[_Bag], links: Sequence[set[int]], sizes: Mapping[str, int], fixed: bool
) -> CliqueTree:
    """Number the cliques depth first from the one with the least total distance.

    If the direction is fixed, from the one with the last elimination.
    """
    alive = [i for i, bag in enumerate(bags) if bag.alive]
    root = next(i for i in alive if bags[i].last) if fixed else _centre(links, alive[0])
    order: list[int] = []
    parent_of: dict[int, int] = {root: -1}
    stack = [root]
    while stack:
        i = stack.pop()
        order.append(i)
        for k in sorted(links[i], reverse=True):
            if k not in parent_of:
                parent_of[k] = i
                stack.append(k)
    number = {old: new for new, old in enumerate(order)}
    return CliqueTree(
        tuple(bags[i].names for i in order),
        tuple(number.get(parent_of[i], -1) for i in order),
        sizes,
        tuple(bags[i].fused for i in order),
        tuple(bags[i].met for i in order),
    )


def _centre(links: Sequence[set[int]], start: int) -> int:
    """The node none of whose branches holds more than half of the tree."""
    parent_of = {start: -1}
    order = [start]
    for i in order:
        for k in sorted(links[i]):
            if k != parent_of[i]:
                parent_of[k] = i
                order.append(k)
    below = dict.fromkeys(order, 1)
    worst = dict.fromkeys(order, 0)
    for i in reversed(order):
        worst[i] = max(worst[i], len(order) - below[i])
        if parent_of[i] >= 0:
            below[parent_of[i]] += below[i]
            worst[parent_of[i]] = max(worst[parent_of[i]], below[i])
    return min(order, key=lambda i: (worst[i], i))
