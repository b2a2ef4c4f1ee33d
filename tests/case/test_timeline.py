"""A job told in order: what was clean when, and which seal was which."""

from __future__ import annotations

from itertools import pairwise, permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakdx.case.model import Conditions, Job, Wash, ZoneReading
from leakdx.case.timeline import Story
from leakdx.case.timeline import story_of as story_on
from leakdx.machine.model import Machine, Stand
from leakdx.network.refit import Check, How
from leakdx.network.setting import Epoch, Use
from leakdx.network.uses import airflow
from leakdx.priors.read import shipped_priors
from tests.flow.boxes import box, machine
from tests.network.test_refit import joint

PRIORS = shipped_priors()
MADE = machine(box())

RUN = {"run_minutes": 30.0}
WHOLE = {"wash": "whole"}
RENEWED = {"renew": "cover"}

events = st.one_of(
    st.builds(lambda m: {"run_minutes": m}, st.floats(1, 300)),
    st.just(WHOLE),
    st.builds(lambda z: {"wash": z}, st.lists(st.sampled_from(["top", "side"]), min_size=1)),
    st.sampled_from([RENEWED, {"renew": "plug"}]),
    st.builds(
        lambda z, s: {"zone": z, "state": s},
        st.sampled_from(["top", "side"]),
        st.sampled_from(["dry", "film", "not_looked"]),
    ),
)
timelines = st.lists(events, max_size=8)
whole_washes = timelines.map(lambda t: [WHOLE if "wash" in e else e for e in t])


def job(*timeline: dict[str, Any], **conditions: Any) -> Job:
    return Job.model_validate(
        {
            "format": "leakdx-job/1",
            "id": "a_job",
            "machine": {"id": "bench_box", "version": "1"},
            "conditions": conditions,
            "timeline": list(timeline),
        }
    )


def story_of(one: Job, made: Machine = MADE) -> Story:
    return story_on(one, made, PRIORS)


def told(*timeline: dict[str, Any], **conditions: Any) -> Story:
    return story_of(job(*timeline, **conditions))


def look(zone: str = "top", state: str = "film") -> dict[str, Any]:
    return {"zone": zone, "state": state}


def spilled_zones(epoch: Epoch) -> set[str]:
    return {zone for _, zone in epoch.spilled}


def epochs_of_readings(story: Story) -> list[int]:
    return [t.epoch for t in story.taken]


def test_a_job_of_which_nothing_is_told_is_one_epoch_as_the_machine_stood() -> None:
    story = told(pitch_deg=4, roll_deg=-2, airflow_m_s=7, fluid_temperature_C=60, hours=12)
    (epoch,) = story.epochs
    assert (epoch.attitude.pitch_deg, epoch.attitude.roll_deg) == (4, -2)
    assert (epoch.airflow_m_s, epoch.temperature_C, epoch.hours) == (7, 60, 12)
    assert story.washed == (0,)
    assert not story.repaired
    assert not story.taken


# Washing.


def test_a_wash_starts_an_epoch_that_has_not_run_yet() -> None:
    story = told(look(), WHOLE, look(), hours=12)
    first, second = story.epochs
    assert first.hours == 12
    assert second.hours == 0
    assert second.attitude == first.attitude
    assert epochs_of_readings(story) == [0, 1]


def test_a_wash_of_a_machine_never_known_clean_is_known_clean_from_then_on() -> None:
    first, second = told(WHOLE, RUN).epochs
    assert first.hours is None
    assert second.hours == pytest.approx(0.5)


def test_each_wash_tells_how_thorough_it_was() -> None:
    story = told({"wash": "whole", "thoroughness": 0.6}, {"wash": ["top"], "thoroughness": 0.9})
    assert story.washed == (0, 0.6, 0.9)


def test_a_wash_of_no_zones_changes_nothing() -> None:
    nothing = Wash.model_construct(wash=(), thoroughness=0.95)
    plain = job(look(), RUN, look())
    with_it = plain.model_copy(
        update={"timeline": (*plain.timeline[:2], nothing, plain.timeline[2])}
    )
    without, story = story_of(plain), story_of(with_it)
    assert story.epochs == without.epochs
    assert story.washed == without.washed
    assert epochs_of_readings(story) == epochs_of_readings(without)


def test_a_zone_that_a_wash_left_out_stays_as_it_was() -> None:
    story = told(look("top"), look("side"), {"wash": ["side"]}, look("top"), look("side"))
    assert epochs_of_readings(story) == [0, 0, 0, 1]


