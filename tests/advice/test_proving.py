"""How long to wash, run and look until it is sure that a repair has cured it."""

from __future__ import annotations

from functools import cache

import pytest

from leakdx.advice.proof import close_looks
from leakdx.advice.proving import (
    MINUTES,
    NIGHT,
    Curve,
    Outlook,
    Prospect,
    Round,
    Trial,
    round_of,
)
from leakdx.advice.ranking import not_these
from leakdx.advice.solving import solve
from leakdx.case.model import Run, Wash, ZoneReading, ZoneState
from leakdx.case.read import load_shipped_job
from leakdx.machine.model import Drive, Machine
from leakdx.network.setting import Use
from tests.advice.repaired import DRY_SIDE, DRY_TOP, MADE, PRIORS, RENEW, WASH, WET, job, run_for


def driven_by(drive: Drive) -> Machine:
    """The pump stand with a cover gasket that is pushed so."""
    seals = tuple(
        s.model_copy(update={"drive": drive}) if s.id == "cover_gasket" else s
        for s in MADE.seal_points
    )
    return MADE.model_copy(update={"seal_points": seals})


@cache
def outlook(drive: Drive, use: Use, minutes: int) -> Outlook:
    """All dry after a run, where the renewed gasket is pushed so."""
    loaded = job(WET, RENEW, machine=driven_by(drive))
    trial = Trial(use, minutes)
    ahead = Prospect.of(loaded, PRIORS, round_of(loaded, PRIORS), trial)
    return ahead.outlook(trial, ["cover_gasket"])


# How long to run.


def test_fifteen_minutes_idled_say_less_than_half_an_hour_driven() -> None:
    # Common practice, no source: idle about 15 minutes and look, else drive about 25 km and
    # look again, for what leaks only under load.
    for drive in (Drive.GAS_PRESSURE, Drive.PRESSURE_FED):
        idled, driven = outlook(drive, Use.IDLED, 15), outlook(drive, Use.DRIVEN, 30)
        assert idled.holds[1] < driven.holds[1] - 0.005
        assert outlook(drive, Use.IDLED, 30).holds[1] < driven.holds[1] - 0.002
        assert idled.dry[1] < driven.dry[1]


def test_what_the_level_stands_against_needs_no_load() -> None:
    # Common practice, no source: a joint below the level leaks at rest as it does driven.
    idled, driven = (outlook(Drive.STATIC_HEAD, u, 60) for u in (Use.IDLED, Use.DRIVEN))
    assert idled.holds[1] == pytest.approx(driven.holds[1], abs=0.01)
    loaded = outlook(Drive.GAS_PRESSURE, Use.DRIVEN, 60).holds[1]
    assert loaded - outlook(Drive.GAS_PRESSURE, Use.IDLED, 60).holds[1] > 3 * abs(
        idled.holds[1] - driven.holds[1]
    )


def test_longer_runs_make_it_surer() -> None:
    loaded = job(WET, RENEW)
    ahead = Prospect.of(loaded, PRIORS, round_of(loaded, PRIORS), Trial(Use.DRIVEN, 60))
    found = [ahead.outlook(Trial(Use.DRIVEN, m), ["cover_gasket"]) for m in MINUTES]
    for chance in ([f.dry[1] for f in found], [f.holds[1] for f in found]):
        assert chance == sorted(chance)
    assert len({round(f.holds[0], 9) for f in found}) == 1


@pytest.mark.parametrize("made_for", [Use.IDLED, Use.DRIVEN])
def test_an_outlook_is_the_job_carried_on_and_solved(made_for: Use) -> None:
    # Wash, run and dry readings written into the job by hand, and solved as any other.
    loaded = job(WET, RENEW)
    looked = round_of(loaded, PRIORS)
    trial = Trial(Use.IDLED, 45)
    ahead = Prospect.of(loaded, PRIORS, looked, Trial(made_for, 240))
    found = ahead.outlook(trial, ["cover_gasket"])
    by_hand = job(WET, RENEW, WASH, run_for(45, "idled"), DRY_TOP, DRY_SIDE)
    solved = solve(by_hand, PRIORS)
    assert solved.detail == ahead.detail
    assert found.dry[1] == pytest.approx(not_these(solved, PRIORS)[2], rel=1e-9)
    tight = float(solved.beliefs["seal__cover_gasket__1"][0])
    assert found.holds[1] == pytest.approx(tight, rel=1e-9)
    assert found.leaks["cover_gasket"] == pytest.approx(1 - tight, rel=1e-9)


def test_close_looks_left_out_are_as_if_never_taken() -> None:
    loaded = job(WET, RENEW)
    near = Trial(Use.DRIVEN, 60, close=(("shaft_seal", "wipe_shaft"), ("cover_gasket", None)))
    ahead = Prospect.of(loaded, PRIORS, round_of(loaded, PRIORS), near)
    none, both = ahead.sure_without(
        near, ["cover_gasket"], [frozenset({"wipe_shaft"}), frozenset()]
    )
    assert both[1] > none[1]
    assert ahead.outlook(near, ["cover_gasket"]).dry[1] == pytest.approx(both[1], rel=1e-9)


