"""Layouts put together, and what is said of those that cannot be."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from leakdx.files.faults import Fault, FaultyInput
from leakdx.kit.read import load_layout, load_machine, machine_as_is
from leakdx.machine.model import Machine
from tests.kit import toy


def build(**more: Any) -> dict[str, Any]:
    return {
        "format": "leakdx-build/1",
        "id": "mine",
        "version": "3",
        "name": "Invented machine of mine",
        "layout": {"id": "toy", "version": "1", "file": "toy.yaml"},
    } | more


def machine(folder: Path, made: dict[str, Any], **parts: Any) -> Machine:
    return load_machine(toy.written(folder, made, **parts))


def faults(folder: Path, made: dict[str, Any], **parts: Any) -> list[Fault]:
    with pytest.raises(FaultyInput) as caught:
        machine(folder, made, **parts)
    return list(caught.value.faults)


def only(found: list[Fault]) -> Fault:
    assert len(found) == 1, [str(f) for f in found]
    return found[0]


def zone_ids(made: Machine) -> list[str]:
    return [z.id for z in made.zones]


def test_parts_stand_where_they_are_mounted(tmp_path: Path) -> None:
    made = machine(tmp_path, toy.layout())
    places = {z.id: z.centroid_mm for z in made.zones}
    # By hand: the mount at (100, 100, 150), the pump's middle 30 mm out of the face.
    assert places["pump_body"] == (100, 130, 150)
    assert places["other_pump_body"] == (100, -130, 150)
    assert places["tray"] == (0, 0, -105)


def test_a_mirrored_part_changes_sides_in_ids_and_names(tmp_path: Path) -> None:
    seals = {s.id: s for s in machine(tmp_path, toy.layout()).seal_points}
    other = seals["other_pump_ring_right"]
    assert other.name == "Pump ring, right of the case (the other one)"
    assert other.zones == ("other_pump_body",)
    assert other.access == ("other_take_pump_off",)


def test_a_way_in_becomes_the_steps_it_is_bound_to(tmp_path: Path) -> None:
    made = machine(tmp_path, toy.layout())
    steps = {s.id: s for s in made.access_steps}
    assert steps["take_pump_off"].after == ("open_panel",)
    assert steps["other_take_pump_off"].after == ()


def test_what_hangs_on_a_part_that_is_not_chosen_goes_with_it(tmp_path: Path) -> None:
    loaded = load_layout(toy.written(tmp_path, toy.layout()))
    without = machine_as_is(loaded, {"tray": False})
    looks = {i.id: i.reads.zones for i in without.inspections}
    assert "tray" not in zone_ids(without)
    assert looks["look_all_over"] == ("top",)
    assert "feel_tray" not in looks
    assert "look_tray" not in looks


def test_a_cause_whose_seal_points_are_all_gone_raises_no_others(tmp_path: Path) -> None:
    mine = build(without=["top_joint_left", "plug"])
    toy.written(tmp_path, toy.layout())
    assert machine(tmp_path, mine).causes == ()
    one = build(without=["plug"])
    assert machine(tmp_path, one).causes[0].raises == ("top_joint_left",)


def test_a_stretched_part_takes_its_mounts_and_seal_points_along(tmp_path: Path) -> None:
    loaded = load_layout(toy.written(tmp_path, toy.layout()))
    long = machine_as_is(loaded, {"length": 2})
    places = {z.id: z for z in long.zones}
    assert places["top"].bbox_mm is not None
    assert places["top"].bbox_mm.high == (400, 100, 205)
    assert places["top"].area_mm2 == 160000
    # The pump moves with its mount and keeps its size.
    assert places["pump_body"].centroid_mm == (200, 130, 150)
    assert places["pump_body"].area_mm2 == 6400
    seals = {s.id: s for s in long.seal_points}
    assert seals["plug"].position_mm == (200, 0, -3)
    assert seals["top_joint_left"].length_mm == 800
    assert seals["plug"].length_mm == 60


def test_a_part_again_and_again(tmp_path: Path) -> None:
    made = toy.layout()
    made["parts"][1]["repeat"] = {"count": "length", "step_mm": [-90, 0, 0]}
    made["own"] = [
        {"inspections": [{"id": "second", "reads": {"zones": ["pump_body_2"]}, "minutes": 1}]}
    ]
    made["parts"][1].pop("ways_in")
    loaded = load_layout(toy.written(tmp_path, made))
    assert "pump_body_1" in zone_ids(machine_as_is(loaded))
    assert "second" not in [i.id for i in machine_as_is(loaded).inspections]
    two = machine_as_is(loaded, {"length": 2})
    places = {z.id: z.centroid_mm for z in two.zones}
    assert places["pump_body_1"] == (200, 130, 150)
    assert places["pump_body_2"] == (110, 130, 150)
    assert "second" in [i.id for i in two.inspections]


def test_a_part_on_a_slanting_mount_stands_square_to_it(tmp_path: Path) -> None:
    made = toy.layout()
    # The pump's y leads out of the face it hangs on; the deck looks up and to the left.
    made["parts"][1]["onto"]["mount"] = "left_deck"
    made["parts"][1]["turn"] = {"axis": [1, 0, 0], "degrees": 90}
    made["parts"][1]["at_mm"] = [0, 0, 40]
    body = next(z for z in machine(tmp_path, made).zones if z.id == "pump_body")
    assert body.normal == pytest.approx((0, 0.5**0.5, 0.5**0.5), abs=1e-6)
    out = 70 * 0.5**0.5
    assert body.centroid_mm == pytest.approx((0, 50 + out, 200 + out), abs=1e-4)


def test_a_host_takes_what_stands_on_it_into_the_mirror(tmp_path: Path) -> None:
    made = toy.layout()
    made["parts"] = [
        made["parts"][3] | {"onto": None, "by": None, "at_mm": [0, 0, 0], "when": {}},
        made["parts"][0] | {"onto": {"part": "tray", "mount": "rim"}, "mirror": "y"},
        made["parts"][1],
    ]
    made["own"] = [{"access_steps": [{"id": "open_panel", "minutes": 3}]}]
    body = next(z for z in machine(tmp_path, made).zones if z.id == "pump_body")
    assert body.centroid_mm == (100, -130, 150)
    seals = [s.id for s in machine(tmp_path, made).seal_points]
    assert "pump_ring_right" in seals
    assert "top_joint_right" in seals


def test_a_machine_drawn_on_its_side_is_set_up(tmp_path: Path) -> None:
    made = toy.layout() | {"down": [0, 1, 0]}
    places = {z.id: z for z in machine(tmp_path, made).zones}
    assert places["left"].normal == pytest.approx((0, 0, -1), abs=1e-9)


def test_a_build_changes_a_few_lines(tmp_path: Path) -> None:
    toy.written(tmp_path, toy.layout())
    mine = machine(
        tmp_path,
        build(
            options={"length": 2},
            changes={
                "seal_points": [{"id": "plug", "kind": "crush_washer", "material": "copper"}],
                "fluids": [{"id": "engine_oil", "grade": "SAE 30"}],
            },
            own=[
                {
                    "of": "case",
                    "seal_points": [
                        {
                            "id": "my_sender",
                            "kind": "sender",
                            "zones": ["rear"],
                            "position_mm": [-200, 0, 100],
                            "fluid": "engine_oil",
                        }
                    ],
                }
            ],
        ),
    )
    assert (mine.id, mine.version) == ("mine", "3")
    seals = {s.id: s for s in mine.seal_points}
    assert seals["plug"].kind == "crush_washer"
    assert seals["plug"].position_mm == (200, 0, -3)
    assert seals["my_sender"].position_mm == (-400, 0, 100)
    assert mine.fluids[0].grade == "SAE 30"


# What cannot be put together.


def test_parts_inside_one_another(tmp_path: Path) -> None:
    made = toy.layout()
    made["parts"][1]["at_mm"] = [0, -30, 0]
    fault = only(faults(tmp_path, made))
    assert fault.problem == "puts 'pump' 30 mm into 'case'"
    assert fault.path == "parts[1]"
    assert "at_mm" in fault.remedy
    assert fault.line is not None


def test_a_little_of_one_part_in_another_is_no_fault(tmp_path: Path) -> None:
    made = toy.layout()
    made["parts"][1]["at_mm"] = [0, -11, 0]
    assert machine(tmp_path, made)


def test_a_part_joined_to_nothing(tmp_path: Path) -> None:
    made = toy.layout()
    del made["parts"][1]["onto"]
    fault = only(faults(tmp_path, made))
    assert fault.problem == "joins 'pump' to nothing, and 'case' already stands on nothing"
    made["parts"][1]["onto"] = {"part": "cse", "mount": "left_side"}
    fault = only(faults(tmp_path, made))
    assert fault.path == "parts[1].onto.part"
    assert fault.remedy == "Did you mean 'case'?"
    made["parts"][1]["onto"] = {"part": "pump", "mount": "left_side"}
    assert any("lead back to it" in f.problem for f in faults(tmp_path, made))


def test_nothing_to_stand_on(tmp_path: Path) -> None:
    made = toy.layout()
    made["parts"][0]["onto"] = {"part": "tray", "mount": "rim"}
    assert any("nothing stands on its own" in f.problem for f in faults(tmp_path, made))


def test_an_id_twice_after_mirroring(tmp_path: Path) -> None:
    made = toy.layout()
    del made["parts"][2]["prefix"]
    found = faults(tmp_path, made)
    zone = next(f for f in found if "pump_body" in f.problem)
    assert zone.problem == "brings the zone 'pump_body' again; parts.1 has brought it"
    assert "prefix" in zone.remedy
    # The ring is drawn as left and becomes right, so it is no fault.
    assert not any("pump_ring" in f.problem for f in found)


def test_no_down(tmp_path: Path) -> None:
    made = toy.layout()
    del made["down"]
    fault = only(faults(tmp_path, made))
    assert fault.path == "down"
    assert "missing" in fault.problem
    made["down"] = [0, 0, 0]
    fault = only(faults(tmp_path, made))
    assert fault.problem == "has no length"
    assert "[0, 0, -1]" in fault.remedy


def test_an_option_that_the_layout_lacks(tmp_path: Path) -> None:
    toy.written(tmp_path, toy.layout())
    fault = only(faults(tmp_path, build(options={"lenght": 2})))
    assert fault.path == "options.lenght"
    assert fault.remedy == "Did you mean 'length'?"
    fault = only(faults(tmp_path, build(options={"length": 3})))
    assert fault.remedy == "Use one of: 1, 2."
    fault = only(faults(tmp_path, build(options={"length": True})))
    assert "is true" in fault.problem


def test_everything_wrong_at_once(tmp_path: Path) -> None:
    made = toy.layout()
    made["parts"][0]["stretch"] = {"y": 2}
    made["parts"][1]["onto"]["mount"] = "lft_side"
    made["parts"][2]["fluids"] = {}
    made["parts"][3]["when"] = {"try": True}
    made["parts"][3]["part"] = "tryy"
    made["parts"][1]["ways_in"] = {"sidee": []}
    paths = {f.path for f in faults(tmp_path, made)}
    assert paths == {
        "parts[0].stretch.y",
        "parts[1].onto.mount",
        "parts[1].ways_in.sidee",
        "parts.pump_right.fluids",
        "parts[3].when.try",
        "parts[3].part",
    }


def test_a_name_that_no_option_brings(tmp_path: Path) -> None:
    made = toy.layout()
    made["own"][0]["inspections"][0]["reads"]["zones"] = ["tpo"]
    made["own"][0]["inspections"][0]["access"] = ["open_panl"]
    made["parts"][1]["ways_in"] = {"side": ["open_panell"]}
    found = {f.path: f for f in faults(tmp_path, made)}
    assert found["own[0].inspections.look_all_over.reads.zones[0]"].remedy == "Did you mean 'top'?"
    assert "under no option" in found["own[0].inspections.look_all_over.access[0]"].problem
    assert any("open_panell" in f.problem for f in found.values())


def test_a_change_that_does_not_fit(tmp_path: Path) -> None:
    toy.written(tmp_path, toy.layout())
    wrong = build(
        changes={"seal_points": [{"id": "plug", "kind": "plugg"}, {"id": "plgu"}]},
        without=["nothing_such"],
    )
    found = faults(tmp_path, wrong)
    assert any(f.path == "changes.seal_points.plug.kind" for f in found)
    assert any(f.remedy == "Did you mean 'plug'?" for f in found)
    assert any("nothing_such" in f.problem and f.path == "without[0]" for f in found)


def test_a_part_with_faults_of_its_own(tmp_path: Path) -> None:
    pump = toy.pump()
    pump["seal_points"][0]["zones"] = ["pump_bdy"]
    pump["zones"][0]["normal"] = [0, 0, 0]
    found = faults(tmp_path, toy.layout(), pump=pump)
    assert {f.file.rsplit("/", 1)[-1] for f in found} == {"pump.yaml"}
    assert {f.path for f in found} == {
        "seal_points.pump_ring_left.zones[0]",
        "zones.pump_body.normal",
    }


def test_a_build_of_another_version(tmp_path: Path) -> None:
    toy.written(tmp_path, toy.layout())
    made = build()
    made["layout"]["version"] = "2"
    fault = only(faults(tmp_path, made))
    assert fault.path == "layout.version"
    made["layout"] = {"id": "toyy", "version": "1"}
    assert only(faults(tmp_path, made)).path == "layout.id"
