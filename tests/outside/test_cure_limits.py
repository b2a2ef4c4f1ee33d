"""The limits of counting dry runs, and the network's sums going to them.

Success-run theorem and rule of three: the numbers are worked out from the formulas
n = ceil(ln(1 - C) / ln R) and 1 - (1 - C)^(1/n), which any textbook of reliability gives.
"""

from __future__ import annotations

from itertools import pairwise
from math import log

import numpy as np
import pytest

from leakdx.advice.counting import between, independent_runs, missed, most_shown
from leakdx.advice.proving import chances
from leakdx.belief.evidence import Evidence, combine
from leakdx.belief.tree import compile_network
from leakdx.network.tables import Network, Table, Variable


@pytest.mark.parametrize(
    ("reliable", "sure", "runs"),
    [(0.9, 0.9, 22), (0.95, 0.9, 45), (0.9, 0.95, 29), (0.95, 0.95, 59), (0.99, 0.95, 299)],
)
def test_success_runs(reliable: float, sure: float, runs: int) -> None:
    assert independent_runs(sure, 1 - reliable) == runs
    # One fewer does not do.
    assert reliable**runs <= 1 - sure < reliable ** (runs - 1)


def test_a_whole_number_of_runs_is_not_rounded_up_to_the_next() -> None:
    # Three runs that miss with a tenth each leave a thousandth.
    assert independent_runs(0.999, 0.9) == 3
    # 0.1^4 leaves 0.0001, which doubles hold a little off.
    assert independent_runs(0.9999, 0.9) == 4
    assert independent_runs(0.3439, 0.1) == 4
    assert independent_runs(0.5, 0.5) == 1
    assert independent_runs(0.1, 0.9) == 1


def test_twenty_nine_of_twenty_nine() -> None:
    # 0.9^29 = 0.0471: 29 hits of 29 show 90 % detection with 95 %, 28 of 28 do not.
    left = 0.9**29
    assert left == pytest.approx(0.0471, abs=5e-5)
    assert 1 - most_shown(29, 0.95) > 0.9 > 1 - most_shown(28, 0.95)


def test_rule_of_three() -> None:
    # None of 300: below 0.01, exactly 0.00994.  None of 30: 0.0950, where 3 / n says 0.1.
    assert most_shown(300, 0.95) == pytest.approx(0.00994, abs=5e-6)
    assert most_shown(30, 0.95) == pytest.approx(0.0950, abs=5e-5)
    for runs in (100, 1000, 10_000):
        assert most_shown(runs, 0.95) == pytest.approx(3 / runs, rel=0.02)


@pytest.mark.parametrize("chance", [0.0, 1.0, -0.1, 1.5, float("nan")])
def test_no_chance_is_refused(chance: float) -> None:
    for asked in ((chance, 0.5), (0.5, chance)):
        with pytest.raises(ValueError, match="above 0 and below 1"):
            independent_runs(*asked)
    with pytest.raises(ValueError, match="above 0 and below 1"):
        most_shown(3, chance)
    with pytest.raises(ValueError, match="at least one run"):
        most_shown(0, 0.9)


def alike(leaks: float, shows: float, runs: int) -> Network:
    """One joint, and runs that know nothing of one another; a dry joint never looks wet."""
    variables = [Variable("joint", ("tight", "leaks"))]
    tables = [Table("joint", (), np.array([1 - leaks, leaks]))]
    for k in range(runs):
        variables.append(Variable(f"run{k}", ("dry", "wet")))
        tables.append(Table(f"run{k}", ("joint",), np.array([[1.0, 1 - shows], [0.0, shows]])))
    return Network(tuple(variables), tuple(tables))


DRY = np.array([1.0, 0.0])


def cured(leaks: float, shows: float, runs: int) -> list[float]:
    """Chance that the joint is tight after 0, 1, 2, ... dry runs."""
    tree = compile_network(alike(leaks, shows, runs))
    columns = [Evidence(dict.fromkeys([f"run{j}" for j in range(k)], DRY)) for k in range(runs + 1)]
    return [float(p) for p in chances(tree, columns, [{"joint": DRY}])[0]]


@pytest.mark.parametrize("leaks", [0.05, 0.5, 0.9])
@pytest.mark.parametrize("shows", [0.1, 0.65, 0.95])
def test_each_dry_run_multiplies_the_odds_of_a_leak_by_the_chance_to_miss_it(
    leaks: float, shows: float
) -> None:
    found = cured(leaks, shows, 4)
    for k, tight in enumerate(found):
        odds = leaks / (1 - leaks) * (1 - shows) ** k
        assert (1 - tight) / tight == pytest.approx(odds, rel=1e-9)
    for pair in pairwise(found):
        assert missed(pair) == pytest.approx(1 - shows, rel=1e-9)


@pytest.mark.parametrize(("shows", "sure"), [(0.1, 0.9), (0.1, 0.95), (0.05, 0.9)])
def test_from_even_odds_the_network_asks_for_the_runs_of_the_theorem(
    shows: float, sure: float
) -> None:
    # From even odds P(leak | n dry) = R^n / (1 + R^n): odds R^n, which the theorem bounds.
    runs = independent_runs(sure, shows)
    found = cured(0.5, shows, runs)
    odds = [(1 - p) / p for p in found]
    assert odds[-1] <= 1 - sure < odds[-2]


def test_what_is_never_seen_stays_in_doubt_however_often_it_is_looked_at() -> None:
    # A leak in a hidden place: half of them never show.
    hidden = Variable("hidden", ("no", "yes"))
    network = alike(0.2, 0.5, 40)
    joint, *runs = network.tables
    blind = [
        Table(
            t.child, ("joint", "hidden"), np.stack([t.values, np.array([[1.0, 1.0], [0, 0]])], -1)
        )
        for t in runs
    ]
    whole = Network(
        (*network.variables, hidden), (joint, Table("hidden", (), np.array([0.5, 0.5])), *blind)
    )
    dry = combine([Evidence({f"run{k}": DRY}) for k in range(40)])
    tight = chances(compile_network(whole), [dry], [{"joint": DRY}])[0, 0]
    assert tight == pytest.approx(0.8 / (0.8 + 0.2 * 0.5), abs=1e-9)


def test_times_between_are_interpolated_in_log_odds() -> None:
    # Odds of a leak 1/9 and 1/99 at 10 and 30 minutes; at 20 their geometric mean.
    odds = 9 * (11**0.5)
    assert between((10, 0.9), (30, 0.99), odds / (1 + odds)) == pytest.approx(20)
    assert between((10, 0.9), (30, 0.99), 0.95) == pytest.approx(
        10 + 20 * log(19 / 9) / log(11), rel=1e-9
    )
