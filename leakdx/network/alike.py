"""Keeping the arrows of a network while its numbers change."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from leakdx.network.tables import Influence, Maximum


def alike(maxima: Sequence[Maximum], like: Sequence[Maximum]) -> tuple[Maximum, ...]:
    """The maxima with the parents of others, in their order.

    A parent that one of them lacks brings nothing; one that it has more is left out.  Raises
    ValueError unless both are of the same children.
    """
    made = {m.child: m for m in maxima}
    if made.keys() != {m.child for m in like}:
        raise ValueError("the maxima are of other variables than those to keep to")
    return tuple(_alike(made[m.child], m) for m in like)


def _alike(maximum: Maximum, like: Maximum) -> Maximum:
    own = {i.parent: i for i in maximum.influences}
    kept = tuple(own.get(i.parent) or _nothing(i) for i in like.influences)
    return Maximum(maximum.child, maximum.background, kept)


def _nothing(influence: Influence) -> Influence:
    table = np.zeros(influence.table.shape)
    table[0] = 1.0
    return Influence(influence.parent, table)