def test_a_wash_of_everything_leaves_nothing_out() -> None:
    story = told({"wash": ["side"]}, WHOLE, look("top"), look("side"), look("front"))
    assert epochs_of_readings(story) == [2, 2, 2]


def test_each_zone_is_as_old_as_its_own_last_wash() -> None:
    story = told({"wash": ["top"]}, {"wash": ["side"]}, look("top"), look("side"), look("front"))
    assert epochs_of_readings(story) == [1, 2, 0]


# Running.


def test_a_run_adds_its_hours_to_the_epoch_it_falls_in() -> None:
    first, second = told(RUN, WHOLE, RUN, {"run_minutes": 60.0}, hours=10).epochs
    assert first.hours == pytest.approx(10.5)
    assert second.hours == pytest.approx(1.5)


def test_a_run_does_not_make_an_unknown_time_known() -> None:
    assert told(RUN).epochs[0].hours is None


def test_a_run_says_how_the_air_blew_and_how_warm_it_was() -> None:
    warm = {"run_minutes": 10.0, "airflow_m_s": 20.0, "fluid_temperature_C": 90.0}
    (epoch,) = told(warm, airflow_m_s=0, fluid_temperature_C=20).epochs
    assert (epoch.airflow_m_s, epoch.temperature_C) == (20, 90)
    (silent,) = told(RUN, airflow_m_s=5, fluid_temperature_C=20).epochs
    assert (silent.airflow_m_s, silent.temperature_C) == (5, 20)


def test_a_run_in_still_air_or_frost_is_not_a_run_of_which_nothing_is_said() -> None:
    cold = {"run_minutes": 10.0, "airflow_m_s": 0.0, "fluid_temperature_C": 0.0}
    (epoch,) = told(cold, airflow_m_s=9, fluid_temperature_C=80).epochs
    assert (epoch.airflow_m_s, epoch.temperature_C) == (0, 0)


def test_how_one_epoch_ran_says_nothing_of_the_next() -> None:
    fast = {"run_minutes": 10.0, "airflow_m_s": 20.0, "fluid_temperature_C": 90.0}
    _, second = told(fast, WHOLE, RUN, airflow_m_s=0, fluid_temperature_C=20).epochs
    assert (second.airflow_m_s, second.temperature_C) == (0, 20)


@given(timelines, st.floats(1, 300), timelines)
def test_one_run_is_two_runs_of_half_the_time(
    before: list[dict[str, Any]], minutes: float, after: list[dict[str, Any]]
) -> None:
    once = told(*before, {"run_minutes": minutes}, *after, hours=3)
    halves = told(*before, *[{"run_minutes": minutes / 2}] * 2, *after, hours=3)
    assert [e.hours for e in halves.epochs] == pytest.approx([e.hours for e in once.epochs])
    for split, whole in zip(halves.epochs, once.epochs, strict=True):
        assert split.active == whole.active
        assert split.airflow_m_s == pytest.approx(whole.airflow_m_s)
    assert epochs_of_readings(halves) == epochs_of_readings(once)
    assert halves.repaired == once.repaired


@given(timelines)
def test_time_only_goes_forward(timeline: list[dict[str, Any]]) -> None:
    story = told(*timeline, hours=3)
    assert len(story.epochs) == len(story.washed)
    washes = sum("wash" in e for e in timeline)
    # A repair after a reading begins an epoch on the same surface.
    anew = sum(story.generations.values()) - len(story.generations)
    assert 1 + washes <= len(story.epochs) <= (1 + washes) * (1 + anew)
    total = sum(e["run_minutes"] for e in timeline if "run_minutes" in e) / 60
    assert sum(e.hours or 0 for e in story.epochs) >= 3 + total - 1e-9
    by_zone: dict[str, int] = {}
    for t in story.taken:
        assert isinstance(t.reading, ZoneReading)
        assert by_zone.get(t.reading.zone, 0) <= t.epoch < len(story.epochs)
        by_zone[t.reading.zone] = t.epoch
    assert [t.number for t in story.taken] == [
        n for n, event in enumerate(timeline) if "zone" in event
    ]


# Renewing.


