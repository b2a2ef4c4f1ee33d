"""Facts of the trade about petrol engines in line, asked of the whole program.

Each is common practice, no source.  The machine is the invented six-cylinder engine with an
automatic gearbox.
"""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped_layout, machine_as_is
from tests.outside.chances import Ranking, chance, rank_job

ENGINE = machine_as_is(load_shipped_layout("inline_six_petrol"))
COVER = ("left", "right", "front", "rear")


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


@pytest.mark.parametrize("cylinder", [2, 6])
def test_oil_in_a_plug_well_is_the_tube_seal_of_that_cylinder(cylinder: int) -> None:
    # Common practice, no source: the outer gasket of the cover lies lower than the mouths of the
    # wells; renewing it alone leaves the oil in the well.
    others = [n for n in range(1, 7) if n != cylinder]
    tops = (seen("head_cover_top_front", "dry"), seen("head_cover_top_rear", "dry"))
    well = ranked(
        seen(f"plug_well_{cylinder}", "running"),
        *(seen(f"plug_well_{n}", "dry") for n in others),
        *tops,
    )
    assert well.rows[0].seal_point == f"plug_tube_seal_{cylinder}"
    rest = [f"head_cover_gasket_{side}" for side in COVER]
    rest += [f"plug_tube_seal_{n}" for n in others]
    assert all(chance(well, well.rows[0].seal_point) > 3 * chance(well, seal) for seal in rest)


def test_oil_down_the_side_of_the_cover_with_dry_wells_is_the_outer_gasket() -> None:
    # Common practice, no source.
    wells = [seen(f"plug_well_{n}", "dry") for n in range(1, 7)]
    tops = (seen("head_cover_top_front", "dry"), seen("head_cover_top_rear", "dry"))
    side = ranked(seen("head_cover_right", "running"), *tops, *wells)
    assert side.rows[0].seal_point == "head_cover_gasket_right"
    inner = [f"plug_tube_seal_{n}" for n in range(1, 7)]
    assert all(chance(side, "head_cover_gasket_right") > 3 * chance(side, s) for s in inner)


def test_what_drips_from_the_bell_housing_is_told_apart_by_its_colour() -> None:
    # Common practice, no source: red fluid at the slot is the gearbox, converter neck or pump;
    # engine oil there, with the rear of the head dry, is the rear crankshaft seal.
    dry = (seen("head_rear", "dry"), seen("head_cover_rear", "dry"), seen("bell_top", "dry"))
    red = ranked(seen("bell_bottom", "dripping", "transmission_fluid"))
    brown = ranked(seen("bell_bottom", "dripping"), *dry)
    assert {red.rows[0].seal_point, red.rows[1].seal_point} == {"converter_seal", "pump_body_ring"}
    assert brown.rows[0].seal_point == "crank_seal_rear"
    assert chance(red, "converter_seal") > 2 * chance(red, "crank_seal_rear")
    assert chance(brown, "crank_seal_rear") > 2 * chance(brown, "converter_seal")


def test_burnt_oil_on_the_heat_shield_comes_from_the_cover_above_the_exhaust() -> None:
    # Common practice, no source: the stretch of the cover gasket above the exhaust smells and
    # smokes; the same leak on the intake side does neither.
    shield = (seen("exhaust_shield", "running"), {"sign": "burnt_smell", "fluid": "engine_oil"})
    hot = ranked(*shield, seen("head_cover_top_front", "dry"), seen("head_cover_top_rear", "dry"))
    assert hot.rows[0].seal_point == "head_cover_gasket_right"
    assert chance(hot, "head_cover_gasket_right") > 3 * chance(hot, "head_cover_gasket_left")


def test_coolant_on_the_bell_housing_is_a_heater_hose_not_the_head_gasket() -> None:
    # Common practice, no source: the hoses behind the head drip on to the bell housing where
    # nobody looks; the exhaust side of the head joint is dry.
    dry = (seen(z, "dry", "coolant") for z in ("head_exhaust_front", "block_right_upper_front"))
    wet = ranked(seen("heater_hose", "wet", "coolant"), seen("bell_top", "wet", "coolant"), *dry)
    hoses = ("heater_hose_end", "heater_hose_crimp", "heater_hose_far_end")
    assert wet.rows[0].seal_point in hoses
    assert all(chance(wet, hose) > chance(wet, "head_gasket_coolant") for hose in hoses)
