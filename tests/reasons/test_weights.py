"""Weights of readings against the sum over all states, and the sentences made of them."""

from __future__ import annotations

from math import log, log10, prod

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.advice.solving import Solved, solve
from leakdx.belief.evidence import Evidence, EvidenceError, ImpossibleEvidence, combine, hard
from leakdx.belief.tree import compile_network
from leakdx.case.read import LoadedJob, load_shipped_job
from leakdx.network.tables import Array, Network, Table, Variable
from leakdx.priors.read import shipped_priors
from leakdx.reasons.weights import (
    Claim,
    Weights,
    chance_of,
    holding,
    in_words,
    job_claims,
    job_weights,
    job_words,
    listed,
    sentence_of,
    side_by_side,
    spoken,
    weights_of,
)
from tests.belief.enumeration import full_joint, random_network


def case(
    seed: int, count: int, asked: int
) -> tuple[Network, dict[str, Evidence], dict[str, Claim]]:
    """A small network, readings of one or two variables each, and some claims.

    No likelihood and no table entry is zero, so nothing is sure.
    """
    rng = np.random.default_rng(seed)
    network = random_network(rng, count, zeros=0.0)
    readings: dict[str, Evidence] = {}
    for k in range(asked):
        names = [str(n) for n in rng.permutation(network.names)[: int(rng.integers(0, 3))]]
        likelihoods = {n: rng.random(network[n].size) + 0.02 for n in names}
        readings[f"r{k}"] = Evidence(likelihoods, float(rng.normal()))
    claims: dict[str, Claim] = {}
    for k in range(int(rng.integers(1, 4))):
        name = str(rng.choice(network.names))
        size = network[name].size
        states = rng.permutation(size)[: int(rng.integers(1, size))]
        claims[f"c{k}"] = (name, tuple(int(s) for s in states))
    return network, readings, claims


def summed(network: Network, parts: list[Evidence], claim: Claim) -> tuple[float, float]:
    """P(parts, claim) and P(parts, not claim), each state of the whole network by itself."""
    joint = full_joint(network)
    for part in parts:
        joint = joint * np.exp(part.log_scale)
        for name, likelihood in part.items():
            joint = joint * likelihood.reshape([-1 if n == name else 1 for n in network.names])
    axis = network.names.index(claim[0])
    by_state = joint.sum(axis=tuple(i for i in range(joint.ndim) if i != axis))
    yes = sum(float(by_state[s]) for s in claim[1])
    return yes, sum(float(p) for s, p in enumerate(by_state) if s not in claim[1])


def odds_db(network: Network, parts: list[Evidence], claim: Claim) -> float:
    """Ten times the logarithm of the odds; nothing where the network makes the claim sure."""
    yes, no = summed(network, parts, claim)
    if min(yes, no) <= 0:
        return 120.0 if yes > 0 else -120.0
    return 10 * log10(yes / no)


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 6), st.integers(0, 5))
def test_three_ways_and_probabilities_by_enumeration(seed: int, count: int, asked: int) -> None:
    network, readings, claims = case(seed, count, asked)
    w = weights_of(compile_network(network), readings, claims)
    parts = list(readings.values())
    assert (w.readings, w.claims) == (tuple(readings), tuple(claims))
    shapes = {a.shape for a in (w.in_order, w.alone, w.left_out)}
    assert shapes == {(asked, len(claims))}
    for s, claim in enumerate(claims.values()):
        none, every = odds_db(network, [], claim), odds_db(network, parts, claim)
        assert w.before[s] == pytest.approx(none, abs=1e-8)
        assert w.after[s] == pytest.approx(every, abs=1e-8)
        for k in range(asked):
            rest = parts[:k] + parts[k + 1 :]
            joins = odds_db(network, parts[: k + 1], claim) - odds_db(network, parts[:k], claim)
            assert w.in_order[k, s] == pytest.approx(joins, abs=1e-8)
            single = odds_db(network, [parts[k]], claim)
            assert w.alone[k, s] == pytest.approx(single - none, abs=1e-8)
            without = odds_db(network, rest, claim)
            assert w.left_out[k, s] == pytest.approx(every - without, abs=1e-8)
    claim = next(iter(claims.values()))
    assert w.log_all == pytest.approx(log(sum(summed(network, parts, claim))), abs=1e-9)
    for k in range(asked):
        rest = parts[:k] + parts[k + 1 :]
        assert w.log_alone[k] == pytest.approx(log(sum(summed(network, [parts[k]], claim))))
        assert w.log_rest[k] == pytest.approx(log(sum(summed(network, rest, claim))))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 6), st.integers(1, 6))
