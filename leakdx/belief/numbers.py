"""The numbers of a compiled network: what every clique holds while nothing is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from leakdx.belief.arrays import multiply
from leakdx.belief.fold import forward
from leakdx.belief.fold import message as folded_message
from leakdx.belief.plan import Plan, Runs
from leakdx.belief.star import Parts
from leakdx.network.tables import Array


@dataclass(frozen=True, eq=False)
class Numbers:
    """One entry for each clique.

    conditionals: P(own variables | separator), (own entries, separator entries), zero in the
    columns of separator states that cannot occur; empty for a clique with a fold.
    folded: the tables of a clique with a fold, leaves first, then pairs, each (entries, 1).
    messages: what the clique tells its parent without evidence, (separator entries, 1).
    """

    conditionals: tuple[Array, ...]
    folded: tuple[tuple[Array, ...], ...]
    messages: tuple[Array, ...]


def numbers(model: Parts, plan: Plan) -> Numbers:
    """Work from the leaves of the clique tree to its root.

    A clique without a fold, and with no deputy in its separator, is divided by its message;
    the parent gets the message among its own tables, and nothing need be sent any more
    as long as there is no evidence.
    """
    incoming: list[list[tuple[Runs, Array]]] = [[] for _ in plan.cliques]
    tables: list[Array] = []
    for place, factor in zip(plan.places, model.factors, strict=True):
        values = factor.values.transpose(place.axes).reshape(-1, 1)
        tables.append(values)
        incoming[place.clique].append((place.runs, values))
    conditionals: list[Array] = [np.empty((0, 0))] * len(plan.cliques)
    folded: list[tuple[Array, ...]] = [()] * len(plan.cliques)
    messages: list[Array] = [np.empty((0, 0))] * len(plan.cliques)
    for i in range(len(plan.cliques) - 1, -1, -1):
        clique = plan.cliques[i]
        shape = (clique.own_size, clique.separator_size)
        if clique.fold is not None:
            start = [_leaf_table(s, tables, messages, model) for s in clique.fold.number]
            folded[i] = tuple(forward(clique.fold, start, (), set(range(len(start)))))
            message = folded_message(clique.fold, folded[i])[:, 0]
        else:
            joint = np.ones(shape)
            if incoming[i]:
                multiply(np.ones(shape), incoming[i], joint.reshape(-1))
            message = joint.sum(axis=0)
            conditionals[i] = joint / (message + (message == 0))
        messages[i] = message[:, None]
        if i and plan.cliques[clique.parent].fold is None:
            incoming[clique.parent].append((clique.up, messages[i]))
    return Numbers(tuple(conditionals), tuple(folded), tuple(messages))


def _leaf_table(
    source: tuple[str, str | int],
    tables: Sequence[Array],
    messages: Sequence[Array],
    model: Parts,
) -> Array:
    """What enters a fold while nothing is known, (entries, 1)."""
    kind, what = source
    if isinstance(what, int):
        return tables[what] if kind == "factor" else messages[what]
    size = model.sizes[what]
    if kind == "met":
        # A score: one where the contributions' maximum is the child's level.
        return np.eye(size).reshape(-1, 1)
    if what in model.deputies:
        # No contribution at all: the lowest level.
        return np.eye(size)[:, :1]
    return np.ones((size, 1))
