"""Networks with noisy-MAX families against enumeration of the same families as tables."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from leakdx.belief import passes, star, triangulate
from leakdx.belief.contradiction import smallest_contradiction
from leakdx.belief.evidence import Evidence, ImpossibleEvidence, hard
from leakdx.belief.fold import WIDE
from leakdx.belief.sets import most_probable_sets
from leakdx.belief.star import parts
from leakdx.belief.tree import JunctionTree, compile_network
from leakdx.belief.triangulate import clique_tree
from leakdx.network.tables import (
    Array,
    Influence,
    Maximum,
    Network,
    NetworkError,
    Table,
    Variable,
)
from tests.belief.enumeration import (
    marginal,
    random_columns,
    random_maxima,
    weighted,
    written_out,
)

TOLERANCE = 1e-12
seeds = st.integers(0, 2**32 - 1)


@contextmanager
def forms(written_parents: int, private: int, merged: int, shortcut: int) -> Iterator[None]:
    """Other choices between tables and deputies, other sizes of cliques; the same answers."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(star, "WRITTEN_PARENTS", written_parents)
        patch.setattr(star, "PRIVATE_ENTRIES", private)
        patch.setattr(triangulate, "MERGE_ENTRIES", merged)
        patch.setattr(passes, "SHORTCUT_ENTRIES", shortcut)
        yield


choices = st.tuples(
    st.sampled_from([-1, -1, 1, 3]),
    st.sampled_from([0, 128]),
    st.sampled_from([0, 128]),
    st.sampled_from([0, 2**15]),
)


def random_evidence(rng: np.random.Generator, network: Network, batch: int | None) -> Evidence:
    """Soft and hard likelihoods on some variables; some without the batch axis."""
    likelihoods = {}
    for variable in network.variables:
        if rng.random() < 0.5:
            continue
        shape = (variable.size,) if batch is None or rng.random() < 0.3 else (variable.size, batch)
        values = rng.random(shape) * (rng.random(shape) > 0.2)
        likelihoods[variable.name] = values * 10.0 ** rng.integers(-3, 3)
    return Evidence(likelihoods)


def compare(written: Network, tree: JunctionTree, evidence: Evidence) -> None:
    """All marginals and the log probability, or the complaint, for every column."""
    joints = [weighted(written, evidence, b) for b in range(evidence.batch or 1)]
    totals = np.array([j.sum() for j in joints])
    logs = np.atleast_1d(tree.log_evidence(evidence))
    possible = totals > 0
    np.testing.assert_allclose(logs[possible], np.log(totals[possible]), rtol=0, atol=TOLERANCE)
    assert np.isneginf(logs[~possible]).all()
    if not possible.all():
        with pytest.raises(ImpossibleEvidence) as caught:
            tree.update(evidence)
        bad = tuple(int(b) for b in np.flatnonzero(~possible))
        assert caught.value.columns == (() if evidence.batch is None else bad)
        assert set(caught.value.names) == set(evidence)
        return
    beliefs = tree.update(evidence)
    np.testing.assert_allclose(np.atleast_1d(beliefs.log_evidence), logs, rtol=0, atol=TOLERANCE)
    assert sorted(beliefs) == sorted(written.names)
    for name in written.names:
        expected = [marginal(written, j, [name]) / j.sum() for j in joints]
        want = expected[0] if evidence.batch is None else np.stack(expected, axis=-1)
        assert beliefs[name].shape == want.shape
        # Relative, however rare the state: nothing is ever subtracted.
        np.testing.assert_allclose(beliefs[name], want, rtol=TOLERANCE, atol=0)


@settings(max_examples=250, deadline=None)
@given(seeds, st.integers(1, 9), st.sampled_from([None, 1, 5]), choices)
def test_posteriors_equal_enumeration(
    seed: int, count: int, batch: int | None, choice: tuple[int, int, int, int]
) -> None:
    rng = np.random.default_rng(seed)
    network = random_maxima(rng, count)
    written = written_out(network)
    with forms(*choice):
        tree = compile_network(network)
        for _ in range(3):
            compare(written, tree, random_evidence(rng, network, batch))
        compare(written, tree, Evidence({}))


