"""The planner held against worked examples of the literature, each through a small adapter."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations, permutations

import numpy as np
import pytest

from leakdx.advice.decision import (
    Array,
    Decision,
    Step,
    Trial,
    acting_now,
    best_plan,
    gain,
    information,
    lookahead,
    outcomes,
    perfect,
)

# --- the multiplier-adder circuit -------------------------------------------------------------
# Source: de Kleer & Williams, "Diagnosing multiple faults", Artificial Intelligence 32, 1987:
# inputs A..E = 3, 2, 2, 3, 3, so that X = AC = Y = BD = Z = CE = 6; F = X + Y = 12 and
# G = Y + Z = 12 are expected, F = 10 and G = 12 are seen.

PARTS = ("M1", "M2", "M3", "A1", "A2")
ADDERS = (("A1", "X", "Y", "F"), ("A2", "Y", "Z", "G"))
Values = dict[str, int]


def predicted(faulty: frozenset[str]) -> Values | None:
    """What must be at X, Y and Z if just these parts are faulty; None if that cannot be."""
    known = {"F": 10, "G": 12}
    known |= {w: 6 for m, w in (("M1", "X"), ("M2", "Y"), ("M3", "Z")) if m not in faulty}
    for _ in range(2):
        for adder, one, other, total in ADDERS:
            if adder in faulty:
                continue
            values = [known.get(w) for w in (one, other, total)]
            if values[0] is not None and values[1] is not None:
                if known.setdefault(total, values[0] + values[1]) != values[0] + values[1]:
                    return None
            elif values[0] is not None:
                known[other] = known[total] - values[0]
            elif values[1] is not None:
                known[one] = known[total] - values[1]
    return known


def circuit() -> tuple[list[frozenset[str]], list[Values], Array]:
    every = [frozenset(c) for n in range(6) for c in combinations(PARTS, n)]
    found = [(s, v) for s in every if (v := predicted(s)) is not None]
    weights = np.array([0.01 ** len(s) * 0.99 ** (5 - len(s)) for s, _ in found])
    return [s for s, _ in found], [v for _, v in found], weights / weights.sum()


def probe(wire: str, values: list[Values]) -> Trial:
    """Measuring at a wire: one outcome for each value predicted, the last for none."""
    seen = sorted({v[wire] for v in values if wire in v})
    rows = [[float(v.get(wire) == s) for v in values] for s in seen]
    return Trial(wire, 1.0, np.array([*rows, [float(wire not in v) for v in values]]))


def minimal(sets: list[frozenset[str]]) -> set[frozenset[str]]:
    return {s for s in sets if not any(other < s for other in sets)}


def test_the_minimal_diagnoses_of_the_circuit() -> None:
    sets, _, belief = circuit()
    assert len(sets) == 27
    assert minimal(sets) == {
        frozenset({"A1"}),
        frozenset({"M1"}),
        frozenset({"A2", "M2"}),
        frozenset({"M2", "M3"}),
    }
    chances = dict(zip(sets, belief, strict=True))
    assert chances[frozenset({"A1"})] == pytest.approx(0.478026, abs=1e-6)
    assert chances[frozenset({"M1"})] == pytest.approx(0.478026, abs=1e-6)
    doubles = [p for s, p in chances.items() if len(s) == 2]
    assert doubles == pytest.approx([0.0048285] * len(doubles), abs=1e-7)


def test_the_best_probe_of_the_circuit_is_x() -> None:
    sets, values, belief = circuit()
    probes = {w: probe(w, values) for w in "XYZ"}
    # Published entropies leave out the outcome that no diagnosis predicts.
    for wire, entropy in (("X", 1.00216), ("Y", 0.07912), ("Z", 0.04445)):
        chance, _ = outcomes(probes[wire], belief)
        said = chance[:-1]
        assert -float(said @ np.log2(said)) == pytest.approx(entropy, abs=1e-5)
    told = {w: information(p, belief) for w, p in probes.items()}
    assert max(told, key=told.__getitem__) == "X"
    # Measuring is certain given the diagnosis, so all of an outcome's entropy is information.
    chance, after = outcomes(probes["X"], belief)
    assert told["X"] == pytest.approx(-float(chance @ np.log2(chance)))

    def left(belief: Array) -> set[frozenset[str]]:
        # Those that say nothing of X remain possible whatever is measured; the published
        # answer is about those that predict it.
        return minimal([s for s, p in zip(sets, belief, strict=True) if p > 0])

    assert left(after[0]) == {frozenset({"M1"})}
    assert left(after[1]) == {
        frozenset({"A1"}),
        frozenset({"A2", "M2"}),
        frozenset({"M2", "M3"}),
    }


# --- actions one after the other ---------------------------------------------------------------


def one_by_one(chances: tuple[float, ...], costs: tuple[float, ...]) -> Decision:
    """One of several is at fault; each is tried at a cost until the fault is found."""
    size = len(chances)
    wrong = np.where(np.eye(size) > 0, 0.0, 1e6)
    trials = tuple(
        Trial(str(i + 1), c, np.array([np.eye(size)[i], 1 - np.eye(size)[i]]))
        for i, c in enumerate(costs)
    )
    return Decision(np.array(chances), wrong, trials)


def order_of(d: Decision, step: Step) -> list[str]:
    names = []
    while step.look is not None:
        names.append(d.trials[step.look].name)
        after = step.following[1]
        assert after is not None
        step = after
    return names


def expected(order: tuple[int, ...], p: tuple[float, ...], c: tuple[float, ...]) -> float:
    """Sum of c_i (1 - sum of p_j before it): the expected cost of repair."""
    total, done = 0.0, 0.0
    for i in order:
        total += c[i] * (1 - done)
        done += p[i]
    return total


def test_the_order_by_chance_over_cost() -> None:
    # Source: Kadane & Simon 1977; Heckerman, Breese & Rommelse, Communications of the ACM 38,
    # 1995: independent actions are best taken by p/c.  The numbers were made for this test.
    p, c = (0.4, 0.3, 0.2, 0.1), (6.0, 2.0, 4.0, 1.0)
    costs = {order: expected(order, p, c) for order in permutations(range(4))}
    assert min(costs, key=costs.__getitem__) == (1, 3, 0, 2)
    assert min(costs.values()) == pytest.approx(7.1)
    assert max(costs.values()) == pytest.approx(9.8)
    assert expected((0, 1, 2, 3), p, c) == pytest.approx(8.5)


@pytest.mark.parametrize("seed", range(4))
def test_the_planner_takes_actions_by_chance_over_cost(seed: int) -> None:
    # The same source.  The last of all need not be tried: what is left must be it, so it is
    # the dearest for its chance among orders that leave one out.
    rng = np.random.default_rng(seed)
    p = tuple(rng.dirichlet(np.ones(4)))
    c = tuple(rng.uniform(1, 9, 4))
    d = one_by_one(p, c)
    plan = best_plan(d)
    best = min(
        sum(c[i] * (1 - sum(p[j] for j in order[:k])) for k, i in enumerate(order[:3]))
        for order in permutations(range(4))
    )
    assert plan.cost == pytest.approx(best)
    taken = [int(name) - 1 for name in order_of(d, plan)]
    ratios = [p[i] / c[i] for i in taken]
    assert ratios == sorted(ratios, reverse=True)


# --- the value of looking ----------------------------------------------------------------------


def wildcatter() -> Decision:
    # Source: Raiffa, "Decision Analysis", 1968, as printed by Shenoy 1992; states dry, wet,
    # soaking; payoffs of drilling -70, 50, 200 and of not drilling 0, as costs.
    seismic = np.array([[0.6, 0.3, 0.1], [0.3, 0.4, 0.4], [0.1, 0.3, 0.5]])
    acts = -np.array([[-70.0, 50.0, 200.0], [0.0, 0.0, 0.0]])
    return Decision(np.array([0.5, 0.3, 0.2]), acts, (Trial("seismic", 10.0, seismic),))


def test_the_oil_wildcatter() -> None:
    d = wildcatter()
    chance, _ = outcomes(d.trials[0], d.prior)
    assert chance == pytest.approx([0.41, 0.35, 0.24])
    assert acting_now(d, d.prior)[1] == pytest.approx(-20)
    assert gain(d, d.trials[0], d.prior) == pytest.approx(12.5)
    assert perfect(d) == pytest.approx(35)
    plan = best_plan(d)
    assert plan.look == 0
    assert plan.cost == pytest.approx(-22.5)
    # Where the test costs more than it is worth nobody takes it.
    dear = Decision(d.prior, d.acts, (Trial("seismic", 12.6, d.trials[0].chances),))
    assert best_plan(dear).look is None


@pytest.mark.parametrize("blocks", [2, 5, 20])
def test_a_survey_of_one_block_is_worth_what_a_block_costs(blocks: int) -> None:
    # Source: Russell & Norvig, "Artificial Intelligence: A Modern Approach", the information
    # value of a survey: n blocks, one holds oil worth C, each costs C/n.
    worth = 60.0
    price = worth / blocks
    acts = np.full((blocks + 1, blocks), price) - worth * np.eye(blocks + 1, blocks)
    acts[blocks] = 0.0
    survey = np.array([np.eye(blocks)[2 % blocks], 1 - np.eye(blocks)[2 % blocks]])
    d = Decision(np.full(blocks, 1 / blocks), acts, (Trial("survey", 1.0, survey),))
    assert gain(d, d.trials[0], d.prior) == pytest.approx(price)


# --- the planner against every plan there is ---------------------------------------------------


def random_decision(seed: int) -> Decision:
    """Up to four joints of which any may leak, four looks that err, acts that renew some."""
    rng = np.random.default_rng(seed)
    joints = int(rng.integers(2, 4))
    sets = [s for n in range(joints + 1) for s in combinations(range(joints), n)]
    p = rng.uniform(0.05, 0.5, joints)
    prior = np.array([np.prod([p[i] if i in s else 1 - p[i] for i in range(joints)]) for s in sets])
    renew = rng.uniform(20, 200, joints)
    comeback = rng.uniform(100, 500)
    acts = np.array(
        [[renew[list(a)].sum() + comeback * bool(set(s) - set(a)) for s in sets] for a in sets]
    )
    trials = []
    for k in range(4):
        reads = rng.choice(joints, int(rng.integers(1, joints + 1)), replace=False)
        miss, false = rng.uniform(0.02, 0.3, 2)
        wet = np.array([1 - miss if set(reads) & set(s) else false for s in sets])
        trials.append(Trial(f"look {k}", float(rng.uniform(1, 40)), np.array([1 - wet, wet])))
    return Decision(prior, acts, tuple(trials))


def by_brute_force(d: Decision, belief: Array, left: tuple[int, ...]) -> float:
    """Least expected cost, written apart from the planner and without its shortcuts."""
    options = [float((d.acts @ belief).min())]
    for look in left:
        joint = d.trials[look].chances * belief
        rest = tuple(k for k in left if k != look)
        parts = [by_brute_force(d, row / row.sum(), rest) * row.sum() for row in joint]
        options.append(d.trials[look].cost + sum(parts))
    return min(options)


@pytest.mark.parametrize("seed", range(6))
def test_the_best_plan_is_the_best_of_all(seed: int) -> None:
    d = random_decision(seed)
    every = tuple(range(len(d.trials)))
    assert best_plan(d).cost == pytest.approx(by_brute_force(d, d.prior, every))


@pytest.mark.parametrize("seed", range(6))
def test_a_plan_costs_what_it_says(seed: int) -> None:
    d = random_decision(seed)
    for plan in (best_plan(d), lookahead(d, 1), lookahead(d, 2)):
        under = [plan.cost_under(d, h) for h in range(len(d.prior))]
        assert float(np.dot(under, d.prior)) == pytest.approx(plan.cost)


def regrets() -> Mapping[int, Array]:
    """How much dearer than the best each stepwise planner is, as a share, on 60 machines."""
    found: dict[int, list[float]] = {1: [], 2: []}
    for seed in range(60):
        d = random_decision(seed)
        best = best_plan(d).cost
        for depth, shares in found.items():
            shares.append(lookahead(d, depth).cost / best - 1)
    return {depth: np.array(shares) for depth, shares in found.items()}


def test_looking_two_looks_ahead_loses_little() -> None:
    # Within 2 % of the optimum on average, and never cheaper than the optimum.
    found = regrets()
    for shares in found.values():
        assert shares.min() > -1e-12
    assert found[2].mean() < 0.02
    assert found[2].mean() <= found[1].mean() + 1e-12
    assert np.quantile(found[2], 0.9) < 0.02


def test_what_cannot_be_is_told() -> None:
    d = wildcatter()
    with pytest.raises(ValueError, match="must cost more than nothing"):
        Decision(d.prior, d.acts, (Trial("free", 0.0, d.trials[0].chances),))
    with pytest.raises(ValueError, match="no distribution"):
        Decision(d.prior * 2, d.acts, d.trials)
    with pytest.raises(ValueError, match="do not add up"):
        Decision(d.prior, d.acts, (Trial("odd", 1.0, d.trials[0].chances[:2]),))
