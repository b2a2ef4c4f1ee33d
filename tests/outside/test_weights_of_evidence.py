"""Weights of evidence that are printed in the literature, in decibans."""

from __future__ import annotations

from math import log10

import numpy as np
import pytest

from leakdx.belief.evidence import hard
from leakdx.belief.tree import JunctionTree, compile_network
from leakdx.network.odds import decibans
from leakdx.network.tables import Network, Table, Variable
from leakdx.reasons.weights import Weights, chance_of, in_words, weights_of


def alarm() -> JunctionTree:
    """Russell & Norvig, Artificial Intelligence: A Modern Approach, 2nd ed., figure 14.2."""
    given = np.array([[0.001, 0.29], [0.94, 0.95]])  # of burglary, of earthquake
    chances = {
        "B": ((), np.array(0.001)),
        "E": ((), np.array(0.002)),
        "A": (("B", "E"), given),
        "J": (("A",), np.array([0.05, 0.9])),
        "M": (("A",), np.array([0.01, 0.7])),
    }
    tables = tuple(Table(c, p, np.stack([1 - v, v])) for c, (p, v) in chances.items())
    return compile_network(Network(tuple(Variable(c, ("n", "y")) for c in chances), tables))


def burglary(seen: str) -> Weights:
    """Weights for a burglary of these things being so, in this order."""
    tree = alarm()
    return weights_of(
        tree, {n: hard(tree.network, {n: "y"}) for n in seen}, {"burglary": ("B", (1,))}
    )


def test_burglar_alarm() -> None:
    both = burglary("JM")
    # P(B | j, m), as printed to more digits in the solutions and programs of the book.
    assert chance_of(both.after)[0] == pytest.approx(0.2841718353643929, abs=1e-14)
    assert chance_of(both.before)[0] == pytest.approx(0.001)
    # P(B | j) is about .016.
    assert chance_of(both.before + both.in_order[0])[0] == pytest.approx(0.016, abs=5e-4)
    assert chance_of(both.before + both.alone[0])[0] == pytest.approx(0.016, abs=5e-4)
    # Both calls say that the alarm rang: each says less of a burglary beside the other.
    assert (both.left_out < both.alone).all()
    assert (both.left_out > 0).all()


def test_an_earthquake_explains_the_alarm_away() -> None:
    """It says nothing of a burglary by itself, and speaks against one once the alarm rings."""
    w = burglary("JME")
    assert w.alone[2, 0] == pytest.approx(0, abs=1e-9)
    assert w.left_out[2, 0] < -10
    assert w.in_order[2, 0] == w.left_out[2, 0]
    # By hand from the tables: P(B | A) is .373551; P(B | A, E) = .95 x .001 / (.95 x .001 +
    # .29 x .999) = .003268.
    rings = burglary("AE")
    assert chance_of(rings.before + rings.alone[0])[0] == pytest.approx(0.373551, abs=5e-7)
    assert chance_of(rings.after)[0] == pytest.approx(0.00095 / (0.00095 + 0.29 * 0.999))
    # The order matters: first the earthquake, then the alarm, each told otherwise, one sum.
    other = burglary("EA")
    assert other.in_order[0, 0] == pytest.approx(0, abs=1e-9)
    assert rings.in_order[1, 0] < -20
    assert rings.in_order.sum() == pytest.approx(other.in_order.sum(), abs=1e-9)


def test_decibans_of_tunny() -> None:
    """General Report on Tunny, 1945: 13 decibans are about 20 to 1, 4 decibans 5 to 2."""
    assert decibans(20 / 21) == pytest.approx(13, abs=0.02)
    assert decibans(5 / 7) == pytest.approx(4, abs=0.03)
    assert in_words(13) == "about 20 times likelier"
    assert in_words(4) == "about 2.5 times likelier"
    chances = chance_of(np.array([13.0, 4.0]))
    np.testing.assert_allclose(chances / (1 - chances), [20, 2.5], rtol=0.005)
    # A reading twenty times as likely on one hypothesis as on the other.
    tables = (
        Table("h", (), np.array([0.5, 0.5])),
        Table("e", ("h",), np.array([[0.96, 0.2], [0.04, 0.8]])),
    )
    tree = compile_network(Network((Variable("h", ("n", "y")), Variable("e", ("n", "y"))), tables))
    w = weights_of(tree, {"e": hard(tree.network, {"e": "y"})}, {"h": ("h", (1,))})
    assert w.alone[0, 0] == pytest.approx(13, abs=0.02)