@settings(max_examples=60, deadline=None)
@given(seeds, st.integers(1, 8), st.sampled_from([None, 4]), choices)
def test_joint_equals_enumeration(
    seed: int, count: int, batch: int | None, choice: tuple[int, int, int, int]
) -> None:
    rng = np.random.default_rng(seed)
    network = random_maxima(rng, count)
    written = written_out(network)
    evidence = random_evidence(rng, network, batch)
    joints = [weighted(written, evidence, b) for b in range(evidence.batch or 1)]
    names = [str(n) for n in rng.permutation(network.names)[: int(rng.integers(0, 4))]]
    with forms(*choice):
        tree = compile_network(network)
        if min(j.sum() for j in joints) == 0:
            with pytest.raises(ImpossibleEvidence):
                tree.joint(names, evidence)
            return
        got = tree.joint(names, evidence)
    expected = np.stack([marginal(written, j, names) / j.sum() for j in joints], axis=-1)
    want = expected[..., 0] if evidence.batch is None else expected
    assert got.shape == want.shape
    np.testing.assert_allclose(got, want, rtol=1e-11, atol=0)


@settings(max_examples=40, deadline=None)
# The topmost clique of a deputy holds none of the contributions to its child.
@example(282, 8, (-1, 0, 0, 0))
@given(seeds, st.integers(2, 8), choices)
def test_only_and_new_numbers(seed: int, count: int, choice: tuple[int, int, int, int]) -> None:
    rng = np.random.default_rng(seed)
    network = random_maxima(rng, count, zeros=0.0)
    likelihoods = {v.name: rng.random(v.size) + 0.1 for v in network.variables}
    some = [str(n) for n in rng.permutation(network.names)[:2]]
    with forms(*choice):
        tree = compile_network(network)
        whole, part = tree.update(likelihoods), tree.update(likelihoods, only=some)
        assert sorted(part) == sorted(some)
        for name in some:
            np.testing.assert_allclose(part[name], whole[name], rtol=TOLERANCE)
        other = Network(
            network.variables,
            tuple(Table(t.child, t.parents, _shuffled(rng, t.values)) for t in network.tables),
            tuple(
                Maximum(
                    m.child,
                    _shuffled(rng, m.background),
                    tuple(Influence(i.parent, _shuffled(rng, i.table)) for i in m.influences),
                )
                for m in network.maxima
            ),
        )
        changed = tree.with_tables(other)
        compare(written_out(other), changed, Evidence(likelihoods))
        compare(written_out(network), tree, Evidence(likelihoods))


def _shuffled(rng: np.random.Generator, values: Array) -> Array:
    mixed = values + rng.random(values.shape)
    result: Array = mixed / mixed.sum(axis=0)
    return result


@settings(max_examples=30, deadline=None)
@given(seeds, st.integers(2, 8), st.integers(1, 2 * WIDE), choices)
def test_few_columns_and_many_are_the_same(
    seed: int, count: int, few: int, choice: tuple[int, int, int, int]
) -> None:
    """Columns are asked alone, some at a time, and all at once: two ways of summing."""
    rng = np.random.default_rng(seed)
    network = random_maxima(rng, count, zeros=0.0)
    width = 3 * WIDE
    columns = {v.name: rng.random((v.size, width)) + 0.01 for v in network.variables}
    with forms(*choice):
        tree = compile_network(network)
        whole = tree.update(columns)
        for start in range(0, width, few):
            cut = slice(start, start + few)
            part = tree.update({name: array[:, cut] for name, array in columns.items()})
            np.testing.assert_allclose(
                part.log_evidence, np.asarray(whole.log_evidence)[cut], rtol=0, atol=TOLERANCE
            )
            for name in network.names:
                np.testing.assert_allclose(part[name], whole[name][:, cut], rtol=1e-11)
    compare(written_out(network), tree, Evidence(columns))


def test_a_table_instead_of_a_maximum_is_another_structure() -> None:
    network = random_maxima(np.random.default_rng(3), 6)
    assert network.maxima
    with pytest.raises(NetworkError, match="differ"):
        compile_network(network).with_tables(written_out(network))