@pytest.mark.parametrize(
    "event",
    [
        RENEWED,
        {"context": "renewed", "seal_point": "cover"},
        {"context": "recent_work", "seal_point": "cover"},
    ],
)
def test_work_on_a_joint_begins_a_new_one(event: dict[str, Any]) -> None:
    story = told(event)
    assert story.generations == {"cover": 2}
    # What it left before is still there, so both have wetted this surface.
    assert story.epochs[0].active == {"cover": (0, 1)}
    assert story.repaired == {0}


def test_after_a_wash_only_the_new_joint_leaks() -> None:
    story = told(RENEWED, WHOLE)
    assert story.epochs[0].active == {"cover": (0, 1)}
    assert story.epochs[1].active == {"cover": (1,)}
    assert story.repaired == {0}


def test_a_joint_renewed_twice_has_three_lives() -> None:
    story = told(RENEWED, WHOLE, RENEWED, WHOLE)
    assert story.generations == {"cover": 3}
    assert [e.active["cover"] for e in story.epochs] == [(0, 1), (1, 2), (2,)]
    assert story.repaired == {0, 1}


def test_renewing_one_joint_leaves_the_others_what_they_were() -> None:
    story = told(RENEWED, WHOLE)
    assert all("plug" not in e.active for e in story.epochs)
    assert "plug" not in story.generations


def test_other_contexts_begin_nothing() -> None:
    for kind in ("sealant_seen", "fastener_loose", "hard_and_rigid", "gasket_rolled", "long_idle"):
        story = told({"context": kind, "seal_point": "cover"})
        assert not story.generations
        assert not story.repaired
        assert [c.context.value for c in story.contexts] == [kind]


@given(whole_washes)
def test_a_joint_leaks_in_the_lives_it_has_had_so_far(timeline: list[dict[str, Any]]) -> None:
    story = told(*timeline)
    for seal in ("cover", "plug"):
        renewals = sum(e.get("renew") == seal for e in timeline)
        assert story.generations.get(seal, 1) == 1 + renewals
        lives = [e.active.get(seal, (0,)) for e in story.epochs]
        for earlier, later in pairwise(lives):
            # A wash takes away what came before the last life; a repair after a reading
            # goes on with the same surface, and so with all its lives.
            assert later[0] in (earlier[0], earlier[-1])
        for life in lives:
            assert list(life) == list(range(life[0], life[-1] + 1))
        assert lives[-1][-1] == renewals


# Spilling.


def test_a_spill_is_on_the_zone_until_it_is_washed() -> None:
    spilled = {"context": "spilled_at_filling", "zone": "top"}
    story = told(spilled, WHOLE)
    assert spilled_zones(story.epochs[0]) == {"top"}
    assert not spilled_zones(story.epochs[1])
    late = told(WHOLE, spilled)
    assert not spilled_zones(late.epochs[0])
    assert spilled_zones(late.epochs[1]) == {"top"}


def test_a_spill_on_a_zone_a_wash_left_out_is_where_that_zone_is_read() -> None:
    spilled = {"context": "spilled_at_filling", "zone": "top"}
    story = told({"wash": ["side"]}, spilled, look("top"))
    (taken,) = story.taken
    assert "top" in spilled_zones(story.epochs[taken.epoch])


def test_a_spill_is_of_the_fluid_that_was_named() -> None:
    spilled = {"context": "spilled_at_filling", "zone": "top"}
    assert told(spilled | {"fluid": "oil"}).epochs[0].spilled == {("oil", "top")}
    assert told(spilled).epochs[0].spilled == {(None, "top")}


def test_two_spills_are_on_two_zones() -> None:
    spills = [{"context": "spilled_at_filling", "zone": z} for z in ("top", "side")]
    assert spilled_zones(told(*spills).epochs[0]) == {"top", "side"}


def test_a_spill_of_which_the_place_is_not_known_is_on_no_zone_in_particular() -> None:
    story = told({"context": "spilled_at_filling", "fluid": "oil"})
    assert not spilled_zones(story.epochs[0])
    assert len(story.contexts) == 1


# The order of looks.


def test_the_order_of_looks_between_washes_changes_no_epoch() -> None:
    looks = [look("top"), look("side", "dry"), {"seal_point": "cover", "state": "tight"}]
    for order in permutations(looks):
        story = told(RUN, *order, RUN, hours=1)
        assert epochs_of_readings(story) == [0, 0, 0]
        assert story.epochs == told(RUN, RUN, hours=1).epochs


def test_a_job_is_only_read() -> None:
    told_once = job(look(), RENEWED, WHOLE, RUN, hours=2)
    assert story_of(told_once).epochs == story_of(told_once).epochs
    assert told_once.conditions == Conditions(hours=2)


