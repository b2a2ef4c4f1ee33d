"""The few array operations of propagation, on tables with the batch axis last."""

from __future__ import annotations

from collections.abc import Sequence
from string import ascii_lowercase

import numpy as np

from leakdx.belief.evidence import Evidence
from leakdx.belief.plan import Clique, Runs, runs
from leakdx.network.tables import Array


class Workspace:
    """One big array lent out in pieces, and used again for the next batch.

    Fresh memory costs as much as the arithmetic on it, since the system hands it out zeroed.
    """

    def __init__(self) -> None:
        self._buffer = np.empty(0)
        self._used = 0

    def reserve(self, entries: int) -> None:
        """Take back all pieces and make room for this many numbers."""
        self._used = 0
        if len(self._buffer) < entries:
            self._buffer = np.empty(entries)

    def take(self, entries: int) -> Array:
        """The next piece, its numbers undefined."""
        start = self._used
        self._used = start + entries
        return self._buffer[start : self._used]

    @property
    def size(self) -> int:
        """Numbers held."""
        return len(self._buffer)


def width_of(factors: Sequence[tuple[Runs, Array]]) -> int:
    """Batch columns of a product with these factors (each (entries, B) or (entries, 1))."""
    return max(int(factor.shape[-1]) for _, factor in factors)


def multiply(table: Array, factors: Sequence[tuple[Runs, Array]], out: Array) -> None:
    """Write the table, without batch axis, times the factors into flat ``out`` (entries * B)."""
    width = len(out) // table.size
    left = table
    shape: tuple[int, ...] = (*table.shape, 1)
    for lie, factor in factors:
        shape = (*lie.full, width)
        target = out.reshape(shape)
        first = left.reshape(*lie.full, 1) if left is table else target
        np.multiply(first, factor.reshape(*lie.part, factor.shape[-1]), out=target)
        left = out


def sum_to(table: Array, lie: Runs) -> Array:
    """Sum of a clique's table (.., B) over all but the smaller scope; shape (entries, B)."""
    width = table.shape[-1]
    if not lie.out:
        return table.reshape(-1, width)
    summed: Array = np.add.reduce(table.reshape(*lie.full, width), axis=lie.out)
    return summed.reshape(-1, width)


def write_own(clique: Clique, own: Array, out: Array, first: int) -> None:
    """Marginals of the clique's own variables from their table (own entries, B).

    Row ``first`` of the stacked marginals is row 0 of ``out``.
    """
    for lie, rows in clique.own_runs:
        out[rows.start - first : rows.stop - first] = sum_to(own, lie)


def chain(clique: Clique, child: Clique, table: Array, below: Array) -> Array:
    """P(rows | clique's separator) from ``below``, P(rows | child's separator)."""
    # A clique has at most 25 variables, or it would not have been compiled.
    letter = dict(zip(clique.scope, ascii_lowercase, strict=False))
    sizes = dict(zip(clique.scope, clique.shape, strict=True))
    separator = clique.scope[len(clique.own) :]
    inner = [name for name in clique.scope if name in child.scope]
    # Own variables that the child does not see are summed away before the product.
    kept = [name for name in clique.scope if name in inner or name in separator]
    small = sum_to(table.reshape(-1, 1), runs(clique.scope, clique.shape, frozenset(kept)))
    words = ["".join(letter[n] for n in names) for names in (inner, kept, separator)]
    result: Array = np.einsum(
        f"Z{words[0]},{words[1]}->Z{words[2]}",
        below.reshape(-1, *(sizes[n] for n in inner)),
        small.reshape([sizes[n] for n in kept]),
    )
    return result.reshape(below.shape[0], -1)


def scaled(likelihood: Array) -> tuple[Array, Array]:
    """The likelihood as (size, B) with a largest entry of one, and the factor taken out."""
    columns = likelihood if likelihood.ndim == 2 else likelihood[:, None]
    top = np.maximum.reduce(columns, axis=0)
    return columns / (top + (top == 0)), top


def total_log(scales: Sequence[Array], evidence: Evidence) -> Array:
    """Sum of the logs of the factors, each of shape (1,) or (B,), with the evidence's own."""
    log = np.atleast_1d(np.asarray(evidence.log_scale, dtype=np.float64))
    with np.errstate(divide="ignore"):
        for width in {len(s) for s in scales}:
            log = log + np.log(np.stack([s for s in scales if len(s) == width])).sum(axis=0)
    return log
