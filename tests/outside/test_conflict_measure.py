"""The conflict measure of Jensen and others (1990) on two networks of the literature.

The tables are the published ones; the bits were worked out from those tables by summing the
full joint, as marked.
"""

from __future__ import annotations

import pytest

from leakdx.belief.evidence import hard
from leakdx.belief.tree import JunctionTree, compile_network
from leakdx.reasons.conflict import Conflict, conflict_of
from tests.outside.test_published_networks import yes_no_network


@pytest.fixture(scope="module")
def burglar_alarm() -> JunctionTree:
    """Russell & Norvig, Artificial Intelligence: A Modern Approach, 2nd ed., fig. 14.2."""
    return compile_network(
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


@pytest.fixture(scope="module")
def clinic() -> JunctionTree:
    """Lauritzen & Spiegelhalter, J. Royal Statistical Society B 50 (1988), 'Asia'."""
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


def conflict(tree: JunctionTree, seen: dict[str, str]) -> Conflict:
    """Each finding a reading of its own."""
    return conflict_of(tree, {n: hard(tree.network, {n: s}) for n, s in seen.items()})


# Worked out from the published tables.
@pytest.mark.parametrize(
    ("seen", "bits"), [({"J": "y", "M": "y"}, -1.76801), ({"J": "y", "M": "n"}, 0.04182)]
)
def test_two_calls_of_the_alarm(
    burglar_alarm: JunctionTree, seen: dict[str, str], bits: float
) -> None:
    found = conflict(burglar_alarm, seen)
    assert found.whole == pytest.approx(bits, abs=6e-6)
    # With two findings, each against the rest, and the pair, are all the same.
    assert [*found.against_rest.values()] == pytest.approx([bits, bits], abs=6e-6)
    assert found.pairs["J", "M"] == pytest.approx(bits, abs=6e-6)


# Worked out from the published tables.
@pytest.mark.parametrize(
    ("seen", "bits"),
    [
        ({"S": "n", "L": "y"}, 2.45943),
        ({"X": "y", "D": "y"}, -0.55557),
        ({"S": "n", "X": "y", "D": "y"}, 0.66613),
    ],
)
def test_findings_of_the_chest_clinic(
    clinic: JunctionTree, seen: dict[str, str], bits: float
) -> None:
    assert conflict(clinic, seen).whole == pytest.approx(bits, abs=6e-6)


def test_who_disagrees_in_the_chest_clinic(clinic: JunctionTree) -> None:
    """X-ray and dyspnoea agree; not to smoke is what speaks against them."""
    found = conflict(clinic, {"S": "n", "X": "y", "D": "y"})
    assert found.badly[0] == "S"
    # whole = conf(S | X, D) + conf(X, D), from the two figures above.
    assert found.against_rest["S"] == pytest.approx(0.66613 + 0.55557, abs=2e-5)
