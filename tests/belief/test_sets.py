"""The most probable patterns of faults against all patterns by enumeration."""

from __future__ import annotations

import itertools
from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.belief.evidence import Evidence, EvidenceError, ImpossibleEvidence
from leakdx.belief.sets import most_probable_sets
from leakdx.belief.tree import compile_network
from leakdx.network.tables import Network, Table, Variable
from tests.belief.enumeration import marginal, random_network, weighted


def all_patterns(
    network: Network, evidence: Evidence, faulty: Mapping[str, tuple[int, ...]]
) -> dict[tuple[str, ...], float]:
    """P(pattern | evidence) of every pattern, by summing the joint."""
    joint = weighted(network, evidence)
    table = marginal(network, joint / joint.sum(), list(faulty))
    result: dict[tuple[str, ...], float] = {}
    for index in itertools.product(*(range(n) for n in table.shape)):
        names = tuple(n for n, i in zip(faulty, index, strict=True) if i in faulty[n])
        result[names] = result.get(names, 0.0) + float(table[index])
    return result


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 8), st.integers(1, 12))
def test_same_sets_as_enumeration(seed: int, count: int, k: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_network(rng, count)
    evidence = Evidence({"v0": rng.random(network["v0"].size) + 0.1})
    chosen = [str(n) for n in rng.permutation(network.names)[: int(rng.integers(1, 7))]]
    faulty = {n: tuple(range(1, network[n].size)) for n in chosen}
    truth = all_patterns(network, evidence, faulty)
    ranked = sorted((p for p in truth.values() if p > 0), reverse=True)
    found = most_probable_sets(compile_network(network), evidence, faulty, k)
    assert found.proven
    assert len(found.sets) == min(k, len(ranked))
    for fault_set, expected in zip(found.sets, ranked, strict=False):
        assert fault_set.probability == pytest.approx(expected, abs=1e-12)
        key = tuple(n for n in faulty if n in fault_set.names)
        assert truth[key] == pytest.approx(fault_set.probability, abs=1e-12)
    left = ranked[len(found.sets) :]
    assert found.unlisted >= max(left, default=0) - 1e-12
    assert found.unlisted <= found.sets[-1].probability + 1e-12
    assert len({s.names for s in found.sets}) == len(found.sets)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 60))
def test_bound_is_honest_when_the_search_is_cut_short(seed: int, limit: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_network(rng, 8, zeros=0.0)
    faulty = dict.fromkeys(network.names, (0,))
    evidence = Evidence({})
    found = most_probable_sets(compile_network(network), evidence, faulty, 40, limit)
    truth = all_patterns(network, evidence, faulty)
    listed = {tuple(n for n in faulty if n in s.names) for s in found.sets}
    left = max(p for names, p in truth.items() if names not in listed)
    assert found.unlisted >= left - 1e-12
    for s in found.sets:
        key = tuple(n for n in faulty if n in s.names)
        assert s.probability == pytest.approx(truth[key], abs=1e-12)
    if found.proven:
        assert left <= found.sets[-1].probability + 1e-12
    # One opening of the queue may overshoot, no more.
    assert found.evaluations <= limit + 256


def coins(count: int) -> Network:
    """Independent faults of probability 0.01, 0.02, ..."""
    tables = [Table(f"c{i}", (), np.array([0.99 - i / 100, 0.01 + i / 100])) for i in range(count)]
    return Network(tuple(Variable(t.child, ("fine", "bad")) for t in tables), tuple(tables))


def test_thirty_independent_faults() -> None:
    network = coins(30)
    found = most_probable_sets(
        compile_network(network), Evidence({}), dict.fromkeys(network.names, (1,)), 5
    )
    chances = np.array([0.01 + i / 100 for i in range(30)])
    fine = float(np.prod(1 - chances))
    odds = sorted(chances / (1 - chances), reverse=True)
    assert found.proven
    assert found.sets[0].names == ()
    for fault_set, factor in zip(found.sets, [1.0, *odds[:4]], strict=True):
        assert fault_set.probability == pytest.approx(fine * factor, rel=1e-12)


def test_wrong_questions_are_refused() -> None:
    tree = compile_network(coins(2))
    with pytest.raises(EvidenceError, match=r"no variable q; c0 has no states \[2\]"):
        most_probable_sets(tree, {}, {"q": (1,), "c0": (2,)}, 1)
    with pytest.raises(EvidenceError, match="batch"):
        most_probable_sets(tree, {"c0": np.ones((2, 3))}, {"c1": (1,)}, 1)
    with pytest.raises(ValueError, match="0 sets"):
        most_probable_sets(tree, {}, {"c0": (1,)}, 0)
    with pytest.raises(ImpossibleEvidence):
        most_probable_sets(tree, {"c0": np.zeros(2)}, {"c1": (1,)}, 1)


def test_nothing_asked_about_is_one_empty_set() -> None:
    found = most_probable_sets(compile_network(coins(2)), {}, {}, 3)
    assert [s.names for s in found.sets] == [()]
    assert found.sets[0].probability == 1
    assert found.proven
    assert found.unlisted == 0


def test_a_search_cut_short_still_lists_the_plainest_sets() -> None:
    """Ten independent variables: the likeliest sets are the fewest and likeliest faults."""
    chances = [0.3, 0.2, 0.08] + [0.05] * 7
    names = [f"v{n}" for n in range(len(chances))]
    network = Network(
        tuple(Variable(n, ("good", "bad")) for n in names),
        tuple(Table(n, (), np.array([1 - p, p])) for n, p in zip(names, chances, strict=True)),
    )
    found = most_probable_sets(compile_network(network), {}, dict.fromkeys(names, (1,)), 4, limit=1)
    assert not found.proven
    assert [set(s.names) for s in found.sets] == [set(), {"v0"}, {"v1"}, {"v0", "v1"}]
    none = float(np.prod([1 - p for p in chances]))
    odds = [p / (1 - p) for p in chances]
    expected = [none, none * odds[0], none * odds[1], none * odds[0] * odds[1]]
    assert [s.probability for s in found.sets] == pytest.approx(expected)


@pytest.mark.parametrize("limit", [1, 40, 120, 400])
def test_no_pattern_is_listed_twice_wherever_the_search_is_cut(limit: int) -> None:
    rng = np.random.default_rng(limit)
    network = random_network(rng, 8)
    faulty = {n: tuple(range(1, network[n].size)) for n in network.names}
    found = most_probable_sets(compile_network(network), {}, faulty, 12, limit=limit)
    names = [frozenset(s.names) for s in found.sets]
    assert len(names) == len(set(names))
