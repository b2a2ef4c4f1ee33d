"""Smallest contradictory sets of readings against a search through all subsets."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.belief.contradiction import Contradiction, smallest_contradiction
from leakdx.belief.evidence import Evidence, EvidenceError, hard
from leakdx.belief.tree import compile_network
from leakdx.network.tables import Network, Table, Variable
from tests.belief.enumeration import full_joint, random_network


def possible(network: Network, parts: list[Evidence]) -> bool:
    """Whether some state of the whole network fits all the readings."""
    support = full_joint(network) > 0
    for part in parts:
        for name, likelihood in part.items():
            support = support & (likelihood > 0).reshape(
                [-1 if n == name else 1 for n in network.names]
            )
    return bool(support.any())


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 7), st.integers(1, 7))
def test_smallest_by_brute_force(seed: int, count: int, asked: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_network(rng, count, zeros=0.4)
    tree = compile_network(network)
    readings: dict[int, Evidence] = {}
    for label in range(asked):
        likelihoods = {}
        for name in rng.permutation(network.names)[: int(rng.integers(1, 3))]:
            values = rng.random(network[str(name)].size)
            values[rng.integers(len(values))] = 0
            likelihoods[str(name)] = values
        readings[label] = Evidence(likelihoods)
    smallest = next(
        (
            size
            for size in range(1, asked + 1)
            for labels in itertools.combinations(readings, size)
            if not possible(network, [readings[k] for k in labels])
        ),
        None,
    )
    found = smallest_contradiction(tree, readings)
    if smallest is None:
        assert found is None
        return
    assert found is not None
    assert not possible(network, [readings[k] for k in found.labels])
    for label in found.labels:
        assert possible(network, [readings[k] for k in found.labels if k != label])
    if found.proven:
        assert len(found.labels) == smallest
    else:
        assert len(found.labels) >= smallest > 3


def parity(count: int) -> Network:
    """Coins and their parity, one step at a time: contradictions need every coin."""
    half = np.array([0.5, 0.5])
    odd = np.array([[[1.0, 0.0], [0.0, 1.0]], [[0.0, 1.0], [1.0, 0.0]]])
    tables = [Table(f"c{i}", (), half) for i in range(count)]
    last = "c0"
    for i in range(1, count):
        tables.append(Table(f"p{i}", (last, f"c{i}"), odd))
        last = f"p{i}"
    return Network(tuple(Variable(t.child, ("even", "odd")) for t in tables), tuple(tables))


@pytest.mark.parametrize("coins", [2, 3, 5])
def test_all_of_a_large_contradiction(coins: int) -> None:
    network = parity(coins)
    readings = {f"coin {i}": hard(network, {f"c{i}": 0}) for i in range(coins)}
    readings["sum"] = hard(network, {f"p{coins - 1}": "odd"})
    found = smallest_contradiction(compile_network(network), readings)
    assert found is not None
    assert set(found.labels) == set(readings)
    assert found.proven == (coins + 1 <= 4)


def test_two_readings_of_one_variable() -> None:
    network = parity(2)
    readings = {
        "likely": Evidence({"c1": np.array([0.7, 0.3])}),
        "even": hard(network, {"c0": "even"}),
        "other": hard(network, {"c1": "even"}),
        "odd": hard(network, {"c0": "odd"}),
    }
    tree = compile_network(network)
    assert smallest_contradiction(tree, readings) == Contradiction(("even", "odd"), True)
    assert smallest_contradiction(tree, {}) is None


def test_search_that_may_not_be_finished_is_not_called_proven() -> None:
    network = parity(2)
    readings = {i: hard(network, {"c0": i % 2}) for i in range(6)}
    found = smallest_contradiction(compile_network(network), readings, most_sets=3)
    assert found is not None
    assert (len(found.labels), found.proven) == (2, False)


def test_batches_are_refused() -> None:
    with pytest.raises(EvidenceError, match="reading a has a batch"):
        smallest_contradiction(compile_network(parity(2)), {"a": Evidence({"c0": np.ones((2, 2))})})
