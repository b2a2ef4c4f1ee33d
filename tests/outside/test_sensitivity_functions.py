"""The burglar alarm of a textbook, as a function of its own numbers.

Network and numbers: Russell & Norvig, "Artificial Intelligence: A Modern Approach", 2nd ed.,
figure 14.2.  Published there: P(burglary | both call) = 0.284 (section 14.4).
Form of the function: Castillo, Gutierrez & Hadi 1997; Coupe & van der Gaag 2002.
"""

from __future__ import annotations

import numpy as np
import pytest

from leakdx.belief.evidence import hard
from leakdx.belief.sensitivity import Entry, sensitivities
from leakdx.belief.tree import compile_network
from leakdx.network.tables import Array, Network, Table, Variable

B, E, J_OF, M_OF = 0.001, 0.002, (0.05, 0.9), (0.01, 0.7)
A_OF = {(1, 1): 0.95, (1, 0): 0.94, (0, 1): 0.29, (0, 0): 0.001}


def yes(chance: float | list[float] | list[list[float]]) -> Array:
    return np.stack([1 - np.array(chance), np.array(chance)])


ALARM = Network(
    tuple(Variable(n, ("no", "yes")) for n in ("B", "E", "A", "J", "M")),
    (
        Table("B", (), yes(B)),
        Table("E", (), yes(E)),
        Table("A", ("B", "E"), yes([[A_OF[b, e] for e in (0, 1)] for b in (0, 1)])),
        Table("J", ("A",), yes(list(J_OF))),
        Table("M", ("A",), yes(list(M_OF))),
    ),
)


def called(burglary: int, earthquake: float = E) -> float:
    """P(both call | burglary or none), by hand: sum over alarm and earthquake."""
    total = 0.0
    for e, chance in ((1, earthquake), (0, 1 - earthquake)):
        alarm = A_OF[burglary, e]
        total += chance * (alarm * J_OF[1] * M_OF[1] + (1 - alarm) * J_OF[0] * M_OF[0])
    return total


def test_burglary_over_its_own_prior_is_the_hyperbola_of_bayes() -> None:
    tree = compile_network(ALARM)
    (found,) = sensitivities(
        tree, [Entry("B", 1)], hard(ALARM, {"B": "yes"}), hard(ALARM, {"J": "yes", "M": "yes"})
    )
    assert found.stated == B
    assert found.at(B) == pytest.approx(0.284, abs=5e-4)
    there, none = called(1), called(0)
    for x in (0.0, 1e-4, 0.001, 0.02, 0.5, 1.0):
        expected = x * there / (x * there + (1 - x) * none)
        assert found.at(x) == pytest.approx(expected, abs=1e-12)
        slope = there * none / (x * there + (1 - x) * none) ** 2
        assert found.slope(x) == pytest.approx(slope, rel=1e-9)


def test_over_the_chance_of_an_earthquake() -> None:
    (found,) = sensitivities(
        compile_network(ALARM),
        [Entry("E", 1)],
        hard(ALARM, {"B": "yes"}),
        hard(ALARM, {"J": "yes", "M": "yes"}),
    )
    for x in (0.0, 0.002, 0.3, 1.0):
        there = B * called(1, x)
        expected = there / (there + (1 - B) * called(0, x))
        assert found.at(x) == pytest.approx(expected, abs=1e-12)
    # An earthquake would explain the alarm: the likelier, the less a burglary.
    assert found.slope(E) < 0


def test_over_a_number_below_the_evidence() -> None:
    # P(neighbour calls | no alarm): the function of that entry alone, by hand.
    (found,) = sensitivities(
        compile_network(ALARM),
        [Entry("J", 1, (0,))],
        hard(ALARM, {"B": "yes"}),
        hard(ALARM, {"J": "yes", "M": "yes"}),
    )

    def by_hand(x: float) -> float:
        parts = []
        for b, chance in ((1, B), (0, 1 - B)):
            alarm = sum(p * A_OF[b, e] for e, p in ((1, E), (0, 1 - E)))
            parts.append(chance * (alarm * J_OF[1] * M_OF[1] + (1 - alarm) * x * M_OF[0]))
        return parts[0] / sum(parts)

    for x in (0.0, 0.05, 0.4, 1.0):
        assert found.at(x) == pytest.approx(by_hand(x), abs=1e-12)
