"""Noisy-MAX: an effect is the worst of what its causes and a background bring about.

A table over all causes at once would grow without bound, so the maximum is taken step by
step through helper variables (parent divorcing); every table then has at most three
variables, all are ordinary probability tables, and the answer is the same.

Source: Diez, "Parameter adjustment in Bayes networks: the generalized noisy-OR gate",
UAI 1993; Pearl, "Probabilistic Reasoning in Intelligent Systems", 1988, for noisy-OR.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from leakdx.network.tables import Array, Maximum, Network, Table, Variable


def combine(first: Array, second: Array) -> Array:
    """Distribution of the larger of two independent levels; both (levels, ...), broadcast."""
    # Not the difference of products of cumulative sums: that loses the digits of rare levels.
    up_to = np.cumsum(second, axis=0)
    below = _below(first)
    result: Array = first * up_to + below * second
    return result


def _below(levels: Array) -> Array:
    """Chance of less than each level, (levels, ...)."""
    return np.concatenate([np.zeros_like(levels[:1]), np.cumsum(levels[:-1], axis=0)])


def plain(network: Network) -> Network:
    """The same network with ordinary tables only.

    Helper variables of an effect are named "<effect>__1", "<effect>__2", ...; the last
    step is the effect itself.
    """
    added: list[Variable] = []
    tables = list(network.tables)
    for maximum in network.maxima:
        for variable, table in _steps(network[maximum.child], maximum):
            if variable.name != maximum.child:
                added.append(variable)
            tables.append(table)
    return Network((*network.variables, *added), tuple(tables))


def _steps(effect: Variable, maximum: Maximum) -> Iterator[tuple[Variable, Table]]:
    if not maximum.influences:
        yield effect, Table(effect.name, (), maximum.background)
        return
    first, *others = maximum.influences
    names = [f"{effect.name}__{n}" for n in range(1, len(others) + 1)] + [effect.name]
    step = Variable(names[0], effect.states)
    table = combine(first.table, maximum.background[:, None])
    yield step, Table(step.name, (first.parent,), table)
    rungs = np.eye(effect.size)
    for name, influence in zip(names[1:], others, strict=True):
        before, step = step, Variable(name, effect.states)
        table = combine(rungs[:, :, None], influence.table[:, None, :])
        yield step, Table(step.name, (before.name, influence.parent), table)


def noisy_or_table(background: float, strengths: Sequence[float]) -> Array:
    """P(effect | all parents at once) for a few binary parents; state 1 is "yes".

    Shape (2, 2, 2, ...), one axis a parent after the effect's own; and (B,) last where the
    chances are arrays of B draws.
    """
    silent, *passes = np.broadcast_arrays(1.0 - background, *(1.0 - s for s in strengths))
    for axis, one in enumerate(passes):
        silent = np.expand_dims(silent, axis) * np.stack([np.ones_like(one), one])
    return np.stack([silent, 1 - silent])
