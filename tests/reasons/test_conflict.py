"""Whether readings hold together, against summing the full joint."""

from __future__ import annotations

import itertools
from math import log2
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.advice.solving import Solved, solve
from leakdx.belief.evidence import Evidence, EvidenceError, ImpossibleEvidence, combine, hard
from leakdx.belief.tree import compile_network
from leakdx.case.read import job_from
from leakdx.kit.read import load_machine
from leakdx.network.setting import seal_name
from leakdx.network.tables import Array, Network, Table, Variable
from leakdx.priors.read import shipped_priors
from leakdx.reasons import conflict as conflict_module
from leakdx.reasons.conflict import (
    Conflict,
    conflict_of,
    groups_of,
    job_conflict,
    log_chances,
    times,
    words_of_readings,
)
from tests.belief.enumeration import full_joint, random_network

MADE = load_machine(Path(__file__).parents[1] / "data" / "pump_stand.yaml")


def solved(*timeline: dict[str, Any], **conditions: Any) -> Solved:
    document = {
        "format": "leakdx-job/1",
        "id": "holds",
        "machine": {"id": MADE.id, "version": MADE.version},
        "conditions": {"hours": 40} | conditions,
        "timeline": list(timeline),
    }
    return solve(job_from(document, MADE), shipped_priors())


def random_readings(
    rng: np.random.Generator, network: Network, count: int
) -> dict[str, list[tuple[str, Array]]]:
    """Readings as lists of (variable, likelihood); several may speak of one variable."""
    readings = {}
    for r in range(count):
        names = rng.permutation(network.names)[: int(rng.integers(1, 3))]
        readings[f"r{r}"] = [(str(n), rng.random(network[n].size) + 0.05) for n in names]
    return readings