def test_a_trial_washes_runs_stands_and_looks() -> None:
    loaded = job(WET, RENEW)
    found = round_of(loaded, PRIORS)
    after = Trial(Use.DRIVEN, 90, night=True).carried_on(loaded.job, found.dry())
    wash, run, night, *looks = after.timeline[2:]
    assert isinstance(wash, Wash) and wash.wash == "whole"
    assert isinstance(run, Run) and (run.run_minutes, run.use) == (90, Use.DRIVEN)
    assert isinstance(night, Run) and (night.run_minutes, night.use) == (NIGHT, Use.PARKED)
    assert all(isinstance(e, ZoneReading) and e.state is ZoneState.DRY for e in looks)
    assert [e.zone for e in looks] == ["cover_top", "cover_side"]


def test_what_asks_for_a_cold_machine_or_a_strip_down_is_not_looked_at() -> None:
    loaded = load_shipped_job("rear_of_engine_renewed")
    found = round_of(loaded, PRIORS)
    by_id = {i.id: i for i in loaded.machine.inspections}
    for name in found.looks:
        assert not {"cold", "cooled", "drained"} & {s.value for s in by_id[name].state}
    assert "look_behind_rear_shield" not in found.looks  # hot, and the shield off
    assert "look_block_left_upper" in found.looks
    assert len(dict(found.zones)) == len(found.zones)


@pytest.mark.parametrize(("minutes", "looked"), [(10, True), (60, False)])
def test_what_takes_long_to_lay_bare_is_strip_down(minutes: float, looked: bool) -> None:
    steps = tuple(
        s.model_copy(update={"minutes": minutes}) if s.id == "take_off_guard" else s
        for s in MADE.access_steps
    )
    looks = tuple(
        i.model_copy(update={"access": ("take_off_guard",)}) if i.id == "look_at_cover" else i
        for i in MADE.inspections
    )
    machine = MADE.model_copy(update={"access_steps": steps, "inspections": looks})
    found = round_of(job(RENEW, machine=machine), PRIORS)
    assert found.looks == (("look_at_cover",) if looked else ())
    # One minute for the gate before it, and two for the look.
    assert found.minutes == (minutes + 3 if looked else 0)


def test_a_machine_without_inspections_is_looked_at_where_it_can_be_seen() -> None:
    bare = MADE.model_copy(update={"inspections": ()})
    found = round_of(job(RENEW, machine=bare), PRIORS)
    assert found == Round((), tuple((z.id, None) for z in bare.zones if not z.hidden), 0.0)


def test_the_closest_look_is_the_one_that_misses_least() -> None:
    machine = load_shipped_job("rear_of_engine_renewed").machine
    seals = ["vacuum_pump_o_ring", "head_cover_gasket_rear", "vacuum_pump_o_ring"]
    assert close_looks(machine, seals, dye=True) == (
        ("vacuum_pump_o_ring", "dye_rear_of_head"),
        ("head_cover_gasket_rear", "dye_rear_of_head"),
    )
    assert dict(close_looks(machine, ["gallery_plug_rear"], dye=False)) == {
        "gallery_plug_rear": "look_behind_rear_shield"
    }


# Lengths found by halving.


def curve(*values: float) -> tuple[Curve, list[int]]:
    asked: list[int] = []

    def at(minutes: int) -> float:
        asked.append(minutes)
        return values[MINUTES.index(minutes)]

    return Curve(at), asked


def test_halving_finds_the_first_length_that_does() -> None:
    values = (0.5, 0.6, 0.7, 0.8, 0.85, 0.88, 0.91, 0.93, 0.96, 0.98)
    for sure in (0.55, 0.75, 0.9, 0.95, 0.97):
        found, asked = curve(*values)
        minutes = found.minutes(sure)
        high = next(k for k, p in enumerate(values) if p >= sure)
        assert minutes is not None and MINUTES[high - 1] < minutes <= MINUTES[high]
        assert len(asked) == len(set(asked)) <= 6
    found, asked = curve(*values)
    assert found.minutes(0.99) is None and asked == [5, 240]
    assert found.minutes(0.4) == 5


def test_where_longer_is_not_surer_every_length_is_tried() -> None:
    values = (0.5, 0.6, 0.92, 0.95, 0.7, 0.88, 0.8, 0.85, 0.88, 0.89)
    found, _ = curve(*values)
    for place in range(len(MINUTES)):
        found.value(place)
    minutes = found.minutes(0.9)
    assert minutes is not None and 10 < minutes <= 20
    falling, _ = curve(*sorted(values, reverse=True))
    assert falling.minutes(0.93) == 5