# Parked, idled, driven, and in which stand.

RAMP = Stand(id="ramp", pitch_deg=8.0)
SIDE = Stand(id="side_stand", roll_deg=-12.0)
ON_STANDS = machine(box(), stands=(RAMP, SIDE))


def stood(*timeline: dict[str, Any], **conditions: Any) -> Story:
    return story_of(job(*timeline, **conditions), ON_STANDS)


def attitude(story: Story, epoch: int = -1) -> tuple[float, float]:
    found = story.epochs[epoch].attitude
    return found.pitch_deg, found.roll_deg


def test_a_stand_says_how_the_machine_stood() -> None:
    assert attitude(stood(stand="ramp")) == (8, 0)
    assert attitude(stood(stand="side_stand")) == (0, -12)
    # And so it stands after a wash, until it is said to stand otherwise.
    assert attitude(stood(WHOLE, RUN, stand="ramp")) == (8, 0)
    assert attitude(stood(WHOLE, RUN | {"stand": "side_stand"}, stand="ramp")) == (0, -12)


def test_a_stand_the_machine_does_not_have_is_no_guess() -> None:
    with pytest.raises(KeyError, match="ramp"):
        told(stand="ramp")


def test_fluid_shows_the_stand_it_ran_in_for_longest() -> None:
    short, long = (
        {"run_minutes": 10.0, "stand": "ramp"},
        {"run_minutes": 50.0, "stand": "side_stand"},
    )
    for order in ((short, long), (long, short)):
        assert attitude(stood(WHOLE, *order)) == (0, -12)
    # Hours that are stated are a stretch like any other; of unknown ones the run knows more.
    assert attitude(stood(short, hours=20, pitch_deg=3)) == (3, 0)
    assert attitude(stood(short, pitch_deg=3)) == (8, 0)
    # A run that names no stand ran as the conditions say.
    assert attitude(stood(WHOLE, short, {"run_minutes": 60.0}, pitch_deg=3)) == (3, 0)


def test_a_stand_after_a_repair_is_of_the_new_epoch_too() -> None:
    story = stood(WHOLE, RUN | {"stand": "ramp"}, look(), RENEWED, {"run_minutes": 5.0})
    assert [attitude(story, e) for e in range(len(story.epochs))] == [(0, 0), (8, 0), (8, 0)]


def test_the_hours_in_each_use_add_up() -> None:
    parked = {"run_minutes": 120.0, "use": "parked"}
    (epoch,) = told(parked, RUN, RUN | {"use": "idled"}, hours=3, use="driven").epochs
    assert epoch.spent == {Use.DRIVEN: 3.5, Use.PARKED: 2.0, Use.IDLED: 0.5}
    assert epoch.hours == 6
    (unstated,) = told(RUN, hours=3).epochs
    assert unstated.spent == {None: 3.5}


def test_unknown_hours_are_as_many_as_usual_beside_a_night_parked() -> None:
    (epoch,) = told({"run_minutes": 600.0, "use": "parked"}, use="driven").epochs
    assert epoch.hours is None
    assert epoch.spent == {Use.DRIVEN: PRIORS["flow.hours_since_clean"], Use.PARKED: 10.0}


def test_a_wash_forgets_the_uses_before_it() -> None:
    _, washed = told(RUN, WHOLE, RUN | {"use": "idled"}, use="driven", hours=9).epochs
    assert washed.shares == {Use.IDLED: 1.0}
    _, not_run = told(RUN, WHOLE, use="driven", hours=9).epochs
    assert not_run.shares == {Use.DRIVEN: 1.0}


def test_air_that_is_not_stated_is_as_usual_in_that_use() -> None:
    usual = {use: airflow(use, PRIORS) for use in Use}
    for use in Use:
        assert told(use=use.value).epochs[0].wind.airflow_m_s == usual[use]
    assert told().epochs[0].airflow_m_s == 0
    assert told(use="driven", airflow_m_s=0).epochs[0].airflow_m_s == 0
    driven = RUN | {"use": "driven"}
    assert told(WHOLE, driven, use="idled").epochs[1].airflow_m_s == usual[Use.DRIVEN]
    # A run of the same use as the conditions meets the air that those state.
    assert told(WHOLE, driven, use="driven", airflow_m_s=3).epochs[1].airflow_m_s == 3


