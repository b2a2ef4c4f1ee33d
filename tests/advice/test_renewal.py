"""The set of seal points to renew, against every set there is."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from leakdx.advice.renewal import (
    Labour,
    best_renewal,
    closure,
    closure_with,
    closure_without,
    steps_behind,
)
from leakdx.kit.read import load_shipped


def made_up(seed: int) -> tuple[Labour, dict[str, float]]:
    """Seven seal points behind a few shared steps."""
    rng = np.random.default_rng(seed)
    seals = [f"s{i}" for i in range(7)]
    steps = {f"k{i}": float(rng.uniform(2, 200)) for i in range(5)}
    needs = {
        s: frozenset(rng.choice(list(steps), rng.integers(0, 4), replace=False)) for s in seals
    }
    renew = {s: float(rng.uniform(2, 60)) for s in seals}
    leaks = {s: float(p) for s, p in zip(seals, rng.beta(0.6, 1.5, 7), strict=True)}
    return Labour(renew, steps, needs, float(rng.uniform(100, 900))), leaks


def every(leaks: dict[str, float]) -> list[frozenset[str]]:
    return [frozenset(c) for n in range(len(leaks) + 1) for c in combinations(leaks, n)]


def cost(labour: Labour, leaks: dict[str, float], seals: frozenset[str]) -> float:
    """By hand: the work, and for each leak left a comeback and that work alone."""

    def work(chosen: frozenset[str]) -> float:
        steps = {k for s in chosen for k in labour.needs[s]}
        return sum(labour.renew[s] for s in chosen) + sum(labour.steps[k] for k in steps)

    left = [
        p * (labour.comeback + work(frozenset({s}))) for s, p in leaks.items() if s not in seals
    ]
    return work(seals) + sum(left)


@pytest.mark.parametrize("seed", range(60))
def test_the_renewal_is_the_best_of_all_sets(seed: int) -> None:
    labour, leaks = made_up(seed)
    found = best_renewal(labour, leaks)
    best = min(cost(labour, leaks, s) for s in every(leaks))
    assert found.cost == pytest.approx(cost(labour, leaks, frozenset(found.seals)))
    # The cut counts hundredths of minutes.
    assert found.cost == pytest.approx(best, abs=0.1)
    assert found.nothing == pytest.approx(cost(labour, leaks, frozenset()))
    assert closure(labour, leaks) == frozenset(found.seals)


@pytest.mark.parametrize("seed", range(60))
def test_one_seal_point_more_or_less_sure_to_leak_moves_the_best_set_as_if_begun_anew(
    seed: int,
) -> None:
    labour, leaks = made_up(seed)
    best = closure(labour, leaks)
    for s in leaks:
        if s in best:
            tight = {**leaks, s: 0.0}
            assert closure_without(labour, tight, best, s) == closure(labour, tight)
        for chance in (leaks[s], 0.95, 1.0):
            likelier = {**leaks, s: max(chance, leaks[s])}
            if s not in best:
                assert closure_with(labour, likelier, best, s) == closure(labour, likelier)


def test_shared_strip_down_is_counted_once() -> None:
    labour = Labour(
        renew={"a": 5, "b": 5, "c": 5},
        steps={"cover": 100, "fan": 20},
        needs={"a": frozenset({"cover"}), "b": frozenset({"cover"}), "c": frozenset({"fan"})},
        comeback=300,
    )
    assert labour.of(["a", "b"]) == 110
    assert labour.of(["a", "b", "c"]) == 135
    # By hand: b at 12 % is not worth 105 minutes by itself (0.12 x 405 = 49), but with the
    # cover off for a it costs 5.  c at 1 % would cost 25 and save 3.
    found = best_renewal(labour, {"a": 0.9, "b": 0.12, "c": 0.01})
    assert found.seals == ("a", "b")
    assert found.minutes == 110
    assert found.cost == pytest.approx(110 + 0.01 * 325)
    assert best_renewal(labour, {"b": 0.12}).seals == ()


def test_what_comes_off_before_counts_too() -> None:
    machine = load_shipped("forestry_carrier_five")
    behind = steps_behind(machine, ["remove_crank_pulley"])
    assert behind >= {"remove_crank_pulley", "remove_belt", "remove_air_duct", "battery_off"}
    assert "remove_sump" not in behind
