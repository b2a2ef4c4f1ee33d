"""What wrong readings would do, against the sum over all states and all changes of readings."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.advice.solving import Solved, solve
from leakdx.belief.evidence import Evidence, combine
from leakdx.belief.tree import JunctionTree, compile_network
from leakdx.case.evidence import Asked, asked_of
from leakdx.case.read import load_shipped_job
from leakdx.flow.courses import DETAILS
from leakdx.network.setting import flow_name
from leakdx.network.tables import Array, Network, Table, Variable
from leakdx.priors.read import shipped_priors
from leakdx.reasons.against import (
    Against,
    Change,
    against,
    change_of,
    change_sentence,
    doubt_sentence,
    doubts_of,
    job_wrongs,
    leader_of,
    smallest_change,
    wrongs_of,
)
from leakdx.reasons.weights import Claim, Weights, job_claims, job_weights, weights_of
from tests.belief.enumeration import full_joint, random_network

Readings = dict[str, Evidence]
Wrongs = dict[str, Evidence | None]


def case(seed: int, count: int, asked: int) -> tuple[Network, Readings, Wrongs, dict[str, Claim]]:
    """A small network; readings that can be not so, be another, or not be wrong at all."""
    rng = np.random.default_rng(seed)
    network = random_network(rng, count, zeros=0.0)
    readings: Readings = {}
    wrongs: Wrongs = {}
    for k in range(asked):
        names = [str(n) for n in rng.permutation(network.names)[: int(rng.integers(1, 3))]]
        likelihoods = {n: rng.uniform(0.02, 0.98, network[n].size) for n in names}
        readings[f"r{k}"] = Evidence(likelihoods)
        mode = int(rng.integers(3))
        if mode == 0:
            wrongs[f"r{k}"] = None
        elif mode == 1:
            other = str(rng.choice(network.names))
            wrongs[f"r{k}"] = Evidence({other: rng.uniform(0.02, 0.98, network[other].size)})
    claims: dict[str, Claim] = {n: (n, (1,)) for n in network.names}
    return network, readings, wrongs, claims


def factor(network: Network, part: Evidence) -> Array:
    """P(part | all variables), one axis for each variable."""
    result = np.ones([1] * len(network.names))
    for name, likelihood in part.items():
        result = result * likelihood.reshape([-1 if n == name else 1 for n in network.names])
    return result


def summed(
    network: Network,
    readings: Readings,
    wrongs: Wrongs,
    claims: Mapping[str, Claim],
    changes: Mapping[str, str],
) -> tuple[float, Array]:
    """P(readings as changed) and the claims' chances then, by going through all states.

    changes: label -> "left out" or "wrong"; not so is one less the likelihood in every state.
    """
    joint = full_joint(network)
    for label, part in readings.items():
        how = changes.get(label)
        if how is None:
            joint = joint * factor(network, part)
        elif how == "wrong":
            other = wrongs[label]
            joint = joint * (1 - factor(network, part) if other is None else factor(network, other))
    total = float(joint.sum())
    axes = [network.names.index(v) for v, _ in claims.values()]
    chances = [
        sum(float(joint.take(s, axis=a).sum()) for s in states) / total
        for a, (_, states) in zip(axes, claims.values(), strict=True)
    ]
    return total, np.array(chances)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 6), st.integers(0, 5))
def test_every_doubt_by_enumeration(seed: int, count: int, asked: int) -> None:
    network, readings, wrongs, claims = case(seed, count, asked)
    tree = compile_network(network)
    w = weights_of(tree, readings, claims)
    found = doubts_of(tree, readings, wrongs, claims, w)
    _, now = summed(network, readings, wrongs, claims, {})
    assert found.chance == pytest.approx(now.max(), abs=1e-9)
    assert found.chance == pytest.approx(now[w.claims.index(found.leader)], abs=1e-9)
    assert [d.reading for d in found.doubts] == [r for r in readings if r in wrongs]
    assert list(found.firm) == [r for r in readings if r not in wrongs]
    leader = w.claims.index(found.leader)
    shifts = []
    for d in found.doubts:
        total, chances = summed(network, readings, wrongs, claims, {d.reading: "wrong"})
        assert d.log_chance == pytest.approx(np.log(total), abs=1e-8)
        np.testing.assert_allclose(d.chances, chances, atol=1e-8)
        assert chances[w.claims.index(d.leader)] == pytest.approx(chances.max(), abs=1e-8)
        shifts.append(abs(chances[leader] - now[leader]))
    if found.most is None:
        assert not shifts
    else:
        shift = abs(found.most.chances[leader] - now[leader])
        assert shift == pytest.approx(max(shifts), abs=1e-8)


def all_changes(labels: list[str], wrongs: Wrongs, size: int, wrong: int) -> list[dict[str, str]]:
    """Every change of so many readings, of which so many are wrong and the rest left out."""
    found = []
    for chosen in combinations(labels, size):
        for ways in product(("left out", "wrong"), repeat=size):
            change = dict(zip(chosen, ways, strict=True))
            turned = [r for r, way in change.items() if way == "wrong"]
            if len(turned) == wrong and all(r in wrongs for r in turned):
                found.append(change)
    return found


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 6), st.integers(0, 5))
def test_smallest_change_by_going_through_all(seed: int, count: int, asked: int) -> None:
    network, readings, wrongs, claims = case(seed, count, asked)
    tree = compile_network(network)
    w = weights_of(tree, readings, claims)
    found = change_of(tree, readings, wrongs, claims, w)
    names = list(claims)
    _, now = summed(network, readings, wrongs, claims, {})
    leader = int(now.argmax())
    for size, wrong in ((1, 0), (1, 1), (2, 0), (2, 1), (2, 2)):
        ahead = {}
        for change in all_changes(list(readings), wrongs, size, wrong):
            _, chances = summed(network, readings, wrongs, claims, change)
            ahead[tuple(change.items())] = float(chances.max() - chances[leader])
        best = max(ahead.values(), default=0.0)
        if best > 1e-7:
            assert found is not None
            assert (len(found.left_out), len(found.wrong)) == (size - wrong, wrong)
            told = dict.fromkeys(found.left_out, "left out") | dict.fromkeys(found.wrong, "wrong")
            assert ahead[tuple((r, told[r]) for r in readings if r in told)] == pytest.approx(
                best, abs=1e-8
            )
            _, chances = summed(network, readings, wrongs, claims, told)
            np.testing.assert_allclose(found.chances, chances, atol=1e-8)
            assert chances[names.index(found.leader)] == pytest.approx(chances.max(), abs=1e-8)
            return
    if found is not None:
        # Nothing but rounding between the first and the second.
        there = found.chances
        assert there.max() - there[leader] < 1e-6


def votes(*weights: float) -> tuple[JunctionTree, Readings, Wrongs, dict[str, Claim]]:
    """Two claims that are each other's opposite, and independent readings for the first.

    Each reading is so many times as likely where the first holds.
    """
    tables = (Table("a", (), np.array([0.5, 0.5])),)
    tree = compile_network(Network((Variable("a", ("no", "yes")),), tables))
    readings = {
        f"r{k}": Evidence({"a": np.array([1.0, w]) / (1 + w)}) for k, w in enumerate(weights)
    }
    claims: dict[str, Claim] = {"first": ("a", (1,)), "second": ("a", (0,))}
    return tree, readings, dict.fromkeys(readings), claims


def change(*weights: float) -> tuple[Change | None, Weights]:
    tree, readings, wrongs, claims = votes(*weights)
    w = weights_of(tree, readings, claims)
    return change_of(tree, readings, wrongs, claims, w), w


@pytest.mark.parametrize(
    ("weights", "left_out", "wrong", "odds"),
    [
        # Without the first the others speak for the second: 1/2 to 1.
        ((4.0, 0.5), ("r0",), (), 1 / 2),
        # It must be wrong, which is worth a quarter, so that 1/4 times 2 is left.
        ((4.0, 2.0), (), ("r0",), 1 / 2),
        # One left out and one wrong: 1/3 times 2.
        ((3.0, 3.0, 2.0), ("r1",), ("r0",), 2 / 3),
        # Two wrong: 1/9 times 4.
        ((3.0, 3.0, 2.0, 2.0), (), ("r0", "r1"), 4 / 9),
    ],
)
def test_milder_changes_come_first(
    weights: tuple[float, ...], left_out: tuple[str, ...], wrong: tuple[str, ...], odds: float
) -> None:
    found, w = change(*weights)
    assert found is not None
    if left_out and wrong:
        # Which of the two equal ones is which is of no matter.
        assert {*found.left_out, *found.wrong} == {"r0", "r1"}
        assert (len(found.left_out), len(found.wrong)) == (1, 1)
    else:
        assert (found.left_out, found.wrong) == (left_out, wrong)
    assert found.leader == "second"
    first = w.claims.index("first")
    assert found.chances[first] / (1 - found.chances[first]) == pytest.approx(odds)


def test_what_cannot_be_wrong_can_be_left_out() -> None:
    tree, readings, _, claims = votes(3.0, 3.0, 1 / 1.5)
    w = weights_of(tree, readings, claims)
    found = change_of(tree, readings, {}, claims, w)
    assert found is not None
    assert (found.left_out, found.wrong) == (("r0", "r1"), ())
    assert found.chances[w.claims.index("second")] == pytest.approx(0.6)


def test_at_least_three_readings() -> None:
    found, w = change(*[2.0] * 6)
    assert found is None
    assert change_sentence(found, w, {"first": "First joint"}) == (
        "At least three readings would have to be wrong before another than the first joint "
        "comes out on top."
    )
    none, few = change(*[1.0] * 2)
    assert none is None
    assert change_sentence(none, few, {}) == (
        "However they are turned, the readings leave the first on top."
    )


def test_a_tie_does_not_put_another_on_top() -> None:
    # Left out, the only reading leaves the two even: it has to be wrong.
    found, _ = change(2.0)
    assert found is not None
    assert (found.left_out, found.wrong) == ((), ("r0",))


def two_looks(sure: bool) -> tuple[JunctionTree, Readings, dict[str, Claim]]:
    """A wet place seen twice, once without error."""
    tables = (Table("a", (), np.array([0.5, 0.5])),)
    tree = compile_network(Network((Variable("a", ("no", "yes")),), tables))
    seen = np.array([0.0 if sure else 0.1, 1.0])
    readings = {"seen": Evidence({"a": seen}), "again": Evidence({"a": np.array([0.2, 0.9])})}
    return tree, readings, {"a": ("a", (1,)), "other": ("a", (0,))}


def test_a_reading_that_the_others_prove_cannot_be_wrong() -> None:
    tree, readings, claims = two_looks(True)
    w = weights_of(tree, readings, claims)
    dry = Evidence({"a": np.array([1.0, 0.0])})
    # "again" as dry without error contradicts "seen"; "seen" as not so is only possible where
    # it is not wet, which "again" allows.
    found = doubts_of(tree, readings, {"seen": None, "again": dry}, claims, w)
    assert [d.reading for d in found.doubts] == ["seen"]
    assert found.firm == ("again",)
    np.testing.assert_allclose(found.doubts[0].chances, [0, 1], atol=1e-9)
    sure = Evidence({"a": np.array([1.0, 1.0])})
    proven = {"seen": readings["seen"], "always": sure}
    w = weights_of(tree, proven, claims)
    found = doubts_of(tree, proven, dict.fromkeys(proven), claims, w)
    assert found.firm == ("always",)
    assert change_of(tree, proven, {"always": None}, claims, w) is None


def test_nothing_to_doubt() -> None:
    tree, _, claims = two_looks(False)
    w = weights_of(tree, {}, claims)
    found = doubts_of(tree, {}, {}, claims, w)
    assert (found.leader, found.chance, found.doubts, found.firm) == ("a", 0.5, (), ())
    assert found.most is None
    assert change_of(tree, {}, {}, claims, w) is None
    assert doubt_sentence(found, w, {}) == "No reading can be wrong by itself."


def test_weights_of_something_else_are_refused() -> None:
    tree, readings, claims = two_looks(False)
    w = weights_of(tree, readings, claims)
    with pytest.raises(ValueError, match="other readings"):
        doubts_of(tree, {"seen": readings["seen"]}, {}, claims, w)
    with pytest.raises(ValueError, match="other readings"):
        change_of(tree, readings, {}, {"a": ("a", (1,))}, w)


def test_of_equal_claims_the_first_by_id_leads() -> None:
    assert leader_of(("b", "a", "c"), np.array([0.4, 0.4, 0.1])) == 1


@pytest.fixture(scope="module")
def solved() -> Solved:
    return solve(load_shipped_job("right_side_two_fluids"), shipped_priors())


@pytest.fixture(scope="module")
def found(solved: Solved) -> Against:
    return against(solved, job_weights(solved))


def test_what_a_wrong_reading_of_a_job_is(solved: Solved) -> None:
    wrongs = job_wrongs(solved)
    asked: Asked = solved.asked
    not_so = {label for label, other in wrongs.items() if other is None}
    assert not_so == {
        label for label in asked.readings if label.split()[-1] in ("dry", "tight", "yes", "no")
    }
    # A fluid that was named stays named, also where the zone is read dry instead.
    named = wrongs["5: heat_exchanger running"]
    assert named is not None
    assert list(named) == ["flow__coolant__heat_exchanger__e0"]
    values = named["flow__coolant__heat_exchanger__e0"]
    assert (np.diff(values) < 0).all()
    # One that was not named is dry of all fluids there.
    for zone in ("block_right_lower_mid film", "undertray_front wet"):
        label = next(r for r in wrongs if r.endswith(zone))
        any_fluid, place = wrongs[label], zone.split()[0]
        assert any_fluid is not None
        fluids = asked.network.flows(place, 0)
        assert list(any_fluid) == [flow_name(f, place, 0) for f in fluids]
        assert fluids


def test_ages_and_contexts_of_a_job() -> None:
    solved = solve(load_shipped_job("rear_of_engine_wet"), shipped_priors())
    wrongs = job_wrongs(solved)
    assert set(solved.asked.readings) - set(wrongs) == {"context 1: ventilation_clear"}
    dry = wrongs["5: head_rear running, aged"]
    assert dry is not None
    # The same look as called dry: what is left of it is called running or so.
    (values,) = dry.values()
    (seen,) = solved.asked.readings["5: head_rear running, aged"].values()
    assert values[0] > 0.5 > values[1:].max()
    assert (values + seen < 1).all()


def test_counted_drops_are_not_counted_where_it_is_dry_instead() -> None:
    loaded = load_shipped_job("front_drip_after_refit")
    event = next(e for e in loaded.job.timeline if getattr(e, "zone", "") == "sump_front")
    priors = shipped_priors()

    def other_of(counted: float | None) -> Evidence | None:
        now = event.model_copy(update={"drops_per_minute": counted})
        timeline = tuple(now if e is event else e for e in loaded.job.timeline)
        job = loaded.job.model_copy(update={"timeline": timeline})
        asked = asked_of(loaded.machine, job, priors, len(DETAILS) - 1)
        return wrongs_of(asked, priors)["12: sump_front dripping, fresh"]

    with_count, without = other_of(20.0), other_of(None)
    assert with_count is not None
    assert without is not None
    assert list(with_count) == list(without)
    for name, likelihood in with_count.items():
        np.testing.assert_array_equal(likelihood, without[name])


def asked_plainly(solved: Solved, changes: Mapping[str, Evidence]) -> Array:
    """Chances of all claims with some readings changed, by one plain update."""
    parts = [changes.get(label, e) for label, e in solved.asked.readings.items()]
    beliefs = solved.tree.update(combine(parts))
    return np.array([float(beliefs[v][1:].sum()) for v, _ in job_claims(solved).values()])


def test_doubts_of_a_job_one_at_a_time(solved: Solved, found: Against) -> None:
    doubts = {d.reading: d for d in found.doubts}
    assert list(doubts) == list(solved.asked.readings)
    wrongs = job_wrongs(solved)
    for label in ("5: heat_exchanger running", "13: undertray_front wet"):
        other = wrongs[label]
        assert other is not None
        np.testing.assert_allclose(
            doubts[label].chances, asked_plainly(solved, {label: other}), atol=1e-9
        )
    # Not so, where a single variable was read: one less its likelihood.
    for label in ("2: level_falls yes", "7: filter_housing_top dry", "16: thermostat_gasket tight"):
        flipped = {n: 1 - a for n, a in solved.asked.readings[label].items()}
        assert len(flipped) == 1
        np.testing.assert_allclose(
            doubts[label].chances, asked_plainly(solved, {label: Evidence(flipped)}), atol=1e-9
        )


def test_dry_of_two_fluids_is_not_so_where_either_is_there(solved: Solved, found: Against) -> None:
    """Wet of oil or of coolant or of both: three plain updates, each weighed by its chance."""
    label = "10: block_right_upper_front dry"
    (one, first), (two, second) = solved.asked.readings[label].items()
    chances, weights = [], []
    for a, b in ((1 - first, second), (first, 1 - second), (1 - first, 1 - second)):
        evidence = Evidence({one: a, two: b})
        parts = [evidence if name == label else e for name, e in solved.asked.readings.items()]
        weights.append(np.exp(float(solved.tree.log_evidence(combine(parts)))))
        chances.append(asked_plainly(solved, {label: evidence}))
    doubt = next(d for d in found.doubts if d.reading == label)
    expected = np.average(chances, axis=0, weights=weights)
    np.testing.assert_allclose(doubt.chances, expected, atol=1e-9)
    assert doubt.log_chance == pytest.approx(np.log(sum(weights)), abs=1e-8)


def test_smallest_change_of_a_job_is_no_larger_than_what_one_sees(
    solved: Solved, found: Against
) -> None:
    w = job_weights(solved)
    leads = {d.reading for d in found.doubts if d.leader != found.leader}
    change = smallest_change(solved, w)
    assert change is not None
    assert len(change.left_out) + len(change.wrong) == 1
    assert leads
    silent = dict.fromkeys(change.left_out, Evidence({}))
    assert silent
    np.testing.assert_allclose(change.chances, asked_plainly(solved, silent), atol=1e-9)


def test_progress_is_told_while_columns_are_asked() -> None:
    solved = solve(load_shipped_job("rear_of_engine_wet"), shipped_priors())
    steps: list[None] = []
    assert smallest_change(solved, job_weights(solved), lambda: steps.append(None)) is not None
    assert steps

    class Stopped(Exception):
        pass

    def stop() -> None:
        raise Stopped

    with pytest.raises(Stopped):
        smallest_change(solved, job_weights(solved), stop)


def test_sentences() -> None:
    tree, readings, wrongs, claims = votes(4.0, 2.0)
    w = weights_of(tree, readings, claims)
    names = {"first": "First joint", "second": "Second joint, rear", "r0": "the wet top"}
    found = doubts_of(tree, readings, wrongs, claims, w)
    # Odds of 8 to 1, then 1/4 times 2.
    assert doubt_sentence(found, w, names) == (
        "If the wet top were a mistake, the first joint would fall from 89 % to 33 % and the "
        "second joint (rear) would be on top with 67 %."
    )
    assert change_sentence(change_of(tree, readings, wrongs, claims, w), w, names) == (
        "If the wet top were a mistake, the second joint (rear) would be on top with 67 %, "
        "before the first joint with 33 %."
    )
    both, w = change(3.0, 3.0, 2.0)
    assert both is not None
    assert change_sentence(both, w, {}) in (
        "Without r1 and if r0 were a mistake, the second would be on top with 60 %, before the "
        "first with 40 %.",
        "Without r0 and if r1 were a mistake, the second would be on top with 60 %, before the "
        "first with 40 %.",
    )
    two, w = change(3.0, 3.0, 2.0, 2.0)
    assert change_sentence(two, w, {}).startswith("If r0 and r1 were mistakes, the second")
    tree, readings, wrongs, claims = votes(0.5, 8.0, 8.0)
    w = weights_of(tree, readings, claims)
    kept = doubts_of(tree, readings, {"r0": None}, claims, w)
    assert doubt_sentence(kept, w, {}) == (
        "If r0 were a mistake, the first would rise from 97 % to 99 % and stay on top; no other "
        "mistake would change it more."
    )
