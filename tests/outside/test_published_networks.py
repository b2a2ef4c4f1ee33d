"""Small networks of the literature, with the numbers printed there or following from them.

Where a value is marked 'recomputed' it was worked out by hand from the published tables.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from math import exp

import numpy as np
import pytest

from leakdx.belief import star
from leakdx.belief.evidence import hard
from leakdx.belief.tree import JunctionTree, compile_network
from leakdx.network.tables import Influence, Maximum, Network, Table, Variable

# Chances of 'yes' for each combination of the parents' states, (no, no) ... (yes, yes).
Chances = Mapping[str, tuple[Sequence[str], Sequence[float]]]


def yes_no_network(chances: Chances) -> Network:
    """Variables with states n, y; the last parent's state runs fastest."""
    tables = []
    for child, (parents, values) in chances.items():
        yes = np.array(values, dtype=float).reshape((2,) * len(parents))
        tables.append(Table(child, tuple(parents), np.stack([1 - yes, yes])))
    return Network(tuple(Variable(c, ("n", "y")) for c in chances), tuple(tables))


def yes(tree: JunctionTree, name: str, seen: Mapping[str, str | int]) -> float:
    """P(name = y | seen)."""
    return float(tree.update(hard(tree.network, seen))[name][1])


def chance(tree: JunctionTree, seen: Mapping[str, str | int]) -> float:
    """P(seen)."""
    return exp(float(tree.log_evidence(hard(tree.network, seen))))


@pytest.fixture(scope="module")
def chest_clinic() -> JunctionTree:
    """Lauritzen & Spiegelhalter, J. Royal Statistical Society B 50 (1988), 'Asia'.

    Dyspnoea given (bronchitis, tuberculosis or cancer): both .9, only the latter .7,
    only bronchitis .8, neither .1; the order that gives the published P(D) = .435971.
    """
    return compile_network(
        yes_no_network(
            {
                "A": ((), [0.01]),
                "S": ((), [0.5]),
                "T": (("A",), [0.01, 0.05]),
                "L": (("S",), [0.01, 0.1]),
                "B": (("S",), [0.3, 0.6]),
                "E": (("T", "L"), [0, 1, 1, 1]),
                "X": (("E",), [0.05, 0.98]),
                "D": (("B", "E"), [0.1, 0.7, 0.8, 0.9]),
            }
        )
    )


@pytest.mark.parametrize(
    ("seen", "expected"),
    [
        (
            "",
            {"X": 0.11029, "D": 0.435971, "T": 0.0104, "L": 0.055, "B": 0.45, "E": 0.064828},
        ),
        ("AD", {"T": 0.087751, "L": 0.099525, "B": 0.811402, "E": 0.1823}),
        # Recomputed.
        ("ADX", {"T": 0.391712, "L": 0.444271, "B": 0.628822}),
    ],
)
def test_chest_clinic(chest_clinic: JunctionTree, seen: str, expected: dict[str, float]) -> None:
    for name, value in expected.items():
        assert yes(chest_clinic, name, dict.fromkeys(seen, "y")) == pytest.approx(value, abs=6e-7)


def test_chest_clinic_probability_of_what_was_seen(chest_clinic: JunctionTree) -> None:
    assert chance(chest_clinic, {"A": "y", "D": "y"}) == pytest.approx(0.00450137, abs=6e-9)


def test_burglar_alarm() -> None:
    """Russell & Norvig, Artificial Intelligence: A Modern Approach, chapter on networks."""
    tree = compile_network(
        yes_no_network(
            {
                "B": ((), [0.001]),
                "E": ((), [0.002]),
                "A": (("B", "E"), [0.001, 0.29, 0.94, 0.95]),
                "J": (("A",), [0.05, 0.9]),
                "M": (("A",), [0.01, 0.7]),
            }
        )
    )
    assert yes(tree, "B", {"J": "y", "M": "y"}) == pytest.approx(0.2841718353643929, abs=1e-14)
    everything = {"J": "y", "M": "y", "A": "y", "B": "n", "E": "n"}
    assert chance(tree, everything) == pytest.approx(0.00062811126, rel=1e-9)
    assert yes(tree, "J", {"B": "y"}) == pytest.approx(0.849017, abs=6e-7)


