"""Small random networks and their full joint, the plainest possible referee."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product

import numpy as np

from leakdx.network.tables import Array, Influence, Maximum, Network, Table, Variable


def random_network(rng: np.random.Generator, count: int, zeros: float = 0.3) -> Network:
    """Up to three parents each; a share of entries zero, some tables deterministic."""
    variables: list[Variable] = []
    tables: list[Table] = []
    for i in range(count):
        size = int(rng.integers(2, 4))
        name = f"v{i}"
        variables.append(Variable(name, tuple(f"s{k}" for k in range(size))))
        picked = rng.permutation(i)[: int(rng.integers(0, min(i, 3) + 1))]
        parents = tuple(f"v{p}" for p in picked)
        shape = (size, *(variables[p].size for p in picked))
        values = rng.random(shape) * (rng.random(shape) >= zeros)
        if rng.random() < 0.25:
            values = np.zeros(shape)
        # A column of zeros becomes a sure state.
        flat = values.reshape(size, -1)
        for column in range(flat.shape[1]):
            if not flat[:, column].any():
                flat[int(rng.integers(size)), column] = 1
        tables.append(Table(name, parents, values / values.sum(axis=0)))
    order = rng.permutation(count)
    return Network(tuple(variables), tuple(tables[i] for i in order))


def random_columns(rng: np.random.Generator, rows: int, columns: int, zeros: float) -> Array:
    """Columns that sum to one, a share of the entries zero; now and then all sure states."""
    values = rng.random((rows, columns)) * (rng.random((rows, columns)) >= zeros)
    if rng.random() < 0.25:
        values = np.zeros((rows, columns))
    for column in range(columns):
        if not values[:, column].any():
            values[int(rng.integers(rows)), column] = 1
    result: Array = values / values.sum(axis=0)
    return result


def random_maxima(
    rng: np.random.Generator, count: int, zeros: float = 0.3, most: int = 4
) -> Network:
    """Two in three variables are maxima of up to ``most`` parents, the others tables."""
    variables: list[Variable] = []
    tables: list[Table] = []
    maxima: list[Maximum] = []
    for i in range(count):
        size = int(rng.integers(2, 4))
        name = f"v{i}"
        variables.append(Variable(name, tuple(f"s{k}" for k in range(size))))
        picked = [int(p) for p in rng.permutation(i)[: int(rng.integers(0, min(i, most) + 1))]]
        if rng.random() < 2 / 3:
            influences = tuple(
                Influence(f"v{p}", random_columns(rng, size, variables[p].size, zeros))
                for p in picked
            )
            background = random_columns(rng, size, 1, zeros)[:, 0]
            maxima.append(Maximum(name, background, influences))
            continue
        picked = picked[:2]
        shape = (size, *(variables[p].size for p in picked))
        values = random_columns(rng, size, int(np.prod(shape[1:])), zeros).reshape(shape)
        tables.append(Table(name, tuple(f"v{p}" for p in picked), values))
    return Network(tuple(variables), tuple(tables), tuple(maxima))


def written_out(network: Network) -> Network:
    """The maxima as one ordinary table each, by going through all contributions."""
    tables = list(network.tables)
    for maximum in network.maxima:
        shape = tuple(network[n].size for n in (maximum.child, *maximum.parents))
        values = np.zeros(shape)
        for states in product(*(range(n) for n in shape[1:])):
            columns = [i.table[:, s] for i, s in zip(maximum.influences, states, strict=True)]
            for levels in product(range(shape[0]), repeat=len(columns) + 1):
                chances = [c[k] for c, k in zip(columns, levels[1:], strict=True)]
                chance = maximum.background[levels[0]] * np.prod(chances)
                values[(max(levels), *states)] += chance
        tables.append(Table(maximum.child, maximum.parents, values))
    return Network(network.variables, tuple(tables))


def full_joint(network: Network) -> Array:
    """P(all variables), one axis each in the network's order."""
    axis = {name: i for i, name in enumerate(network.names)}
    result = np.ones([v.size for v in network.variables])
    for table in network.tables:
        axes = [axis[n] for n in table.scope]
        order = np.argsort(axes)
        shape = [v.size if i in axes else 1 for i, v in enumerate(network.variables)]
        result = result * table.values.transpose(order).reshape(shape)
    return result


def weighted(network: Network, evidence: Mapping[str, Array], column: int = 0) -> Array:
    """P(all variables, evidence) for one column of the evidence."""
    result = full_joint(network)
    for name, likelihood in evidence.items():
        one = likelihood if likelihood.ndim == 1 else likelihood[:, column]
        shape = [-1 if n == name else 1 for n in network.names]
        result = result * one.reshape(shape)
    return result


def marginal(network: Network, joint: Array, names: Sequence[str]) -> Array:
    """Sum of the joint over all but the names, axes in the order of the names."""
    axes = [network.names.index(n) for n in names]
    table: Array = joint.sum(axis=tuple(i for i in range(joint.ndim) if i not in axes))
    order = sorted(axes)
    return table.transpose([order.index(a) for a in axes])
