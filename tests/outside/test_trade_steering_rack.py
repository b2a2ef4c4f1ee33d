"""Facts of the trade about hydraulic steering racks, asked of the whole program.

Each is common practice, no source.  The machine is the invented rack on a crossmember.
"""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped_layout, machine_as_is
from tests.outside.chances import Ranking, chance, rank_job

RACK = machine_as_is(load_shipped_layout("steering_rack"))


def ranked(*timeline: dict[str, Any]) -> Ranking:
    return rank_job(
        job_from(
            {
                "format": "leakdx-job/1",
                "id": "asked",
                "machine": {"id": RACK.id, "version": RACK.version},
                "conditions": {"hours": 100},
                "timeline": list(timeline),
            },
            RACK,
        )
    )


def fluid(zone: str, state: str) -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": "steering_fluid"}


@pytest.mark.parametrize(("wet", "dry"), [("left", "right"), ("right", "left")])
def test_fluid_in_a_bellows_is_the_rack_seal_on_that_side(wet: str, dry: str) -> None:
    # Common practice, no source.
    seen = (fluid(f"bellows_inside_{wet}", "wet"), fluid(f"bellows_inside_{dry}", "dry"))
    inside = ranked(*seen)
    assert inside.rows[0].seal_point == f"rack_seal_{wet}"
    assert chance(inside, f"rack_seal_{wet}") > 5 * chance(inside, f"rack_seal_{dry}")


def test_fluid_at_the_clip_of_a_bellows_came_from_inside_where_the_rack_is_dry() -> None:
    # Common practice, no source: the bellows fill and run out at the clip.
    around = ("rack_tube_right", "valve_tower", "tie_rod_left", "yoke_plug")
    clip = ranked(fluid("outer_clip_right", "dripping"), *(fluid(z, "dry") for z in around))
    assert clip.rows[0].seal_point == "rack_seal_right"


def test_a_wet_rack_below_a_wet_top_of_the_valve_housing_is_the_input_shaft_seal() -> None:
    # Common practice, no source: it runs down over the unions, which are then tightened in vain.
    below = (fluid("valve_tower", "running"), fluid("rack_tube_left", "running"))
    wet = ranked(fluid("valve_tower_top", "running"), *below)
    dry = ranked(fluid("valve_tower_top", "dry"), *below)
    assert wet.rows[0].seal_point == "input_shaft_seal"
    unions = ("transfer_union_valve_long", "transfer_union_valve_short")
    assert all(chance(dry, u) > chance(dry, "input_shaft_seal") for u in unions)


def test_a_wet_pump_under_a_wet_reservoir_cap_is_not_the_pump() -> None:
    # Common practice, no source: overfilled or foaming, it comes out at the cap and runs down.
    body = (fluid("reservoir", "running"), fluid("steering_pump", "running"))
    wet, pump = ranked(fluid("reservoir_cap", "running"), *body), ranked(body[1])
    assert wet.rows[0].seal_point == "reservoir_cap_vent"
    assert chance(wet, "pump_cover_ring") < chance(pump, "pump_cover_ring")
