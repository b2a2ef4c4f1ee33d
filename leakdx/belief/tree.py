"""Exact posteriors by message passing in a junction tree.

Each clique keeps P(own variables | separator to its parent), worked out once from the
tables.  With these conditional tables a subtree that holds no evidence sends the message
'one', so nothing is sent, and below it the posterior is the separator's posterior
times a fixed matrix, kept after its first use.  Only cliques between evidence and the
root are multiplied out anew.

Inside this module arrays are (own entries, separator entries, batch columns), the batch
axis last and of length 1 where the columns do not differ yet.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import product
from math import prod

import numpy as np

from leakdx.belief.arrays import (
    Workspace,
    chain,
    conditionals,
    multiply,
    scaled,
    sum_to,
    total_log,
    width_of,
    write_own,
)
from leakdx.belief.evidence import Evidence, EvidenceError, ImpossibleEvidence, combine
from leakdx.belief.plan import Plan, Runs, make_plan, signature
from leakdx.belief.triangulate import clique_tree
from leakdx.network.tables import Array, Network, NetworkError

LIMIT = 2**25
# Numbers held at once while a batch is propagated (64 MB); wider batches go in pieces.
CHUNK_ENTRIES = 2**23
# Working memory kept between calls (32 MB at most for each thread).
KEPT_ENTRIES = 2**22
# Columns beyond this gain nothing per column and fall out of the processor's cache.
CHUNK_COLUMNS = 256
# A clean subtree's posterior is one matrix product as long as the matrix is this small.
SHORTCUT_ENTRIES = 2**15
JOINT_ENTRIES = 2**16
# A marginal further from a sum of one than this has lost its digits to underflow.
DRIFT = 1e-9


class TooWide(ValueError):
    """The largest clique would exceed the limit; ``entries`` is its predicted size."""

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


@dataclass(eq=False)
class _Collected:
    """Outcome of the inward pass: tables and messages of the cliques evidence touches."""

    products: dict[int, Array]
    messages: dict[int, Array]
    log_evidence: Array


@dataclass(frozen=True, eq=False)
class JunctionTree:
    """A compiled network; make it with compile_network."""

    network: Network
    plan: Plan
    _conditionals: tuple[Array, ...] = field(repr=False)
    # Working memory only: what is kept here changes no answer.
    _shortcuts: dict[int, Array | None] = field(default_factory=dict, repr=False)
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
        return JunctionTree(network, self.plan, conditionals(network, self.plan))

    def log_evidence(self, evidence: Mapping[str, Array]) -> float | Array:
        """Natural log of P(evidence): float, or (B,); minus infinity where impossible."""
        fitted = self._fitted(evidence)
        with self._workspace() as space:
            pieces = [
                np.broadcast_to(self._collect(e, space, keep=False).log_evidence, (n,))
                for e, n in self._chunks(fitted)
            ]
        return float(pieces[0][0]) if fitted.batch is None else np.concatenate(pieces)

    def update(self, evidence: Mapping[str, Array], only: Sequence[str] | None = None) -> Beliefs:
        """Posterior marginals of all variables, or of those named in ``only``.

        Raises EvidenceError where the evidence does not fit or a name in ``only`` is
        unknown, ImpossibleEvidence where it, or a column of it, has probability zero.
        """
        fitted = self._fitted(evidence)
        rows = self.plan.rows if only is None else {n: self._rows_of(n) for n in only}
        wanted = None if only is None else self._ancestors([self.plan.home[n] for n in only])
        width = fitted.batch or 1
        stack = np.zeros((self.plan.row_count, width))
        logs = np.empty(width)
        start = 0
        with self._workspace() as space:
            for piece, n in self._chunks(fitted):
                collected = self._collect(piece, space)
                logs[start : start + n] = collected.log_evidence
                if not np.isneginf(collected.log_evidence).any():
                    self._distribute(collected, stack[:, start : start + n], wanted)
                start += n
        self._require_possible(fitted, logs)
        self._require_sound(stack, rows)
        stack.setflags(write=False)
        if fitted.batch is None:
            return Beliefs(float(logs[0]), stack[:, 0], rows)
        return Beliefs(logs, stack, rows)

    def joint(self, names: Sequence[str], evidence: Mapping[str, Array]) -> Array:
        """P(names | evidence), shape (size of each name ..., ) and B last if there is a batch.

        Names within one clique cost an update; others one inward pass for each
        combination of states.  Raises as update does, and ValueError for a name used
        twice or a table of more than 65536 entries.
        """
        fitted = self._fitted(evidence)
        shape = tuple(self.plan.sizes[n] for n in names if self._rows_of(n))
        if len(set(names)) != len(names) or prod(shape) > JOINT_ENTRIES:
            raise ValueError(f"joint of {names}: a name twice, or {prod(shape)} entries")
        holders = [i for i, c in enumerate(self.plan.cliques) if set(names) <= set(c.scope)]
        holders.sort(key=lambda i: prod(self.plan.cliques[i].shape))
        logs = np.atleast_1d(self.log_evidence(fitted))
        self._require_possible(fitted, logs)
        if holders:
            with self._workspace() as space:
                pieces = [
                    self._clique_joint(holders[0], names, self._collect(e, space), n)
                    for e, n in self._chunks(fitted)
                ]
            table = np.concatenate(pieces, axis=-1)
        else:
            combinations = product(*(range(n) for n in shape))
            fixed = [self._log_with(names, states, fitted) for states in combinations]
            table = np.exp(np.stack(fixed).reshape(*shape, len(logs)) - logs)
        return table[..., 0] if fitted.batch is None else table

    def _log_with(self, names: Sequence[str], states: Sequence[int], evidence: Evidence) -> Array:
        extra = {n: np.eye(self.plan.sizes[n])[s] for n, s in zip(names, states, strict=True)}
        return np.atleast_1d(self.log_evidence(combine([evidence, Evidence(extra)])))

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
        return fitted

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
            raise EvidenceError("evidence is too lopsided for double precision numbers")

    def _ancestors(self, cliques: Sequence[int]) -> set[int]:
        """The cliques and all between them and the root."""
        found: set[int] = set()
        for i in cliques:
            while i >= 0 and i not in found:
                found.add(i)
                i = self.plan.cliques[i].parent
        return found

    def _chunks(self, evidence: Evidence) -> Iterator[tuple[Evidence, int]]:
        """The evidence in pieces of few enough columns, with the number of columns."""
        width = evidence.batch
        touched = self._ancestors([self.plan.home[n] for n in evidence])
        total = sum(prod(self.plan.cliques[i].shape) for i in touched)
        step = min(max(CHUNK_ENTRIES // max(total, 1), 1), CHUNK_COLUMNS)
        if width is None or width <= step:
            yield evidence, width or 1
            return
        for start in range(0, width, step):
            cut = slice(start, min(start + step, width))
            parts = {n: a if a.ndim == 1 else a[:, cut] for n, a in evidence.items()}
            log = evidence.log_scale
            yield Evidence(parts, log if np.ndim(log) == 0 else log[cut]), cut.stop - start  # type: ignore[index]

    def _collect(self, evidence: Evidence, space: Workspace, keep: bool = True) -> _Collected:
        """Inward pass over the cliques that evidence touches.

        The tables kept for the outward pass live in ``space`` until it is reserved again.
        """
        cliques = self.plan.cliques
        incoming: dict[int, list[tuple[Runs, Array]]] = {}
        products: dict[int, Array] = {}
        messages: dict[int, Array] = {}
        scales: list[Array] = []
        for name, array in evidence.items():
            home = self.plan.home[name]
            likelihood, top = scaled(array)
            scales.append(top)
            incoming.setdefault(home, []).append((self.plan.lies[name], likelihood))
        touched = sorted(self._ancestors(list(incoming)), reverse=True)
        sizes = [self._conditionals[i].size for i in touched]
        space.reserve((sum(sizes) if keep else max(sizes, default=0)) * (evidence.batch or 1))
        for i, size in zip(touched, sizes, strict=True):
            clique = cliques[i]
            factors = incoming.pop(i)
            width = width_of(factors)
            if not keep:
                space.reserve(0)
            flat = space.take(size * width)
            multiply(self._conditionals[i], factors, flat)
            table = flat.reshape(clique.own_size, clique.separator_size, width)
            message = np.add.reduce(table, axis=0)
            # Without scaling, the product of a few hundred small messages would vanish.
            top = np.maximum.reduce(message, axis=0)
            scales.append(top)
            if keep:
                products[i] = table
                messages[i] = message
            if i:
                factor = message / (top + (top == 0))
                incoming.setdefault(clique.parent, []).append((clique.up, factor))
        return _Collected(products, messages, total_log(scales, evidence))

    def _belief(self, i: int, separator: Array, collected: _Collected) -> Array:
        """Posterior of clique i, (own, separator, B), from the posterior of its separator."""
        if i not in collected.products:
            return self._conditionals[i][:, :, None] * separator
        # Where the message is zero so is the posterior: zero over anything stays zero.
        message = collected.messages[i]
        ratio = separator / (message + (message == 0))
        product = collected.products[i]
        # Needed only once; a fresh array of this size costs more than the product itself.
        same = product.shape[-1] == ratio.shape[-1]
        belief: Array = np.multiply(product, ratio, out=product if same else None)
        return belief

    def _distribute(self, collected: _Collected, out: Array, wanted: set[int] | None) -> None:
        """Outward pass; writes the stacked marginals into ``out`` (rows, B)."""
        cliques = self.plan.cliques
        separators: dict[int, Array] = {0: np.ones((1, 1))}
        while separators:
            i, separator = separators.popitem()
            clique = cliques[i]
            if i not in collected.products:
                shortcut = self._shortcut(i)
                if shortcut is not None:
                    out[clique.subtree_rows] = shortcut @ separator
                    continue
            belief = self._belief(i, separator, collected)
            write_own(clique, np.add.reduce(belief, axis=1), out, 0)
            for child in clique.children:
                if wanted is None or child in wanted:
                    separators[child] = sum_to(belief, cliques[child].up)

    def _clique_joint(self, i: int, names: Sequence[str], collected: _Collected, n: int) -> Array:
        """Posterior table of names that share clique i, the n columns last."""
        belief = np.ones((1, 1))
        for k in sorted(self._ancestors([i])):
            if k:
                belief = sum_to(belief, self.plan.cliques[k].up)
            belief = self._belief(k, belief, collected)
        clique = self.plan.cliques[i]
        table = belief.reshape(*clique.shape, belief.shape[-1])
        axes = [clique.scope.index(name) for name in names]
        table = table.sum(axis=tuple(a for a in range(len(clique.shape)) if a not in axes))
        order = sorted(axes)
        table = table.transpose(*(order.index(a) for a in axes), len(axes))
        return np.repeat(table, n // table.shape[-1], axis=-1)

    def _shortcut(self, i: int) -> Array | None:
        """P(each variable of the subtree | separator of clique i), (rows, separator)."""
        if i in self._shortcuts:
            return self._shortcuts[i]
        clique = self.plan.cliques[i]
        rows = clique.subtree_rows.stop - clique.subtree_rows.start
        parts = [self._shortcut(k) for k in clique.children]
        known = [p for p in parts if p is not None]
        result: Array | None = None
        if rows * clique.separator_size <= SHORTCUT_ENTRIES and len(known) == len(parts):
            result = np.empty((rows, clique.separator_size))
            first = clique.rows.start
            table = self._conditionals[i]
            write_own(clique, table, result, first)
            for k, part in zip(clique.children, known, strict=True):
                child = self.plan.cliques[k]
                cut = child.subtree_rows
                result[cut.start - first : cut.stop - first] = chain(clique, child, table, part)
        self._shortcuts[i] = result
        return result


def compile_network(network: Network, limit: int = LIMIT) -> JunctionTree:
    """Triangulate the network and work out the conditional tables of its cliques.

    Raises TooWide if the largest clique table would have more than ``limit`` entries.
    """
    cliques = clique_tree(network)
    largest = max(cliques.entries)
    if largest > limit:
        raise TooWide(largest, limit)
    plan = make_plan(network, cliques)
    return JunctionTree(network, plan, conditionals(network, plan))
