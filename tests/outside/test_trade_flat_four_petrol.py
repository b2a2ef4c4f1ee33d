"""Facts of the trade about a road car's flat four, asked of the whole program.

Each is common practice, no source.  The machine is the invented layout that comes with leakdx.
"""

from __future__ import annotations

from typing import Any

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped
from tests.outside.chances import Ranking, chance, rank_job

MACHINE = load_shipped("flat_four_petrol")


def ranked(*timeline: dict[str, Any]) -> Ranking:
    return rank_job(
        job_from(
            {
                "format": "leakdx-job/1",
                "id": "asked",
                "machine": {"id": MACHINE.id, "version": MACHINE.version},
                "conditions": {"hours": 50, "fluid_temperature_C": 90},
                "timeline": list(timeline),
            },
            MACHINE,
        )
    )


def wet(zone: str, state: str, fluid: str = "engine_oil") -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": fluid}


def test_oil_burning_on_the_exhaust_comes_from_the_lower_edge_of_the_cam_cover() -> None:
    # Common practice, no source: on a flat engine oil lies against the lower edge of the cam
    # cover, and what gets past it drops on the exhaust pipe under it.
    smoking = ranked(
        wet("exhaust_left", "film"),
        wet("cam_cover_left_bottom", "dripping"),
        wet("cam_cover_left_outer", "dry"),
        wet("head_left_bottom", "dry"),
    )
    assert smoking.rows[0].seal_point == "cam_cover_gasket_left_lower"
    lower = chance(smoking, "cam_cover_gasket_left_lower")
    assert lower > 3 * chance(smoking, "cam_cover_gasket_left_upper")
    assert lower > 3 * chance(smoking, "cam_cover_gasket_right_lower")


def test_oil_in_a_plug_well_comes_from_the_tube_rings_not_from_the_outer_gasket() -> None:
    # Common practice, no source: the well is sealed off from the outside; the ring round the
    # tube, inside the cover, lets the oil in.
    pulled = ranked(wet("plug_wells_left", "wet"), wet("cam_cover_left_top", "dry"))
    assert pulled.rows[0].seal_point == "plug_tube_rings_left"
    assert chance(pulled, "plug_tube_rings_left") > 3 * chance(pulled, "plug_tube_rings_right")


def test_which_oil_hangs_in_the_bell_housing_slot_says_which_shaft_seal() -> None:
    # Common practice, no source: smelt and rubbed between the fingers, gear oil points to the
    # input shaft, engine oil to the crankshaft.
    engine = ranked(wet("bell_bottom", "dripping"), wet("bell_top", "dry"))
    gear = ranked(wet("bell_bottom", "dripping", "gear_oil"), wet("bell_top", "dry"))
    assert chance(engine, "crank_seal_rear") > chance(engine, "input_shaft_seal")
    assert chance(gear, "input_shaft_seal") > chance(gear, "crank_seal_rear")


def test_oil_from_the_turbo_drain_is_taken_for_the_rear_seal() -> None:
    # Common practice, no source: the drain hose stands over the bell housing; look on top
    # before the gearbox comes out.
    below = wet("bell_bottom", "dripping")
    drained = ranked(below, wet("bell_top", "running"), wet("turbo_drain_hose", "running"))
    clean = ranked(below, wet("bell_top", "dry"), wet("turbo_drain_hose", "dry"))
    for joint in ("turbo_oil_drain_joint", "turbo_drain_hose_end"):
        assert chance(drained, joint) > chance(drained, "crank_seal_rear")
        assert chance(clean, joint) < 0.2 * chance(clean, "crank_seal_rear")
