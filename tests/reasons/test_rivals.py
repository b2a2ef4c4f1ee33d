"""What else would explain a job, against plain sums of products over an invented machine."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from functools import cache
from math import prod
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from leakdx.advice.ranking import rank_job
from leakdx.advice.solving import Solved, solve
from leakdx.case.read import LoadedJob, job_from, load_job, load_shipped_job
from leakdx.flow.carry import Scale
from leakdx.kit.read import load_machine
from leakdx.network.looks import Grime, calls, looks_of_flow, sight, zone_likelihood
from leakdx.network.tables import Array, Network
from leakdx.priors.read import shipped_priors
from leakdx.reasons.rivals import MISREAD, OLD, Doubt, Rivals, chances, rivals_of
from tests.belief.enumeration import written_out

DATA = Path(__file__).parents[1] / "data"
MADE = load_machine(DATA / "pump_stand.yaml")
PRIORS = shipped_priors()
TIGHT, LEAKS = np.array([1.0, 0, 0, 0]), np.array([0.0, 1, 1, 1])


@cache
def _plainly(network: Network) -> Network:
    return written_out(network)


def summed(network: Network, likelihoods: list[tuple[str, Array]]) -> float:
    """P(likelihoods): the sum over all states of the product of all tables, by numpy alone."""
    network = _plainly(network)
    number = {name: k for k, name in enumerate(network.names)}
    parts: list[Any] = []
    for table in network.tables:
        parts += [table.values, [number[n] for n in table.scope]]
    for name, likelihood in likelihoods:
        parts += [likelihood, [number[name]]]
    return float(np.einsum(*parts, [], optimize="greedy"))


def given(job: Solved, asked: Mapping[str, Array], without: str | None = None) -> float:
    """P(asked | all readings); or, with one reading left out, times P(that reading)."""
    network = job.asked.network.network
    every = [(n, a) for e in job.asked.readings.values() for n, a in e.items()]
    kept = [(n, a) for r, e in job.asked.readings.items() if r != without for n, a in e.items()]
    return summed(network, [*kept, *asked.items()]) / summed(network, every)


def job(*timeline: dict[str, Any]) -> Solved:
    return solve(loaded(*timeline), PRIORS)


def loaded(*timeline: dict[str, Any]) -> LoadedJob:
    document = {
        "format": "leakdx-job/1",
        "id": "rivals",
        "machine": {"id": MADE.id, "version": MADE.version},
        "conditions": {"hours": 40},
        "timeline": list(timeline),
    }
    return job_from(document, MADE)


FOOT = {"zone": "foot_left", "state": "running", "age": "aged", "fluid": "gear_oil"}
SIDE = {"zone": "cover_side", "state": "film", "age": "fresh"}
TOP = {"zone": "cover_top", "state": "dry"}
MIXED = (
    {"sign": "level_falls", "value": "no", "fluid": "gear_oil"},
    FOOT,
    TOP,
    SIDE,
    {"seal_point": "cover_gasket", "state": "weeping"},
    {"seal_point": "shaft_seal", "state": "tight"},
    {"context": "overfilled", "fluid": "gear_oil"},
)


@pytest.fixture(scope="module")
def mixed() -> Solved:
    return job(*MIXED)


@pytest.fixture(scope="module")
def rivals(mixed: Solved) -> Rivals:
    return rivals_of(mixed, PRIORS)


def doubt(rivals: Rivals, start: str) -> Doubt:
    (found,) = [d for d in rivals.doubts if d.reading.startswith(start)]
    return found


def test_the_plain_sum_agrees_with_the_solver(mixed: Solved) -> None:
    evidence = [(n, a) for e in mixed.asked.readings.values() for n, a in e.items()]
    truth = summed(mixed.asked.network.network, evidence)
    assert np.exp(np.asarray(mixed.beliefs.log_evidence)) == pytest.approx(truth, rel=1e-9)


def test_every_reading_has_its_doubt_the_most_doubtful_first(mixed: Solved, rivals: Rivals) -> None:
    assert {d.reading for d in rivals.doubts} == set(mixed.asked.readings)
    assert [d.otherwise for d in rivals.doubts] == sorted(
        (d.otherwise for d in rivals.doubts), reverse=True
    )
    for d in rivals.doubts:
        assert d.otherwise == pytest.approx(sum(d.ways.values()), abs=1e-12)


def test_dry_of_all_fluids_is_wrong_where_any_is_there(mixed: Solved, rivals: Rivals) -> None:
    names = [f"flow__{f}__cover_top__e0" for f in ("gear_oil", "water")]
    assert set(mixed.asked.readings["3: cover_top dry"]) == set(names)
    dry = given(mixed, dict.fromkeys(names, np.array([1.0, 0, 0, 0])))
    assert doubt(rivals, "3:").otherwise == pytest.approx(1 - dry, rel=1e-9)
    assert doubt(rivals, "3:").instead == "something ran there all the same"


@pytest.mark.parametrize(
    ("number", "name", "age"),
    [(2, "flow__gear_oil__foot_left__e0", "aged"), (4, "any__cover_side__e0", "fresh")],
)
def test_wet_without_flow_is_old_residue_or_misread(
    mixed: Solved, rivals: Rivals, number: int, name: str, age: str
) -> None:
    """The residue taken as a thing of its own: none, a film or runs, each with its chance."""
    found = doubt(rivals, f"{number}:")
    none = np.array([1.0, 0, 0, 0])
    assert found.otherwise == pytest.approx(given(mixed, {name: none}), rel=1e-9)
    film, runs = PRIORS["detection.grime"], PRIORS["detection.grime_run"]
    state = {2: "running", 4: "film"}[number]
    ways = {
        which: residue_and_no_flow(mixed, found.reading, (name, state, age, grime))
        for which, grime in {"none": Grime(0, 0), "film": Grime(1, 0), "runs": Grime(0, 1)}.items()
    }
    old = film * ways["film"] + runs * ways["runs"]
    assert found.ways[OLD] == pytest.approx(old, rel=1e-9)
    assert found.ways[MISREAD] == pytest.approx((1 - film - runs) * ways["none"], rel=1e-9)
    assert min(found.ways.values()) > 0


def residue_and_no_flow(solved: Solved, reading: str, seen: tuple[str, str, str, Grime]) -> float:
    """P(reading, no flow | this residue, the other readings) / P(reading | the other readings)."""
    name, state, age, grime = seen
    scale: Scale = solved.asked.network.spreads[-1].scale
    table = calls(sight("eyes", "normal", PRIORS), PRIORS)
    levels = zone_likelihood(state, age, looks_of_flow(scale, PRIORS), grime, table, PRIORS)
    return given(solved, {name: levels * (np.arange(len(levels)) == 0)}, without=reading)


def test_after_a_repair_without_a_wash_more_of_it_is_old_residue() -> None:
    repaired = job({"renew": "cover_gasket"}, FOOT)
    found = doubt(rivals_of(repaired, PRIORS), "2:")
    film = PRIORS["detection.grime_after_repair"]
    runs = film / 3
    one = ("flow__gear_oil__foot_left__e0", "running", "aged")
    old = film * residue_and_no_flow(repaired, found.reading, (*one, Grime(1, 0)))
    old += runs * residue_and_no_flow(repaired, found.reading, (*one, Grime(0, 1)))
    assert found.ways[OLD] == pytest.approx(old, rel=1e-9)
    assert found.otherwise == pytest.approx(
        given(repaired, {one[0]: np.array([1.0, 0, 0, 0])}), rel=1e-9
    )


def test_after_a_wash_less_of_it_is_old_residue() -> None:
    washed = job({"wash": "whole", "thoroughness": 0.9}, {"run_minutes": 120}, FOOT)
    found = doubt(rivals_of(washed, PRIORS), "3:")
    left = 0.1 * PRIORS["detection.grime_left_by_wash"]
    film, runs = left * PRIORS["detection.grime"], left * PRIORS["detection.grime_run"]
    one = ("flow__gear_oil__foot_left__e1", "running", "aged")
    old = film * residue_and_no_flow(washed, found.reading, (*one, Grime(1, 0)))
    old += runs * residue_and_no_flow(washed, found.reading, (*one, Grime(0, 1)))
    misread = (1 - film - runs) * residue_and_no_flow(washed, found.reading, (*one, Grime(0, 0)))
    assert found.ways[OLD] == pytest.approx(old, rel=1e-9)
    assert found.ways[MISREAD] == pytest.approx(misread, rel=1e-9)


def test_a_seal_point_called_wet_or_tight(mixed: Solved, rivals: Rivals) -> None:
    tight = {"seal__cover_gasket": TIGHT}
    clean, wet = np.array([1.0, 0, 0, 0]), np.array([0.0, 1, 1, 1])
    weeping = doubt(rivals, "5:")
    assert weeping.instead == "it was tight"
    assert weeping.otherwise == pytest.approx(given(mixed, tight), rel=1e-9)
    assert weeping.ways == pytest.approx(
        {
            "fluid from elsewhere": given(mixed, tight | {"look__cover_gasket__e0": wet}),
            "misread": given(mixed, tight | {"look__cover_gasket__e0": clean}),
        },
        rel=1e-9,
    )
    sound = doubt(rivals, "6:")
    assert sound.instead == "it leaked all the same"
    assert sound.otherwise == pytest.approx(given(mixed, {"seal__shaft_seal": LEAKS}), rel=1e-9)


def test_a_sign_and_what_was_said_of_a_cause(mixed: Solved, rivals: Rivals) -> None:
    sign = doubt(rivals, "1:")
    falls = given(mixed, {"sign__level_falls__gear_oil__e0": np.array([0.0, 1.0])})
    assert sign.otherwise == pytest.approx(falls, rel=1e-9)
    assert sign.instead == "it is so"
    cause = doubt(rivals, "context 1")
    not_over = given(mixed, {"cause__overfilled_gear_oil": np.array([1.0, 0.0])})
    assert cause.otherwise == pytest.approx(not_over, rel=1e-9)
    assert cause.instead == "what it points to is not at work"


def test_the_other_answers_are_turned_round_too() -> None:
    said = job(
        {"sign": "level_falls", "value": "yes", "fluid": "gear_oil"},
        {"context": "ventilation_clear", "fluid": "gear_oil"},
        {"zone": "foot_left", "state": "dry", "fluid": "gear_oil"},
    )
    rivals = rivals_of(said, PRIORS)
    chance = given(said, {"sign__level_falls__gear_oil__e0": np.array([1.0, 0.0])})
    assert doubt(rivals, "1:").otherwise == pytest.approx(chance, rel=1e-9)
    assert doubt(rivals, "1:").instead == "it is not so"
    (name,) = said.asked.readings["context 1: ventilation_clear"]
    chance = given(said, {name: np.array([0.0, 1.0])})
    assert doubt(rivals, "context 1").otherwise == pytest.approx(chance, rel=1e-9)
    assert doubt(rivals, "context 1").instead == "what it rules out is at work"
    assert doubt(rivals, "3:").instead == "gear oil ran there all the same"


def test_leaks_are_counted_as_going_through_all_of_them_does(mixed: Solved, rivals: Rivals) -> None:
    counted = [0.0, 0.0, 0.0]
    for pattern in itertools.product((False, True), repeat=len(MADE.seal_points)):
        states = {
            f"seal__{s.id}": LEAKS if bad else TIGHT
            for s, bad in zip(MADE.seal_points, pattern, strict=True)
        }
        counted[min(sum(pattern), 2)] += given(mixed, states)
    assert sum(counted) == pytest.approx(1, rel=1e-9)
    assert [rivals.none_leaks, rivals.one_leak, rivals.second_leak] == pytest.approx(
        counted, rel=1e-8
    )


def test_the_rest_is_what_the_ranking_says() -> None:
    ranking = rank_job(loaded(*MIXED))
    rivals = rivals_of(job(*MIXED), PRIORS)
    assert rivals.none_leaks == ranking.none_leaks
    assert rivals.not_listed == ranking.not_listed
    assert rivals.nothing_leaks == ranking.nothing_leaks


def test_a_seal_renewed_since_is_judged_as_it_was_when_it_was_read() -> None:
    """It dripped, was renewed, and was tight after a wash and a run: two different seals."""
    told = job(
        {"seal_point": "shaft_seal", "state": "dripping"},
        {"renew": "shaft_seal"},
        {"wash": "whole"},
        {"run_minutes": 60},
        {"seal_point": "shaft_seal", "state": "tight"},
    )
    rivals = rivals_of(told, PRIORS)
    was, now = "seal__shaft_seal", "seal__shaft_seal__1"
    assert doubt(rivals, "1:").otherwise == pytest.approx(float(told.beliefs[was][0]), rel=1e-9)
    assert doubt(rivals, "5:").otherwise == pytest.approx(1 - float(told.beliefs[now][0]), rel=1e-9)
    others = [float(told.beliefs[f"seal__{s}"][0]) for s in ("cover_gasket", "water_union")]
    # Far from proven independent, but what is counted is the seal as it is now.
    assert rivals.none_leaks < min(float(told.beliefs[now][0]), *others)
    assert rivals.none_leaks > prod([float(told.beliefs[was][0]), *others])


def test_a_reading_that_bears_on_nothing_has_no_rival() -> None:
    assert rivals_of(job(), PRIORS).doubts == ()
    assert chances(job(), []).shape == (0,)


def test_chances_of_several_questions_at_once(mixed: Solved) -> None:
    questions = [{"seal__cover_gasket": LEAKS}, {}, {"seal__shaft_seal": TIGHT}]
    expected = [given(mixed, q) for q in questions]
    assert chances(mixed, questions) == pytest.approx(expected, rel=1e-9)


def test_what_is_said(rivals: Rivals) -> None:
    said = rivals.sentences
    assert said[-3].startswith("A second leak: ")
    assert said[-2].startswith("A point that is not on the list: ")
    assert said[-1].startswith("Nothing leaks now, and what is seen is spilled or old: ")
    told = [d for d in rivals.doubts if d.otherwise >= 0.05]
    assert 0 < len(told) == len(said) - 3 < len(rivals.doubts)
    for d, sentence in zip(told, said, strict=False):
        assert sentence.startswith(f'"{d.said}": ')
        assert f"that {d.instead} (" in sentence


def test_a_doubt_with_two_ways_tells_each() -> None:
    one = Doubt("1: a wet", "A: wet", "nothing ran there", 0.25, {OLD: 0.2, MISREAD: 0.05})
    other = Doubt("2: b", "B: yes", "it is not so", 0.1, {"wrongly said": 0.1})
    slight = Doubt("3: c", "C: yes", "it is not so", 0.04, {"wrongly said": 0.04})
    said = Rivals((one, other, slight), 0.3, 0.6, 0.1, 0.08, 0.02).sentences
    assert said == (
        '"A: wet": 25 % that nothing ran there (old residue 20 %, misread 5.0 %).',
        '"B: yes": 10 % that it is not so (wrongly said).',
        "A second leak: 30 % that two or more listed seal points leak now (exactly one 60 %, "
        "none 10 %).",
        "A point that is not on the list: 8.0 %.",
        "Nothing leaks now, and what is seen is spilled or old: 2.0 %.",
    )


@pytest.mark.long
@pytest.mark.parametrize("name", ["rear_of_engine_wet", "right_side_two_fluids"])
def test_a_shipped_job(name: str) -> None:
    solved = solve(load_shipped_job(name), PRIORS)
    rivals = rivals_of(solved, PRIORS)
    assert rivals.none_leaks + rivals.one_leak + rivals.second_leak == pytest.approx(1, abs=1e-9)
    assert {d.reading for d in rivals.doubts} == set(solved.asked.readings)
    for d in rivals.doubts:
        assert 0 <= d.otherwise <= 1
        if d.reading.split(":")[0].isdigit() and len(solved.asked.readings[d.reading]) == 1:
            (variable,) = solved.asked.readings[d.reading]
            if variable.startswith(("flow__", "any__")):
                there = 1 - float(solved.beliefs[variable][0])
                expected = there if " dry" in d.reading else 1 - there
                assert d.otherwise == pytest.approx(expected, abs=1e-9)


def test_the_job_of_the_wet_foot() -> None:
    solved = solve(load_job(DATA / "wet_foot.yaml"), PRIORS)
    rivals = rivals_of(solved, PRIORS)
    assert rivals.none_leaks + rivals.one_leak + rivals.second_leak == pytest.approx(1, abs=1e-9)
    assert len(rivals.doubts) == len(solved.asked.readings)
