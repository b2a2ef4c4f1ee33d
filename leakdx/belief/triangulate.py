"""From a network's graph to a tree of cliques with few and small tables.

Greedy elimination by fewest fill-in edges and by smallest table, with random choice
among equals; the cheapest of a fixed number of tries is kept, so the result depends
on the network alone and not on the clock.
"""

from __future__ import annotations

import heapq
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import inf, prod

from leakdx.network.tables import Network

# A clique of this many entries costs less arithmetic than the numpy calls around it,
# so neighbours are merged up to this size.
MERGE_ENTRIES = 128
# Tries are bounded by elimination steps: about 0.1 ms each.
STEPS = 8000
TRIES = (4, 24)


@dataclass(frozen=True)
class CliqueTree:
    """Cliques of variable names, rooted: ``parents[i] < i``, and -1 for clique 0 only.

    Any variable's cliques hang together, and every family of the network lies in one.
    """

    cliques: tuple[frozenset[str], ...]
    parents: tuple[int, ...]
    sizes: Mapping[str, int]

    @property
    def entries(self) -> tuple[int, ...]:
        """Table entries of each clique."""
        return tuple(prod(self.sizes[n] for n in c) for c in self.cliques)

    @property
    def width(self) -> int:
        """Variables in the biggest clique, less one."""
        return max(len(c) for c in self.cliques) - 1


def moral_graph(network: Network) -> dict[str, set[str]]:
    """Neighbours of each variable: those it shares a table with."""
    graph: dict[str, set[str]] = {name: set() for name in network.names}
    for table in network.tables:
        for a, b in combinations(table.scope, 2):
            graph[a].add(b)
            graph[b].add(a)
    return graph


def clique_tree(network: Network, seed: int = 0) -> CliqueTree:
    """The cheapest clique tree found, by total table entries."""
    sizes = {v.name: v.size for v in network.variables}
    if not sizes:
        return CliqueTree((frozenset(),), (-1,), sizes)
    graph = moral_graph(network)
    rng = random.Random(seed)
    tries = min(max(STEPS // len(sizes), TRIES[0]), TRIES[1])
    best: list[tuple[str, frozenset[str]]] = []
    best_cost: float = inf
    for attempt in range(tries):
        found, cost = _eliminate(graph, sizes, _Choice(attempt % 2 == 0, rng, best_cost))
        if cost < best_cost:
            best, best_cost = found, cost
    cliques, links = _maximal(best)
    cliques, links = _merge(cliques, links, sizes)
    return _rooted(cliques, links, sizes)


@dataclass(frozen=True)
class _Choice:
    """How one try picks: by fill-in or by weight, and the cost at which to give up."""

    by_fill: bool
    rng: random.Random
    give_up: float


def _eliminate(
    graph: Mapping[str, set[str]], sizes: Mapping[str, int], choice: _Choice
) -> tuple[list[tuple[str, frozenset[str]]], float]:
    """(variable, its clique when it is eliminated) in order, and the total of entries."""
    left = {name: set(near) for name, near in graph.items()}
    heap: list[tuple[float, float, float, str]] = []
    current: dict[str, tuple[float, float, float, str]] = {}

    def rate(name: str) -> None:
        near = left[name]
        # Twice the number of missing edges among the neighbours.
        fill = float(sum(len(near) - 1 - len(near & left[n]) for n in near))
        weight = float(sizes[name] * prod(sizes[n] for n in near))
        pair = (fill, weight) if choice.by_fill else (weight, fill)
        entry = (*pair, choice.rng.random(), name)
        current[name] = entry
        heapq.heappush(heap, entry)

    for name in left:
        rate(name)
    found: list[tuple[str, frozenset[str]]] = []
    cost = 0.0
    while heap:
        entry = heapq.heappop(heap)
        name = entry[3]
        if current.get(name) is not entry:
            continue
        del current[name]
        near = left.pop(name)
        found.append((name, frozenset(near | {name})))
        cost += sizes[name] * prod(sizes[n] for n in near)
        if cost >= choice.give_up:
            return found, inf
        for n in near:
            left[n].discard(name)
        touched = set(near)
        for n in near:
            missing = near - left[n] - {n}
            if missing:
                # A new edge changes the fill of whoever sees both ends.
                left[n] |= missing
                touched |= left[n]
        for n in sorted(touched):
            rate(n)
    return found, cost


def _maximal(
    found: Sequence[tuple[str, frozenset[str]]],
) -> tuple[list[frozenset[str]], list[set[int]]]:
    """Join each elimination clique to that of its next eliminated variable; drop subsets."""
    place = {name: i for i, (name, _) in enumerate(found)}
    cliques = [clique for _, clique in found]
    links: list[set[int]] = [set() for _ in cliques]
    previous: int | None = None
    for i, (name, clique) in enumerate(found):
        rest = clique - {name}
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
    alive = set(range(len(cliques)))
    for i in range(len(cliques)):
        for j in sorted(links[i]):
            if cliques[i] <= cliques[j]:
                _absorb(i, j, links)
                alive.discard(i)
                break
    return _compact(cliques, links, alive)


def _absorb(i: int, j: int, links: list[set[int]]) -> None:
    """Hand the neighbours of clique i to its neighbour j."""
    for k in links[i]:
        links[k].discard(i)
        if k != j:
            links[k].add(j)
            links[j].add(k)
    links[i] = set()


def _compact(
    cliques: list[frozenset[str]], links: list[set[int]], alive: set[int]
) -> tuple[list[frozenset[str]], list[set[int]]]:
    number = {old: new for new, old in enumerate(sorted(alive))}
    return (
        [cliques[i] for i in sorted(alive)],
        [{number[k] for k in links[i]} for i in sorted(alive)],
    )


def _merge(
    cliques: list[frozenset[str]], links: list[set[int]], sizes: Mapping[str, int]
) -> tuple[list[frozenset[str]], list[set[int]]]:
    """Merge neighbours whose union is small, or no bigger than the two apart."""
    alive = set(range(len(cliques)))

    def entries(clique: frozenset[str]) -> int:
        return prod(sizes[n] for n in clique)

    heap = [(entries(cliques[i] | cliques[j]), i, j) for i in alive for j in links[i] if i < j]
    heapq.heapify(heap)
    while heap:
        size, i, j = heapq.heappop(heap)
        if i not in alive or j not in links[i] or entries(cliques[i] | cliques[j]) != size:
            continue
        if not cliques[i] & cliques[j]:
            continue
        if size > max(MERGE_ENTRIES, entries(cliques[i]) + entries(cliques[j])):
            continue
        cliques[j] = cliques[i] | cliques[j]
        _absorb(i, j, links)
        alive.discard(i)
        for k in sorted(links[j]):
            heapq.heappush(heap, (entries(cliques[j] | cliques[k]), min(j, k), max(j, k)))
    return _compact(cliques, links, alive)


def _rooted(
    cliques: list[frozenset[str]], links: list[set[int]], sizes: Mapping[str, int]
) -> CliqueTree:
    """Number the cliques depth first from the one with the least total distance."""
    root = _centre(links)
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
        tuple(cliques[i] for i in order),
        tuple(number.get(parent_of[i], -1) for i in order),
        sizes,
    )


def _centre(links: Sequence[set[int]]) -> int:
    """The node none of whose branches holds more than half of the tree."""
    parent_of = {0: -1}
    order = [0]
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
