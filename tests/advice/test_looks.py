"""Which looks there are at a moment, what each takes, and what it spoils for the others."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.advice.looks import (
    FIRST_OF_ALL,
    Look,
    in_order,
    look_at,
    looks_of,
    spoilt_by,
    steps_off,
)
from leakdx.advice.renewal import steps_behind
from leakdx.case.model import Job
from leakdx.files.places import shipped_ids
from leakdx.kit.read import load_shipped
from leakdx.machine.model import AccessStep, Fluid, FluidKind, Inspection, Machine, SealPoint
from leakdx.priors.read import shipped_priors
from tests.flow.boxes import OIL, machine, patch

NOTHING: frozenset[str] = frozenset()
PRIORS = shipped_priors()
CARRIER = load_shipped("forestry_carrier_five")
WATER = Fluid(id="water", kind=FluidKind.WATER)
ZONES = ("upper", "lower", "far")


def step(name: str, minutes: float, *after: str, **more: Any) -> AccessStep:
    return AccessStep(id=name, minutes=minutes, after=after, **more)


def inspection(name: str, *zones: str, seals: tuple[str, ...] = (), **more: Any) -> Inspection:
    reads: dict[str, Any] = {"zones": zones, "seal_points": seals}
    reads |= {k: more.pop(k) for k in ("signs", "fluid") if k in more}
    return Inspection.model_validate({"id": name, "minutes": 5, "reads": reads} | more)


def bench(*inspections: Inspection, steps: tuple[AccessStep, ...] = ()) -> Machine:
    """Three plates; joint_upper on the first, joint_seam on the first and second, joint_far."""
    plates = tuple(
        patch(name, (0, 0, 2000 - 200 * n), (0, 1, 0), (300, 0, 200))
        for n, name in enumerate(ZONES)
    )
    on = {"joint_upper": ("upper",), "joint_seam": ("upper", "lower"), "joint_far": ("far",)}
    seals = tuple(
        SealPoint.model_validate({"id": s, "kind": "flat_gasket", "zones": z, "fluid": "oil"})
        for s, z in on.items()
    )
    return machine(
        plates,
        fluids=(OIL, WATER),
        seal_points=seals,
        access_steps=steps,
        inspections=inspections,
    )


def job(*timeline: dict[str, Any], **more: Any) -> Job:
    return Job.model_validate(
        {
            "format": "leakdx-job/1",
            "id": "a_job",
            "machine": {"id": "bench_box", "version": "1"},
            "timeline": list(timeline),
        }
        | more
    )


def read(zone: str, by: str | None = None, **more: Any) -> dict[str, Any]:
    named = {} if by is None else {"inspection": by}
    return {"zone": zone, "state": "dry"} | named | more


# Steps.


@st.composite
def step_graphs(draw: st.DrawFn) -> tuple[AccessStep, ...]:
    """Steps that need some of those made before them, listed in any order; no cycles."""
    count = draw(st.integers(1, 9))
    made = []
    for k in range(count):
        after = draw(st.sets(st.integers(0, k - 1), max_size=3)) if k else set()
        minutes = draw(st.integers(1, 60))
        made.append(step(f"s{k}", minutes, *(f"s{a}" for a in sorted(after))))
    return tuple(draw(st.permutations(made)))


@settings(max_examples=150, deadline=None, derandomize=True)
@given(step_graphs(), st.data())
def test_steps_count_once_and_in_an_order_that_can_be_done(
    steps: tuple[AccessStep, ...], data: st.DataObject
) -> None:
    names = [s.id for s in steps]
    some = st.lists(st.sampled_from(names), max_size=4, unique=True)
    look = inspection("look", "upper", access=data.draw(some), minutes=7)
    made = bench(look, steps=steps)
    after = {s.id: s.after for s in steps}
    # What is off was taken off with all that had to come off before it.
    off = steps_behind(made, data.draw(some))
    found = look_at(made, look, off)
    assert len(set(found.steps)) == len(found.steps)
    assert not set(found.steps) & off
    done = set(off)
    for name in found.steps:
        assert set(after[name]) <= done
        done.add(name)
    assert set(look.access) <= done
    # Nothing is taken off for nothing: each is asked for, or a later one needs it.
    for k, name in enumerate(found.steps):
        later = {b for s in found.steps[k + 1 :] for b in after[s]}
        assert name in look.access or name in later
    minutes = {s.id: s.minutes for s in steps}
    assert found.minutes == pytest.approx(7 + sum(minutes[s] for s in found.steps))
    everything = tuple(in_order(made, frozenset(names)))
    assert sorted(everything) == sorted(names)


def test_minutes_by_hand_on_the_forestry_carrier() -> None:
    """The numbers of the file, which are invented, added up by hand."""
    looks = {i.id: look_at(CARRIER, i, NOTHING) for i in CARRIER.inspections}
    # Park 5, tilt 8, cover 3; look 2.
    top = looks["look_head_cover_top"]
    assert top.steps == ("park_and_chock", "tilt_cab", "remove_acoustic_cover")
    assert top.minutes == 18
    # Park 5, lift 20, undertray 12, inspection cover 6; look 4.
    inside = looks["look_bell_inside"]
    assert inside.steps[-1] == "open_bell_inspection"
    assert inside.minutes == 47
    # Parking once for both: park 5, cool 45, panel 2; look 8.
    assert looks["borescope_head_exhaust_mid"].minutes == 60
    assert len(set(looks["borescope_head_exhaust_mid"].steps)) == 3
    # Heat exchanger off: park 5, lift 20, both undertrays 24, cool 45, coolant 20, oil 20,
    # panel 2, exchanger 35; test 30.
    assert looks["heat_exchanger_bench_test"].minutes == 201


def test_what_is_off_need_not_come_off_again() -> None:
    first = job(read("head_rear", "mirror_head_rear"))
    seen = looks_of(CARRIER, first, PRIORS)
    assert seen.off == {"park_and_chock", "tilt_cab"}
    top = next(k for k in seen.open if k.inspection.id == "look_head_cover_top")
    assert top.steps == ("remove_acoustic_cover",)
    assert top.minutes == 5


# What is off, and until when.


def panels() -> Machine:
    """A panel behind a gate, a duct, cooling down; looks that need them."""
    return bench(
        inspection("look_upper", "upper", access=["panel"]),
        inspection("look_cool", "far", access=["cool"], state=["cooled"]),
        inspection("watch_hot", "lower", access=["duct"], state=["hot_idle"]),
        inspection("watch_start", seals=("joint_far",), access=["duct"], state=["cold", "running"]),
        steps=(
            step("gate", 1),
            step("panel", 4, "gate"),
            step("duct", 3),
            step("cool", 45),
        ),
    )


def test_what_came_off_is_remembered_until_a_run() -> None:
    made = panels()
    assert steps_off(made, job()) == NOTHING
    looked = (read("upper", "look_upper"), read("far", "look_cool"))
    assert steps_off(made, job(looked[0])) == {"gate", "panel"}
    assert steps_off(made, job(*looked)) == {"gate", "panel", "cool"}
    washed = {"wash": "whole"}
    assert steps_off(made, job(*looked, washed)) == {"gate", "panel", "cool"}
    run = {"run_minutes": 20}
    assert steps_off(made, job(*looked, washed, run)) == NOTHING
    assert steps_off(made, job(looked[0], run, looked[1])) == {"cool"}


def test_what_only_stood_parked_was_not_put_together() -> None:
    made, looked = panels(), read("upper", "look_upper")
    night = {"run_minutes": 600, "use": "parked"}
    assert steps_off(made, job(looked, night)) == {"gate", "panel"}
    idled = {"run_minutes": 600, "use": "idled"}
    assert steps_off(made, job(looked, idled)) == NOTHING
    # Where the run does not say, the conditions do.
    silent = {"run_minutes": 600}
    assert steps_off(made, job(looked, silent, conditions={"use": "parked"})) == {"gate", "panel"}
    assert steps_off(made, job(looked, idled, conditions={"use": "parked"})) == NOTHING


@pytest.mark.parametrize(
    "hot", [read("lower", "watch_hot"), {"seal_point": "joint_far", "state": "tight"}]
)
def test_a_look_at_it_running_keeps_off_what_it_needs_off_alone(hot: dict[str, Any]) -> None:
    """Above all it is no longer cool."""
    hot = {"inspection": "watch_start"} | hot
    looked = (read("upper", "look_upper"), read("far", "look_cool"))
    assert steps_off(panels(), job(*looked, hot)) == {"duct"}
    again = read("upper", "look_upper")
    assert steps_off(panels(), job(*looked, hot, again)) == {"duct", "gate", "panel"}


def test_what_was_not_looked_at_took_nothing_off() -> None:
    skipped = read("upper", "look_upper", state="not_looked")
    assert steps_off(panels(), job(skipped)) == NOTHING
    assert steps_off(panels(), job({"zone": "upper", "state": "dry"})) == NOTHING
    assert steps_off(panels(), job(read("upper", "look_of_another_machine"))) == NOTHING


# Which are closed.


def closed(made: Machine, *timeline: dict[str, Any]) -> dict[str, str]:
    found = looks_of(made, job(*timeline), PRIORS)
    assert {k.inspection.id for k in found.open} | set(found.closed) == {
        i.id for i in made.inspections
    }
    assert not {k.inspection.id for k in found.open} & set(found.closed)
    return dict(found.closed)


def test_a_look_is_made_once_until_a_wash_or_a_run() -> None:
    made = panels()
    looked = read("upper", "look_upper")
    assert closed(made) == {}
    assert closed(made, looked) == {"look_upper": "has been made already"}
    for after in ({"wash": "whole"}, {"run_minutes": 30}, {"run_minutes": 600, "use": "parked"}):
        assert closed(made, looked, after) == {}
        assert closed(made, looked, after, looked) == {"look_upper": "has been made already"}


def test_a_look_that_was_not_taken_stays_open() -> None:
    assert closed(panels(), read("upper", "look_upper", state="not_looked")) == {}
    seal = {"seal_point": "joint_far", "state": "not_looked", "inspection": "watch_start"}
    assert closed(panels(), seal) == {}


def test_a_look_is_closed_where_all_it_reads_was_read_in_that_way() -> None:
    """Readings need not name an inspection."""
    made = bench(
        inspection("look_both", "upper", "lower"),
        inspection("mirror_upper", "upper", method="mirror"),
        inspection("wipe_joint", seals=("joint_far",), method="wipe"),
        inspection("empty"),
    )
    said = "reads only what has been read already in that way"
    assert closed(made, read("upper")) == {}
    assert closed(made, read("upper"), read("lower")) == {"look_both": said}
    assert closed(made, read("upper", method="mirror")) == {"mirror_upper": said}
    # A named inspection says by what method.
    assert "look_both" not in closed(made, read("lower"), read("upper", "mirror_upper"))
    seal = {"seal_point": "joint_far", "state": "tight", "method": "wipe"}
    assert closed(made, seal) == {"wipe_joint": said}
    assert closed(made, seal, {"run_minutes": 5}) == {}
    assert closed(made, seal | {"state": "not_looked"}) == {}


def test_a_level_that_was_read_is_not_asked_for_again() -> None:
    """Signs name no inspection."""
    made = bench(
        inspection("oil_level", method="level_check", signs=("level_falls", "fluid_thinned")),
        inspection("water_level", method="level_check", signs=("level_falls",), fluid="water"),
    )
    said = "reads only what has been read already in that way"
    falls = {"sign": "level_falls", "value": "no", "fluid": "oil"}
    thin = {"sign": "fluid_thinned", "value": "yes", "fluid": "oil"}
    assert closed(made, falls) == {}
    assert closed(made, falls, thin) == {"oil_level": said}
    # A sign without a fluid is about the machine's first.
    assert closed(made, falls, {"sign": "fluid_thinned"}) == {"oil_level": said}
    assert closed(made, falls | {"fluid": "water"}) == {"water_level": said}
    assert closed(made, falls, thin | {"value": "not_looked"}) == {}


@pytest.mark.parametrize(
    ("state", "words"),
    [
        (["cold", "hot_idle"], "cold and hot idle"),
        (["cooled", "hot_idle"], "cooled and hot idle"),
        (["cooled", "driven"], "cooled and driven"),
        (["battery_off", "running"], "battery off and running"),
        (["battery_off", "hot_idle"], "battery off and hot idle"),
        (["driven", "battery_off"], "battery off and driven"),
        (["drained", "running"], "drained and running"),
        (["drained", "hot_idle"], "drained and hot idle"),
        (["drained", "lifted", "driven"], "drained and driven"),
    ],
)
def test_a_state_that_cannot_be_is_closed_with_the_reason(state: list[str], words: str) -> None:
    made = bench(inspection("look", "upper", state=state))
    reason = f"asks for a machine that is {words} at once, which cannot be"
    assert closed(made) == {"look": reason}


@pytest.mark.parametrize(
    "state",
    [
        # Common practice, no source: a cold start is watched; on stands it may run; it is
        # driven and then lifted.
        ["cold", "running"],
        ["cooled", "running"],
        ["lifted", "running"],
        ["lifted", "hot_idle"],
        ["driven", "lifted"],
        ["cold", "battery_off", "lifted"],
        ["drained", "battery_off"],
        ["cooled", "washed"],
        ["any"],
    ],
)
def test_states_that_go_together_are_open(state: list[str]) -> None:
    assert closed(bench(inspection("look", "upper", state=state))) == {}


def test_a_wash_and_run_goes_through_states_one_after_another() -> None:
    states = ["cold", "battery_off", "washed", "hot_idle"]
    washing = inspection("wash", "upper", state=states, method="wash_and_run")
    assert closed(bench(washing)) == {}


@pytest.mark.parametrize("name", [*shipped_ids("machines"), *shipped_ids("layouts")])
def test_every_shipped_look_can_be_made(name: str) -> None:
    """No file asks for a state that cannot be, which would close a look for good."""
    made = load_shipped(name)
    found = looks_of(made, job(), PRIORS)
    assert found.closed == {}
    assert found.off == NOTHING
    for look in found.open:
        assert look.cautions[-1] == FIRST_OF_ALL
        assert len(set(look.cautions)) == len(look.cautions)


# Cautions.


def test_cautions_come_once_and_the_makers_procedure_last() -> None:
    steps = (
        step("gate", 1, cautions=("It falls.", "Hot.")),
        step("panel", 4, "gate", cautions=(FIRST_OF_ALL, "Sharp.")),
        step("duct", 2, cautions=("Not this one.",)),
    )
    look = inspection(
        "look", "upper", access=["panel"], cautions=["Hot.", FIRST_OF_ALL, "Fuel ignites."]
    )
    made = bench(look, steps=steps)
    found = look_at(made, look, NOTHING)
    assert found.cautions == ("Hot.", "Fuel ignites.", "It falls.", "Sharp.", FIRST_OF_ALL)
    # What is off already is no danger any more; what the look says itself stays.
    gated = look_at(made, look, frozenset({"gate"}))
    assert gated.cautions == ("Hot.", "Fuel ignites.", "Sharp.", FIRST_OF_ALL)
    bare = inspection("bare", "upper")
    assert look_at(bench(bare), bare, NOTHING).cautions == (FIRST_OF_ALL,)


def test_the_cautions_of_its_kind_come_with_a_look_that_forgot_them() -> None:
    made = bench()
    bare = look_at(made, inspection("look", "upper"), NOTHING).cautions
    assert bare == (FIRST_OF_ALL,)
    for more, words in (
        ({"state": ["hot_idle"]}, ("hot parts", "belts and fans", "fumes")),
        ({"state": ["running"]}, ("belts and fans", "fumes")),
        ({"state": ["driven"]}, ("hot parts", "drive")),
        ({"state": ["lifted"]}, ("rated stands",)),
        ({"state": ["battery_off"]}, ("negative off first",)),
        ({"state": ["drained"]}, ("drained",)),
        ({"state": ["washed"]}, ("vapour ignites", "eye protection")),
        ({"method": "powder"}, ("vapour ignites", "breathe")),
        ({"method": "wash_and_run"}, ("vapour ignites", "eye protection")),
        ({"method": "case_pressure"}, ("low air pressure", "as the maker states")),
        ({"method": "soapy_water"}, ("low air pressure", "eye protection")),
        ({"method": "pressure_test"}, ("than the maker states", "eye protection")),
        ({"method": "dye_lamp"}, ("ultraviolet",)),
    ):
        found = look_at(made, inspection("look", "upper", **more), NOTHING).cautions
        assert found[-1] == FIRST_OF_ALL
        assert len(set(found)) == len(found)
        for said in words:
            assert said in " ".join(found).lower(), (more, said)
        # And nothing that belongs to another kind.
        if "rated stands" not in words:
            assert "rated stands" not in " ".join(found)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("petrol", ("slowly under a rag", "eye protection", "flame")),
        ("diesel_fuel", ("slowly under a rag", "through skin")),
        ("hydraulic_oil", ("through skin",)),
        ("brake_fluid", ("through skin",)),
    ],
)
def test_cautions_of_the_fluid_at_the_place(kind: str, words: tuple[str, ...]) -> None:
    oil = Fluid(id="oil", kind=FluidKind(kind))
    made = bench(inspection("look", "upper")).model_copy(update={"fluids": (oil, WATER)})
    found = " ".join(look_at(made, made.inspections[0], NOTHING).cautions)
    assert all(said in found for said in words)
    # Water comes out of no joint of the far plate, nor does the fuel where nothing leaks it.
    dry = made.model_copy(update={"seal_points": made.seal_points[:2]})
    away = inspection("away", "far")
    assert look_at(dry, away, NOTHING).cautions == (FIRST_OF_ALL,)


def test_what_the_file_says_itself_is_not_said_again() -> None:
    own = "Support the vehicle on rated stands on hard ground; never work under a jack."
    look = inspection("look", "upper", state=["lifted"], cautions=[own])
    assert look_at(bench(look), look, NOTHING).cautions == (own, FIRST_OF_ALL)
    # Words about something else do not stand for it.
    other = "Never open a hot cooling system."
    hot = inspection("hot", "upper", state=["driven"], cautions=[other, "Solvent: gloves."])
    found = look_at(bench(hot), hot, NOTHING).cautions
    assert any(c.startswith("Hot parts") for c in found)


# What spoils what.

OTHERS = (
    inspection("eyes_upper", "upper"),
    inspection("mirror_lower", "lower", method="mirror"),
    inspection("borescope_seam", seals=("joint_seam",), method="borescope"),
    inspection("wipe_upper", seals=("joint_upper",), method="wipe", destroys=["residue"]),
    inspection("finger_far", "far", method="finger"),
    inspection("dye_upper", "upper", method="dye_lamp", state=["hot_idle"]),
    inspection("dye_far", seals=("joint_far",), method="dye_lamp", state=["hot_idle"]),
    inspection("soap_seam", seals=("joint_seam",), method="soapy_water"),
    inspection("eyes_washed", "upper", state=["cooled", "washed"]),
    inspection("wash_upper", "upper", method="wash_and_run", destroys=["residue", "dye"]),
    inspection("level", method="level_check", signs=("level_falls",)),
    inspection("watch", signs=("leaks_hot_idle",), state=["hot_idle"]),
)


def spoilt(name: str, *zones: str, **more: Any) -> set[str]:
    """What one more look spoils of the others."""
    one = inspection(name, *zones, **more)
    made = bench(one, *OTHERS)
    looks = {i.id: look_at(made, i, NOTHING) for i in made.inspections}
    found = spoilt_by(looks["one"], tuple(looks.values()))
    assert len(set(found)) == len(found)
    return set(found)


def test_a_look_that_leaves_all_as_it_was_spoils_nothing() -> None:
    assert spoilt("one", "upper", "lower", "far", seals=("joint_seam",)) == set()


def test_wiping_a_zone_spoils_what_goes_by_its_residue() -> None:
    wiped = {"method": "wipe", "destroys": ["residue"]}
    assert spoilt("one", "upper", **wiped) == {
        "eyes_upper",
        "borescope_seam",
        "wipe_upper",
        "dye_upper",
    }
    assert spoilt("one", "lower", **wiped) == {"mirror_lower", "borescope_seam"}
    assert spoilt("one", "far", **wiped) == {"finger_far"}


def test_wiping_a_joint_wipes_the_zones_it_is_on() -> None:
    assert spoilt("one", seals=("joint_seam",), method="soapy_water", destroys=["residue"]) == {
        "eyes_upper",
        "mirror_lower",
        "borescope_seam",
        "wipe_upper",
        "dye_upper",
    }


def test_dye_that_is_washed_off_is_gone_where_it_was() -> None:
    assert spoilt("one", "upper", method="powder", destroys=["dye"]) == {"dye_upper"}
    assert spoilt("one", "far", method="powder", destroys=["dye"]) == {"dye_far"}


def test_a_joint_that_was_tightened_is_not_the_joint_it_was() -> None:
    torque = {"method": "torque_check", "destroys": ["joint"]}
    assert spoilt("one", seals=("joint_seam",), **torque) == {"borescope_seam", "soap_seam"}
    assert spoilt("one", seals=("joint_far", "joint_upper"), **torque) == {"dye_far", "wipe_upper"}


def test_a_level_that_was_let_down_says_nothing() -> None:
    assert spoilt("one", seals=("joint_far",), method="pressure_test", destroys=["level"]) == {
        "level"
    }


@pytest.mark.parametrize("destroys", [[], ["residue"]])
def test_a_wash_and_run_takes_the_residue_of_all_it_reads(destroys: list[str]) -> None:
    found = spoilt("one", "lower", "far", method="wash_and_run", destroys=destroys)
    assert found == {"mirror_lower", "borescope_seam", "finger_far"}
    assert "dye_far" in spoilt("one", "far", method="wash_and_run", destroys=["dye"])


def test_no_look_spoils_itself_and_the_order_is_kept() -> None:
    made = bench(*OTHERS)
    looks: dict[str, Look] = {i.id: look_at(made, i, NOTHING) for i in made.inspections}
    wash = looks["wash_upper"]
    found = spoilt_by(wash, tuple(looks.values()))
    assert found == ("eyes_upper", "borescope_seam", "wipe_upper", "dye_upper")
    assert spoilt_by(wash, tuple(reversed(looks.values()))) == tuple(reversed(found))
    assert spoilt_by(wash, ()) == ()


def test_on_the_forestry_carrier() -> None:
    looks = {i.id: look_at(CARRIER, i, NOTHING) for i in CARRIER.inspections}
    every = tuple(looks.values())
    wiped = spoilt_by(looks["wipe_heat_exchanger"], every)
    assert "look_heat_exchanger" in wiped
    assert "look_block_left_upper" not in wiped
    # Common practice, no source: look before you wipe, and wipe before you wash.
    assert "mirror_head_cover_rear" in spoilt_by(looks["wipe_head_cover_joint_rear"], every)
    assert "wipe_head_cover_joint_rear" in spoilt_by(looks["wash_and_run_rear"], every)
    assert "mirror_head_cover_rear" not in spoilt_by(looks["wash_and_run_left"], every)
    assert spoilt_by(looks["mirror_head_cover_rear"], every) == ()
    assert {"wipe_sump_rails", "look_sump_bottom"} <= set(spoilt_by(looks["torque_sump"], every))
