"""A posterior as a function of one table entry, against the network with that entry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from leakdx.belief.evidence import Evidence, ImpossibleEvidence, combine
from leakdx.belief.sensitivity import Entry, Sensitivity, sensitivities
from leakdx.belief.tree import compile_network
from leakdx.network.tables import Network, Table, Variable
from tests.belief.enumeration import random_network, weighted

seeds = st.integers(0, 2**32 - 1)


def moved(network: Network, entry: Entry, x: float) -> Network:
    """The network with that entry at x, the rest of its column in proportion."""
    tables = []
    for t in network.tables:
        if t.child == entry.child:
            values = t.values.copy()
            column = values[(slice(None), *entry.parents)]
            rest = column.sum() - column[entry.state]
            for k in range(len(column)):
                column[k] = x if k == entry.state else column[k] * (1 - x) / rest
            t = Table(t.child, t.parents, values)
        tables.append(t)
    return Network(network.variables, tuple(tables))


def question(seed: int) -> tuple[Network, Entry, Evidence, Evidence]:
    """A network, an entry neither 0 nor 1, a claim and evidence."""
    rng = np.random.default_rng(seed)
    network = random_network(rng, 7, zeros=0.1)
    places = [
        (t.child, tuple(int(i) for i in place))
        for t in network.tables
        for place in np.argwhere((t.values > 0.01) & (t.values < 0.99))
    ]
    child, place = places[int(rng.integers(len(places)))] if places else ("", ())
    names = rng.permutation(network.names)
    claim = {names[0]: np.eye(network[names[0]].size)[0]}
    said = {n: rng.uniform(0.05, 1, network[n].size) for n in names[1:4]}
    return network, Entry(child, *place[:1], place[1:]), Evidence(claim), Evidence(said)  # type: ignore[misc]


def function(seed: int) -> tuple[Sensitivity, Network, Entry, Evidence, Evidence] | None:
    network, entry, claim, said = question(seed) if _has_entry(seed) else (None,) * 4
    if network is None or entry is None or claim is None or said is None:
        return None
    (found,) = sensitivities(compile_network(network), [entry], claim, said)
    return found, network, entry, claim, said


def _has_entry(seed: int) -> bool:
    network = random_network(np.random.default_rng(seed), 7, zeros=0.1)
    return any(((t.values > 0.01) & (t.values < 0.99)).any() for t in network.tables)


@settings(max_examples=60, deadline=None)
@given(seeds, st.floats(0.02, 0.98))
@example(0, 0.5)
def test_it_is_the_posterior_of_the_network_with_that_entry(seed: int, x: float) -> None:
    made = function(seed)
    if made is None:
        return
    found, network, entry, claim, said = made
    new = moved(network, entry, x)
    expected = weighted(new, combine([said, claim])).sum() / weighted(new, said).sum()
    assert found.at(x) == pytest.approx(expected, abs=1e-10)


@settings(max_examples=60, deadline=None)
@given(seeds, st.floats(0.05, 0.95))
@example(0, 0.5)
def test_its_slope_is_that_of_finite_differences(seed: int, x: float) -> None:
    made = function(seed)
    if made is None:
        return
    found, network, entry, claim, said = made
    step = 1e-5
    high, low = (
        weighted(new, combine([said, claim])).sum() / weighted(new, said).sum()
        for new in (moved(network, entry, x + step), moved(network, entry, x - step))
    )
    assert found.slope(x) == pytest.approx((high - low) / (2 * step), abs=1e-5)


@settings(max_examples=40, deadline=None)
@given(seeds)
@example(0)
def test_three_points_tell_all_the_others(seed: int) -> None:
    # A hyperbola (a x + b) / (x + d), or a straight line, goes through three points.
    made = function(seed)
    if made is None:
        return
    _, network, entry, claim, said = made

    def posterior(x: float) -> float:
        new = moved(network, entry, x)
        return float(weighted(new, combine([said, claim])).sum() / weighted(new, said).sum())

    points = np.array([0.05, 0.5, 0.95])
    y = np.array([posterior(x) for x in points])
    # a x + b - c x y = y d with c + d = 1: least squares of an exact system.
    system = np.stack([points, np.ones(3), -(points - 1) * y], axis=1)
    a, b, c = np.linalg.lstsq(system, y, rcond=None)[0]
    (found,) = sensitivities(compile_network(network), [entry], claim, said)
    for x in (0.1, 0.3, 0.7, 0.9):
        fitted = (a * x + b) / (c * x + 1 - c)
        assert found.at(x) == pytest.approx(fitted, abs=1e-9)


def test_the_stated_entry_gives_the_stated_posterior() -> None:
    made = function(3)
    assert made is not None
    found, network, _, claim, said = made
    name = next(iter(claim))
    stated = compile_network(network).update(said)[name] @ claim[name]
    assert found.at(found.stated) == pytest.approx(stated, abs=1e-12)


SURE = Network(
    (Variable("a", ("no", "yes")), Variable("b", ("no", "yes"))),
    (
        Table("a", (), np.array([0.7, 0.3])),
        Table("b", ("a",), np.array([[1.0, 0.4], [0.0, 0.6]])),
    ),
)


def test_an_entry_of_nought_or_one_is_refused() -> None:
    tree = compile_network(SURE)
    claim = {"a": np.array([0.0, 1.0])}
    for state in (0, 1):
        with pytest.raises(ValueError, match="entry of b"):
            sensitivities(tree, [Entry("b", state, (0,))], claim, {})
    with pytest.raises(KeyError):
        sensitivities(tree, [Entry("c", 0)], claim, {})


def test_where_the_evidence_cannot_be_there_is_no_posterior() -> None:
    # b is seen: with a sure to be "no" it cannot be.
    (found,) = sensitivities(
        compile_network(SURE),
        [Entry("a", 1)],
        {"a": np.array([0.0, 1.0])},
        {"b": np.array([0.0, 1.0])},
    )
    assert np.isnan(found.at(0.0)) and np.isnan(found.slope(0.0))
    assert found.at(0.2) == pytest.approx(1)


def test_evidence_impossible_at_any_entry_is_told() -> None:
    with pytest.raises(ImpossibleEvidence):
        sensitivities(
            compile_network(SURE),
            [Entry("b", 1, (1,))],
            {"b": np.array([0.0, 1.0])},
            {"a": np.array([1.0, 0.0]), "b": np.array([0.0, 1.0])},
        )
