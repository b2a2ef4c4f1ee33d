"""Readings of effects that are left out of a network, as sums: against adding up every state."""

from __future__ import annotations

from itertools import product
from math import prod

import numpy as np
import pytest

from leakdx.advice.sums import Weighed, beliefs_of, terms_of, weighed, with_rest, without
from leakdx.belief.evidence import Evidence, ImpossibleEvidence
from leakdx.belief.tree import compile_network
from leakdx.network.noisymax import plain
from leakdx.network.tables import Array, Influence, Maximum, Network, Table, Variable

STATES = ("none", "little", "some", "much")


def columns(random: np.random.Generator, levels: int, states: int) -> Array:
    table = random.uniform(0.05, 1, (levels, states))
    return np.asarray(table / table.sum(axis=0))


def effect(name: str, parents: tuple[str, ...], seed: int) -> Maximum:
    random = np.random.default_rng(seed)
    influences = tuple(Influence(p, columns(random, 4, 4)) for p in parents)
    return Maximum(name, columns(random, 4, 1)[:, 0], influences)


def network(*effects: Maximum, tied: bool = False) -> Network:
    """Two sources, a second that hangs on the first where they are tied, and effects."""
    random = np.random.default_rng(99)
    second = (
        Table("b", ("a",), columns(random, 4, 4))
        if tied
        else Table("b", (), columns(random, 4, 1)[:, 0])
    )
    tables = (Table("a", (), columns(random, 4, 1)[:, 0]), second)
    names = ("a", "b", *(e.child for e in effects))
    return Network(tuple(Variable(n, STATES) for n in names), tables, effects)


def chance_of(maximum: Maximum, states: dict[str, int]) -> Array:
    """P(level | states of the parents), (levels,): every contribution put beside every other."""
    contributions = [maximum.background] + [
        i.table[:, states[i.parent]] for i in maximum.influences
    ]
    found = np.zeros(4)
    for levels in product(range(4), repeat=len(contributions)):
        found[max(levels)] += prod(c[n] for c, n in zip(contributions, levels, strict=True))
    return found


@pytest.mark.parametrize("likelihood", [[0.9, 0.1, 0.1, 0.1], [0.02, 0.3, 0.9, 0.4], [1, 0, 0, 0]])
def test_a_sum_is_the_likelihood_of_the_effect(likelihood: list[float]) -> None:
    made = effect("e", ("a", "b"), 1)
    terms = terms_of(np.array(likelihood), made)
    for a, b in product(range(4), repeat=2):
        states = {"a": a, "b": b}
        total = sum(
            t.weight * prod(t.likelihoods[p][s] for p, s in states.items() if p in t.likelihoods)
            for t in terms
        )
        assert total == pytest.approx(chance_of(made, states) @ likelihood, abs=1e-12)


def test_an_effect_that_repeats_others_hangs_on_what_raises_those() -> None:
    first, second = effect("first", ("a",), 2), effect("second", ("b",), 3)
    same = np.eye(4)
    both = Maximum("any", same[0], (Influence("first", same), Influence("second", same)))
    made = without(both, {"first": first, "second": second})
    assert made.parents == ("a", "b")
    tree = compile_network(plain(network(first, second, both)))
    for a, b in product(range(4), repeat=2):
        asked = Evidence({"a": same[a], "b": same[b]})
        assert chance_of(made, {"a": a, "b": b}) == pytest.approx(
            tree.update(asked)["any"], abs=1e-12
        )


def test_a_parent_that_is_not_repeated_stays() -> None:
    first = effect("first", ("a",), 2)
    assert without(effect("e", ("first",), 4), {"first": first}).parents == ("first",)


READ = {
    "1": Evidence({"e": [0.1, 0.9, 0.5, 0.2]}),
    "2": Evidence({"f": [0.7, 0.2, 0.1, 0.15]}),
    "3": Evidence({"e": [0.3, 0.5, 0.6, 0.9], "a": [0.5, 0.6, 0.7, 0.2]}),
}
EFFECTS = {"e": effect("e", ("a", "b"), 5), "f": effect("f", ("b", "a"), 6)}


def whole(tied: bool) -> tuple[Array, Array, float]:
    tree = compile_network(network(*EFFECTS.values(), tied=tied))
    found = tree.update(
        Evidence({**READ["2"], "a": READ["3"]["a"], "e": READ["1"]["e"] * READ["3"]["e"]})
    )
    return found["a"], found["b"], float(np.asarray(found.log_evidence))


