"""Which of the readings cannot all be right: a smallest set with probability zero."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, islice
from math import comb
from typing import Generic, TypeVar

import numpy as np

from leakdx.belief.evidence import Evidence, EvidenceError, combine
from leakdx.belief.tree import JunctionTree
from leakdx.network.tables import Array

Label = TypeVar("Label", bound=Hashable)

SEARCHED_SIZE = 3
BATCH = 256
# A few seconds of search on a network of a few hundred variables.
MOST_SETS = 20_000


@dataclass(frozen=True)
class Contradiction(Generic[Label]):
    """Readings that together have probability zero, while any of them less one may hold.

    ``proven`` says that no smaller set of the readings is contradictory.
    """

    labels: tuple[Label, ...]
    proven: bool


def smallest_contradiction(
    tree: JunctionTree, readings: Mapping[Label, Evidence], most_sets: int = MOST_SETS
) -> Contradiction[Label] | None:
    """A smallest set of readings that cannot hold together; None if all of them can.

    Each reading is a small Evidence without a batch axis; several may touch one variable.
    Sets of one, two and three readings are searched completely, smallest first and at most
    ``most_sets`` of them; a larger contradiction is one from which no reading can be left out.
    Raises EvidenceError for a reading that does not fit the network or has a batch axis.
    """
    labels = tuple(readings)
    faults = [f"reading {label} has a batch axis" for label in labels if readings[label].batch]
    if faults:
        raise EvidenceError("; ".join(faults))
    if _holds(tree, [readings[label] for label in labels]):
        return None
    reduced = _irreducible(tree, readings, labels)
    left = most_sets
    for size in range(1, min(SEARCHED_SIZE, len(reduced) - 1) + 1):
        if comb(len(labels), size) > left:
            return Contradiction(reduced, proven=False)
        left -= comb(len(labels), size)
        found = _first_impossible(tree, readings, size)
        if found:
            return Contradiction(found, proven=True)
    return Contradiction(reduced, proven=len(reduced) <= SEARCHED_SIZE + 1)


def _holds(tree: JunctionTree, parts: Sequence[Evidence]) -> bool:
    return bool(np.isfinite(tree.log_evidence(combine(parts))))


def _irreducible(
    tree: JunctionTree, readings: Mapping[Label, Evidence], labels: Sequence[Label]
) -> tuple[Label, ...]:
    """Leave out each reading in turn for good if the rest is still contradictory."""
    kept = list(labels)
    for label in labels:
        rest = [k for k in kept if k != label]
        if not _holds(tree, [readings[k] for k in rest]):
            kept = rest
    return tuple(kept)


def _first_impossible(
    tree: JunctionTree, readings: Mapping[Label, Evidence], size: int
) -> tuple[Label, ...]:
    """The first set of that size with probability zero, or nothing."""
    sets = combinations(readings, size)
    while batch := list(islice(sets, BATCH)):
        logs = np.atleast_1d(tree.log_evidence(_side_by_side(readings, batch)))
        impossible = np.flatnonzero(np.isneginf(logs))
        if len(impossible):
            return tuple(batch[int(impossible[0])])
    return ()


def _side_by_side(
    readings: Mapping[Label, Evidence], sets: Sequence[tuple[Label, ...]]
) -> Evidence:
    """One batch column for each set of readings."""
    columns: dict[str, Array] = {}
    log_scale = np.zeros(len(sets))
    for b, labels in enumerate(sets):
        both = combine(readings[label] for label in labels)
        log_scale[b] = both.log_scale
        for name, likelihood in both.items():
            table = columns.setdefault(name, np.ones((len(likelihood), len(sets))))
            table[:, b] = likelihood
    return Evidence(columns, log_scale)
