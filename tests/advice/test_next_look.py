"""The next look: what is proposed, in which words, and when to stop."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from leakdx import cli
from leakdx.advice.next_look import NOTHING_SEEN, NextLook, Weigher, next_look, next_of
from leakdx.advice.next_schema import json_schema
from leakdx.advice.outcomes import Outlook
from leakdx.advice.renewal import Labour
from leakdx.advice.solving import Solved, solve
from leakdx.advice.weighing import Plans, view_of
from leakdx.belief.evidence import Evidence
from leakdx.case.read import LoadedJob, job_from, load_job, load_shipped_job
from leakdx.files.faults import FaultyInput
from leakdx.kit.read import load_machine, load_shipped, load_shipped_layout, machine_as_is
from leakdx.machine.model import Machine, MachineState, Method
from leakdx.network.setting import seal_name
from leakdx.priors.read import shipped_priors

DATA = Path(__file__).parent.parent / "data"
PRIORS = shipped_priors()
STAND = load_machine(DATA / "pump_stand.yaml")


def job_on(machine: Machine, *timeline: dict[str, Any], **more: Any) -> LoadedJob:
    return job_from(
        {
            "format": "leakdx-job/1",
            "id": "asked",
            "machine": {"id": machine.id, "version": machine.version},
            "conditions": {"hours": 100},
            "timeline": list(timeline),
        }
        | more,
        machine,
    )


def latest(solved: Solved, seal: str) -> str:
    """Variable of a seal point as it is now: some were renewed in this job."""
    return seal_name(seal, solved.asked.story.generations.get(seal, 1) - 1)


@pytest.fixture(scope="module")
def reference() -> NextLook:
    return next_look(load_shipped_job("rear_of_engine_wet"), PRIORS)


def test_a_job_that_was_only_begun_is_told_to_look_not_to_stop() -> None:
    # Looks are dear on this boat, and where fluid was seen nobody has said.
    boat = machine_as_is(load_shipped_layout("marine_inline_four"))
    found = next_look(job_on(boat, conditions={}), PRIORS)
    assert found.proposals[0].gain <= 0
    assert found.stop == NOTHING_SEEN
    assert found.sentence == (
        "Nothing that was seen has been entered yet: look, from the highest and foremost wet point "
        "down, and enter what you see."
    )
    # With anything seen it says what it always says.
    seen = next_look(job_on(boat, {"zone": boat.zones[0].id, "state": "dry"}), PRIORS)
    assert seen.stop != NOTHING_SEEN


def test_the_sentence_says_what_where_how_long_and_what_then(reference: NextLook) -> None:
    best = reference.proposals[0]
    assert reference.stop is None
    assert reference.sentence.startswith("Next: " + best.name[0].lower() + best.name[1:])
    assert f"about {best.minutes:.0f} minutes; if " in reference.sentence
    assert " rises to " in reference.sentence
    assert " leads with " in reference.sentence


def test_the_best_saving_comes_first_and_all_are_finite(reference: NextLook) -> None:
    # Gains nearer than this are the same: the last digit decides no order.
    gains = [round(p.gain, 6) for p in reference.proposals]
    assert gains == sorted(gains, reverse=True)
    assert np.isfinite(gains).all()
    assert all(p.bits >= 0 and p.minutes > 0 and p.fall >= 0 for p in reference.proposals)


def test_outcomes_are_chances_of_something(reference: NextLook) -> None:
    for p in reference.proposals:
        assert sum(o.chance for o in p.outcomes) == pytest.approx(1)
        for o in p.outcomes:
            assert all(0 <= c <= 1 for _, c in o.first)


def test_what_came_off_is_remembered(reference: NextLook) -> None:
    # The job has looked at the head cover with its foam off and the cab tilted; by hand: the
    # mirror itself takes 4 minutes, and tilting the cab and parking would have cost 13.
    mirror = next(p for p in reference.proposals if p.inspection == "mirror_vacuum_pump")
    assert (mirror.minutes, mirror.steps) == (4, ())
    fresh = next_look(job_on(load_shipped("forestry_carrier_five")), PRIORS)
    again = next(p for p in fresh.proposals if p.inspection == "mirror_vacuum_pump")
    assert again.minutes == 4 + 8 + 5
    assert again.steps == ("park_and_chock", "tilt_cab")


def test_every_proposal_carries_its_cautions(reference: NextLook) -> None:
    for p in reference.proposals:
        assert p.cautions[-1] == "The maker's procedure and local rules come first."


def test_looks_made_already_are_told_with_the_reason(reference: NextLook) -> None:
    closed = dict(reference.closed)
    assert closed["look_front_cover"] == "has been made already"
    assert "look_front_cover" not in {p.inspection for p in reference.proposals}


def test_the_two_likeliest_are_told_apart(reference: NextLook) -> None:
    telling = reference.telling
    assert telling is not None
    assert {telling.first, telling.second} == {"head_cover_gasket_rear", "vacuum_pump_o_ring"}
    # Dry at the one's own place speaks for the other.
    assert telling.wet * telling.dry < 0
    assert telling.per_minute > 0


def test_the_table_and_the_schema(reference: NextLook) -> None:
    assert len(reference.table) == len(reference.proposals)
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    document = json.loads(json.dumps(reference.to_json_dict()))
    jsonschema.Draft202012Validator(schema).validate(document)


def test_the_chance_to_be_dry_after_renewing() -> None:
    loaded = load_job(DATA / "wet_foot.yaml")
    solved = solve(loaded, PRIORS)
    found = next_of(Weigher.of(loaded, PRIORS), solved)
    tight = {
        latest(solved, s.id): np.array([1.0, 0, 0, 0])
        for s in loaded.machine.seal_points
        if s.id not in found.plan.seals
    }
    # Straight from the definition: P(tight and the readings) / P(the readings).
    both = solved.tree.log_evidence(Evidence({**solved.evidence, **tight}))
    assert found.plan.dry == pytest.approx(float(np.exp(both - solved.beliefs.log_evidence)))


def test_looking_ahead_and_the_ranking_agree_in_the_same_detail() -> None:
    loaded = load_job(DATA / "wet_foot.yaml")
    weigher = Weigher.of(loaded, PRIORS)
    solved = solve(loaded, PRIORS)
    assert (weigher.ahead.detail, solved.detail) == (0, 0)
    view = view_of(weigher.ahead)
    leaks = [1 - float(solved.beliefs[latest(solved, s)][0]) for s in weigher.ids]
    assert view.leaks == pytest.approx(leaks, abs=1e-9)


def test_nothing_to_look_with() -> None:
    bare = STAND.model_copy(update={"inspections": ()})
    found = next_look(job_on(bare), PRIORS)
    assert found.proposals == ()
    assert found.stop == "no inspection is left that could be made now"
    assert found.sentence.startswith("Stop looking: no inspection is left")


def test_a_decided_job() -> None:
    sure = [
        {"seal_point": s.id, "state": "dripping" if k == 0 else "tight", "sure": "good"}
        for k, s in enumerate(STAND.seal_points)
        for _ in range(4)
    ]
    found = next_look(job_on(STAND, *sure), PRIORS)
    assert found.stop is not None and "decided already" in found.stop
    assert STAND.seal_points[0].id in found.plan.seals


def test_a_look_that_costs_more_than_all_it_saves_is_not_worth_taking() -> None:
    dear = tuple(i.model_copy(update={"minutes": 5000.0}) for i in STAND.inspections)
    seen = {"zone": "cover_side", "state": "film"}
    found = next_look(job_on(STAND.model_copy(update={"inspections": dear}), seen), PRIORS)
    assert found.stop == "no look is worth its minutes any more"


def test_dearer_comebacks_make_looking_and_renewing_worth_more() -> None:
    def asked(comeback: float) -> NextLook:
        costs = {"currency": "EUR", "labour_per_hour": 60, "comeback": comeback}
        return next_look(
            job_on(STAND, {"zone": STAND.zones[0].id, "state": "film"}, costs=costs), PRIORS
        )

    cheap, dear = asked(1), asked(5000)
    assert len(dear.plan.seals) >= len(cheap.plan.seals)
    assert max(p.fall for p in dear.proposals) > max(p.fall for p in cheap.proposals)
    assert "EUR" in dear.plan.said


def test_a_look_is_charged_with_what_it_spoils() -> None:
    loaded = load_shipped_job("rear_of_engine_wet")
    weigher = Weigher.of(loaded, PRIORS)
    alone = {w.look.inspection.id: w.gain for w in weigher.weighed(view_of(weigher.ahead))}
    found = next_of(weigher, solve(loaded, PRIORS)).proposals
    spoiling = [p for p in found if any(alone[s] > 1 for s in p.spoils)]
    assert spoiling
    for p in found:
        loss = max((alone[s] for s in p.spoils), default=0.0)
        charged = alone[p.inspection] - p.gain
        # What it makes dearer may cost more than what it spoils, never more than is to be had.
        assert charged >= max(loss, 0.0) - 1e-9
        assert charged <= max(0.0, loss, *(g for i, g in alone.items() if i != p.inspection)) + 1e-9
        if charged > max(loss, 0.0) + 5:
            assert p.delays


def test_a_look_is_charged_with_what_it_makes_dearer() -> None:
    # A drive of 25 minutes between, and the machine is no longer cold: the look that wants it
    # cold is dearer by the share of a night that is lost, by hand 600 x 0.05 = 30 minutes, as
    # far as that look is worth it.
    quick = {"minutes": 0.5, "access": ()}
    looks = [i for i in STAND.inspections if i.reads.seal_points or i.reads.zones][:2]
    cold, hot = (
        i.model_copy(update=quick | {"method": Method.EYES, "destroys": ()}) for i in looks
    )
    cold = cold.model_copy(update={"state": (MachineState.COLD,)})
    hot = hot.model_copy(update={"state": (MachineState.HOT_IDLE,)})
    machine = STAND.model_copy(update={"inspections": (cold, hot)})
    costs = {"currency": "EUR", "labour_per_hour": 60, "comeback": 3000}
    night = {"run_minutes": 700, "use": "parked"}
    loaded = job_on(machine, {"zone": STAND.zones[0].id, "state": "film"}, night, costs=costs)
    weigher = Weigher.of(loaded, PRIORS)
    alone = {w.look.inspection.id: w for w in weigher.weighed(view_of(weigher.ahead))}
    found = {p.inspection: p for p in next_of(weigher, solve(loaded, PRIORS)).proposals}
    assert alone[cold.id].gain > 30
    assert (found[cold.id].ready, found[hot.id].ready) == (0, 12)
    assert found[hot.id].delays == (cold.id,)
    assert found[hot.id].gain == pytest.approx(alone[hot.id].gain - 30)
    # The other way round nothing is lost: warming it up is no dearer from cold.
    assert found[cold.id].delays == ()
    assert found[cold.id].gain == pytest.approx(alone[cold.id].gain)


def test_risk_and_readiness_are_taken_off_the_gain() -> None:
    loaded = load_shipped_job("rear_of_engine_wet")
    weigher = Weigher.of(loaded, PRIORS)
    weighed = weigher.weighed(view_of(weigher.ahead))
    refit = PRIORS["costs.refit_share"]
    minutes = {s.id: s.minutes for s in loaded.machine.access_steps}
    risky = 0
    for w in weighed:
        steps = sum(minutes[s] * (1 + refit) for s in w.look.steps)
        assert w.price == pytest.approx(w.look.inspection.minutes + steps + w.look.ready)
        assert w.gain == pytest.approx(w.fall - w.price - w.risk)
        risky += w.risk > 0
        assert (w.risk > 0) == bool(w.look.harms)
    assert 0 < risky < len(weighed)


def test_what_a_look_takes_off_is_not_paid_for_again() -> None:
    # By hand: one seal point behind a cover of 100 minutes, 10 to renew; a leak that is left
    # costs 300 and 110 later.  Sure to leak or sure not, half each; looking takes the cover off.
    labour = Labour({"a": 10.0}, {"cover": 100.0}, {"a": frozenset({"cover"})}, 300.0)
    plans = Plans.of(labour, {"a": 0.5})
    told = Outlook(("dry", "wet"), np.array([0.5, 0.5]), np.array([[0.0], [1.0]]))
    # Now: renewing at 110 beats leaving at 0.5 x 410 = 205.
    assert plans.fall(told) == pytest.approx(110 - 0.5 * 110)
    assert plans.fall(told, frozenset({"cover"})) == pytest.approx(110 - 0.5 * 10)


def test_a_seal_point_that_cannot_leak_any_more() -> None:
    # An inspection that never misses has seen it tight: that it leaks is impossible.
    looks = tuple(i.model_copy(update={"miss": 0.0, "false_call": 0.0}) for i in STAND.inspections)
    machine = STAND.model_copy(update={"inspections": looks})
    seal = next(s for i in looks for s in i.reads.seal_points)
    by = next(i.id for i in looks if seal in i.reads.seal_points)
    found = next_look(job_on(machine, {"seal_point": seal, "state": "tight", "inspection": by}))
    assert seal not in found.plan.seals
    assert found.sentence


def test_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["next", str(DATA / "wet_foot.yaml")]) == 0
    said = capsys.readouterr().out
    assert said.startswith(("Next: ", "Stop looking: "))
    assert "minutes of labour" in said.replace("\n", " ")
    assert cli.main(["next", str(DATA / "wet_foot.yaml"), "--json"]) == 0
    jsonschema.Draft202012Validator(json_schema()).validate(json.loads(capsys.readouterr().out))
    assert cli.main(["next", "no_such_job"]) == 2


def test_any_two_may_be_told_apart() -> None:
    """The pair asked for, in the order asked for: the other way round the signs turn over."""
    loaded = load_shipped_job("rear_of_engine_wet")
    weigher, solved = Weigher.of(loaded, PRIORS), solve(loaded, PRIORS)
    pair = ("sump_joint_rear", "crank_seal_rear")
    one = next_of(weigher, solved, pair=pair).telling
    other = next_of(weigher, solved, pair=(pair[1], pair[0])).telling
    assert one is not None and other is not None
    assert (one.first, one.second) == pair
    assert (one.inspection, one.thing) == (other.inspection, other.thing)
    assert (one.wet, one.dry) == pytest.approx((-other.wet, -other.dry))


@pytest.mark.parametrize(
    ("pair", "said"),
    [
        (("nowhere", "elsewhere"), ["no seal point nowhere", "no seal point elsewhere"]),
        (("drain_plug", "drain_plug"), ["cannot be told apart from itself"]),
    ],
)
def test_a_pair_that_is_none_is_refused(pair: tuple[str, str], said: list[str]) -> None:
    with pytest.raises(FaultyInput) as refused:
        next_look(load_shipped_job("rear_of_engine_wet"), PRIORS, pair)
    problems = [fault.problem for fault in refused.value.faults]
    assert len(problems) == len(said)
    assert all(any(words in p for p in problems) for words in said)
