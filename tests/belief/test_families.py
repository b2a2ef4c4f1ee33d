"""Other numbers in some tables as evidence: the answers are those of the other network."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from leakdx.belief import star
from leakdx.belief.evidence import Evidence, EvidenceError, ImpossibleEvidence, combine
from leakdx.belief.families import changed
from leakdx.belief.tree import compile_network
from leakdx.network.tables import Array, Network, Table, Variable
from tests.belief.enumeration import (
    marginal,
    random_maxima,
    random_network,
    weighted,
    written_out,
)

TOLERANCE = 1e-12
COLUMNS = 3
seeds = st.integers(0, 2**32 - 1)


def with_other(network: Network, tables: dict[str, Array], column: int) -> Network:
    """The network with one column of the tables in place of its own."""
    own = tuple(
        Table(t.child, t.parents, tables[t.child][..., column]) if t.child in tables else t
        for t in network.tables
    )
    return Network(network.variables, own, network.maxima)


def others(rng: np.random.Generator, network: Network) -> dict[str, Array]:
    """New numbers where there are some, for about half of the tables; now and then a zero more."""
    found = {}
    for t in network.tables:
        if rng.random() < 0.5:
            continue
        new = (t.values > 0)[..., None] * rng.uniform(0.05, 1, (*t.values.shape, COLUMNS))
        new *= (rng.random(new.shape) > 0.05) | (new == new.max(axis=0))
        found[t.child] = new / new.sum(axis=0)
    return found


def seen(rng: np.random.Generator, network: Network) -> Evidence:
    """Likelihoods on three variables, one of them a batch."""
    names = rng.permutation(network.names)[:3]
    said = {n: rng.uniform(0.05, 1, network[n].size) for n in names}
    said[names[0]] = rng.uniform(0.05, 1, (network[names[0]].size, COLUMNS))
    return Evidence(said)


def check(network: Network, rng: np.random.Generator) -> None:
    tables, said = others(rng, network), seen(rng, network)
    tree = compile_network(network)
    evidence = combine([said, changed(network, tables)])
    beliefs = tree.update(evidence)
    logs = np.asarray(tree.log_evidence(evidence))
    for column in range(COLUMNS):
        new = with_other(network, tables, column)
        joint = weighted(written_out(new), said, column)
        one = Evidence({n: a[:, column] if a.ndim == 2 else a for n, a in said.items()})
        again = tree.with_tables(new).update(one)
        assert logs[column] == pytest.approx(np.log(joint.sum()), abs=1e-10)
        for name in network.names:
            expected = marginal(network, joint, [name]) / joint.sum()
            assert beliefs[name][:, column] == pytest.approx(expected, abs=TOLERANCE)
            assert beliefs[name][:, column] == pytest.approx(again[name], abs=TOLERANCE)


@settings(max_examples=60, deadline=None)
@given(seeds)
@example(0)
def test_tables_changed_by_a_factor_answer_as_the_other_network_does(seed: int) -> None:
    rng = np.random.default_rng(seed)
    check(random_network(rng, 7), rng)


@settings(max_examples=60, deadline=None)
@given(seeds, st.sampled_from([-1, 3]))
@example(0, -1)
def test_among_deputies_too(seed: int, written: int) -> None:
    rng = np.random.default_rng(seed)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(star, "WRITTEN_PARENTS", written)
        check(random_maxima(rng, 7), rng)


def pair(values: Array) -> Network:
    a, b = Variable("a", ("no", "yes")), Variable("b", ("no", "yes"))
    return Network((a, b), (Table("a", (), np.array([0.7, 0.3])), Table("b", ("a",), values)))


SURE = np.array([[1.0, 0.4], [0.0, 0.6]])


def test_what_was_impossible_cannot_become_possible() -> None:
    with pytest.raises(EvidenceError, match="b makes possible"):
        changed(pair(SURE), {"b": np.array([[0.9, 0.4], [0.1, 0.6]])[..., None]})


@pytest.mark.parametrize(
    ("tables", "told"),
    [({"c": np.ones((2, 1))}, "no table of c"), ({"a": np.ones((3, 1))}, "table of a has shape")],
)
def test_wrong_tables_are_told(tables: dict[str, Array], told: str) -> None:
    with pytest.raises(EvidenceError, match=told):
        changed(pair(SURE), tables)


@pytest.mark.parametrize(
    ("families", "told"),
    [
        ({"c": np.ones((2, 1))}, "no table of c"),
        ({"b": np.ones((2, 1))}, "family of b has shape"),
        ({"b": -np.ones((2, 2, 1))}, "negative"),
    ],
)
def test_wrong_families_are_told(families: dict[str, Array], told: str) -> None:
    with pytest.raises(EvidenceError, match=told):
        compile_network(pair(SURE)).update(Evidence({}, families=families))


def test_evidence_that_the_new_numbers_forbid_is_told_by_column() -> None:
    network = pair(np.array([[0.5, 0.4], [0.5, 0.6]]))
    new = np.stack([SURE, np.array([[1.0, 1.0], [0.0, 0.0]])], axis=-1)
    evidence = combine([Evidence({"b": [0.0, 1.0]}), changed(network, {"b": new})])
    with pytest.raises(ImpossibleEvidence) as error:
        compile_network(network).update(evidence)
    assert error.value.columns == (1,)


def test_a_wide_batch_goes_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(8)
    network = random_network(rng, 7, zeros=0.0)
    tables = others(rng, network)
    assert max(float(np.ptp(t[..., [0, 2]], axis=-1).max()) for t in tables.values()) > 0.1
    tree = compile_network(network)
    evidence = combine([seen(rng, network), changed(network, tables)])
    whole = tree.update(evidence)
    monkeypatch.setattr("leakdx.belief.tree.CHUNK_COLUMNS", 2)
    pieces = tree.update(evidence)
    assert all(pieces[n] == pytest.approx(whole[n], abs=TOLERANCE) for n in network.names)
