"""What each look could show, with its chance, and what the seal points would be then.

A look at several things is told apart into: all dry, one of them alone wet (each in turn),
and several wet, with and without the thing that tells most.  So a look never tells less than
any one thing it reads.  All of these are sums and differences of chances that things are read
dry, so one batch of such readings gives them all, exactly.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdx.belief.evidence import Evidence, ImpossibleEvidence
from leakdx.belief.tree import JunctionTree

Array = NDArray[np.float64]
# Rarer than this is taken not to happen: differences of chances are no surer than that.
NEVER = 1e-9


@dataclass(frozen=True, eq=False)
class Outlook:
    """One look.  labels: of the outcomes, O.  chance: (O,).  leaks: (O, S) after each."""

    labels: tuple[str, ...]
    chance: Array
    leaks: Array

    @property
    def before(self) -> Array:
        """Chance that each seal point leaks before the look, (S,)."""
        found: Array = self.chance @ self.leaks
        return found

    @property
    def bits(self) -> float:
        """Expected information about each seal point by itself, added up, bits."""
        return float(information(self.chance, self.leaks))


@dataclass(frozen=True, eq=False)
class Reads:
    """What a look reads: names of things and the evidence that each is dry."""

    things: tuple[str, ...]
    dry: tuple[Mapping[str, Array], ...]


def information(chance: Array, leaks: Array) -> Array:
    """Expected information about each seal point by itself, added up, bits, (...).

    chance: (..., O) of each outcome; leaks: (..., O, S) after it.
    """
    before = np.matmul(chance[..., None, :], leaks)[..., 0, :]
    after = (chance * _entropy(leaks).sum(axis=-1)).sum(axis=-1)
    return np.asarray(np.maximum(_entropy(before).sum(axis=-1) - after, 0.0))


def _entropy(chance: Array) -> Array:
    p = np.clip(chance, 0.0, 1.0)
    q = 1 - p
    logs = np.log2(np.where(p > 0, p, 1.0)) * p + np.log2(np.where(q > 0, q, 1.0)) * q
    return np.asarray(-logs)


def outlooks(
    tree: JunctionTree, known: Mapping[str, Array], looks: Sequence[Reads], seals: Sequence[str]
) -> list[Outlook]:
    """Every look's outcomes, given what is known.  ``seals`` are variables, tight first.

    Raises as JunctionTree.update does, ImpossibleEvidence only where what is known cannot be.
    """
    columns = [c for reads in looks for c in _dry_sets(len(reads.things))]
    owners = [r for reads in looks for r in [reads] * len(_dry_sets(len(reads.things)))]
    weight, leaks = _weighed(tree, _batch(known, owners, columns), seals)
    found: list[Outlook] = []
    start = 0
    for reads in looks:
        stop = start + len(_dry_sets(len(reads.things)))
        found.append(_outlook(reads, weight[start:stop], leaks[start:stop], leaks[-1]))
        start = stop
    return found


def _dry_sets(things: int) -> list[tuple[int, ...]]:
    """Which things are read dry in each column: all, all but each one, each one alone."""
    every = tuple(range(things))
    if things < 2:
        return [every]
    but_one = [tuple(k for k in every if k != j) for j in every]
    # Of two things, all but one is the other alone.
    return [every, *but_one, *((j,) for j in every if things > 2)]


def _batch(
    known: Mapping[str, Array],
    owners: Sequence[Reads],
    columns: Sequence[tuple[int, ...]],
) -> Evidence:
    """One column for each set of things read dry, and a last one for none."""
    width = len(columns) + 1
    found: dict[str, Array] = {}
    for column, (reads, things) in enumerate(zip(owners, columns, strict=True)):
        for k in things:
            for name, likelihood in reads.dry[k].items():
                if name not in found:
                    start = known[name] if name in known else np.ones(len(likelihood))
                    found[name] = np.repeat(np.asarray(start)[:, None], width, axis=1)
                found[name][:, column] *= likelihood
    # The scale makes it a batch even where no look says anything.
    return Evidence({**known, **found}, np.zeros(width))


def _weighed(tree: JunctionTree, batch: Evidence, seals: Sequence[str]) -> tuple[Array, Array]:
    """Chance of each column given the last, (C,), and of a leak at each seal point in it, (C, S).

    The last column is what is known without any look.  A column that cannot be, such as
    dryness where wet is certain, has chance zero and the leaks of the last.
    """
    width = batch.batch or 1
    there = list(range(width))
    try:
        beliefs = tree.update(batch, only=list(seals))
    except ImpossibleEvidence as error:
        there = [k for k in there if k not in error.columns]
        if width - 1 not in there:
            raise
        cut = {n: a if a.ndim == 1 else a[:, there] for n, a in batch.items()}
        beliefs = tree.update(Evidence(cut, np.zeros(len(there))), only=list(seals))
    logs = np.atleast_1d(beliefs.log_evidence)
    found = np.clip(np.array([1 - beliefs[name][0] for name in seals]).T, 0.0, 1.0)
    weight, leaks = np.zeros(width), np.repeat(found[-1:], width, axis=0)
    weight[there], leaks[there] = np.exp(logs - logs[-1]), found
    return weight, leaks


def _outlook(reads: Reads, weight: Array, leaks: Array, before: Array) -> Outlook:
    """Outcomes from the chances of dryness: their chance in front, then with each leak."""
    things = reads.things
    whole = np.append(1.0, before)
    joint = weight[:, None] * np.column_stack([np.ones(len(weight)), leaks])
    dry = joint[0]
    if len(things) < 2:
        return _told(["dry", "wet"], [dry, whole - dry], before)
    alone = joint[1 : len(things) + 1] - dry
    labels = ["all dry", *(f"only {thing} wet" for thing in things)]
    several = whole - dry - alone.sum(axis=0)
    if len(things) == 2:
        return _told([*labels, "both wet"], [dry, *alone, several], before)
    choices = []
    for k, thing in enumerate(things):
        spared = joint[len(things) + 1 + k] - dry - (alone.sum(axis=0) - alone[k])
        names = [*labels, f"several wet, not {thing}", f"several wet, {thing} too"]
        choices.append(_told(names, [dry, *alone, spared, several - spared], before))
    return max(choices, key=lambda outlook: outlook.bits)


def _told(labels: Sequence[str], joint: Sequence[Array], before: Array) -> Outlook:
    """The outcomes as an outlook; rounding never makes a chance negative."""
    parts = np.maximum(np.array(joint), 0.0)
    chance, leaks = parts[:, 0], np.minimum(parts[:, 1:], parts[:, :1])
    happens = chance > NEVER
    after = np.where(happens[:, None], leaks / np.where(happens, chance, 1.0)[:, None], before)
    chance = np.where(happens, chance, 0.0)
    return Outlook(tuple(labels), chance / chance.sum(), after)
