"""Noisy-MAX families written with helper variables against going through all contributions."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from leakdx.network.noisymax import combine, noisy_or_table, plain
from leakdx.network.tables import Array, Network
from tests.belief.enumeration import full_joint, marginal, random_maxima, written_out


@pytest.mark.parametrize("levels", [2, 4, 6])
def test_larger_of_two_levels(levels: int) -> None:
    rng = np.random.default_rng(levels)
    first, second = rng.dirichlet(np.ones(levels)), rng.dirichlet(np.ones(levels))
    want = np.zeros(levels)
    for a, b in product(range(levels), repeat=2):
        want[max(a, b)] += first[a] * second[b]
    np.testing.assert_allclose(combine(first, second), want, rtol=1e-14)
    np.testing.assert_allclose(combine(second, first), want, rtol=1e-14)


def test_rare_levels_keep_their_digits_and_zeros_stay() -> None:
    first, second = np.array([1 - 1e-20, 1e-20, 0.0]), np.array([1 - 3e-20, 3e-20, 0.0])
    both = combine(first, second)
    assert both[1] == pytest.approx(4e-20, rel=1e-12)
    assert both[2] == 0
    np.testing.assert_array_equal(combine(np.eye(3)[2], first), np.eye(3)[2])


def test_many_columns_at_once() -> None:
    rng = np.random.default_rng(2)
    first: Array = rng.dirichlet(np.ones(3), size=4).T
    second: Array = rng.dirichlet(np.ones(3), size=5).T
    table = combine(first[:, :, None], second[:, None, :])
    assert table.shape == (3, 4, 5)
    for i, j in product(range(4), range(5)):
        np.testing.assert_allclose(table[:, i, j], combine(first[:, i], second[:, j]), rtol=1e-14)


@pytest.mark.parametrize("seed", range(25))
def test_helpers_change_nothing(seed: int) -> None:
    network = random_maxima(np.random.default_rng(seed), 5)
    chained = plain(network)
    assert not chained.maxima
    assert chained.names[: len(network.names)] == network.names
    assert all(len(t.parents) <= 2 for t in chained.tables if t.child.startswith("v"))
    joint = marginal(chained, full_joint(chained), network.names)
    np.testing.assert_allclose(joint, full_joint(written_out(network)), rtol=1e-12, atol=0)


def test_plain_tables_stay_as_they_are() -> None:
    network = random_maxima(np.random.default_rng(1), 5)
    tables = written_out(network)
    assert plain(tables).tables == tables.tables
    assert plain(Network((), ())).names == ()


def test_noisy_or_of_two() -> None:
    table = noisy_or_table(0.1, [0.5, 0.8])
    assert table.shape == (2, 2, 2)
    np.testing.assert_allclose(table[1], [[0.1, 0.82], [0.55, 0.91]], rtol=1e-14)
    np.testing.assert_allclose(table.sum(axis=0), 1, rtol=1e-14)
