"""Exact posteriors on a compiled network: questions, checks of the answers, batches.

How the answers are worked out is in ``passes``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import pairwise
from math import prod

import numpy as np

from leakdx.belief.arrays import Workspace, sum_to
from leakdx.belief.evidence import LOPSIDED, Evidence, EvidenceError, ImpossibleEvidence, combine
from leakdx.belief.numbers import numbers
from leakdx.belief.passes import Collected, Engine
from leakdx.belief.plan import Plan, make_plan, signature
from leakdx.belief.star import parts
from leakdx.belief.triangulate import CliqueTree, clique_tree
from leakdx.network.tables import Array, Network, NetworkError

LIMIT = 2**25
# A first try so far above the limit is not brought below it by others.
HOPELESS = 8
# Numbers held at once while a batch is propagated (64 MB); wider batches go in pieces.
CHUNK_ENTRIES = 2**23
# Working memory kept between calls (32 MB at most for each thread).
KEPT_ENTRIES = 2**22
# Columns beyond this gain nothing per column and fall out of the processor's cache.
CHUNK_COLUMNS = 256
JOINT_ENTRIES = 2**16
# Clique trees among which the one with the least work is chosen, where there are deputies.
CHOICES = 8
# A marginal further from a sum of one than this has lost its digits to underflow.
DRIFT = 1e-9


class TooWide(ValueError):
    """The tables would exceed a limit; ``entries`` is the predicted size of the largest."""

    def __init__(self, entries: int, limit: int) -> None:
        self.entries = entries
        super().__init__(f"largest clique table would have {entries} entries, above {limit}")


@dataclass(frozen=True, eq=False)
class Beliefs(Mapping[str, Array]):
    """Posterior marginals: variable name -> array (size,) or, with a batch, (size, B).

    ``log_evidence`` is the natural log of the probability of the evidence, a float or (B,).
    """

    log_evidence: float | Array
    _stack: Array = field(repr=False)
    _rows: Mapping[str, slice] = field(repr=False)

    def __getitem__(self, name: str) -> Array:
        return self._stack[self._rows[name]]

    def __iter__(self) -> Iterator[str]:
        return iter(self._rows)

    def __len__(self) -> int:
        return len(self._rows)


@dataclass(frozen=True, eq=False)
class JunctionTree:
    """A compiled network; make it with compile_network."""

    network: Network
    plan: Plan
    _engine: Engine = field(repr=False)
    # Working memory only: what is kept here changes no answer.
    _spaces: list[Workspace] = field(default_factory=list, repr=False)

    @property
    def width(self) -> int:
        """Variables in the biggest clique, less one."""
        return self.plan.width

    @property
    def clique_entries(self) -> tuple[int, ...]:
        """Table entries of each clique; the first is the root."""
        return tuple(prod(c.shape) for c in self.plan.cliques)

    def with_tables(self, network: Network) -> JunctionTree:
        """The same structure with the numbers of another network of the same shape.

        Raises NetworkError unless variables, states and arrows are the same.
        """
        if signature(network) != self.plan.scopes:
            raise NetworkError("variables, states or arrows differ from the compiled network")
        engine = Engine(self.plan, numbers(parts(network), self.plan))
        return JunctionTree(network, self.plan, engine)

    def log_evidence(self, evidence: Mapping[str, Array]) -> float | Array:
        """Natural log of P(evidence): float, or (B,); minus infinity where impossible.

        Raises EvidenceError where the evidence does not fit, or where a positive probability
        would be lost because likelihoods contradict each other beyond the range of doubles.
        """
        fitted = self._fitted(evidence)
        with self._workspace() as space:
            pieces = [
                np.broadcast_to(self._engine.collect(e, space, keep=False).log_evidence, (n,))
                for e, n in self._chunks(fitted)
            ]
        logs = np.concatenate(pieces)
        self._confirm_impossible(fitted, logs)
        return float(logs[0]) if fitted.batch is None else logs

    def update(self, evidence: Mapping[str, Array], only: Sequence[str] | None = None) -> Beliefs:
        """Posterior marginals of all variables, or of those named in ``only``.

        Raises EvidenceError where the evidence does not fit or a name in ``only`` is
        unknown, ImpossibleEvidence where it, or a column of it, has probability zero.
        """
        fitted = self._fitted(evidence)
        rows = self.plan.rows if only is None else {n: self._rows_of(n) for n in only}
        wanted = None if only is None else self._engine.ancestors([self.plan.home[n] for n in only])
        width = fitted.batch or 1
        stack = np.zeros((self.plan.row_count, width))
        logs = np.empty(width)
        start = 0
        with self._workspace() as space:
            for piece, n in self._chunks(fitted):
                collected = self._engine.collect(piece, space)
                logs[start : start + n] = collected.log_evidence
                if not np.isneginf(collected.log_evidence).any():
                    self._engine.distribute(collected, stack[:, start : start + n], wanted)
                start += n
        self._confirm_impossible(fitted, logs)
        self._require_possible(fitted, logs)
        self._require_sound(stack, rows)
        stack.setflags(write=False)
        if fitted.batch is None:
            return Beliefs(float(logs[0]), stack[:, 0], rows)
        return Beliefs(logs, stack, rows)

    def joint(self, names: Sequence[str], evidence: Mapping[str, Array]) -> Array:
        """P(names | evidence), shape (size of each name ..., ) and B last if there is a batch.

        Names within one clique without a deputy cost an update; others one inward pass for
        each combination of states.  Raises as update does, and ValueError for a name used
        twice or a table of more than 65536 entries.
        """
        fitted = self._fitted(evidence)
        shape = tuple(self.plan.sizes[n] for n in names if self._rows_of(n))
        if len(set(names)) != len(names) or prod(shape) > JOINT_ENTRIES:
            raise ValueError(f"joint of {names}: a name twice, or {prod(shape)} entries")
        holders = [
            i
            for i, c in enumerate(self.plan.cliques)
            # In a clique with a fold an axis may stand for a part of a maximum.
            if c.fold is None and set(names) <= set(c.scope)
        ]
        holders.sort(key=lambda i: prod(self.plan.cliques[i].shape))
        logs = np.atleast_1d(self.log_evidence(fitted))
        self._require_possible(fitted, logs)
        if holders:
            with self._workspace() as space:
                pieces = [
                    self._clique_joint(holders[0], names, self._engine.collect(e, space), n)
                    for e, n in self._chunks(fitted)
                ]
            table = np.concatenate(pieces, axis=-1)
        else:
            table = np.exp(self._logs_with(names, shape, fitted) - logs)
        return table[..., 0] if fitted.batch is None else table

    def _logs_with(self, names: Sequence[str], shape: Sequence[int], evidence: Evidence) -> Array:
        """Log P(evidence, names in each combination of states), (size of each name ..., B)."""
        states = np.indices(shape).reshape(len(shape), prod(shape))
        if evidence.batch is None:
            # One batch, a column for each combination.
            extra = {n: np.eye(k)[:, s] for n, k, s in zip(names, shape, states, strict=True)}
            logs = self.log_evidence(combine([evidence, Evidence(extra)]))
            return np.asarray(logs).reshape(*shape, 1)
        rows = []
        for column in states.T:
            extra = {n: np.eye(k)[s] for n, k, s in zip(names, shape, column, strict=True)}
            rows.append(np.asarray(self.log_evidence(combine([evidence, Evidence(extra)]))))
        return np.stack(rows).reshape(*shape, -1)

    @contextmanager
    def _workspace(self) -> Iterator[Workspace]:
        """A workspace of this thread's own, given back for the next call."""
        space = self._spaces.pop() if self._spaces else Workspace()
        yield space
        if space.size <= KEPT_ENTRIES:
            self._spaces.append(space)

    def _rows_of(self, name: str) -> slice:
        if name not in self.plan.rows:
            raise EvidenceError(f"there is no variable {name}")
        return self.plan.rows[name]

    def _fitted(self, evidence: Mapping[str, Array]) -> Evidence:
        fitted = evidence if isinstance(evidence, Evidence) else Evidence(evidence)
        fitted.check(self.plan.sizes)
        for child, factor in fitted.families.items():
            if child not in self.plan.families:
                raise EvidenceError(f"there is no table of {child}")
            shape = tuple(self.plan.sizes[n] for n in self.plan.families[child][1])
            if factor.shape[:-1] != shape:
                raise EvidenceError(
                    f"family of {child} has shape {factor.shape}, not {shape} and B"
                )
        return fitted

    def _confirm_impossible(self, evidence: Evidence, logs: Array) -> None:
        """Tell impossible from too small: ask again with every positive likelihood made one."""
        bad = np.isneginf(logs) & ~np.isneginf(evidence.log_scale)
        if not bad.any():
            return
        cut = {n: a if a.ndim == 1 else a[:, bad] for n, a in evidence.items()}
        support = Evidence(
            {n: np.where(a > 0, 1.0, 0.0) for n, a in cut.items()},
            families={n: np.where(a[..., bad] > 0, 1.0, 0.0) for n, a in evidence.families.items()},
        )
        with self._workspace() as space:
            for piece, _ in self._chunks(support):
                collected = self._engine.collect(piece, space, keep=False)
                if not np.isneginf(collected.log_evidence).all():
                    raise EvidenceError(LOPSIDED)

    def _require_possible(self, evidence: Evidence, logs: Array) -> None:
        bad = np.flatnonzero(np.isneginf(logs))
        if len(bad):
            columns = () if evidence.batch is None else tuple(int(b) for b in bad)
            raise ImpossibleEvidence(tuple(evidence), columns)

    def _require_sound(self, stack: Array, rows: Mapping[str, slice]) -> None:
        """Marginals sum to one by construction; where they do not, doubles ran out of range."""
        if len(rows) == len(self.plan.rows):
            sums = np.add.reduceat(stack, self.plan.row_starts, axis=0) if rows else stack
        else:
            sums = np.array([stack[cut].sum(axis=0) for cut in rows.values()])
        if not bool((np.abs(sums - 1) <= DRIFT).all()):
            raise EvidenceError(LOPSIDED)

    def _chunks(self, evidence: Evidence) -> Iterator[tuple[Evidence, int]]:
        """The evidence in pieces of few enough columns, with the number of columns."""
        width = evidence.batch
        numbers_of = (self.plan.families[n][0] for n in evidence.families)
        touched = self._engine.ancestors(
            [
                *(self.plan.home[n] for n in evidence),
                *(self.plan.places[n].clique for n in numbers_of),
            ]
        )
        total = sum(self._engine.entries(i) for i in touched)
        step = min(max(CHUNK_ENTRIES // max(total, 1), 1), CHUNK_COLUMNS)
        if width is None or width <= step:
            yield evidence, width or 1
            return
        for start in range(0, width, step):
            cut = slice(start, min(start + step, width))
            parts = {n: a if a.ndim == 1 else a[:, cut] for n, a in evidence.items()}
            log = evidence.log_scale
            if isinstance(log, np.ndarray) and log.ndim:
                log = log[cut]
            families = {n: a[..., cut] for n, a in evidence.families.items()}
            yield Evidence(parts, log, families), cut.stop - start

    def _clique_joint(self, i: int, names: Sequence[str], collected: Collected, n: int) -> Array:
        """Posterior table of names that share clique i, the n columns last."""
        cliques = self.plan.cliques
        path = sorted(self._engine.ancestors([i]))
        given = np.ones((1, 1))
        for k, below in pairwise(path):
            if cliques[k].fold is not None:
                given = self._engine.unfold(k, given, [below], collected, None)[below]
            else:
                given = sum_to(self._engine.belief(k, given, collected), cliques[below].up)
        clique = cliques[i]
        belief = self._engine.belief(i, given, collected)
        table = belief.reshape(*clique.shape, belief.shape[-1])
        axes = [clique.scope.index(name) for name in names]
        table = table.sum(axis=tuple(a for a in range(len(clique.shape)) if a not in axes))
        order = sorted(axes)
        table = table.transpose(*(order.index(a) for a in axes), len(axes))
        return np.repeat(table, n // table.shape[-1], axis=-1)


def fits(network: Network, limit: int = LIMIT, total: int | None = None) -> bool:
    """Whether a first triangulation of the network keeps within both limits of its tables.

    Far quicker than to compile it; what does not fit so may now and then after all.
    """
    return _excess(clique_tree(parts(network), 0, tries=2), limit, total) <= 1


def _excess(tree: CliqueTree, limit: int, total: int | None) -> float:
    """How many times too large a tree is; at most 1 where it fits."""
    whole = sum(tree.entries) / total if total is not None else 0.0
    return max(max(tree.entries) / limit, whole)


def compile_network(network: Network, limit: int = LIMIT, total: int | None = None) -> JunctionTree:
    """Triangulate the network and work out the tables of its cliques.

    Raises TooWide if the largest clique table would have more than ``limit`` entries, or
    all of them together more than ``total``, before any table is worked out.
    """

    model = parts(network)
    trees = [clique_tree(model, 0, tries=2 if model.deputies else None)]
    if _excess(trees[0], limit, total) > HOPELESS:
        raise TooWide(max(trees[0].entries), limit)
    if model.deputies:
        # With deputies the entries do not tell the work, which depends on what meets where.
        trees += [clique_tree(model, seed, tries=2) for seed in range(1, CHOICES)]
    fitting = [tree for tree in trees if _excess(tree, limit, total) <= 1]
    if not fitting:
        raise TooWide(min(max(tree.entries) for tree in trees), limit)
    plan = min((make_plan(network, model, tree) for tree in fitting), key=lambda p: p.work)
    return JunctionTree(network, plan, Engine(plan, numbers(model, plan)))
