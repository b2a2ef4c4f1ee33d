"""Facts of the trade about hydraulic power packs, asked of the whole program.

Each is common practice, no source.  The machine is the invented power pack.
"""

from __future__ import annotations

from typing import Any

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped_layout, machine_as_is
from tests.outside.chances import Ranking, chance, rank_job

PACK = machine_as_is(load_shipped_layout("hydraulic_power_pack"))


def ranked(*timeline: dict[str, Any]) -> Ranking:
    return rank_job(
        job_from(
            {
                "format": "leakdx-job/1",
                "id": "asked",
                "machine": {"id": PACK.id, "version": PACK.version},
                "conditions": {"hours": 100},
                "timeline": list(timeline),
            },
            PACK,
        )
    )


def oil(zone: str, state: str) -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": "hydraulic_oil"}


def test_oil_on_the_tank_wall_is_the_lid_gasket_only_where_the_lid_is_dry() -> None:
    # Common practice, no source: what leaks on the lid runs over its edge and down the wall, and
    # the lid gasket is renewed in vain.
    wall, lid = oil("tank_left", "running"), ("lid_left_front", "lid_left_rear")
    from_above = ranked(wall, *(oil(zone, "running") for zone in lid))
    dry_lid = ranked(wall, *(oil(zone, "dry") for zone in lid))
    assert chance(dry_lid, "lid_gasket_left") > 1.5 * chance(from_above, "lid_gasket_left")
    assert chance(dry_lid, "lid_gasket_left") > 3 * chance(dry_lid, "cartridge_ring_front")
    assert chance(from_above, "cartridge_ring_front") > chance(dry_lid, "cartridge_ring_front")


def test_oil_at_the_cylinder_port_may_have_come_down_the_hose() -> None:
    # Common practice, no source: with the hose wet above the port, look at its upper end first.
    port = (oil("barrel_rear", "running"), oil("a_lower_fitting", "running"))
    wet, dry = (
        ranked(*port, oil("a_hose_drop", "running")),
        ranked(*port, oil("a_hose_drop", "dry")),
    )
    assert chance(wet, "a_upper_crimp") > chance(wet, "a_lower_crimp")
    assert chance(dry, "a_lower_crimp") > 3 * chance(dry, "a_upper_crimp")


def test_what_leaks_only_at_rest_is_under_the_oil_level_not_under_pressure() -> None:
    # Common practice, no source: at rest there is no pressure, only the height of the oil; a hose
    # end that sucks above the level drips neither way.
    signs = {"leaks_at_rest": "yes", "leaks_at_speed": "no", "leaks_hot_idle": "no"}
    at_rest = ranked(*({"sign": k, "value": v, "fluid": "hydraulic_oil"} for k, v in signs.items()))
    drives = {s.id: s.drive.value for s in PACK.seal_points}
    rows = [r.seal_point for r in at_rest.rows if r.fluid == "hydraulic_oil"]
    assert drives[rows[0]] == "static_head"
    assert chance(at_rest, "suction_hose_end_tank") > 2 * chance(at_rest, "pressure_port_ring")


def test_oil_in_the_bell_between_motor_and_pump_is_the_pump_shaft_seal() -> None:
    # Common practice, no source.
    bell = ranked(oil("drive_bell_slot", "dripping"))
    assert bell.rows[0].seal_point == "drive_shaft_seal"


def test_oil_carried_out_on_the_rod_is_the_rod_packing_not_the_ring_of_the_gland() -> None:
    # Common practice, no source: a wet rod and a dry barrel.
    rod = ranked(oil("rod", "running"), oil("gland", "running"), oil("barrel_front", "dry"))
    assert rod.rows[0].seal_point in ("rod_seal", "rod_wiper")
    assert chance(rod, "rod_seal") > 3 * chance(rod, "gland_ring")


def test_a_wet_solenoid_is_the_armature_tube_and_a_dry_one_over_a_wet_block_the_cartridge() -> None:
    # Common practice, no source.
    block = oil("block_top", "running")
    wet = ranked(block, oil("cartridges", "running"))
    dry = ranked(block, oil("cartridges", "dry"))
    assert chance(wet, "solenoid_tube_front") > chance(wet, "cartridge_ring_front")
    assert chance(dry, "cartridge_ring_front") > chance(dry, "solenoid_tube_front")