def test_in_order_adds_up_and_its_ends_are_the_other_two_ways(
    seed: int, count: int, asked: int
) -> None:
    network, readings, claims = case(seed, count, asked)
    w = weights_of(compile_network(network), readings, claims)
    np.testing.assert_allclose(w.in_order.sum(axis=0), w.after - w.before, atol=1e-9)
    # The first joins nothing; the last joins all the others.
    np.testing.assert_array_equal(w.in_order[0], w.alone[0])
    np.testing.assert_array_equal(w.in_order[-1], w.left_out[-1])
    if (np.abs([w.before, w.after]) < 120).all():
        assert w.adds_up


def naive(rng: np.random.Generator, count: int) -> tuple[Network, dict[str, Evidence]]:
    """One hypothesis of two states and findings that hang on nothing else, each seen."""
    tables = [Table("h", (), np.array([0.7, 0.3]))]
    readings: dict[str, Evidence] = {}
    for k in range(count):
        yes = rng.uniform(0.05, 0.95, 2)
        tables.append(Table(f"f{k}", ("h",), np.array([1 - yes, yes])))
        likelihood = rng.uniform(0.05, 1.0, 2)
        readings[f"f{k}"] = Evidence({f"f{k}": likelihood})
    return Network(tuple(Variable(t.child, ("no", "yes")) for t in tables), tuple(tables)), readings


@pytest.mark.parametrize("seed", range(20))
def test_independent_readings_add_up_in_all_three_ways(seed: int) -> None:
    """Given the claim and given its opposite: log odds of independent readings add up."""
    rng = np.random.default_rng(seed)
    network, readings = naive(rng, 6)
    w = weights_of(compile_network(network), readings, {"h": ("h", (1,))})
    assert w.alone.sum() == pytest.approx(float(w.after[0] - w.before[0]), abs=1e-9)
    np.testing.assert_allclose(w.alone, w.left_out, atol=1e-9)
    np.testing.assert_allclose(w.alone, w.in_order, atol=1e-9)
    for k, (name, seen) in enumerate(readings.items()):
        table = next(t for t in network.tables if t.child == name).values
        fits = seen[name] @ table
        assert w.alone[k, 0] == pytest.approx(10 * log10(fits[1] / fits[0]), abs=1e-9)


def relay() -> Network:
    """A fault, the flow it makes, and two looks at that same flow, both without error."""
    sure = np.eye(2)
    flow = np.array([[0.9, 0.2], [0.1, 0.8]])
    tables = (
        Table("fault", (), np.array([0.9, 0.1])),
        Table("flow", ("fault",), flow),
        Table("above", ("flow",), sure),
        Table("below", ("flow",), sure),
    )
    return Network(tuple(Variable(t.child, ("no", "yes")) for t in tables), tables)


def test_what_two_readings_both_say_is_not_counted_twice() -> None:
    network = relay()
    readings = {n: hard(network, {n: "yes"}) for n in ("above", "below")}
    w = weights_of(compile_network(network), readings, {"fault": ("fault", (1,))})
    weight = 10 * log10(0.8 / 0.1)
    # Once in the whole, and in the order taken the second adds nothing.
    assert w.after[0] - w.before[0] == pytest.approx(weight)
    np.testing.assert_allclose(w.in_order[:, 0], [weight, 0], atol=1e-12)
    # Alone counts it in each, left out in none.
    np.testing.assert_allclose(w.alone[:, 0], [weight, weight])
    np.testing.assert_allclose(w.left_out[:, 0], [0, 0], atol=1e-12)


def test_a_sure_claim_stops_at_120_and_is_not_said_to_add_up() -> None:
    network = relay()
    tree = compile_network(network)
    claims = {"flow": ("flow", (1,)), "fault": ("fault", (1,))}
    w = weights_of(tree, {"a": hard(network, {"above": "yes"})}, claims)
    assert w.after[0] == 120
    assert np.isfinite(w.in_order).all()
    assert not w.adds_up
    assert weights_of(tree, {"a": hard(network, {"above": "yes"})}, {"f": ("fault", (1,))}).adds_up
    ruled_out = weights_of(tree, {"a": hard(network, {"above": "no"})}, claims)
    assert ruled_out.after[0] == -120


def test_parts_that_do_not_sum_are_not_said_to_add_up() -> None:
    one = np.array([1.0])
    sums = {"in_order": np.array([[0.5], [0.6]]), "before": one, "after": one + 1.1}
    rest = {n: np.zeros((2, 1)) for n in ("alone", "left_out")}
    logs = {"log_alone": np.zeros(2), "log_rest": np.zeros(2), "log_all": 0.0}
    sound = Weights(("a", "b"), ("c",), **sums, **rest, **logs)  # type: ignore[arg-type]
    assert sound.adds_up
    sums["after"] = one + 1.1 + 3e-6
    assert not Weights(("a", "b"), ("c",), **sums, **rest, **logs).adds_up  # type: ignore[arg-type]