def test_a_night_parked_does_not_thin_the_air_of_the_run() -> None:
    ran, night = RUN | {"airflow_m_s": 6.0}, {"run_minutes": 600.0, "use": "parked"}
    for order in ((ran, night), (night, ran)):
        assert told(WHOLE, *order).epochs[1].wind.airflow_m_s == 6
    # Only parked, it met none, whatever air the conditions state for the rest.
    assert told(WHOLE, night, airflow_m_s=6).epochs[1].wind.airflow_m_s == 0
    assert not told(WHOLE, night, airflow_m_s=6).epochs[1].wind.turning


# Work beside a joint.

GASKET = [
    joint(f"cover_{side}", part_of="cover", access=("lid",), position_mm=(n * 300, 0, 0))
    for n, side in enumerate(("left", "right"))
]
BESIDE = machine(
    box(),
    seal_points=(
        *GASKET,
        *(
            joint(f"union_{n}", kind="pipe_union", position_mm=(0, 20 + 10 * n, 0))
            for n in range(5)
        ),
        joint("far_off", position_mm=(0, 0, 900)),
    ),
)
LEFT, RIGHT = {"renew": "cover_left"}, {"renew": "cover_right"}


def beside(*timeline: dict[str, Any]) -> Story:
    return story_of(job(*timeline), BESIDE)


def disturbed(story: Story) -> dict[str, list[str]]:
    """Of each joint that work disturbed, how it began each life."""
    return {
        seal: [life.origin.value for life in lives]
        for seal, lives in story.lives.items()
        if any(life.disturbed for life in lives)
    }


def test_work_may_disturb_the_nearest_joints_and_no_more_than_four() -> None:
    story = beside(look(), WHOLE, RUN, look(), LEFT, WHOLE, RUN, look())
    assert disturbed(story) == {
        seal: ["first", "disturbed"] for seal in ("cover_right", "union_0", "union_1", "union_2")
    }
    assert [e.active.get("union_0", (0,)) for e in story.epochs] == [(0,), (0,), (1,), (1,)]
    assert [e.active.get("cover_left", (0,)) for e in story.epochs] == [(0,), (0,), (0, 1), (1,)]
    assert "far_off" not in story.generations


def test_of_a_joint_read_by_nothing_before_the_work_nothing_is_told_apart() -> None:
    story = beside(LEFT, WHOLE, RUN, look())
    assert disturbed(story) == {
        seal: ["first"] for seal in ("cover_right", "union_0", "union_1", "union_2")
    }
    assert story.generations == {"cover_left": 2}


def test_what_is_renewed_in_the_same_repair_is_not_disturbed_by_it() -> None:
    for order in ((LEFT, RIGHT), (RIGHT, LEFT)):
        story = beside(look(), *order, WHOLE, RUN, look())
        assert "cover_right" not in disturbed(story)
        assert "cover_left" not in disturbed(story)
        assert story.generations["cover_right"] == story.generations["cover_left"] == 2


def test_a_later_repair_disturbs_what_an_earlier_one_renewed() -> None:
    story = beside(look(), RIGHT, WHOLE, RUN, look(), LEFT, WHOLE, RUN, look())
    assert disturbed(story)["cover_right"] == ["first", "renewed", "disturbed"]
    lives = [e.active.get("cover_right", (0,)) for e in story.epochs]
    # Disturbed, it is still the joint that it was, in the mess it made before the wash too.
    assert lives == [(0,), (0, 1), (1,), (2,), (2,)]
    # The first repair had disturbed the joint that the second renewed.
    assert [x.origin.value for x in story.lives["cover_left"]] == ["first", "disturbed", "renewed"]


def test_what_was_checked_at_a_renewal_is_of_that_life() -> None:
    checked = LEFT | {"checks": ["mirror", "torque"], "how": "refitted"}
    first, old, new = beside(LEFT, WHOLE, checked).lives["cover_left"]
    assert (first.checks, old.checks) == (set(), set())
    assert new.checks == {Check.MIRROR, Check.TORQUE}
    assert (old.how, new.how) == (How.NEW_PART, How.REFITTED)


def test_a_context_is_of_the_life_in_which_it_was_told() -> None:
    loose = {"context": "fastener_loose", "seal_point": "cover_left"}
    story = beside(loose, LEFT, loose, WHOLE, LEFT, loose)
    assert [t.get("cover_left", 1) for t in story.told] == [1, 2, 3]
