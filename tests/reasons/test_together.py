"""Leaks that share a cause, against plain sums of products over an invented machine."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from leakdx.advice.ranking import LeakSet, leak_sets, rank_job
from leakdx.advice.solving import Solved, solve
from leakdx.case.read import job_from, load_shipped_job
from leakdx.kit.read import load_machine
from leakdx.machine.model import Cause, CauseKind, Machine
from leakdx.network.causes import TIRED, causes_of
from leakdx.network.setting import cause_name
from leakdx.priors.read import shipped_priors
from leakdx.reasons import together as module
from leakdx.reasons.together import (
    NOUNS,
    SharedCause,
    Together,
    cause_words,
    parents_of,
    together_of,
)
from tests.reasons.test_rivals import LEAKS, TIGHT, given

MADE = load_machine(Path(__file__).parents[1] / "data" / "pump_stand.yaml")
PRIORS = shipped_priors()
NO, YES = np.array([1.0, 0.0]), np.array([0.0, 1.0])
WEEPS = (
    {"seal_point": "cover_gasket", "state": "weeping"},
    {"sign": "level_rises", "value": "yes", "fluid": "water"},
    {"sign": "fluid_emulsified", "value": "yes", "fluid": "water"},
    {"zone": "foot_left", "state": "running", "fluid": "gear_oil"},
    {"sign": "level_falls", "value": "yes", "fluid": "gear_oil"},
)


def job(*timeline: dict[str, Any], machine: Machine = MADE) -> Solved:
    document = {
        "format": "leakdx-job/1",
        "id": "together",
        "machine": {"id": machine.id, "version": machine.version},
        "conditions": {"hours": 40},
        "timeline": list(timeline),
    }
    return solve(job_from(document, machine), PRIORS)


def variable(cause: str) -> str:
    return TIRED if cause == TIRED else cause_name(cause)


@pytest.fixture(scope="module")
def solved() -> Solved:
    return job(*WEEPS)


@pytest.fixture(scope="module")
def found(solved: Solved) -> Together:
    return together_of(solved, leak_sets(solved)[0])


def cause(found: Together, name: str) -> SharedCause:
    (one,) = [c for c in found.causes if c.cause == name]
    return one


def test_every_cause_of_the_network_is_there_and_the_tired_machine(found: Together) -> None:
    assert {c.cause for c in found.causes} == {c.id for c in causes_of(MADE)} | {TIRED}
    after = [c.after for c in found.causes]
    assert after == sorted(after, reverse=True)


def test_how_far_each_is_believed(solved: Solved, found: Together) -> None:
    for one in found.causes:
        after = given(solved, {variable(one.cause): YES})
        assert one.after == pytest.approx(after, rel=1e-9)
        if one.cause == TIRED:
            # Nothing on this machine ages its seals beside their years.
            before = PRIORS["causes.chance.tired"]
        else:
            kind = next(c.kind for c in causes_of(MADE) if c.id == one.cause)
            before = PRIORS[f"causes.chance.{kind.value}"]
        assert one.before == pytest.approx(before, rel=1e-9)
        weight = 10 * np.log10(after / (1 - after) / (before / (1 - before)))
        assert one.decibans == pytest.approx(weight, abs=1e-6)


def test_what_each_explains_and_how_well(solved: Solved, found: Together) -> None:
    leaks = {s.id: given(solved, {f"seal__{s.id}": LEAKS}) for s in MADE.seal_points}
    likely = [s for s, p in leaks.items() if p > module.LIKELY_LEAK]
    assert likely == ["cover_gasket", "shaft_seal"]
    # The stuck breather lists both; overfilling acts on what the oil splashes, which is both.
    for name in ("breather_stuck", "overfilled_gear_oil", TIRED):
        one = cause(found, name)
        assert one.explains == ("cover_gasket", "shaft_seal")
        both = {f"seal__{s}": LEAKS for s in one.explains}
        for state, chance in ((YES, one.all_if), (NO, one.all_if_not)):
            is_so = {variable(name): state}
            expected = given(solved, both | is_so) / given(solved, is_so)
            assert chance == pytest.approx(expected, rel=1e-8)


def test_a_cause_explains_only_what_it_raises_and_what_is_likely() -> None:
    machine = MADE.model_copy(
        update={
            "causes": (
                Cause(id="loose", kind=CauseKind.FASTENERS_LOOSE, raises=("cover_gasket",)),
                Cause(id="salt", kind=CauseKind.CORRODED, raises=("water_union",)),
            )
        }
    )
    found = together_of(job(*WEEPS, machine=machine))
    assert cause(found, "loose").explains == ("cover_gasket",)
    # The water union is tight, most likely.
    salt = cause(found, "salt")
    assert salt.explains == ()
    assert (salt.all_if, salt.all_if_not) == (None, None)
    # Without a list: the ventilation of the gear case acts on its own joints, not on water's.
    wet = {"seal_point": "water_union", "state": "dripping"}
    found = together_of(job(*WEEPS, wet, machine=machine))
    assert cause(found, "ventilation_blocked_gear_oil").explains == ("cover_gasket", "shaft_seal")
    assert cause(found, TIRED).explains == ("cover_gasket", "shaft_seal", "water_union")
    assert cause(found, "salt").explains == ("water_union",)


def test_a_renewed_seal_is_judged_as_it_is_now() -> None:
    """It leaked before it was renewed; what it was is not to be explained any more."""
    found = together_of(
        job(
            *WEEPS,
            {"renew": "shaft_seal"},
            {"wash": "whole"},
            {"run_minutes": 300},
            {"seal_point": "shaft_seal", "state": "tight", "sure": "good"},
            {"zone": "foot_left", "state": "dry", "sure": "good"},
        )
    )
    assert cause(found, "breather_stuck").explains == ("cover_gasket",)


def test_the_causes_of_each_set(solved: Solved, found: Together) -> None:
    sets, _proven = leak_sets(solved)
    assert [(s.seal_points, s.probability) for s in found.sets] == [
        (s.seal_points, s.probability) for s in sets
    ]
    some = 0
    for one in found.sets:
        exactly = {
            f"seal__{s.id}": LEAKS if s.id in one.seal_points else TIGHT for s in MADE.seal_points
        }
        assert one.probability == pytest.approx(given(solved, exactly), rel=1e-8)
        after = {
            c: given(solved, exactly | {variable(c): YES}) / one.probability
            for c in cause_words(MADE)
        }
        likely = {c: p for c, p in after.items() if p > 0.5}
        assert one.causes == pytest.approx(likely, rel=1e-8)
        assert [*one.causes] == sorted(likely, key=lambda c: -likely[c])
        some += len(likely)
    assert some > 0


def test_of_several_causes_of_a_set_the_likeliest_comes_first() -> None:
    told = {"context": "overfilled", "fluid": "gear_oil"}
    (one,) = together_of(job(*WEEPS, told), [LeakSet(("cover_gasket", "shaft_seal"), 0.5)]).sets
    assert len(one.causes) > 1
    assert [*one.causes.values()] == sorted(one.causes.values(), reverse=True)


def test_the_sets_are_those_of_the_ranking() -> None:
    document = {
        "format": "leakdx-job/1",
        "id": "together",
        "machine": {"id": MADE.id, "version": MADE.version},
        "timeline": list(WEEPS),
    }
    loaded = job_from(document, MADE)
    ranking = rank_job(loaded)
    assert leak_sets(solve(loaded, PRIORS)) == (ranking.sets, ranking.sets_proven)


def test_no_sets_no_answers() -> None:
    assert together_of(job()).sets == ()
    # Nothing is likely to leak on this machine before it is looked at.
    assert all(c.explains == () for c in together_of(job()).causes)
    assert together_of(job()).sentences == ()


def test_every_kind_of_cause_has_a_name() -> None:
    assert set(NOUNS) == set(CauseKind)
    twice = MADE.model_copy(
        update={
            "causes": (
                Cause(id="loose_top", kind=CauseKind.FASTENERS_LOOSE, raises=("cover_gasket",)),
                Cause(id="loose_foot", kind=CauseKind.FASTENERS_LOOSE, raises=("shaft_seal",)),
            )
        }
    )
    words = cause_words(twice)
    assert words["loose_top"] == "loose fasteners (loose top)"
    assert words["overfilled_gear_oil"] == "an overfull case (gear oil)"
    assert len({*words.values()}) == len(words)


def sentences(one: SharedCause) -> tuple[str, ...]:
    names = {"a": "Joint A", "b": "Joint B"}
    said: Iterator[str] = module._cause_sentences([one], names)
    return tuple(said)


def test_what_is_said_of_a_cause() -> None:
    both = SharedCause("c", "blocked ventilation", 0.08, 0.62, 12.7, ("a", "b"), 0.6, 0.2)
    assert sentences(both) == (
        "Blocked ventilation (62 %, before the readings 8.0 %) would explain 2 leaks at once: "
        "Joint A + Joint B. All of them leak with 60 % if it is so, with 20 % if it is not.",
    )
    one = SharedCause("c", "corrosion", 0.08, 0.62, 12.7, ("b",), 0.6, 0.2)
    assert sentences(one) == (
        "Corrosion (62 %, before the readings 8.0 %) would explain a leak: Joint B. It leaks "
        "with 60 % if it is so, with 20 % if it is not.",
    )
    for quiet in (
        SharedCause("c", "corrosion", 0.08, 0.09, 0.6, ("b",), 0.6, 0.2),  # hardly believed
        SharedCause("c", "corrosion", 0.08, 0.62, 12.7, ("b",), 0.25, 0.2),  # hardly helps
        SharedCause("c", "corrosion", 0.08, 0.62, 12.7, (), None, None),
    ):
        assert sentences(quiet) == ()


def test_what_is_said_of_a_set() -> None:
    names = {"a": "Joint A", "b": "Joint B"}
    words = {"c": "corrosion", "d": "overtightening"}
    sets = [
        module.SetCauses(("a", "b"), 0.2, {"d": 0.7, "c": 0.6}),
        module.SetCauses(("a",), 0.1, {"c": 0.6}),
        module.SetCauses(("b",), 0.1, {}),
        module.SetCauses((), 0.1, {"c": 0.6}),
    ]
    assert tuple(module._set_sentences(sets, names, words)) == (
        "If just Joint A + Joint B leak (20 %), most likely behind it: overtightening 70 %, "
        "corrosion 60 %.",
        "If just Joint A leaks (10 %), most likely behind it: corrosion 60 %.",
    )


def test_the_sentences_of_a_job(found: Together) -> None:
    both = "2 leaks at once: cover gasket + shaft seal."
    assert any(both in said for said in found.sentences)
    pairs = ("shaft seal + cover gasket", "cover gasket + shaft seal")
    starts = tuple(f"If just {pair} leak (" for pair in pairs)
    assert any(said.startswith(starts) for said in found.sentences)


def test_parents_of_tables_and_maxima(solved: Solved) -> None:
    parents = parents_of(solved.asked.network.network)
    assert cause_name("breather_stuck") in parents["seal__shaft_seal"]
    assert "seal__shaft_seal" in parents["flow__gear_oil__foot_left__e0"]
    assert parents[cause_name("breather_stuck")] == ()


@pytest.mark.long
def test_a_shipped_job() -> None:
    solved = solve(load_shipped_job("rear_of_engine_wet"), PRIORS)
    machine = solved.asked.network.setting.machine
    rear = LeakSet(("head_cover_gasket_rear",), 0.1)
    found = together_of(solved, [rear])
    assert {c.cause for c in found.causes} == {c.id for c in causes_of(machine)} | {TIRED}
    for one in found.causes:
        assert (one.all_if is None) == (one.explains == ())
    assert len(found.sets) == 1