def test_small_and_great_chances_keep_their_digits() -> None:
    """Odds of 1e-11 and of 1e11: 110 dB either way, although 1 - 1e-11 has lost five digits."""
    chance = 1e-11
    tables = (Table("a", (), np.array([1 - chance, chance])),)
    network = Network((Variable("a", ("no", "yes")),), tables)
    claims: dict[str, Claim] = {"yes": ("a", (1,)), "no": ("a", (0,))}
    w = weights_of(compile_network(network), {}, claims)
    np.testing.assert_allclose(w.before, [-110, 110], atol=1e-8)
    assert w.in_order.shape == w.alone.shape == w.left_out.shape == (0, 2)
    np.testing.assert_array_equal(w.before, w.after)
    assert w.log_all == pytest.approx(0)


def test_many_small_likelihoods_do_not_vanish() -> None:
    tables = (Table("a", (), np.array([0.5, 0.5])),)
    tree = compile_network(Network((Variable("a", ("no", "yes")),), tables))
    readings = {str(k): Evidence({"a": np.array([1e-200, 2e-200])}) for k in range(8)}
    w = weights_of(tree, readings, {"a": ("a", (1,))})
    np.testing.assert_allclose(w.in_order[:, 0], 10 * log10(2), atol=1e-9)
    assert w.log_all == pytest.approx(8 * log(1e-200) + log((1 + 2**8) / 2))


def test_wrong_questions_are_refused() -> None:
    network = relay()
    tree = compile_network(network)
    both = {k: hard(network, {"above": k}) for k in ("yes", "no")}
    with pytest.raises(ImpossibleEvidence):
        weights_of(tree, both, {"f": ("fault", (1,))})
    with pytest.raises(EvidenceError, match=r"fault has no states \[2\]"):
        weights_of(tree, {}, {"f": ("fault", (1, 2))})
    with pytest.raises(EvidenceError, match="no variable q"):
        weights_of(tree, {}, {"f": ("q", (1,))})
    with pytest.raises(EvidenceError, match="batch"):
        weights_of(tree, {"a": Evidence({"above": np.ones((2, 3))})}, {"f": ("fault", (1,))})
    with pytest.raises(EvidenceError, match="above differ"):
        parts = [Evidence({"above": np.ones(n)}) for n in (2, 3)]
        side_by_side(parts, holding([0, 3], 2))
    small = Evidence({"above": np.array([1e-200, 1.0])})
    with pytest.raises(EvidenceError, match="range"):
        side_by_side([small, small], holding([1, 3], 2))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 5), st.integers(1, 6))
def test_columns_are_what_combine_gives(seed: int, count: int, asked: int) -> None:
    network, readings, _ = case(seed, count, asked)
    parts = list(readings.values())
    sets = [int(m) for m in np.random.default_rng(seed).integers(0, 2**asked, 7)]
    together = side_by_side(parts, holding(sets, asked))
    for column, m in enumerate(sets):
        one = combine([p for k, p in enumerate(parts) if m >> k & 1])
        scale = np.asarray(together.log_scale)[column]
        for name, table in together.items():
            # The scale of a single likelihood is taken out as well; the product is the same.
            expected = one.get(name, np.ones(network[name].size))
            ratio = table[:, column] / expected
            np.testing.assert_allclose(ratio, ratio[0])
            scale += log(ratio[0])
        assert scale == pytest.approx(float(np.asarray(one.log_scale)), abs=1e-9)


@pytest.fixture(scope="module")
def loaded() -> LoadedJob:
    return load_shipped_job("right_side_two_fluids")


@pytest.fixture(scope="module")
def solved(loaded: LoadedJob) -> Solved:
    return solve(loaded, shipped_priors())


def leaking(solved: Solved, readings: list[Evidence], seal: str) -> float:
    """Chance of a leak, asked for by itself in the plainest way."""
    beliefs = solved.tree.update(combine(readings) if readings else Evidence({}))
    return float(beliefs[job_claims(solved)[seal][0]][1:].sum())


def in_db(chance: float) -> float:
    return 10 * log10(chance / (1 - chance))


