"""What it takes to bring a machine into the state a look asks for, by hand and by sense."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest

from leakdx.advice.looks import Look, looks_of
from leakdx.advice.ordering import Order
from leakdx.advice.readying import (
    States,
    brought_by,
    minutes_to,
    readying,
    standing,
    wanted,
)
from leakdx.case.model import Job
from leakdx.kit.read import load_shipped
from leakdx.machine.model import AccessStep, Inspection, Machine, MachineState
from leakdx.priors.model import Fixed, Priors, Quantity
from leakdx.priors.read import shipped_priors
from tests.advice.test_looks import bench, inspection, job, read, step

PRIORS = shipped_priors()
# Numbers of this test, so that what is added up below shows which were used.
NUMBERS = {
    "looks.ready.running": 1,
    "looks.ready.hot_idle": 10,
    "looks.ready.driven": 30,
    "looks.ready.lifted": 5,
    "looks.ready.lowered": 4,
    "looks.ready.battery_off": 2,
    "looks.ready.battery_on": 3,
    "looks.ready.drained": 20,
    "looks.ready.filled": 11,
    "looks.ready.washed": 17,
    "looks.waits.cooled": 60,
    "looks.waits.cold": 600,
    "looks.waiting_share": 0.2,
    "looks.overnight_share": 0.1,
    "looks.came_in_hot": 0.5,
}
MADE_UP = Priors(
    PRIORS.numbers
    | {
        key: Quantity(
            value=value, distribution=Fixed(family="fixed"), unit="minutes", source="made up"
        )
        for key, value in NUMBERS.items()
    }
)


def states(*names: str) -> States:
    return frozenset(MachineState(n) for n in names)


def minutes(state: str, now: str = "") -> float:
    return minutes_to(states(*state.split()), states(*now.split()), MADE_UP)


# From one state to another.


@pytest.mark.parametrize(
    ("state", "now", "expected"),
    [
        ("", "hot_idle lifted", 0),
        # Half of the machines of which nothing is known are still hot.
        ("cooled", "", 0.5 * 60 * 0.2),
        ("cold", "", 0.5 * 600 * 0.1),
        ("cooled", "hot_idle", 60 * 0.2),
        ("cooled", "driven", 60 * 0.2),
        ("cold", "driven", 600 * 0.1),
        ("cold", "cooled", 0.5 * (600 - 60) * 0.1),
        ("cooled", "cold", 0),
        ("cold", "cold", 0),
        ("cold running", "driven", 600 * 0.1 + 1),
        ("cold running", "cold", 1),
        ("hot_idle", "", 10),
        ("hot_idle", "cold", 10),
        ("hot_idle", "driven", 0),
        ("hot_idle", "hot_idle", 0),
        ("driven", "hot_idle", 30),
        ("driven", "driven", 0),
        ("driven", "lifted", 4 + 30),
        ("driven lifted", "", 30 + 5),
        ("driven lifted", "lifted", 4 + 30 + 5),
        ("driven lifted", "driven", 5),
        ("driven lifted", "driven lifted", 0),
        ("lifted", "lifted", 0),
        ("hot_idle lifted", "lifted", 10),
        ("battery_off", "", 2),
        ("running", "battery_off", 3 + 1),
        ("hot_idle", "battery_off drained", 3 + 11 + 10),
        ("drained", "battery_off", 20),
        ("washed", "hot_idle", 17),
        ("washed", "washed", 0),
    ],
)
def test_minutes_by_hand(state: str, now: str, expected: float) -> None:
    assert minutes(state, now) == pytest.approx(expected)


def test_waiting_is_told_whole_and_counted_in_part() -> None:
    told = readying(states("cold"), states("driven"), MADE_UP)
    assert (told.minutes, told.waits) == (pytest.approx(60), 600)
    assert readying(states("cooled"), states("hot_idle"), MADE_UP).waits == 60
    assert readying(states("hot_idle"), states("cold"), MADE_UP).waits == 0


@pytest.mark.parametrize("state", [s.value for s in MachineState if s is not MachineState.ANY])
def test_what_the_machine_is_already_costs_nothing(state: str) -> None:
    assert minutes_to(states(state), states(state), PRIORS) == 0


def test_no_state_is_reached_for_less_than_nothing() -> None:
    every = [*(states(s) for s in MachineState if s != "any"), states(), states("cold", "running")]
    for state, now in product(every, every):
        found = readying(state, now, PRIORS)
        assert found.minutes >= 0
        assert found.waits >= 0
        assert found.minutes <= 120


def test_letting_it_cool_makes_nothing_dearer() -> None:
    for wish in (("cold",), ("cooled",), ("cold", "running"), ("cold", "lifted")):
        for now in (("hot_idle",), ("driven",), ()):
            cooled = minutes_to(states(*wish), states("cooled"), PRIORS)
            assert cooled <= minutes_to(states(*wish), states(*now), PRIORS)


def test_common_sense_of_the_workshop() -> None:
    """Common practice, no source: cooling takes longer than warming, a night longer still."""
    cold_after_drive = minutes_to(states("cold", "running"), states("driven"), PRIORS)
    assert cold_after_drive > minutes_to(states("cold", "running"), states("cold"), PRIORS) + 20
    assert minutes_to(states("hot_idle"), states("driven"), PRIORS) == 0
    assert minutes_to(states("cooled"), states("driven"), PRIORS) < cold_after_drive
    for share in ("looks.waiting_share", "looks.overnight_share"):
        assert 0 < PRIORS[share] < 0.5


# How it stands now.


def watched() -> Machine:
    return bench(
        inspection("look_upper", "upper"),
        inspection("look_lifted", "far", state=["lifted"], access=["lift_on_stands"]),
        inspection("watch_start", "lower", state=["cold", "running"]),
        inspection("watch_hot", "lower", state=["hot_idle"]),
        inspection("scope", "far", state=["cold", "battery_off"], method="borescope"),
        inspection("wipe_cool", "upper", state=["cooled"], access=["cool_down"], method="wipe"),
        inspection("powder", "upper", state=["cooled", "washed"], method="powder"),
        steps=(step("lift_on_stands", 12), step("cool_down", 45)),
    )


def now(*timeline: dict[str, Any], **more: Any) -> set[str]:
    return {s.value for s in standing(watched(), job(*timeline, **more), MADE_UP)}


DRIVE = {"run_minutes": 40, "use": "driven"}
IDLE = {"run_minutes": 40, "use": "idled"}
NIGHT = {"run_minutes": 700, "use": "parked"}


def test_nothing_is_known_of_a_machine_that_just_came_in() -> None:
    assert now() == set()
    assert now(read("upper")) == set()
    assert now({"sign": "leaks_cold_start", "value": "yes"}) == set()


def test_a_run_makes_it_hot_and_a_night_cold() -> None:
    assert now(DRIVE) == {"driven"}
    assert now(IDLE) == {"hot_idle"}
    assert now({"run_minutes": 40}) == {"hot_idle"}
    assert now({"run_minutes": 40}, conditions={"use": "driven"}) == {"driven"}
    # Five minutes make nothing hot, and nothing that was cold stays so.
    assert now({"run_minutes": 5, "use": "idled"}) == set()
    assert now(NIGHT, {"run_minutes": 5, "use": "idled"}) == set()
    assert now(DRIVE, {"run_minutes": 5, "use": "idled"}) == {"driven"}
    assert now(DRIVE, NIGHT) == {"cold"}
    assert now(DRIVE, NIGHT | {"run_minutes": 90}) == {"cooled"}
    assert now(DRIVE, NIGHT | {"run_minutes": 20}) == {"driven"}
    assert now(NIGHT, NIGHT | {"run_minutes": 90}) == {"cold"}


def test_a_wash_of_the_whole_machine_lasts_until_it_runs() -> None:
    assert now({"wash": "whole"}) == {"washed"}
    assert now({"wash": ["upper"]}) == set()
    assert now({"wash": "whole"}, NIGHT) == {"washed", "cold"}
    assert now({"wash": "whole"}, DRIVE) == {"driven"}
    assert now({"wash": "whole"}, read("lower", "watch_hot")) == {"hot_idle"}


def test_the_last_look_leaves_the_machine_as_it_asked_for() -> None:
    assert now(read("far", "look_lifted")) == {"lifted"}
    assert now(read("far", "scope")) == {"cold", "battery_off"}
    assert now(read("lower", "watch_hot")) == {"hot_idle"}
    # Watched at its start it is not cold any longer; stopped for the next look.
    assert now(read("lower", "watch_start")) == {"running"}
    assert now(read("lower", "watch_start"), read("upper", "look_upper")) == set()
    # Cooled down by the step before it.
    assert now(DRIVE, read("upper", "wipe_cool")) == {"cooled"}
    assert now(DRIVE, read("upper", "look_upper")) == {"driven"}
    # For running it was let down and the battery put on.
    assert now(read("far", "scope"), read("lower", "watch_hot")) == {"hot_idle"}
    assert now(read("far", "look_lifted"), DRIVE) == {"driven"}
    # A look that was not taken changes nothing.
    assert now(DRIVE, read("far", "look_lifted", state="not_looked")) == {"driven"}


def test_powder_and_run_is_neither_cold_nor_clean_afterwards() -> None:
    assert now(NIGHT, {"wash": "whole"}, read("upper", "powder")) == set()


def test_what_was_hot_on_another_day_may_be_cold() -> None:
    later = read("upper", "look_upper")
    assert now(DRIVE | {"at": "day 1"}, later | {"at": "day 2"}) == set()
    assert now(DRIVE | {"at": "day 1"}, later | {"at": "day 1"}) == {"driven"}
    assert now(DRIVE | {"at": "day 1"}, later) == {"driven"}
    # Times that can be reckoned with: an hour cools it.
    start = DRIVE | {"at": "2031-05-04T10:00"}
    assert now(start, later | {"at": "2031-05-04T10:20"}) == {"driven"}
    assert now(start, later | {"at": "2031-05-04T12:20"}) == set()
    assert now(start, later | {"at": "2031-05-04T10:20+02:00"}) == set()
    # What was cold stays so.
    assert now(NIGHT | {"at": "day 1"}, later | {"at": "day 2"}) == {"cold"}


# Looks.


def open_looks(machine: Machine, made: Job) -> dict[str, Look]:
    return {k.inspection.id: k for k in looks_of(machine, made, MADE_UP).open}


def test_minutes_of_a_look_include_bringing_it_there() -> None:
    fresh, hot = open_looks(watched(), job()), open_looks(watched(), job(DRIVE))
    # Each look takes 5 itself.
    assert (fresh["watch_hot"].minutes, fresh["watch_hot"].ready) == (15, 10)
    assert (hot["watch_hot"].minutes, hot["watch_hot"].ready) == (5, 0)
    assert hot["watch_start"].minutes == pytest.approx(5 + 60 + 1)
    assert hot["watch_start"].waits == 600
    assert hot["look_upper"].minutes == 5


def test_a_step_that_brings_the_state_is_not_counted_twice() -> None:
    fresh = open_looks(watched(), job())
    assert (fresh["look_lifted"].minutes, fresh["look_lifted"].ready) == (5 + 12, 0)
    assert (fresh["wipe_cool"].minutes, fresh["wipe_cool"].ready) == (5 + 45, 0)
    # Powder is put on what it cleans itself; it still has to cool: half as likely as not.
    assert fresh["powder"].ready == pytest.approx(6)


def test_nothing_has_to_cool_that_is_cold() -> None:
    cold = open_looks(watched(), job(NIGHT))
    assert (cold["wipe_cool"].steps, cold["wipe_cool"].minutes) == ((), 5)
    hot = open_looks(watched(), job(NIGHT, DRIVE))
    assert hot["wipe_cool"].steps == ("cool_down",)


def test_what_steps_bring() -> None:
    said = {
        "lift_front": "Lift the front and set it on stands",
        "lift_lid": "Lift the lid with all that stands on it",
        "remove_oil_cooler": "Take off the oil cooler",
        "cool_down": "Let it cool",
        "drain_oil": "Drain the oil",
        "drain_plug_guard": "Take off the guard",
        "key_out": "Disconnect the battery",
    }
    steps = tuple(AccessStep(id=s, name=name, minutes=5) for s, name in said.items())
    made = bench(steps=steps)
    found = {s.id: {k.value for k in brought_by(made, [s.id])} for s in steps}
    assert found["lift_front"] == {"lifted"}
    assert found["lift_lid"] == found["remove_oil_cooler"] == found["drain_plug_guard"] == set()
    assert found["cool_down"] == {"cooled"}
    assert found["drain_oil"] == {"drained"}
    assert found["key_out"] == {"battery_off"}
    assert brought_by(made, []) == frozenset()


def test_what_a_method_does_itself() -> None:
    made = watched()

    def asked(method: str, *state: str) -> set[str]:
        look = Inspection.model_validate(
            {"id": "x", "minutes": 5, "reads": {}, "method": method, "state": state}
        )
        return {s.value for s in wanted(made, look, ())}

    assert asked("wash_and_run", "washed", "running", "lifted") == {"lifted"}
    assert asked("powder", "cooled", "washed") == {"cooled"}
    assert asked("dye_lamp", "hot_idle", "lifted") == {"lifted"}
    assert asked("eyes", "washed", "hot_idle") == {"washed", "hot_idle"}
    assert asked("eyes", "any") == set()


@pytest.mark.parametrize("name", ["forestry_carrier_five", "rear_axle", "parallel_twin_motorcycle"])
def test_every_shipped_look_that_wants_it_lifted_has_a_step_for_it(name: str) -> None:
    made = load_shipped(name)
    for look in looks_of(made, job(), PRIORS).open:
        if MachineState.LIFTED in look.inspection.state:
            assert MachineState.LIFTED in brought_by(made, look.steps)
        assert look.ready <= 60


# The looks after it.


def test_a_look_is_charged_no_more_than_the_others_are_worth() -> None:
    made = watched()
    found = looks_of(made, job(NIGHT), MADE_UP)
    looks = {k.inspection.id: k for k in found.open}

    def loss(**gains: float) -> tuple[float, tuple[str, ...]]:
        order = Order(made, found.standing, MADE_UP, dict.fromkeys(looks, 0.0) | gains)
        told = order.after(looks["watch_hot"], found.open)
        return told.loss, told.delays

    # After it, hot, the machine must stand a night again: 600 x 0.1.
    assert loss(watch_start=100) == (pytest.approx(60), ("watch_start",))
    assert loss(watch_start=7) == (pytest.approx(7), ("watch_start",))
    # What is worth nothing is no loss, and a look that asks for nothing is no dearer.
    assert loss(watch_start=-3) == (0, ())
    assert loss(look_upper=100) == (0, ())
    # One of them is taken next: the dearest counts, not the sum (cool_down is a step of 45).
    assert loss(watch_start=100, wipe_cool=100)[0] == pytest.approx(60)