def test_rain_sprinkler_grass() -> None:
    """The widely taught three-variable example; P(rain | grass wet) is exactly 891/2491."""
    tree = compile_network(
        yes_no_network(
            {
                "R": ((), [0.2]),
                "S": (("R",), [0.4, 0.01]),
                "G": (("S", "R"), [0, 0.8, 0.9, 0.99]),
            }
        )
    )
    assert yes(tree, "R", {"G": "y"}) == pytest.approx(891 / 2491, abs=1e-15)


def test_cloudy_sprinkler() -> None:
    """K. Murphy's tutorial on Bayesian networks; recomputed to five digits."""
    tree = compile_network(
        yes_no_network(
            {
                "C": ((), [0.5]),
                "S": (("C",), [0.5, 0.1]),
                "R": (("C",), [0.2, 0.8]),
                "W": (("S", "R"), [0, 0.9, 0.9, 0.99]),
            }
        )
    )
    assert yes(tree, "W", {}) == pytest.approx(0.6471, abs=1e-12)
    assert yes(tree, "S", {"W": "y"}) == pytest.approx(0.42976, abs=6e-6)
    assert yes(tree, "R", {"W": "y"}) == pytest.approx(0.70793, abs=6e-6)
    assert yes(tree, "S", {"W": "y", "R": "y"}) == pytest.approx(0.19450, abs=6e-6)


def noisy_or(child: str, causes: Mapping[str, float], background: float = 0.0) -> Maximum:
    """A yes/no effect; each cause that is present brings it about with its own chance."""
    return Maximum(
        child,
        np.array([1 - background, background]),
        tuple(Influence(c, np.array([[1, 1 - p], [0, p]])) for c, p in causes.items()),
    )


def effects_of(causes: Mapping[str, float], effects: Sequence[Maximum]) -> JunctionTree:
    """Independent causes with their prior chances, and their effects."""
    roots = yes_no_network({c: ((), [p]) for c, p in causes.items()})
    effect_variables = tuple(Variable(e.child, ("n", "y")) for e in effects)
    return compile_network(
        Network((*roots.variables, *effect_variables), roots.tables, tuple(effects))
    )


def test_noisy_or_fever() -> None:
    """Russell & Norvig: fever from cold, flu and malaria, inhibitions .6, .2 and .1."""
    causes = {"cold": 1 - 0.6, "flu": 1 - 0.2, "malaria": 1 - 0.1}
    tree = effects_of(dict.fromkeys(causes, 0.5), [noisy_or("fever", causes)])
    published = [0, 0.9, 0.8, 0.98, 0.4, 0.94, 0.88, 0.988]
    for states, value in zip(product((0, 1), repeat=3), published, strict=True):
        seen = dict(zip(causes, states, strict=True))
        assert yes(tree, "fever", seen) == pytest.approx(value, abs=1e-14)


def test_two_level_noisy_or(monkeypatch: pytest.MonkeyPatch) -> None:
    """Diseases and findings in two layers, the setting of Heckerman's 1989 method.

    Numbers constructed for this test and summed by hand over the eight combinations.
    """
    diseases = {"d1": 0.1, "d2": 0.05, "d3": 0.02}
    findings = {
        "f1": ([0.8, 0.3, 0.0], 0.02),
        "f2": ([0.4, 0.9, 0.1], 0.01),
        "f3": ([0.2, 0.0, 0.7], 0.05),
    }
    # With every family written as a table, and with none.
    for written_parents in (3, -1):
        monkeypatch.setattr(star, "WRITTEN_PARENTS", written_parents)
        monkeypatch.setattr(star, "PRIVATE_ENTRIES", 0)
        effects = [
            noisy_or(f, dict(zip(diseases, strengths, strict=True)), background)
            for f, (strengths, background) in findings.items()
        ]
        _check_two_levels(effects_of(diseases, effects))


def _check_two_levels(tree: JunctionTree) -> None:
    seen: dict[str, str | int] = {"f1": "y", "f2": "y", "f3": "n"}
    assert chance(tree, seen) == pytest.approx(0.03839526, abs=6e-9)
    for disease, value in zip(("d1", "d2", "d3"), (0.684964, 0.389811, 0.006894), strict=True):
        assert yes(tree, disease, seen) == pytest.approx(value, abs=6e-7)