def test_a_job_one_question_at_a_time(loaded: LoadedJob, solved: Solved) -> None:
    w = job_weights(solved)
    parts = list(solved.asked.readings.values())
    assert w.claims == tuple(s.id for s in loaded.machine.seal_points)
    assert w.adds_up
    assert w.log_all == pytest.approx(float(np.asarray(solved.beliefs.log_evidence)))
    for seal in ("heat_exchanger_coolant_o_ring", "filter_cap_o_ring", "crank_seal_rear"):
        s = w.claims.index(seal)
        every = in_db(leaking(solved, parts, seal))
        assert w.before[s] == pytest.approx(in_db(leaking(solved, [], seal)))
        assert w.after[s] == pytest.approx(every)
        for k in (0, 4, 7, len(parts) - 1):
            without = in_db(leaking(solved, parts[:k] + parts[k + 1 :], seal))
            assert w.left_out[k, s] == pytest.approx(every - without, abs=1e-7)
            single = in_db(leaking(solved, [parts[k]], seal))
            assert w.alone[k, s] == pytest.approx(single - w.before[s], abs=1e-7)


def test_a_renewed_seal_point_is_asked_for_as_it_is_now() -> None:
    solved = solve(load_shipped_job("front_drip_after_refit"), shipped_priors())
    claims = job_claims(solved)
    assert claims["crank_seal_front"] == ("seal__crank_seal_front__1", (1, 2, 3))
    assert claims["crank_seal_rear"] == ("seal__crank_seal_rear", (1, 2, 3))


def test_words_for_the_readings_of_a_job(solved: Solved) -> None:
    words = job_words(solved)
    assert list(words) == list(solved.asked.readings)
    assert list(words.values())[:8] == [
        "the level of coolant falling",
        "the level of engine oil falling",
        "the engine oil not being emulsified",
        "the coolant not being emulsified",
        "the runs on the oil heat exchanger (outer face)",
        "the film on the oil filter housing (outer face)",
        "the dry oil filter housing (top face and filter cap)",
        "the runs on the block (right side, lower, front third)",
    ]
    assert words["15: water_pump_seal tight"] == (
        "the tight water pump shaft seal (seen at the weep hole)"
    )


def test_words_for_what_was_said_and_for_ages() -> None:
    words = job_words(solve(load_shipped_job("rear_of_engine_wet"), shipped_priors()))
    assert words["context 1: ventilation_clear"] == 'what was said, "ventilation clear"'
    assert words["5: head_rear running, aged"] == "the aged runs on the head (rear face)"
    assert words["7: bell_top wet"] == "the wet bell housing (top)"
    assert words["2: burnt_smell yes"] == "a burnt smell being there"


def made_up(left_out: Array) -> Weights:
    """Weights of which only ``left_out`` matters."""
    r, s = left_out.shape
    none, logs = np.zeros((r, s)), np.zeros(r)
    names = tuple(f"r{k}" for k in range(r))
    claims = tuple(f"c{k}" for k in range(s))
    ends = np.zeros(s)
    return Weights(names, claims, ends, ends, none, none, left_out, logs, logs, 0.0)


def test_a_sentence_tells_what_counts_most_on_each_side() -> None:
    w = made_up(np.array([[0.4], [2.2], [-9.1], [6.4], [1.0], [0.7], [-0.49]]))
    words = {"r3": "the wet top", "r1": "the dry cover", "r2": "the dry head"}
    assert sentence_of(w, "c0", "Crankshaft seal, rear", words) == (
        "For the crankshaft seal (rear): 6 dB for it from the wet top, 2 dB from the dry cover "
        "and 1.0 dB from r4; 9 dB against it from the dry head."
    )


def test_a_sentence_where_nothing_speaks_clearly() -> None:
    nothing = "For the plug: no reading speaks clearly."
    assert sentence_of(made_up(np.array([[0.4, 9], [-0.4, 9]])), "c0", "plug", {}) == nothing
    assert sentence_of(made_up(np.zeros((0, 1))), "c0", "plug", {}) == nothing
    assert sentence_of(made_up(np.array([[-0.5]])), "c0", "plug", {}) == (
        "For the plug: 0.5 dB against it from r0."
    )


@pytest.mark.parametrize(
    ("decibans", "words"),
    [
        (10.0, "about 10 times likelier"),
        (-10.0, "about 10 times less likely"),
        (6.0206, "about 4 times likelier"),
        (0.0, "about as likely as before"),
        (-0.2, "about as likely as before"),
        (21.3, "about 130 times likelier"),
        (45.0, "more than 1000 times likelier"),
    ],
)
def test_decibans_in_words(decibans: float, words: str) -> None:
    assert in_words(decibans) == words


def test_small_things() -> None:
    assert [listed(p) for p in (["a"], ["a", "b"], ["a", "b", "c"])] == [
        "a",
        "a and b",
        "a, b and c",
    ]
    assert spoken("PTO shaft, rear, seal") == "the PTO shaft (rear, seal)"
    np.testing.assert_allclose(chance_of(np.array([0.0, 10.0, -10.0])), [1 / 2, 10 / 11, 1 / 11])
    assert prod(holding([0, 1, 3], 2).shape) == 6
