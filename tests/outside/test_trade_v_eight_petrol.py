"""Facts of the trade about V engines with eight cylinders, asked of the whole program.

Each is common practice, no source.  The machine is the invented V engine whose valley is closed by
a plate, with an automatic gearbox.
"""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped_layout, machine_as_is
from tests.outside.chances import Ranking, chance, rank_job

ENGINE = machine_as_is(load_shipped_layout("v_eight_petrol"))
SIDES = ("left", "right")


def ranked(*timeline: dict[str, Any]) -> Ranking:
    return rank_job(
        job_from(
            {
                "format": "leakdx-job/1",
                "id": "asked",
                "machine": {"id": ENGINE.id, "version": ENGINE.version},
                "conditions": {"hours": 100, "fluid_temperature_C": 90},
                "timeline": list(timeline),
            },
            ENGINE,
        )
    )


def seen(zone: str, state: str, fluid: str = "engine_oil") -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": fluid}


def test_oil_down_the_rear_end_wall_of_the_valley_is_its_sealant_not_the_crankshaft_seal() -> None:
    # Common practice, no source: the bead over the rear end wall leaks down the back of the block
    # and looks like the rear crankshaft seal from below.
    wall = ranked(
        seen("valley_end_rear", "running"),
        seen("bell_top", "running"),
        seen("bell_bottom", "dripping"),
        seen("valley_rear", "dry"),
    )
    assert wall.rows[0].seal_point == "valley_end_seal_rear"
    assert chance(wall, "valley_end_seal_rear") > 3 * chance(wall, "crank_seal_rear")
    above = [seen(f"head_{side}_rear", "dry") for side in SIDES]
    above += [seen("valley_end_rear", "dry"), seen("bell_top", "dry")]
    dry = ranked(seen("bell_bottom", "dripping"), *above)
    assert chance(dry, "crank_seal_rear") > 3 * chance(dry, "valley_end_seal_rear")


def test_an_oily_filter_is_blamed_only_where_all_above_it_is_dry() -> None:
    # Common practice, no source: begin at the highest wet point.
    above = ("head_right_outer", "block_right_upper", "exhaust_right")
    low = seen("oil_filter", "running")
    dry = ranked(low, *(seen(zone, "dry") for zone in above))
    wet = ranked(low, *(seen(zone, "running") for zone in above))
    filters = ("filter_ring", "filter_bracket_gasket")
    assert dry.rows[0].seal_point in filters
    cover = "cam_cover_gasket_right_outer"
    assert all(chance(dry, s) > chance(dry, cover) for s in filters)
    assert all(chance(wet, cover) > 2 * chance(wet, s) for s in filters)
    assert all(chance(dry, s) > chance(wet, s) for s in filters)


@pytest.mark.parametrize(
    ("fluid", "seals"),
    [
        ("steering_fluid", {"steering_pump_shaft_seal", "steering_feed_hose_end"}),
        ("coolant", {"water_pump_seal", "water_pump_gasket", "thermostat_ring"}),
    ],
)
def test_what_wets_the_lower_front_is_told_apart_by_its_fluid(fluid: str, seals: set[str]) -> None:
    # Common practice, no source: the crankshaft seal is blamed for what falls from the pumps.
    front = ranked(seen("front_cover_lower", "running", fluid), seen("crank_pulley", "wet", fluid))
    assert front.rows[0].fluid == fluid
    assert front.rows[0].seal_point in seals
    assert chance(front, front.rows[0].seal_point) > 2 * chance(front, "crank_seal_front")
