"""The junction tree against the full joint of small random networks."""

from __future__ import annotations

import itertools
from math import log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.belief import arrays, passes
from leakdx.belief import tree as tree_module
from leakdx.belief.evidence import Evidence, EvidenceError, ImpossibleEvidence, combine, hard
from leakdx.belief.star import parts
from leakdx.belief.tree import JunctionTree, TooWide, compile_network
from leakdx.belief.triangulate import clique_tree, moral_graph
from leakdx.network.tables import Array, Network, NetworkError, Table, Variable
from tests.belief.enumeration import full_joint, marginal, random_network, weighted

TOLERANCE = 1e-12
seeds = st.integers(0, 2**32 - 1)


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


def compare(network: Network, tree: JunctionTree, evidence: Evidence) -> None:
    """All marginals and the log probability, or the complaint, for every column."""
    columns = evidence.batch or 1
    joints = [weighted(network, evidence, b) for b in range(columns)]
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
    assert sorted(beliefs) == sorted(network.names)
    for name in network.names:
        expected = [marginal(network, j, [name]) / j.sum() for j in joints]
        want = expected[0] if evidence.batch is None else np.stack(expected, axis=-1)
        assert beliefs[name].shape == want.shape
        np.testing.assert_allclose(beliefs[name], want, rtol=0, atol=TOLERANCE)


@settings(max_examples=150, deadline=None)
@given(seeds, st.integers(1, 9), st.sampled_from([None, 1, 5]))
def test_posteriors_equal_enumeration(seed: int, count: int, batch: int | None) -> None:
    rng = np.random.default_rng(seed)
    network = random_network(rng, count)
    tree = compile_network(network)
    for _ in range(3):
        compare(network, tree, random_evidence(rng, network, batch))
    compare(network, tree, Evidence({}))


