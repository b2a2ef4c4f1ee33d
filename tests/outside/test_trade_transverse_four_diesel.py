"""Facts of the trade about engines across the vehicle, asked of the whole program.

Each is common practice, no source.  The machine is the invented diesel with its gearbox and
differential in one case.
"""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped_layout, machine_as_is
from tests.outside.chances import Ranking, chance, rank_job

ENGINE = machine_as_is(load_shipped_layout("transverse_four_diesel"))


def ranked(*timeline: dict[str, Any]) -> Ranking:
    return rank_job(
        job_from(
            {
                "format": "leakdx-job/1",
                "id": "asked",
                "machine": {"id": ENGINE.id, "version": ENGINE.version},
                "conditions": {"hours": 100, "fluid_temperature_C": 80},
                "timeline": list(timeline),
            },
            ENGINE,
        )
    )


def seen(zone: str, state: str, fluid: str) -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": fluid}


@pytest.mark.parametrize(("wet", "dry"), [("left", "right"), ("right", "left")])
def test_gear_oil_at_an_inner_joint_under_a_dry_case_is_the_axle_seal(wet: str, dry: str) -> None:
    # Common practice, no source: look above it first; what is dry there did not run down.
    above = (seen("transaxle_rear", "dry", "gear_oil"), seen("transaxle_top", "dry", "gear_oil"))
    joint = [seen(f"inner_joint_{wet}", "wet", "gear_oil")]
    joint.append(seen(f"inner_joint_{dry}", "dry", "gear_oil"))
    found = ranked(*joint, *above)
    assert found.rows[0].seal_point == f"axle_seal_{wet}"
    assert chance(found, f"axle_seal_{wet}") > 3 * chance(found, "case_joint_rear")
    assert chance(found, f"axle_seal_{wet}") > 3 * chance(found, f"axle_seal_{dry}")


def test_gear_oil_on_the_differential_under_a_wet_case_came_down_from_above() -> None:
    # Common practice, no source: the axle seal is blamed for what the case joint, the selector
    # shaft or the breather let out higher up.
    below = seen("differential_case", "running", "gear_oil")
    joints = (seen(f"inner_joint_{side}", "dry", "gear_oil") for side in ("left", "right"))
    wet = ranked(below, *joints, seen("transaxle_rear", "running", "gear_oil"))
    above = ("case_joint_rear", "selector_seal", "gear_breather", "case_joint_top")
    assert wet.rows[0].seal_point in above
    for side in ("left", "right"):
        assert max(chance(wet, s) for s in above) > 3 * chance(wet, f"axle_seal_{side}")


@pytest.mark.parametrize(
    ("fluid", "seals"),
    [
        ("engine_oil", ("crank_seal_rear", "sump_joint_rear")),
        ("gear_oil", ("input_seal",)),
        ("brake_fluid", ("release_cylinder_seal",)),
    ],
)
def test_the_fluid_at_the_slot_of_the_bell_says_which_seal(
    fluid: str, seals: tuple[str, ...]
) -> None:
    # Common practice, no source: three fluids meet in a bell housing; wipe, look and smell before
    # the gearbox comes out.
    dry = (seen("bell_top", "dry", fluid), seen("head_rear", "dry", fluid))
    found = ranked(seen("bell_bottom", "dripping", fluid), *dry)
    assert found.rows[0].seal_point in seals


def test_a_blocked_breather_pushes_gear_oil_past_both_axle_seals() -> None:
    # Common practice, no source: two seals that leak at once have one cause; the engine's seals
    # do not feel it.
    clear = {"context": "ventilation_clear", "fluid": "gear_oil"}
    blocked = clear | {"context": "ventilation_blocked"}
    asked, plain = ranked(blocked), ranked(clear)
    for seal in ("axle_seal_left", "axle_seal_right"):
        assert chance(asked, seal) > 1.5 * chance(plain, seal)
    assert chance(asked, "crank_seal_rear") == pytest.approx(chance(plain, "crank_seal_rear"))


def test_a_wet_foot_of_the_turbo_return_is_the_upper_joint_only_where_the_pipe_is_wet() -> None:
    # Common practice, no source: with the pipe and the block above it dry, it is the ring at the
    # foot; with the pipe wet the oil ran down it.
    foot = (
        seen("turbo_return_foot", "running", "engine_oil"),
        seen("block_right_upper_mid", "dry", "engine_oil"),
    )
    wet, dry = (ranked(*foot, seen("turbo_return_pipe", s, "engine_oil")) for s in ("wet", "dry"))
    assert chance(wet, "turbo_oil_return_joint") > chance(wet, "turbo_return_foot_ring")
    assert dry.rows[0].seal_point == "turbo_return_foot_ring"
