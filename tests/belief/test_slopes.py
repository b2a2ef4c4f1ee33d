"""Noisy-MAX networks of the shape of a machine's flows, and what is hard about them."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from leakdx.belief import tree as tree_module
from leakdx.belief.evidence import ImpossibleEvidence, hard
from leakdx.belief.star import parts
from leakdx.belief.tree import TooWide, compile_network
from leakdx.network.noisymax import plain
from leakdx.network.tables import (
    Array,
    Influence,
    Maximum,
    Network,
    Table,
    Variable,
)
from tests.belief.test_maxima import forms

TOLERANCE = 1e-12


def slope(rng: np.random.Generator, rows: int, across: int, levels: int) -> Network:
    """Zones of a steep wall, each wetted from up to four above, by seals and by chance."""
    variables: list[Variable] = []
    tables: list[Table] = []
    maxima: list[Maximum] = []
    states = tuple(f"level{k}" for k in range(levels))
    rare = np.array([0.97, 0.02, 0.007, 0.003])

    def root(name: str) -> str:
        variables.append(Variable(name, tuple("abcd")))
        tables.append(Table(name, (), rare))
        return name

    def carried(size: int) -> Array:
        table = rng.random((levels, size)) * 0.01
        for state in range(size):
            table[min(state, levels - 1), state] += 1
        # What is dry brings nothing, with certainty.
        table[1:, 0] = 0
        result: Array = table / table.sum(axis=0)
        return result

    for row in range(rows):
        for column in range(across):
            above = [c for c in range(column - 1, column + 3) if row and 0 <= c < across]
            parents = [root(f"other{row}_{column}"), *(f"zone{row - 1}_{c}" for c in above)]
            if rng.random() < 0.4:
                parents.append(root(f"seal{row}_{column}"))
            sizes = {v.name: v.size for v in variables}
            name = f"zone{row}_{column}"
            variables.append(Variable(name, states))
            influences = tuple(Influence(p, carried(sizes[p])) for p in parents)
            maxima.append(Maximum(name, np.eye(levels)[0], influences))
    return Network(tuple(variables), tuple(tables), tuple(maxima))


def _along_the_row(trickle: Array, onward: Array, drip: Array, likelihoods: list[Array]) -> Array:
    """P(cause, all readings), by going through every combination of three contributions."""
    result = []
    for state, prior in enumerate((0.99, 0.01)):
        before = np.array([1.0, 0.0, 0.0])
        first = np.eye(3)[0]
        for n, likelihood in enumerate(likelihoods):
            after = np.zeros(3)
            for b, t, d, a in itertools.product(range(3), repeat=4):
                arrives = onward[a, b] if n else first[a]
                after[max(t, d, a)] += before[b] * trickle[t] * drip[d, state] * arrives
            before = after * likelihood
        result.append(prior * before.sum())
    return np.array(result)


@pytest.mark.parametrize("levels", [2, 4])
def test_same_as_through_helper_variables(levels: int) -> None:
    """Also with likelihoods that all but exclude what is likely beforehand."""
    rng = np.random.default_rng(levels)
    network = slope(rng, 5, 4, levels)
    assert len(parts(network).deputies) >= 4
    star_tree, helpers = compile_network(network), compile_network(plain(network))
    zones = [n for n in network.names if n.startswith("zone")]
    for lowest in (0.1, 1e-6):
        for count in (0, 3, 10):
            seen = {
                str(z): lowest ** rng.random((levels, 3)) for z in rng.permutation(zones)[:count]
            }
            ours, theirs = star_tree.update(seen), helpers.update(seen)
            np.testing.assert_allclose(ours.log_evidence, theirs.log_evidence, rtol=0, atol=1e-9)
            for name in network.names:
                np.testing.assert_allclose(ours[name], theirs[name], rtol=1e-9, atol=1e-15)


def test_many_unlikely_levels_lose_no_digits() -> None:
    """Thirty zones in a row that share a cause, each nearly always dry, alternately seen
    wet and dry: the chance is far below the rounding of a difference of sums near one."""
    count, rare = 30, 1e-9
    states = ("dry", "damp", "wet")
    trickle = np.array([1 - 3 * rare, 2 * rare, rare])
    onward = np.column_stack([np.eye(3)[0], [0.6, 0.4, 0.0], [0.3, 0.3, 0.4]])
    drip = np.column_stack([np.eye(3)[0], [1 - rare, 0.0, rare]])
    variables = [Variable("cause", ("n", "y"))]
    maxima = []
    for i in range(count):
        variables.append(Variable(f"z{i}", states))
        above = (Influence(f"z{i - 1}", onward),) if i else ()
        maxima.append(Maximum(f"z{i}", trickle, (Influence("cause", drip), *above)))
    network = Network(
        tuple(variables), (Table("cause", (), np.array([0.99, 0.01])),), tuple(maxima)
    )
    wet, dry = np.array([1e-6, 1e-3, 1.0]), np.array([1.0, 1e-6, 1e-12])
    seen = {f"z{i}": wet if i % 3 else dry for i in range(count)}
    want = _along_the_row(trickle, onward, drip, list(seen.values()))
    for written_parents in (-1, 3):
        with forms(written_parents, 0, 128, 2**15):
            beliefs = compile_network(network).update(seen)
        assert beliefs.log_evidence == pytest.approx(float(np.log(want.sum())), rel=1e-13)
        np.testing.assert_allclose(beliefs["cause"], want / want.sum(), rtol=1e-11)


def test_wide_batches_go_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(4)
    network = slope(rng, 4, 4, 3)
    tree = compile_network(network)
    seen = {
        "zone3_1": rng.random((3, 11)),
        "zone2_2": rng.random(3),
        "zone0_0": rng.random((3, 11)),
    }
    whole = tree.update(seen)
    monkeypatch.setattr(tree_module, "CHUNK_COLUMNS", 3)
    pieces = tree.update(seen)
    for name in network.names:
        np.testing.assert_allclose(whole[name], pieces[name], rtol=TOLERANCE)
    np.testing.assert_allclose(tree.log_evidence(seen), whole.log_evidence, rtol=TOLERANCE)


def test_what_cannot_be_is_named() -> None:
    """Everything above is dry for certain, and yet the zone below is seen wet."""
    network = slope(np.random.default_rng(1), 2, 5, 4)
    tree = compile_network(network)
    dry = {n: 0 for n in network.names if n.startswith(("other", "seal", "zone0"))}
    evidence = hard(network, {**dry, "zone1_2": 3})
    assert tree.log_evidence(evidence) == -np.inf
    with pytest.raises(ImpossibleEvidence) as caught:
        tree.update(evidence)
    assert "zone1_2" in caught.value.names
    assert np.isfinite(tree.log_evidence(hard(network, {**dry, "zone1_2": 0})))


def test_too_wide_is_told_with_the_entries() -> None:
    network = slope(np.random.default_rng(1), 4, 6, 4)
    with pytest.raises(TooWide) as caught:
        compile_network(network, limit=100)
    assert 100 < caught.value.entries <= max(compile_network(network).clique_entries) * 16
