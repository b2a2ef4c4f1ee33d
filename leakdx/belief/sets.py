"""The most probable sets of faults, exactly, by best-first search.

A node of the search decides for the first few variables whether each is among its faulty
states.  P(decisions, evidence) bounds every way of completing it, so sets leave the queue
in the order of their probability, and whatever is left is no more probable than the
queue's first entry.
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations, product
from math import exp

import numpy as np

from leakdx.belief.evidence import Evidence, EvidenceError, ImpossibleEvidence, combine
from leakdx.belief.tree import JunctionTree
from leakdx.network.tables import Array

# Nodes opened together, and decisions added to each at once: a batch of at most 256 columns.
OPENED = 8
STEPS = 2
# Variables among which the plainest patterns are guessed when the search is cut short.
GUESSED = 7
LIMIT = 20_000


@dataclass(frozen=True)
class FaultSet:
    """The variables in their faulty states, all others asked about being in order."""

    names: tuple[str, ...]
    probability: float
    """P(exactly this pattern | evidence)."""


@dataclass(frozen=True)
class SetList:
    """The most probable patterns, most probable first.

    ``proven`` says that no pattern left out is more probable than the last one listed.
    ``unlisted`` is the largest probability that a pattern left out could have, and
    ``evaluations`` the number of probabilities worked out.
    """

    sets: tuple[FaultSet, ...]
    proven: bool
    unlisted: float
    evaluations: int


@dataclass(frozen=True, order=True)
class _Node:
    """Minus log P(decisions | evidence); the deeper first among equals."""

    cost: float
    depth: int
    decisions: tuple[bool, ...] = field(default=())


def most_probable_sets(
    tree: JunctionTree,
    evidence: Mapping[str, Array],
    faulty: Mapping[str, tuple[int, ...]],
    k: int,
    limit: int = LIMIT,
) -> SetList:
    """The k most probable patterns of 'variable is in one of its faulty states'.

    ``faulty`` maps variable names to state indices; every other variable is summed over.
    After ``limit`` evaluations the search stops and lists the best complete patterns found.
    Raises EvidenceError for evidence or states that do not fit or have a batch axis,
    ImpossibleEvidence where the evidence has probability zero, ValueError unless k >= 1.
    """
    fixed = evidence if isinstance(evidence, Evidence) else Evidence(evidence)
    _check(tree, fixed, faulty, k)
    base = float(tree.log_evidence(fixed))
    if base == -np.inf:
        raise ImpossibleEvidence(tuple(fixed), ())
    masks = _by_uncertainty(tree, fixed, faulty)
    order = tuple(masks)
    heap = [_Node(0.0, 0)]
    listed: list[_Node] = []
    evaluations = 0
    while heap and len(listed) < k:
        if len(heap[0].decisions) == len(order):
            listed.append(heapq.heappop(heap))
            continue
        if evaluations >= limit:
            break
        opened, set_aside = _pop_open(heap, len(order))
        grown = [
            (*node.decisions, *more)
            for node in opened
            for more in product((False, True), repeat=min(STEPS, len(order) - len(node.decisions)))
        ]
        logs = np.atleast_1d(tree.log_evidence(_columns(fixed, masks, grown)))
        evaluations += len(grown)
        for node in set_aside:
            heapq.heappush(heap, node)
        for decisions, log in zip(grown, logs, strict=True):
            if log > -np.inf:
                heapq.heappush(heap, _Node(max(float(base - log), 0.0), -len(decisions), decisions))
    proven = len(listed) == k or not heap
    rest = set(heap)
    if not proven:
        # Cut short: the best of the complete patterns found and of the plainest guesses.
        plain = _guesses(tree, fixed, masks, base)
        # By pattern: worked out twice, one may differ from itself in the last bit.
        complete = {n.decisions: n for n in (*plain, *heap, *listed)}
        whole = (n for n in complete.values() if len(n.decisions) == len(order))
        listed = sorted(whole, key=lambda n: n.cost)[:k]
        evaluations += len(plain)
    rest = {n for n in rest if n.decisions not in {m.decisions for m in listed}}
    return SetList(
        tuple(_named(node, order) for node in listed),
        proven,
        max((exp(-node.cost) for node in rest), default=0.0),
        evaluations,
    )


def _check(
    tree: JunctionTree, evidence: Evidence, faulty: Mapping[str, tuple[int, ...]], k: int
) -> None:
    sizes = tree.plan.sizes
    faults = ["evidence has a batch axis"] if evidence.batch else []
    for name, states in faulty.items():
        if name not in sizes:
            faults.append(f"there is no variable {name}")
        elif not all(0 <= s < sizes[name] for s in states):
            faults.append(f"{name} has no states {list(states)}")
    if faults:
        raise EvidenceError("; ".join(faults))
    if k < 1:
        raise ValueError(f"{k} sets asked for")


def _by_uncertainty(
    tree: JunctionTree, evidence: Evidence, faulty: Mapping[str, tuple[int, ...]]
) -> dict[str, Array]:
    """Likelihoods (size, 2), in order and faulty, of each name, the most certain first.

    The long chain of near certainties is then walked once and shared by all answers; only
    the doubtful few at its end branch widely.
    """
    beliefs = tree.update(evidence, only=tuple(faulty))
    masks: dict[str, Array] = {}
    doubt: dict[str, float] = {}
    for name, states in faulty.items():
        bad = np.zeros(tree.plan.sizes[name])
        bad[list(states)] = 1
        masks[name] = np.stack([1 - bad, bad], axis=1)
        doubt[name] = abs(float(beliefs[name] @ bad) - 0.5)
    return {name: masks[name] for name in sorted(faulty, key=lambda n: -doubt[n])}


def _guesses(
    tree: JunctionTree, evidence: Evidence, masks: Mapping[str, Array], base: float
) -> list[_Node]:
    """Complete patterns of at most three faults among the likeliest few, each worked out."""
    beliefs = tree.update(evidence, only=tuple(masks))
    chance = {n: float(beliefs[n] @ mask[:, 1]) for n, mask in masks.items()}
    likely = sorted(masks, key=lambda n: -chance[n])[:GUESSED]
    sets = [set(c) for size in range(4) for c in combinations(likely, size)]
    patterns = [tuple(n in one for n in masks) for one in sets]
    logs = np.atleast_1d(tree.log_evidence(_columns(evidence, masks, patterns)))
    return [
        _Node(max(float(base - log), 0.0), -len(p), p)
        for p, log in zip(patterns, logs, strict=True)
        if log > -np.inf
    ]


def _pop_open(heap: list[_Node], full: int) -> tuple[list[_Node], list[_Node]]:
    """The first few nodes still to be decided, and the complete ones passed on the way."""
    opened: list[_Node] = []
    complete: list[_Node] = []
    while heap and len(opened) < OPENED:
        node = heapq.heappop(heap)
        (complete if len(node.decisions) == full else opened).append(node)
    return opened, complete


def _columns(
    evidence: Evidence, masks: Mapping[str, Array], grown: Sequence[tuple[bool, ...]]
) -> Evidence:
    """The evidence with one batch column for each list of decisions."""
    deepest = max(len(decisions) for decisions in grown)
    # 0 in order, 1 faulty, 2 not decided.
    choices = np.full((deepest, len(grown)), 2)
    for b, decisions in enumerate(grown):
        choices[: len(decisions), b] = decisions
    columns: dict[str, Array] = {}
    for (name, mask), choice in zip(masks.items(), choices, strict=False):
        three = np.concatenate([mask, np.ones((len(mask), 1))], axis=1)
        columns[name] = three[:, choice]
    return combine([evidence, Evidence(columns)])


def _named(node: _Node, order: Sequence[str]) -> FaultSet:
    names = tuple(n for n, bad in zip(order, node.decisions, strict=True) if bad)
    return FaultSet(names, exp(-node.cost))
