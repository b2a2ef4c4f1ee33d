"""Facts of the trade about V engines with six cylinders, asked of the whole program.

Each is common practice, no source.  The machine is the invented V engine with an open valley and a
manual gearbox.
"""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped_layout, machine_as_is
from tests.outside.chances import Ranking, chance, rank_job

ENGINE = machine_as_is(load_shipped_layout("v_six_petrol"))
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


@pytest.mark.parametrize(("side", "other"), [SIDES, SIDES[::-1]])
def test_oil_that_burns_on_one_manifold_is_the_outer_edge_of_the_cover_above(
    side: str, other: str
) -> None:
    # Common practice, no source: oil lies along the outer edge of a leaning cover; the inner edge
    # drains into the valley, and the other bank has a manifold of its own.
    burns = ranked(
        seen(f"exhaust_{side}", "running"),
        seen(f"head_{side}_outer", "running"),
        *(seen(f"cam_cover_{side}_{face}", "dry") for face in ("top", "front", "rear")),
        {"sign": "burnt_smell", "fluid": "engine_oil"},
    )
    outer = f"cam_cover_gasket_{side}_outer"
    assert burns.rows[0].seal_point == outer
    for seal in (f"cam_cover_gasket_{side}_inner", f"cam_cover_gasket_{other}_outer"):
        assert chance(burns, outer) > 2 * chance(burns, seal)


def test_a_wet_bell_housing_under_a_wet_valley_is_not_the_crankshaft_seal() -> None:
    # Common practice, no source: what leaks into the valley runs out at its rear and down the
    # bell housing, and gearboxes have come out for it.  With valley and rear of both heads dry
    # the joints inside the bell housing are to blame.
    bell = (seen("bell_bottom", "dripping"),)
    above = ("valley_rear", "block_rear", "bell_top")
    heads = [seen(f"head_{side}_rear", "dry") for side in SIDES]
    wet = ranked(*bell, *heads, *(seen(zone, "running") for zone in above))
    dry = ranked(*bell, *heads, *(seen(zone, "dry") for zone in above))
    inner = [chance(wet, f"cam_cover_gasket_{side}_inner") for side in SIDES]
    assert min(inner) > 2 * chance(wet, "crank_seal_rear")
    assert {r.seal_point for r in dry.rows[:2]} == {"crank_seal_rear", "seal_carrier_joint"}
    assert chance(dry, "crank_seal_rear") > 2 * chance(wet, "crank_seal_rear")


def test_oil_in_a_plug_well_is_the_tube_seal_of_that_cylinder() -> None:
    # Common practice, no source.
    others = [n for n in range(1, 7) if n != 5]
    well = ranked(seen("plug_well_5", "running"), *(seen(f"plug_well_{n}", "dry") for n in others))
    assert well.rows[0].seal_point == "plug_tube_seal_5"
    rest = [f"plug_tube_seal_{n}" for n in others]
    rest += ["cam_cover_gasket_right_inner", "cam_cover_gasket_right_outer"]
    assert all(chance(well, "plug_tube_seal_5") > 2 * chance(well, seal) for seal in rest)


def test_coolant_in_the_valley_with_dry_outer_sides_is_no_head_gasket() -> None:
    # Common practice, no source: crossover, thermostat and pipe stand in or over the valley; it is
    # looked at before a head comes off.
    pool = ranked(
        *(seen(f"valley_{end}", "running", "coolant") for end in ("front", "rear")),
        *(seen(f"head_{side}_outer", "dry", "coolant") for side in SIDES),
    )
    first = [r.seal_point for r in pool.rows if r.fluid == "coolant"][:4]
    assert not [seal for seal in first if seal.startswith(("head_gasket", "core_plug"))]
    assert {"crossover_gasket_left", "crossover_gasket_right"} & set(first)