@settings(max_examples=60, deadline=None)
@given(seeds, st.integers(2, 8), st.sampled_from([None, 4]), st.integers(1, 3))
def test_joint_equals_enumeration(seed: int, count: int, batch: int | None, asked: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_network(rng, count)
    tree = compile_network(network)
    evidence = random_evidence(rng, network, batch)
    columns = evidence.batch or 1
    joints = [weighted(network, evidence, b) for b in range(columns)]
    names = [str(n) for n in rng.permutation(network.names)[:asked]]
    if min(j.sum() for j in joints) == 0:
        with pytest.raises(ImpossibleEvidence):
            tree.joint(names, evidence)
        return
    expected = np.stack([marginal(network, j, names) / j.sum() for j in joints], axis=-1)
    got = tree.joint(names, evidence)
    want = expected[..., 0] if evidence.batch is None else expected
    assert got.shape == want.shape
    np.testing.assert_allclose(got, want, rtol=0, atol=TOLERANCE)


@settings(max_examples=40, deadline=None)
@given(seeds, st.integers(2, 8))
def test_only_and_order_of_evidence_change_nothing(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_network(rng, count, zeros=0.0)
    tree = compile_network(network)
    likelihoods = {v.name: rng.random(v.size) + 0.1 for v in network.variables}
    whole = tree.update(Evidence(likelihoods))
    back = tree.update(Evidence(dict(reversed(likelihoods.items()))))
    some = [str(n) for n in rng.permutation(network.names)[:2]]
    part = tree.update(Evidence(likelihoods), only=some)
    assert sorted(part) == sorted(some)
    for name in network.names:
        np.testing.assert_allclose(whole[name], back[name], rtol=0, atol=TOLERANCE)
    for name in some:
        np.testing.assert_allclose(whole[name], part[name], rtol=0, atol=TOLERANCE)


@settings(max_examples=40, deadline=None)
@given(seeds, st.integers(2, 8))
def test_scaling_a_likelihood_only_shifts_the_log(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_network(rng, count, zeros=0.0)
    tree = compile_network(network)
    likelihoods = {v.name: rng.random(v.size) + 0.1 for v in network.variables}
    small = {n: a * 1e-200 for n, a in likelihoods.items()}
    one, other = tree.update(Evidence(likelihoods)), tree.update(Evidence(small))
    assert other.log_evidence == pytest.approx(one.log_evidence - count * 200 * log(10), rel=1e-13)
    for name in network.names:
        np.testing.assert_allclose(one[name], other[name], rtol=0, atol=TOLERANCE)


@settings(max_examples=30, deadline=None)
@given(seeds, st.integers(1, 8))
def test_new_tables_in_the_same_structure(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_network(rng, count)
    tree = compile_network(network)
    tree.update({})
    tables = []
    for table in network.tables:
        values = rng.random(table.values.shape) + 0.01
        tables.append(Table(table.child, table.parents, values / values.sum(axis=0)))
    other = Network(network.variables, tuple(tables))
    compare(other, tree.with_tables(other), random_evidence(rng, network, None))
    compare(network, tree, random_evidence(rng, network, None))


def test_new_tables_of_another_shape_are_refused() -> None:
    coin = Network((Variable("a", ("x", "y")),), (Table("a", (), np.array([0.5, 0.5])),))
    other = Network((Variable("b", ("x", "y")),), (Table("b", (), np.array([0.5, 0.5])),))
    with pytest.raises(NetworkError, match="differ"):
        compile_network(coin).with_tables(other)


@settings(max_examples=60, deadline=None)
@given(seeds, st.integers(1, 25))
def test_clique_tree_is_a_junction_tree(seed: int, count: int) -> None:
    network = random_network(np.random.default_rng(seed), count)
    result = clique_tree(parts(network))
    assert result.parents[0] == -1
    assert all(0 <= p < i for i, p in enumerate(result.parents) if i)
    for table in network.tables:
        assert any(set(table.scope) <= c for c in result.cliques)
    for name in network.names:
        holders = [i for i, c in enumerate(result.cliques) if name in c]
        tops = [i for i in holders if i == 0 or name not in result.cliques[result.parents[i]]]
        assert len(tops) == 1
    for i, j in itertools.permutations(range(len(result.cliques)), 2):
        assert not result.cliques[i] <= result.cliques[j]
    assert all(
        near == {n for n in near if n != name} for name, near in moral_graph(parts(network)).items()
    )
    assert clique_tree(parts(network)) == result


def chain(length: int, stay: float = 0.9) -> Network:
    """A chain of two-state variables that tend to keep their state."""
    step = np.array([[stay, 1 - stay], [1 - stay, stay]])
    names = [f"x{i}" for i in range(length)]
    tables = [Table("x0", (), np.array([0.5, 0.5]))]
    tables += [Table(b, (a,), step) for a, b in itertools.pairwise(names)]
    return Network(tuple(Variable(n, ("lo", "hi")) for n in names), tuple(tables))


def test_hundreds_of_small_readings_do_not_vanish() -> None:
    network = chain(300)
    tree = compile_network(network)
    likelihood = np.array([1e-6, 3e-6])
    beliefs = tree.update(dict.fromkeys(network.names, likelihood))
    # The forward recursion in logs, worked out independently.
    forward, total = np.array([0.5, 0.5]) * likelihood, 0.0
    for _ in range(299):
        total += log(forward.sum())
        forward = (np.array([[0.9, 0.1], [0.1, 0.9]]) @ (forward / forward.sum())) * likelihood
    assert beliefs.log_evidence == pytest.approx(total + log(forward.sum()), rel=1e-12)
    np.testing.assert_allclose(beliefs["x299"], forward / forward.sum(), rtol=0, atol=TOLERANCE)


def test_many_readings_of_one_variable_keep_their_scale() -> None:
    tree = compile_network(chain(2))
    reading = Evidence({"x0": np.array([1e-3, 0.999e-3])})
    beliefs = tree.update(combine([reading] * 500))
    odds = 0.999**500
    assert beliefs["x0"][1] == pytest.approx(odds / (1 + odds), rel=1e-11)
    assert beliefs.log_evidence == pytest.approx(500 * log(1e-3) + log(0.5 + 0.5 * odds), rel=1e-12)


def test_wide_batches_go_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(4)
    network = random_network(rng, 7, zeros=0.0)
    tree = compile_network(network)
    parts = {v.name: rng.random((v.size, 11)) + 0.1 for v in network.variables[1:]}
    evidence = Evidence({**parts, "v0": np.ones(network["v0"].size)}, np.arange(11.0))
    whole, joint = tree.update(evidence), tree.joint(["v1", "v0"], evidence)
    monkeypatch.setattr(tree_module, "CHUNK_COLUMNS", 3)
    pieces = tree.update(evidence)
    for name in network.names:
        np.testing.assert_allclose(whole[name], pieces[name], rtol=0, atol=TOLERANCE)
    np.testing.assert_allclose(whole.log_evidence, pieces.log_evidence, rtol=0, atol=TOLERANCE)
    np.testing.assert_allclose(
        tree.log_evidence(evidence), whole.log_evidence, rtol=0, atol=TOLERANCE
    )
    np.testing.assert_allclose(tree.joint(["v1", "v0"], evidence), joint, rtol=0, atol=TOLERANCE)


@pytest.mark.parametrize("seed", range(20))
def test_without_shortcut_matrices(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(passes, "SHORTCUT_ENTRIES", 0)
    rng = np.random.default_rng(seed)
    network = random_network(rng, 8)
    tree = compile_network(network)
    for batch in (None, 3):
        compare(network, tree, random_evidence(rng, network, batch))


def test_too_wide_is_told_before_memory_is_taken() -> None:
    size = 12
    names = [f"p{i}" for i in range(size)]
    tables = [Table(n, (), np.array([0.5, 0.5])) for n in names]
    pairs = list(itertools.combinations(names, 2))
    child = np.full((2, 2, 2), 0.5)
    tables += [Table(f"c{k}", pair, child) for k, pair in enumerate(pairs)]
    variables = tuple(Variable(t.child, ("n", "y")) for t in tables)
    network = Network(variables, tuple(tables))
    with pytest.raises(TooWide) as caught:
        compile_network(network, limit=1000)
    assert caught.value.entries == 2**size
    assert compile_network(network).width == size - 1


def test_evidence_faults_are_all_named() -> None:
    with pytest.raises(EvidenceError) as caught:
        Evidence({"a": np.array([1, np.nan]), "b": np.ones((2, 2, 2)), "c": np.array([-1.0, 1])})
    assert all(f"likelihood of {n}" in str(caught.value) for n in "abc")
    with pytest.raises(EvidenceError, match="batch sizes differ"):
        Evidence({"a": np.ones((2, 3)), "b": np.ones((2, 4))})
    with pytest.raises(EvidenceError, match="log_scale"):
        Evidence({}, float("nan"))
    tree = compile_network(chain(2))
    with pytest.raises(EvidenceError, match=r"no variable q.*x0 has 3 entries, not 2"):
        tree.update({"q": np.ones(2), "x0": np.ones(3)})
    with pytest.raises(EvidenceError, match="no variable q"):
        tree.update({}, only=["q"])
    with pytest.raises(ValueError, match="twice"):
        tree.joint(["x0", "x0"], {})


def test_hard_evidence_by_name_and_index() -> None:
    network = chain(2)
    evidence = hard(network, {"x0": "hi", "x1": 0})
    np.testing.assert_array_equal(evidence["x0"], [0, 1])
    np.testing.assert_array_equal(evidence["x1"], [1, 0])
    with pytest.raises(EvidenceError, match="no variable q; x0 has no state mid; x1 has no"):
        hard(network, {"q": 0, "x0": "mid", "x1": 2})


def test_evidence_is_frozen() -> None:
    source = np.ones(2)
    evidence = Evidence({"a": source})
    source[0] = 7
    assert evidence["a"][0] == 1
    with pytest.raises(ValueError, match="read-only"):
        evidence["a"][0] = 2
    beliefs = compile_network(chain(2)).update({})
    with pytest.raises(ValueError, match="read-only"):
        beliefs["x0"][0] = 2


@settings(max_examples=40, deadline=None)
@given(seeds)
def test_combined_evidence_multiplies(seed: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_network(rng, 4)
    parts = [random_evidence(rng, network, batch) for batch in (None, 3, 3)]
    both = combine(parts)
    tree = compile_network(network)
    for column in range(3):
        joint = full_joint(network)
        for part in parts:
            joint = (
                joint
                * weighted(network, part, column)
                / np.where(full_joint(network) > 0, full_joint(network), 1)
            )
        logs: Array = np.broadcast_to(tree.log_evidence(both), (3,))
        if joint.sum() > 0:
            assert logs[column] == pytest.approx(log(joint.sum()), abs=1e-11)
        else:
            assert np.isneginf(logs[column])


def test_combining_unequal_sizes_is_refused() -> None:
    with pytest.raises(EvidenceError, match="shapes"):
        combine([Evidence({"a": np.ones(2)}), Evidence({"a": np.ones(3)})])
    with pytest.raises(EvidenceError, match=r"shapes|differ"):
        combine([Evidence({"a": np.ones((2, 3))}), Evidence({"a": np.ones((2, 4))})])


def test_lost_digits_are_an_error_not_an_answer() -> None:
    """A posterior that leaves the range of doubles must not come out wrong."""
    tiny = np.array([[1.0, 1 - 1e-300], [0.0, 1e-300]])
    network = Network(
        tuple(Variable(n, ("n", "y")) for n in "abc"),
        (
            Table("a", (), np.array([1 - 1e-300, 1e-300])),
            Table("b", ("a",), tiny),
            Table("c", ("b",), tiny),
        ),
    )
    tree = compile_network(network)
    for states in ({"c": 1}, {"a": 1, "b": 1}, {"b": 1}):
        try:
            beliefs = tree.update(hard(network, states))
        except EvidenceError:
            continue
        for name in states:
            assert beliefs[name][1] == pytest.approx(1, abs=TOLERANCE)


def test_too_small_is_not_called_impossible() -> None:
    """A chain of copies: extreme likelihoods on each, then the other state for certain."""
    network = chain(6, stay=1.0)
    tree = compile_network(network)
    lopsided = {f"x{i}": np.array([1.0, 1e-100]) for i in range(5)}
    sure = {"x5": np.array([0.0, 1.0])}
    with pytest.raises(EvidenceError, match="beyond the range") as caught:
        tree.log_evidence({**lopsided, **sure})
    assert not isinstance(caught.value, ImpossibleEvidence)
    with pytest.raises(EvidenceError, match="beyond the range"):
        tree.update({**lopsided, **sure})
    batch = {**lopsided, "x5": np.array([[1.0, 0.0], [1.0, 1.0]])}
    with pytest.raises(EvidenceError, match="beyond the range"):
        tree.log_evidence(batch)
    with pytest.raises(EvidenceError, match="beyond the range"):
        combine([Evidence({"x0": np.array([1.0, 1e-200])})] * 2)
    mild = {f"x{i}": np.array([1.0, 1e-50]) for i in range(5)}
    assert tree.log_evidence({**mild, **sure}) == pytest.approx(log(0.5) - 250 * log(10))
    assert tree.update({**mild, **sure})["x0"][1] == 1


def test_no_variables_at_all() -> None:
    tree = compile_network(Network((), ()))
    assert tree.log_evidence({}) == 0
    assert len(tree.update({})) == 0
    assert arrays.total_log([], Evidence({}))[0] == 0


def test_all_tables_together_can_be_bounded() -> None:
    network = chain(6, stay=0.9)
    entries = compile_network(network).clique_entries
    assert sum(compile_network(network, total=sum(entries)).clique_entries) == sum(entries)
    with pytest.raises(TooWide):
        compile_network(network, total=sum(entries) - 1)