@pytest.mark.parametrize("tied", [False, True])
def test_readings_weighed_as_sums_say_what_the_whole_network_says(tied: bool) -> None:
    tree = compile_network(network(tied=tied))
    known = weighed(READ, EFFECTS, 16)
    assert len(known.weights) == 16 and not known.rough
    found = beliefs_of(tree, known, ("a", "b"))
    a, b, log = whole(tied)
    assert found["a"] == pytest.approx(a, abs=1e-12)
    assert found["b"] == pytest.approx(b, abs=1e-12)
    assert found.log_evidence == pytest.approx(log, abs=1e-12)


def test_what_takes_too_many_terms_is_named_with_all_its_readings() -> None:
    known = weighed(READ, EFFECTS, 4)
    assert len(known.weights) == 4
    assert set(known.rest) == {"f"} and known.rough == ("2",)
    none = weighed(READ, EFFECTS, 1)
    assert none.rough == ("1", "2", "3") and none.evidence.batch is None


def test_one_effect_told_to_its_parents_is_exact_where_they_are_independent() -> None:
    tree = compile_network(network())
    readings = {"1": READ["1"], "3": Evidence({"a": READ["3"]["a"]})}
    rough = with_rest(tree, weighed(readings, EFFECTS, 1), EFFECTS, 2)
    exact = beliefs_of(tree, weighed(readings, EFFECTS, 4), ("a", "b"))
    told = beliefs_of(tree, rough, ("a", "b"))
    for name in ("a", "b"):
        assert told[name] == pytest.approx(exact[name], abs=1e-12)
    assert told.log_evidence == pytest.approx(float(np.asarray(exact.log_evidence)), abs=1e-12)


def test_several_effects_told_to_their_parents_come_near() -> None:
    tree = compile_network(network(tied=True))
    told = beliefs_of(tree, with_rest(tree, weighed(READ, EFFECTS, 1), EFFECTS, 4), ("a", "b"))
    a, b, log = whole(True)
    assert told["a"] == pytest.approx(a, abs=0.03)
    assert told["b"] == pytest.approx(b, abs=0.03)
    assert told.log_evidence == pytest.approx(log, abs=0.1)


def test_a_sum_that_is_nothing_is_impossible() -> None:
    same = np.eye(4)
    repeats = {"e": Maximum("e", same[0], (Influence("a", same),))}
    tree = compile_network(network())
    readings = {"1": Evidence({"e": same[3]}), "2": Evidence({"a": same[0]})}
    for most in (16, 1):
        with pytest.raises(ImpossibleEvidence):
            known = with_rest(tree, weighed(readings, repeats, most), repeats, 2)
            beliefs_of(tree, known, ("a",))


def test_a_term_that_is_impossible_is_left_out_of_the_sum() -> None:
    same = np.eye(4)
    repeats = {"e": Maximum("e", same[0], (Influence("a", same),))}
    tree = compile_network(network())
    readings = {"1": Evidence({"e": [0.1, 0.2, 0.3, 0.9]}), "2": Evidence({"a": same[3]})}
    found = beliefs_of(tree, weighed(readings, repeats, 4), ("a", "b"))
    assert found["a"] == pytest.approx(same[3])
    alone = tree.update(Evidence({"a": same[3]}))
    assert found.log_evidence == pytest.approx(float(np.asarray(alone.log_evidence)) + np.log(0.9))


def test_without_effects_nothing_is_summed() -> None:
    known = weighed({"1": Evidence({"a": [1, 0.5, 0.5, 0.1]})}, {}, 8)
    assert isinstance(known, Weighed) and known.evidence.batch is None
    assert known.weights == pytest.approx([1.0])


def test_an_effect_that_nothing_brings_about_says_nothing_but_its_own_chance() -> None:
    alone = {"e": Maximum("e", np.array([0.8, 0.2, 0.0, 0.0]), ())}
    tree = compile_network(network())
    read = {"1": Evidence({"e": [0.1, 0.9, 0.5, 0.2]}), "2": Evidence({"a": [1, 0.5, 0.5, 0.1]})}
    plain = tree.update(read["2"])
    for most in (16, 1):
        known = with_rest(tree, weighed(read, alone, most), alone, 2)
        found = beliefs_of(tree, known, ("a", "b"))
        assert not known.rough
        assert found["a"] == pytest.approx(plain["a"], abs=1e-12)
        log = float(np.asarray(plain.log_evidence)) + np.log(0.8 * 0.1 + 0.2 * 0.9)
        assert found.log_evidence == pytest.approx(log, abs=1e-12)