# Jaynes, Probability Theory: The Logic of Science, 2003, chapter 4: which machine made the box.
# Hypotheses A (a third are bad), B (a sixth), and C (99 in a hundred), of chance 1/11, 10/11
# and 1e-6 before anything is tested.
BAD = np.array([1 / 3, 1 / 6, 99 / 100])
CLAIMS = {"A": ("box", (0,)), "B": ("box", (1,)), "C": ("box", (2,))}


def box(prior: np.ndarray, results: str) -> Weights:
    """Weights of widgets tested one by one: b for a bad one, g for a good one."""
    count = len(results)
    tables = [Table("box", (), prior / prior.sum())]
    tables += [Table(f"w{k}", ("box",), np.stack([1 - BAD, BAD])) for k in range(count)]
    states = {"box": ("A", "B", "C")}
    variables = tuple(Variable(t.child, states.get(t.child, ("g", "b"))) for t in tables)
    tree = compile_network(Network(variables, tuple(tables)))
    readings = {f"w{k}": hard(tree.network, {f"w{k}": r}) for k, r in enumerate(results)}
    return weights_of(tree, readings, CLAIMS)


def test_a_bad_and_a_good_widget_between_two_boxes() -> None:
    """Jaynes, 4.1 to 4.2: a bad one is +3 dB for A against B, a good one -1 dB; e(A) = -10."""
    two = np.array([1 / 11, 10 / 11, 0.0])
    bad, good = box(two, "b"), box(two, "g")
    assert bad.before[0] == pytest.approx(-10)
    assert bad.alone[0, 0] == pytest.approx(3.0103, abs=5e-5)
    assert good.alone[0, 0] == pytest.approx(-0.96910, abs=5e-6)
    # Drawn from so many, tests do not bear on each other: all three ways agree.
    mixed = box(two, "bbgbggbb")
    for way in (mixed.in_order, mixed.alone, mixed.left_out):
        expected = [3.0103 if r == "b" else -0.96910 for r in "bbgbggbb"]
        np.testing.assert_allclose(way[:, 0], expected, atol=5e-5)
    # C is ruled out before: its parts add up to nothing that could be told.
    assert mixed.before[2] == -120
    assert not mixed.adds_up


def test_a_third_hypothesis_rises_from_the_dead() -> None:
    """Jaynes, 4.4 'Multiple hypothesis testing': C starts at -60 dB and overtakes A."""
    three = np.array([1 / 11 * (1 - 1e-6), 10 / 11 * (1 - 1e-6), 1e-6])
    w = box(three, "b" * 20)
    after = w.before + np.cumsum(w.in_order, axis=0)  # after each bad widget
    assert w.before[2] == pytest.approx(-60, abs=0.001)
    assert after[3, 0] == pytest.approx(2.04, abs=0.005)
    # e(A) after twelve and e(C) after twelve, as recomputed by hand from the same fractions.
    by_hand = three * BAD**12
    assert after[11, 0] == pytest.approx(10 * log10(by_hand[0] / by_hand[1:].sum()), abs=1e-9)
    assert after[11, 0] == pytest.approx(-7.15, abs=0.005)
    assert after[11, 2] == pytest.approx(7.13, abs=0.005)
    # B beats A at first, A beats B after that, and C both in the end, for good.
    leaders = "".join("ABC"[k] for k in after.argmax(axis=1))
    assert leaders.lstrip("B").lstrip("A").strip("C") == ""
    assert leaders[0] == "B"
    assert leaders[5] == "A"
    assert leaders[11] == "C"
    # With a third hypothesis one bad widget speaks less and less for A, then against it.
    assert w.in_order[0, 0] == pytest.approx(3.0, abs=0.05)
    assert (np.diff(w.in_order[:, 0])[:10] < 1e-9).all()
    assert w.in_order[11, 0] < 0
    assert w.adds_up