def chance(network: Network, parts: list[tuple[str, Array]]) -> float:
    """P of some likelihoods by going through the full joint."""
    joint = full_joint(network)
    for name, likelihood in parts:
        joint = joint * likelihood.reshape([-1 if n == name else 1 for n in network.names])
    return float(joint.sum())


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 6), st.integers(2, 5))
def test_every_number_against_enumeration(seed: int, count: int, taken: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_network(rng, count)
    parts = random_readings(rng, network, taken)
    labels = list(parts)
    cut = int(rng.integers(1, taken))
    groups = {"first": tuple(labels[:cut]), "second": tuple(labels[cut:])}
    readings = {r: Evidence(dict(some)) for r, some in parts.items()}
    found = conflict_of(compile_network(network), readings, groups)

    def p(*some: str) -> float:
        return chance(network, [part for r in some for part in parts[r]])

    def conf(apart: list[tuple[str, ...]], together: list[str]) -> float:
        return sum(log2(p(*a)) for a in apart) - log2(p(*together))

    near = pytest.approx
    assert found.whole == near(conf([(r,) for r in labels], labels), abs=1e-9)
    for r in labels:
        rest = tuple(o for o in labels if o != r)
        assert found.against_rest[r] == near(conf([(r,), rest], labels), abs=1e-9)
    assert set(found.pairs) == set(itertools.combinations(labels, 2))
    for (a, b), bits in found.pairs.items():
        assert bits == near(conf([(a,), (b,)], [a, b]), abs=1e-9)
    for g, some in groups.items():
        assert found.within[g] == near(conf([(r,) for r in some], list(some)), abs=1e-9)
    assert found.between == near(conf(list(groups.values()), labels), abs=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(3, 7), st.integers(1, 3))
def test_the_whole_is_within_and_between(seed: int, taken: int, many: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_network(rng, 6)
    parts = random_readings(rng, network, taken)
    readings = {r: Evidence(dict(some)) for r, some in parts.items()}
    groups: dict[str, tuple[str, ...]] = {}
    for r in readings:
        g = f"g{int(rng.integers(many))}"
        groups[g] = (*groups.get(g, ()), r)
    found = conflict_of(compile_network(network), readings, groups)
    assert found.whole == pytest.approx(sum(found.within.values()) + found.between, abs=1e-9)


def test_without_groups_each_reading_stands_for_itself() -> None:
    rng = np.random.default_rng(3)
    network = random_network(rng, 5)
    parts = random_readings(rng, network, 4)
    found = conflict_of(
        compile_network(network), {r: Evidence(dict(some)) for r, some in parts.items()}
    )
    assert found.within == {}
    assert found.between == found.whole


@pytest.mark.parametrize("scale", [1e-200, 3.0])
def test_a_factor_in_a_likelihood_changes_nothing(scale: float) -> None:
    """Whether it stands in the likelihood or in its log_scale."""
    rng = np.random.default_rng(8)
    network = random_network(rng, 6)
    tree = compile_network(network)
    parts = random_readings(rng, network, 4)
    plain = {r: Evidence(dict(some)) for r, some in parts.items()}
    first = next(iter(plain))
    (name, likelihood), *others = parts[first]
    scaled = Evidence({**dict(others), name: likelihood * scale})
    logged = Evidence(dict(parts[first]), float(np.log(scale)))
    truth = conflict_of(tree, plain)
    for changed in (scaled, logged):
        found = conflict_of(tree, {**plain, first: changed})
        assert found.whole == pytest.approx(truth.whole, abs=1e-9)
        assert found.against_rest == pytest.approx(truth.against_rest, abs=1e-9)
        assert found.pairs == pytest.approx(truth.pairs, abs=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_pairs_are_those_of_the_two_alone(seed: int) -> None:
    """Each two readings asked together, whether each is on one variable or on several."""
    rng = np.random.default_rng(100 + seed)
    network = random_network(rng, 7, zeros=0.0)
    tree = compile_network(network)
    readings = {}
    for n in range(5):
        names = rng.choice(network.names, size=1 + n % 2, replace=False)
        some = {str(v): rng.random(network[str(v)].size) + 0.05 for v in names}
        readings[f"r{n}"] = Evidence(some, float(rng.normal()))
    found = conflict_of(tree, readings)
    for (a, b), bits in found.pairs.items():
        one, other = readings[a], readings[b]
        logs = [float(tree.log_evidence(e)) for e in (one, other, combine([one, other]))]
        assert bits == pytest.approx((logs[0] + logs[1] - logs[2]) / np.log(2), abs=1e-9)


def test_the_log_of_each_set_counts_its_log_scale() -> None:
    rng = np.random.default_rng(4)
    network = random_network(rng, 5)
    parts = random_readings(rng, network, 3)
    readings = {
        r: Evidence(dict(some), log_scale=-10.0 * k) for k, (r, some) in enumerate(parts.items())
    }
    sets = [frozenset(("r0", "r2")), frozenset(("r1",)), frozenset[str](), frozenset(("r1",))]
    found = log_chances(compile_network(network), readings, sets)
    assert set(found) == set(sets)
    for one, log in found.items():
        parts_of_it = [part for r in one for part in parts[r]]
        expected = np.log(chance(network, parts_of_it)) - 10 * sum(int(r[1:]) for r in one)
        assert log == pytest.approx(expected, abs=1e-9)


def test_the_worst_foe_is_named() -> None:
    pairs = {("a", "b"): 0.4, ("a", "c"): 1.5, ("b", "c"): -2.0, ("a", "d"): 0.7}
    found = Conflict(1.0, {"a": 1.0, "b": 0.2, "c": -1.0, "d": 0.0}, pairs, {}, 1.0)
    assert found.foe_of("a") == ("c", 1.5)
    assert found.foe_of("c") == ("a", 1.5)
    assert found.foe_of("b") == ("a", 0.4)
    assert found.foe_of("e") is None
    assert found.badly == ("a", "b")


def test_many_readings_of_one_variable_do_not_vanish() -> None:
    """Independent looks at one sure state: each pair agrees as log2 of P over P squared says."""
    network = Network((Variable("v", ("a", "b")),), (Table("v", (), np.array([0.75, 0.25])),))
    readings = {f"r{n}": Evidence({"v": np.array([0.0, 1e-150])}) for n in range(6)}
    found = conflict_of(compile_network(network), readings)
    assert found.whole == pytest.approx(5 * log2(0.25), abs=1e-9)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0, 3))
def test_much_disagreement_is_rare_where_all_is_as_reckoned(seed: int, bits: float) -> None:
    """Over all outcomes of three looks: 2^conf is 1 on average, conf >= c at most 2^-c often."""
    rng = np.random.default_rng(seed)
    network = random_network(rng, 5, zeros=0.0)
    tree = compile_network(network)
    names = [str(n) for n in rng.permutation(network.names)[:3]]
    mean, often = 0.0, 0.0
    for states in itertools.product(*(range(network[n].size) for n in names)):
        seen = dict(zip(names, states, strict=True))
        if chance(network, [(n, np.eye(network[n].size)[s]) for n, s in seen.items()]) == 0:
            continue
        p = float(np.exp(np.asarray(tree.log_evidence(hard(network, seen)))))
        whole = conflict_of(tree, {n: hard(network, {n: s}) for n, s in seen.items()}).whole
        mean += p * 2**whole
        often += p * (whole >= bits)
    assert mean <= 1 + 1e-9
    assert often <= 2**-bits + 1e-9


def test_none_and_one() -> None:
    rng = np.random.default_rng(1)
    network = random_network(rng, 3)
    tree = compile_network(network)
    assert conflict_of(tree, {}) == Conflict(0.0, {}, {}, {}, 0.0)
    one = conflict_of(tree, {"r": Evidence({"v0": np.ones(network["v0"].size) / 3})})
    assert one.whole == pytest.approx(0, abs=1e-12)
    assert one.against_rest == pytest.approx({"r": 0})
    assert one.pairs == {}


def test_wrong_questions_are_refused() -> None:
    network = Network((Variable("v", ("a", "b")),), (Table("v", (), np.array([0.5, 0.5])),))
    tree = compile_network(network)
    a, b = hard(network, {"v": "a"}), hard(network, {"v": "b"})
    with pytest.raises(ImpossibleEvidence):
        conflict_of(tree, {"a": a, "b": b})
    with pytest.raises(EvidenceError, match="wide has a batch axis"):
        conflict_of(tree, {"a": a, "wide": Evidence({"v": np.ones((2, 3))})})
    for groups in ({"g": ("a",)}, {"g": ("a", "b")}, {"g": ("a", "c"), "h": ("a",)}):
        with pytest.raises(ValueError, match="exactly once"):
            conflict_of(tree, {"a": a, "c": a}, groups)


JOB = (
    {"sign": "level_falls", "value": "no", "fluid": "gear_oil"},
    {"zone": "foot_left", "state": "dripping", "age": "fresh", "fluid": "gear_oil"},
    {"zone": "cover_top", "state": "dry"},
    {"seal_point": "shaft_seal", "state": "tight"},
    {"context": "overfilled", "fluid": "gear_oil"},
)


def test_a_job_is_grouped_by_what_was_looked_at_and_when() -> None:
    once = solved(*JOB)
    assert groups_of(once) == {
        "signs": ("1: level_falls no",),
        "seen at zones": ("2: foot_left dripping, fresh", "3: cover_top dry"),
        "seen at seal points": ("4: shaft_seal tight",),
        "said of causes": ("context 1: overfilled",),
    }
    twice = solved(
        *JOB, {"wash": "whole"}, {"run_minutes": 30}, {"zone": "foot_left", "state": "dry"}
    )
    groups = groups_of(twice)
    assert groups["seen at zones, after wash or repair 1"] == ("8: foot_left dry",)
    assert groups["seen at zones, as it came"] == (
        "2: foot_left dripping, fresh",
        "3: cover_top dry",
    )
    found = job_conflict(twice).conflict
    assert found.whole == pytest.approx(sum(found.within.values()) + found.between, abs=1e-9)


def test_what_a_leak_would_explain_is_the_conflict_with_that_leak_added() -> None:
    job = solved(*JOB)
    found = job_conflict(job)
    assert set(found.left_if) == {s.id for s in MADE.seal_points}
    for seal, left in found.left_if.items():
        leaks = Evidence({seal_name(seal): np.array([0.0, 1, 1, 1])})
        more = conflict_of(job.tree, {**job.asked.readings, "it leaks": leaks})
        assert left == pytest.approx(more.whole, abs=1e-9)


def test_readings_in_words() -> None:
    job = solved(
        *JOB,
        {"seal_point": "cover_gasket", "state": "drops_form"},
        {"context": "overtightened", "seal_point": "water_union"},
    )
    assert [*words_of_readings(job).values()] == [
        "level falls (gear oil): no",
        "foot left: dripping, fresh (gear oil)",
        "cover top: dry",
        "shaft seal: tight",
        "cover gasket: drops form",
        "overfilled (gear oil)",
    ]


def test_a_foot_that_drips_for_one_and_is_dry_for_three_is_told() -> None:
    drips = {"zone": "foot_left", "state": "dripping", "age": "fresh", "fluid": "gear_oil"}
    dry = {"zone": "foot_left", "state": "dry", "sure": "good", "fluid": "gear_oil"}
    found = job_conflict(solved(dry, drips, dry, dry))
    assert found.conflict.whole > conflict_module.CLEAR
    assert found.conflict.badly[0] == "2: foot_left dripping, fresh"
    foe = found.conflict.foe_of("2: foot_left dripping, fresh")
    assert foe is not None
    # Each dry look as much as the other two.
    assert found.conflict.foe_of("4: foot_left dry") == (
        "2: foot_left dripping, fresh",
        pytest.approx(foe[1]),
    )
    factor = times(found.conflict.whole)
    assert found.sentences[0] == (
        f"Taken together the readings disagree: they are {factor} times less likely together than "
        "if they had nothing to do with each other. Where all is as reckoned here, that happens "
        f"in at most one job in {factor}. One may be wrong, or something rare is going on."
    )
    badly = times(found.conflict.against_rest["2: foot_left dripping, fresh"])
    assert (
        '"foot left: dripping, fresh (gear oil)" fits the rest badly: all the other readings '
        f"together make it {badly} times less likely than it was without them; it is most at odds "
        'with "foot left: dry (gear oil)". Worth a second look.'
    ) in found.sentences


def test_a_rare_leak_that_explains_the_disagreement_is_named() -> None:
    """Dry above, wet below: at odds unless the seal between them leaks."""
    names = {"low": "Low seal", "high": "High seal"}
    said = tuple(conflict_module._whole(3.0, {"low": -0.2, "high": 2.9}, names))
    assert said[1] == "The rare thing may be this: if Low seal leaks, nothing is left of it."
    most = tuple(conflict_module._whole(3.0, {"low": 1.0, "high": 2.9}, names))
    assert most[1] == (
        "No single leak explains all of it; Low seal explains most: if it leaks, they are 2.0 "
        "times less likely together, not 8.0."
    )
    assert len(tuple(conflict_module._whole(3.0, {"low": 2.9}, names))) == 1
    assert "at most one job" not in next(conflict_module._whole(1.0, {}, names))


def test_readings_that_agree_are_said_to() -> None:
    wet = {"zone": "foot_left", "state": "running", "age": "fresh", "fluid": "gear_oil"}
    weeps = {"seal_point": "shaft_seal", "state": "dripping"}
    found = job_conflict(solved(wet, weeps))
    assert found.conflict.whole < -conflict_module.SLIGHT
    assert found.sentences[0].startswith("Taken together the readings support one another")
    assert found.sentences[1:] == ("No single reading fits the others badly.",)


def test_one_reading_has_nothing_to_disagree_with() -> None:
    assert job_conflict(solved(JOB[1])).sentences == ()
    assert job_conflict(solved()).sentences == ()


@pytest.mark.parametrize(
    ("bits", "said"),
    [(1, "2.0"), (-2, "4.0"), (3.4, "11"), (13, "8,192"), (40, "more than 10,000")],
)
def test_bits_as_a_factor(bits: float, said: str) -> None:
    assert times(bits) == said