@settings(max_examples=60, deadline=None)
@given(seeds, st.integers(1, 20), choices)
def test_clique_tree_with_deputies(
    seed: int, count: int, choice: tuple[int, int, int, int]
) -> None:
    network = random_maxima(np.random.default_rng(seed), count, most=6)
    with forms(*choice):
        model = parts(network)
        result = clique_tree(model)
    for factor in model.factors:
        assert any(set(factor.scope) <= c for c in result.cliques)
    for name in model.sizes:
        holders = [i for i, c in enumerate(result.cliques) if name in c]
        tops = [i for i in holders if i == 0 or name not in result.cliques[result.parents[i]]]
        assert len(tops) == 1
    for deputy, child in model.deputies.items():
        meets = [
            i
            for i, (f, m) in enumerate(zip(result.fused, result.met, strict=True))
            if deputy in f | m
        ]
        assert len(meets) == 1
        assert {deputy, child} <= result.cliques[meets[0]]
        if deputy in result.fused[meets[0]]:
            together = [i for i, c in enumerate(result.cliques) if {deputy, child} <= c]
            assert together == meets


@settings(max_examples=40, deadline=None)
@given(seeds, st.integers(2, 7))
def test_most_probable_sets(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_maxima(rng, count)
    evidence = Evidence({"v0": rng.random(network["v0"].size) + 0.1})
    chosen = [str(n) for n in rng.permutation(network.names)[:5]]
    faulty = {n: tuple(range(1, network[n].size)) for n in chosen}
    joint = weighted(written_out(network), evidence)
    table = marginal(network, joint / joint.sum(), chosen)
    for axis in range(table.ndim):
        head = table.take([0], axis=axis)
        table = np.concatenate([head, table.sum(axis=axis, keepdims=True) - head], axis=axis)
    with forms(-1, 0, 128, 2**15):
        found = most_probable_sets(compile_network(network), evidence, faulty, 6)
    assert found.proven
    for fault_set, chance in zip(found.sets, np.sort(table.ravel())[::-1], strict=False):
        assert fault_set.probability == pytest.approx(float(chance), abs=1e-12)


@settings(max_examples=40, deadline=None)
@given(seeds, st.integers(2, 6))
def test_smallest_contradiction(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_maxima(rng, count, zeros=0.5)
    readings = {n: hard(network, {n: int(rng.integers(network[n].size))}) for n in network.names}
    joint = weighted(written_out(network), Evidence({}))
    states = {n: int(np.argmax(readings[n][n])) for n in network.names}

    def holds(names: tuple[str, ...]) -> bool:
        index = tuple(states[n] if n in names else slice(None) for n in network.names)
        return bool((joint[index] > 0).any())

    smallest = next(
        (
            size
            for size in range(1, count + 1)
            for names in itertools.combinations(network.names, size)
            if not holds(names)
        ),
        None,
    )
    with forms(-1, 0, 128, 2**15):
        found = smallest_contradiction(compile_network(network), readings)
    if smallest is None:
        assert found is None
        return
    assert found is not None
    assert not holds(found.labels)
    if found.proven:
        assert len(found.labels) == smallest


@pytest.mark.parametrize("parents", [0, 1, 3])
def test_one_family(parents: int) -> None:
    rng = np.random.default_rng(parents)
    names = [f"p{i}" for i in range(parents)]
    variables = tuple(Variable(n, tuple("abcde"[: 2 + i % 4])) for i, n in enumerate(names))
    tables = tuple(Table(v.name, (), random_columns(rng, v.size, 1, 0)[:, 0]) for v in variables)
    influences = tuple(Influence(v.name, random_columns(rng, 6, v.size, 0.2)) for v in variables)
    effect = Variable("effect", tuple("uvwxyz"))
    maximum = Maximum("effect", random_columns(rng, 6, 1, 0.2)[:, 0], influences)
    network = Network((*variables, effect), tables, (maximum,))
    for choice in ((-1, 0, 0, 0), (-1, 128, 128, 0), (3, 128, 128, 2**15)):
        with forms(*choice):
            compare(written_out(network), compile_network(network), Evidence({}))
            seen = Evidence({"effect": rng.random((6, 4))})
            compare(written_out(network), compile_network(network), seen)


def test_a_variable_may_already_bear_a_deputys_name() -> None:
    network = random_maxima(np.random.default_rng(0), 3)
    names = tuple(f"largest for {v.name}" for v in network.variables)
    taken = tuple(Variable(n, ("n", "y")) for n in names)
    coins = tuple(Table(n, (), np.array([0.5, 0.5])) for n in names)
    both = Network((*network.variables, *taken), (*network.tables, *coins), network.maxima)
    with forms(-1, 0, 128, 2**15):
        compare(written_out(both), compile_network(both), Evidence({}))
