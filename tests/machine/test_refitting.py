"""What a machine or part file says of refitting: read, carried into machines, described."""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.files.faults import FaultyInput
from leakdx.files.schema import model_schema
from leakdx.kit.contents import brought
from leakdx.kit.frames import still
from leakdx.kit.model import Own
from leakdx.kit.naming import Naming
from leakdx.kit.read import load_shipped
from leakdx.machine.model import AccessStep, Machine, SealPoint
from leakdx.machine.read import machine_from

PLAIN: dict[str, Any] = {
    "format": "leakdx-machine/1",
    "id": "stand",
    "version": "1",
    "name": "Invented stand",
    "fluids": [{"id": "gear_oil", "kind": "gear_oil"}],
    "zones": [{"id": "side", "centroid_mm": [0, 0, 0], "normal": [0, 1, 0], "area_mm2": 900}],
    "seal_points": [{"id": "joint", "kind": "flat_gasket", "zones": ["side"], "fluid": "gear_oil"}],
    "access_steps": [{"id": "open_it", "minutes": 3}],
}


def with_field(kind: str, field: str, value: Any) -> dict[str, Any]:
    [entry] = PLAIN[kind]
    return PLAIN | {kind: [entry | {field: value}]}


@pytest.mark.parametrize("kind", ["seal_points", "access_steps"])
@pytest.mark.parametrize("value", [0, -9, ".nan", "nine"])
def test_a_torque_is_above_nought(kind: str, value: Any) -> None:
    with pytest.raises(FaultyInput) as told:
        machine_from(with_field(kind, "torque_Nm", value))
    assert [f.path for f in told.value.faults] == [f"{kind}.{PLAIN[kind][0]['id']}.torque_Nm"]


def test_nothing_is_stated_where_the_file_states_nothing() -> None:
    machine = machine_from(PLAIN)
    [seal], [step] = machine.seal_points, machine.access_steps
    assert (seal.torque_Nm, seal.torque_from, seal.tighten, seal.one_use) == (None, None, None, ())
    assert (step.torque_Nm, step.torque_from, step.refit, step.one_use) == (None, None, None, ())


def test_the_schema_gives_the_unit() -> None:
    found = model_schema(Machine, "machine")["$defs"]
    for name in ("SealPoint", "AccessStep"):
        assert "N m" in found[name]["properties"]["torque_Nm"]["description"]


def test_sides_are_turned_over_in_the_words() -> None:
    own = Own(
        seal_points=(
            SealPoint(
                id="joint_left",
                kind="flat_gasket",
                zones=("side",),
                fluid="gear_oil",
                torque_Nm=9,
                tighten="from the left inwards",
                one_use=("left washer",),
            ),
        ),
        access_steps=(
            AccessStep(
                id="open_left", minutes=3, refit="Close the left lid", one_use=("Left pin",)
            ),
        ),
    )
    turned = Naming(turned_over=frozenset("y"))
    made = {b.kind: b.entry for b in brought(own, still(), turned, ("layout",))}
    seal, step = made["seal_points"], made["access_steps"]
    assert isinstance(seal, SealPoint)
    assert isinstance(step, AccessStep)
    assert (seal.torque_Nm, seal.tighten, seal.one_use) == (
        9,
        "from the right inwards",
        ("right washer",),
    )
    assert (step.refit, step.one_use) == ("Close the right lid", ("Right pin",))


@pytest.mark.parametrize("machine_id", ["forestry_carrier_five", "rear_axle"])
def test_shipped_figures_reach_the_machine_and_say_that_they_are_invented(machine_id: str) -> None:
    machine = load_shipped(machine_id)
    stated = [e for e in (*machine.seal_points, *machine.access_steps) if e.torque_Nm is not None]
    assert len(stated) >= 5
    assert {e.torque_from for e in stated} == {"invented"}


def test_right_side_of_the_axle_speaks_of_the_right() -> None:
    step = next(k for k in load_shipped("rear_axle").access_steps if k.id == "remove_wheel_right")
    assert step.refit is not None
    assert "right rear wheel" in step.refit
    assert "left" not in step.refit
