"""Facts of the trade about a motorcycle's parallel twin, asked of the whole program.

Each is common practice, no source.  The machine is the invented layout that comes with leakdx.
"""

from __future__ import annotations

from typing import Any

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped
from tests.outside.chances import Ranking, chance, rank_job

MACHINE = load_shipped("parallel_twin_motorcycle")
SIDE_STAND = next(s for s in MACHINE.stands if s.id == "side_stand")


def ranked(*timeline: dict[str, Any], **conditions: float) -> Ranking:
    stated = {"hours": 30, "fluid_temperature_C": 90} | conditions
    return rank_job(
        job_from(
            {
                "format": "leakdx-job/1",
                "id": "asked",
                "machine": {"id": MACHINE.id, "version": MACHINE.version},
                "conditions": stated,
                "timeline": list(timeline),
            },
            MACHINE,
        )
    )


def wet(zone: str, state: str, fluid: str = "engine_oil") -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": fluid}


def test_a_wet_base_joint_is_the_base_gasket_only_if_all_above_is_dry() -> None:
    # Common practice, no source: a leaking cam cover runs down the cylinders and is taken for
    # the base gasket, which means taking the engine to pieces.
    base = wet("cylinder_front", "running")
    dry = ranked(base, wet("head_front", "dry"), wet("cam_cover_front", "dry"))
    above = ranked(base, wet("head_front", "running"), wet("cam_cover_front", "film"))
    assert dry.rows[0].seal_point == "base_gasket_front"
    assert chance(dry, "base_gasket_front") > 3 * chance(dry, "cam_cover_gasket_front")
    assert chance(above, "cam_cover_gasket_front") > 3 * chance(above, "base_gasket_front")


def test_chain_lubricant_under_the_sprocket_cover_says_little_of_the_seals() -> None:
    # Common practice, no source: the chain throws its lubricant there; engine oil is another
    # matter.
    cover = "sprocket_cover_bottom"
    thrown, leaked = ranked(wet(cover, "wet", "chain_lubricant")), ranked(wet(cover, "wet"))
    for seal in ("output_shaft_seal", "clutch_pushrod_seal", "gear_selector_seal"):
        assert chance(leaked, seal) > 1.4 * chance(thrown, seal)
    lubricant = "chain_lubricant_flung"
    assert chance(thrown, lubricant) > 2 * chance(leaked, lubricant)
    assert chance(thrown, lubricant) > chance(thrown, "output_shaft_seal")


def test_behind_the_sprocket_cover_look_first_on_top_of_the_gearbox() -> None:
    # Common practice, no source: on the side stand, which leans it to the left, oil on top of
    # the gearbox runs down there, and a seal is renewed for nothing.
    recess = wet("sprocket_recess", "running")
    leaning = SIDE_STAND.roll_deg
    above = ranked(recess, wet("gearbox_top", "running"), roll_deg=leaning)
    dry = ranked(recess, wet("gearbox_top", "dry"), roll_deg=leaning)
    for joint in ("starter_ring", "breather_cover_gasket", "base_gasket_rear"):
        assert chance(above, joint) > chance(above, "output_shaft_seal")
        assert chance(dry, joint) < 0.5 * chance(dry, "output_shaft_seal")


def test_what_comes_out_of_the_weep_hole_says_which_seal_of_the_pump() -> None:
    # Common practice, no source: coolant is the mechanical seal, oil the oil seal behind it.
    oil, coolant = (
        ranked(wet("coolant_pump", "running", fluid)) for fluid in ("engine_oil", "coolant")
    )
    assert chance(oil, "coolant_pump_oil_seal") > 2 * chance(oil, "coolant_pump_seal")
    assert chance(coolant, "coolant_pump_seal") > 2 * chance(coolant, "coolant_pump_oil_seal")
