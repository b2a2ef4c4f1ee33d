"""Facts of the trade about gear reducers, asked of the whole program.

Each is common practice, no source.  The machine is the invented two-stage reducer.
"""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped_layout, machine_as_is
from leakdx.machine.model import Machine
from tests.outside.chances import Ranking, chance, rank_job

LAYOUT = load_shipped_layout("helical_reducer")
REDUCER = machine_as_is(LAYOUT)
COOLED = machine_as_is(LAYOUT, {"cooling_coil": True})
BOTH_SIDES = machine_as_is(LAYOUT, {"output": "both_sides"})
SPLIT = "split_joint_left_rear"


def ranked(machine: Machine, *timeline: dict[str, Any]) -> Ranking:
    return rank_job(
        job_from(
            {
                "format": "leakdx-job/1",
                "id": "asked",
                "machine": {"id": machine.id, "version": machine.version},
                "conditions": {"hours": 100},
                "timeline": list(timeline),
            },
            machine,
        )
    )


def oil(zone: str, state: str) -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": "gear_oil"}


def weeping(seal: str) -> dict[str, Any]:
    return {"seal_point": seal, "state": "weeping"}


def test_several_seals_weep_at_once_where_the_breather_is_blocked() -> None:
    # Common practice, no source: a blocked breather lets the warm case build pressure, and every
    # seal weeps; new seals weep again until the breather is clean.
    oils = ["drive_shaft_seal", "output_shaft_seal_left", "inspection_gasket_front"]
    blocked = ranked(REDUCER, {"context": "ventilation_blocked", "fluid": "gear_oil"})
    clear = ranked(REDUCER, {"context": "ventilation_clear", "fluid": "gear_oil"})
    assert all(chance(blocked, s) > 1.5 * chance(clear, s) for s in oils)
    # The coupling is greased and sealed on its own: the case's breather is nothing to it.
    greased = "output_coupling_ring_left"
    assert chance(blocked, greased) == pytest.approx(chance(clear, greased), rel=1e-9)


def test_two_joints_that_weep_make_the_next_more_suspect_unless_the_breather_is_clear() -> None:
    # Common practice, no source: several at once is one cause, not several bad seals.
    two = (weeping("drive_shaft_seal"), weeping("inspection_gasket_front"))
    clear = {"context": "ventilation_clear", "fluid": "gear_oil"}
    third = "output_shaft_seal_left"
    assert chance(ranked(REDUCER, *two), third) > 1.2 * chance(ranked(REDUCER), third)
    assert chance(ranked(REDUCER, *two, clear), third) < chance(ranked(REDUCER, *two), third)


def test_oil_below_the_shaft_with_a_dry_split_joint_above_is_the_shaft_seal() -> None:
    # Common practice, no source: oil runs down, so what is above it and dry is not to blame.
    below = (oil("output_shaft_left", "running"), oil("case_left_output", "running"))
    above = ("split_rail_left_output", "split_rail_left_middle", "cover_left_rear")
    dry = ranked(REDUCER, *below, *(oil(zone, "dry") for zone in above))
    assert dry.rows[0].seal_point == "output_shaft_seal_left"
    assert chance(dry, SPLIT) < chance(ranked(REDUCER, *below), SPLIT)


def test_with_the_split_joint_wet_and_the_shaft_dry_the_order_turns_round() -> None:
    # Common practice, no source.
    shaft = (oil("output_shaft_left", "dry"), oil("output_seal_cap_left", "dry"))
    wet = (oil("split_rail_left_output", "running"), oil("case_left_output", "running"))
    turned = ranked(REDUCER, oil("cover_left_rear", "dry"), *shaft, *wet)
    assert chance(turned, SPLIT) > 3 * chance(turned, "output_shaft_seal_left")


def test_oil_from_the_slot_of_the_motor_bell_is_the_input_shaft_seal() -> None:
    # Common practice, no source: the bell hides the seal, the slot shows it.
    slot = ranked(REDUCER, oil("drive_bell_slot", "dripping"))
    assert slot.rows[0].seal_point == "drive_shaft_seal"
    assert chance(slot, "drive_shaft_seal") > 3 * chance(slot, "output_shaft_seal_left")


def test_oil_that_rises_and_turns_milky_points_to_the_wall_of_the_water_coil() -> None:
    # Common practice, no source.
    signs = ("level_rises", "fluid_emulsified")
    milky = ranked(COOLED, *({"sign": s, "value": "yes", "fluid": "gear_oil"} for s in signs))
    assert milky.rows[0].seal_point == "coil_wall"


def test_the_seal_leaks_on_the_side_where_the_oil_is() -> None:
    # Common practice, no source: with two output ends each wets its own side.
    seen = (oil("output_seal_cap_right", "running"), oil("case_left_output", "dry"))
    right = ranked(BOTH_SIDES, *seen, oil("output_seal_cap_left", "dry"))
    assert chance(right, "output_shaft_seal_right") > 3 * chance(right, "output_shaft_seal_left")
