"""Whether a repair has cured it: what the readings say, and what is told."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from leakdx.advice.cure import STAGES, Cure, cure, known_of, repair_of
from leakdx.advice.proving import (
    Prospect,
    Round,
    Trial,
    chances,
    dry_question,
)
from leakdx.advice.ranking import not_these
from leakdx.advice.solving import ContradictoryReadings, TooLarge, solve
from leakdx.belief.evidence import Evidence
from leakdx.belief.tree import compile_network
from leakdx.case.evidence import label_of
from leakdx.case.read import LoadedJob
from leakdx.network.setting import Use
from leakdx.priors.model import Priors
from tests.advice.repaired import (
    DRY_SIDE,
    DRY_TOP,
    MADE,
    PRIORS,
    RENEW,
    WASH,
    WET,
    Entry,
    job,
    known,
    run_for,
)

# What the readings say.


def test_dry_is_what_the_ranking_calls_nothing_leaks() -> None:
    loaded = job(WET, RENEW, WASH, run_for(60), DRY_SIDE, DRY_TOP)
    solved = solve(loaded, PRIORS)
    found = known_of(loaded, solved, PRIORS)
    assert found.dry == pytest.approx(not_these(solved, PRIORS)[2], abs=1e-12)
    assert found.course[-1].dry == found.dry


def test_the_course_is_the_job_solved_anew_with_fewer_readings() -> None:
    # The readings not taken yet are left out of the evidence, which must give what a job
    # solved on the same network with those readings taken as saying nothing gives.
    loaded = job(WET, RENEW, WASH, run_for(60), DRY_SIDE, DRY_TOP, {**DRY_SIDE, "method": "mirror"})
    solved = solve(loaded, PRIORS)
    found = known_of(loaded, solved, PRIORS)
    assert len(found.course) == 3
    readings = solved.asked.readings
    labels = [label_of(t) for t in solved.asked.story.taken]
    nothing, elsewhere = dry_question(solved.asked, PRIORS)
    for count, dry in enumerate([found.before, *(m.dry for m in found.course)]):
        seen = [readings[label] for label in labels[: 1 + count]]
        arrays: dict[str, Any] = {}
        for each in seen:
            for name, likelihood in each.items():
                arrays[name] = arrays.get(name, 1.0) * likelihood
        whole = solved.tree.log_evidence(arrays)
        asked = {n: arrays.get(n, 1.0) * np.asarray(q) for n, q in nothing.items()}
        both = solved.tree.log_evidence(arrays | asked)
        assert dry == pytest.approx(np.exp(both - whole) * elsewhere, rel=1e-9)


def test_each_dry_reading_raises_what_holds() -> None:
    found = known(WET, RENEW, WASH, run_for(60), DRY_SIDE, DRY_TOP)
    (gasket,) = found.joints
    assert gasket.before < found.course[0].holds[0]
    assert gasket.now == pytest.approx(found.course[-1].holds[0])
    (held,) = found.held
    assert held.now == pytest.approx(gasket.now, abs=1e-12)
    assert found.again is None and not found.stale


def test_a_dry_look_after_five_minutes_says_less_than_after_an_hour() -> None:
    # Common practice, no source: a leak needs time to show.
    short, long = (known(WET, RENEW, WASH, run_for(m), DRY_SIDE) for m in (5, 60))
    assert short.before == pytest.approx(long.before, abs=1e-9)
    assert short.before < short.dry < long.dry - 0.005
    assert short.joints[0].now < long.joints[0].now - 0.005


def test_without_a_wash_a_wet_zone_says_nearly_nothing_of_the_repair() -> None:
    # Common practice, no source: nobody judges a repair on old dirt.
    unwashed = known(WET, RENEW, run_for(60), {**WET, "state": "film"})
    washed = known(WET, RENEW, WASH, run_for(60), {**WET, "state": "film"})
    fell = unwashed.joints[0].before - unwashed.joints[0].now
    assert abs(fell) < 0.1
    assert washed.joints[0].before - washed.joints[0].now > 3 * abs(fell)
    assert unwashed.stale and unwashed.again is None
    assert washed.again is not None and not washed.stale


def test_wet_again_at_the_same_joint_or_at_another() -> None:
    same = known(WET, RENEW, WASH, run_for(60), {**WET, "age": "fresh"}, DRY_TOP)
    assert same.again.same > 0.5 > same.again.another
    assert same.again.ranking[0].seal_point == "cover_gasket"
    water = {"zone": "cover_top", "state": "running", "fluid": "water"}
    other = known(WET, RENEW, WASH, run_for(60), DRY_SIDE, water)
    assert other.again.another > 0.5 > other.again.same
    for found in (same, other):
        whole = found.again.same + found.again.another + found.dry
        assert whole == pytest.approx(1, abs=1e-9)


def test_what_was_wet_before_the_last_wash_is_not_wet_again() -> None:
    found = known(WET, RENEW, WASH, run_for(60), WET, WASH, run_for(60), DRY_SIDE)
    assert found.again is None
    assert [m.wet for m in found.course] == [False, False]
    # A wash of another zone leaves it as it was.
    part: Entry = {"wash": ["cover_top"]}
    found = known(WET, RENEW, WASH, run_for(60), WET, part, run_for(60), DRY_TOP)
    assert found.again is not None


def test_what_was_withdrawn_or_corrected_counts_as_it_stands() -> None:
    taken_back: Entry = {"withdraw": 2}
    assert repair_of(job(WET, RENEW, taken_back).job).seals == ()
    put_right: Entry = {"correct": 1, "to": DRY_SIDE}
    found = known(RENEW, WASH, run_for(60), WET, {**put_right, "correct": 4})
    assert found.again is None


def test_the_stretches_of_a_gasket_hold_together() -> None:
    parts = tuple(
        s.model_copy(update={"part_of": "big_gasket"}) if s.id != "water_union" else s
        for s in MADE.seal_points
    )
    machine = MADE.model_copy(update={"seal_points": parts})
    loaded = job(WET, RENEW, {"renew": "shaft_seal"}, WASH, run_for(60), DRY_SIDE, machine=machine)
    found = known_of(loaded, solve(loaded, PRIORS), PRIORS)
    (whole,) = found.joints
    assert whole.seal_points == ("cover_gasket", "shaft_seal") and whole.name == "big gasket"
    singly = [h.now for h in found.held]
    assert max(sum(singly) - 1, 0) <= whole.now < min(singly)


def test_readings_that_cannot_hold_together_are_refused_as_rank_refuses_them() -> None:
    numbers = dict(PRIORS.numbers)
    for key in ("eyes.miss", "eyes.false_call", "grime", "grime_run", "step_off"):
        old = numbers[f"detection.{key}"]
        numbers[f"detection.{key}"] = old.model_copy(update={"value": 0.0})
    wet = {"zone": "cover_side", "state": "dripping"}
    with pytest.raises(ContradictoryReadings):
        cure(
            job(RENEW, WASH, run_for(60), {"zone": "cover_side", "state": "dry"}, wet),
            Priors(numbers),
        )


# The whole.


@pytest.fixture(scope="module")
def whole() -> tuple[Cure, list[int]]:
    heard: list[int] = []
    loaded = job(WET, RENEW, WASH, run_for(30), DRY_SIDE)
    return cure(loaded, PRIORS, lambda: heard.append(1)), heard


def test_every_stage_is_told_to_who_waits(whole: tuple[Cure, list[int]]) -> None:
    assert len(whole[1]) == len(STAGES)


def test_more_sureness_takes_longer_and_what_was_renewed_less_than_all(
    whole: tuple[Cure, list[int]],
) -> None:
    proof = whole[0].proof
    assert proof is not None
    for use in ("driven", "idled"):
        rows = [n for n in proof.needed if n.use == use]
        assert [n.sure for n in rows] == [0.9, 0.95, 0.99]
        for what in ("holds", "dry"):
            times = [getattr(n, what) or 1e9 if getattr(n, what) != 0 else 0 for n in rows]
            assert times == sorted(times)
        for n in rows:
            assert (n.holds if n.holds is not None else 1e9) <= (
                n.dry if n.dry is not None else 1e9
            )
    assert all(p.dry <= p.holds for p in proof.points)


def test_the_time_told_makes_it_as_sure_as_told(whole: tuple[Cure, list[int]]) -> None:
    proof = whole[0].proof
    assert proof is not None
    loaded = job(WET, RENEW, WASH, run_for(30), DRY_SIDE)
    told = [n for n in proof.needed if n.holds and n.holds > 5]
    assert told
    for n in told:
        assert n.holds is not None
        use = Use(n.use)
        trial = Trial(use, n.holds)
        ahead = Prospect.of(loaded, PRIORS, proof.round, trial)
        # Between two lengths it is interpolated.
        assert ahead.outlook(trial, ["cover_gasket"]).holds[1] == pytest.approx(n.sure, abs=0.01)


def test_what_is_sure_already_needs_no_run() -> None:
    found = cure(job(WET, RENEW, WASH), PRIORS)
    assert found.proof is not None
    ((now, before),) = [(j.now, j.before) for j in found.joints]
    assert now == before
    # The same network, with what was not looked at yet: what was renewed is as sure as before.
    assert found.proof.now[0] == pytest.approx(found.holds, rel=1e-9)
    assert {n.sure for n in found.proof.needed if n.holds == 0} == {
        sure for sure in (0.9, 0.95, 0.99) if now >= sure
    }
    # An hour would make it surer than something that is not so sure yet.
    hour = next(p for p in found.proof.points if p.minutes == 60 and p.use == "driven")
    assert any(now < n.sure <= hour.holds for n in found.proof.needed)


def test_where_nothing_was_renewed_that_is_said() -> None:
    found = cure(job(WET, DRY_TOP), PRIORS)
    assert found.proof is None and found.again is None and found.before is None
    assert found.course == () and found.held == ()
    assert "Nothing was renewed" in found.sentences[0]
    assert 0 <= found.dry <= 1


def test_wet_again_is_told_with_what_to_do() -> None:
    found = cure(job(WET, RENEW, WASH, run_for(60), {**WET, "age": "fresh"}), PRIORS)
    said = " ".join(found.sentences)
    assert "It is wet again: most likely the same joint" in said
    assert "mirror before anything is tightened" in said
    assert "a mirror along the whole edge" in found.next_step
    water = {"zone": "cover_top", "state": "running", "fluid": "water"}
    found = cure(job(WET, RENEW, WASH, run_for(60), DRY_SIDE, water), PRIORS)
    assert "most likely another one" in " ".join(found.sentences)
    assert "water union" in " ".join(found.sentences)
    assert "can stay as it is" in found.next_step
    assert found.proof is None


def failing(monkeypatch: pytest.MonkeyPatch, times: int) -> list[tuple[LoadedJob, Round]]:
    """Lets the first so many networks be too large; what is tried is put down."""
    tried: list[tuple[LoadedJob, Round]] = []
    make = Prospect.of

    def of(loaded: LoadedJob, priors: Priors, looked: Round, trial: Trial) -> Prospect:
        tried.append((loaded, looked))
        if len(tried) <= times:
            raise TooLarge(loaded.machine.id, 2**30)
        return make(loaded, priors, looked, trial)

    monkeypatch.setattr(Prospect, "of", staticmethod(of))
    return tried


GROUND: Entry = {"sign": "ground_wet", "value": "yes", "fluid": "gear_oil"}


def test_where_the_sums_are_too_large_less_is_counted_and_that_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    loaded = job(WET, GROUND, RENEW, {"withdraw": 1})
    tried = failing(monkeypatch, 1)
    proof = cure(loaded, PRIORS).proof
    assert proof is not None and proof.left_out == ("ground_wet",) and not proof.partly
    assert [len(t.job.timeline) for t, _ in tried] == [4, 1]
    tried = failing(monkeypatch, 2)
    found = cure(loaded, PRIORS)
    assert found.proof is not None and found.proof.partly
    # Only where what was renewed shows.
    assert [z for z, _ in found.proof.round.zones] == ["cover_side"]


def test_where_nothing_can_be_worked_out_the_rest_is_told_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    failing(monkeypatch, 99)
    found = cure(job(WET, RENEW, WASH, run_for(60), DRY_SIDE), PRIORS)
    assert found.proof is None and found.dry > 0
    assert "cannot be told" in found.sentences[-1]
    assert found.next_step.startswith("Next: wash it whole")


def test_old_dirt_is_to_be_washed_off_first() -> None:
    found = cure(job(WET, RENEW, run_for(60), WET), PRIORS)
    assert "what is wet may be from before" in " ".join(found.sentences)
    assert found.next_step.startswith("Next: wash it whole")
    assert found.cautions[-1] == "The maker's procedure and local rules come first."


def test_an_origin_nobody_listed_is_not_washed_away_in_silence() -> None:
    # Wet on top, where only water can come from, but gear oil was seen there.
    strange = {"zone": "cover_top", "state": "running", "fluid": "gear_oil", "age": "fresh"}
    before = (WASH, run_for(600), strange, RENEW, WASH, run_for(10), DRY_SIDE)
    found = cure(job(*before), PRIORS)
    assert any("not on the list" in s and "mends nothing" in s for s in found.sentences)


def test_questions_of_columns_are_those_of_single_updates() -> None:
    solved = solve(job(WET, RENEW, WASH, run_for(60), DRY_SIDE), PRIORS)
    readings = list(solved.asked.readings.values())
    seal = "seal__cover_gasket__1"
    tight = {seal: np.array([1.0, 0, 0, 0])}
    found = chances(solved.tree, [readings[0], solved.evidence], [tight, {}])
    assert found[1] == pytest.approx(1.0)
    for k, evidence in enumerate((readings[0], solved.evidence)):
        assert found[0, k] == pytest.approx(solved.tree.update(evidence)[seal][0], rel=1e-9)
    network = solved.asked.network.network
    assert chances(compile_network(network), [Evidence({})], [{}]) == pytest.approx(1.0)
