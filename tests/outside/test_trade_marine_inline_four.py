"""Facts of the trade about boat engines, asked of the whole program.

Each is common practice, no source.  The machine is the invented boat diesel over its drip tray.
"""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped_layout, machine_as_is
from tests.outside.chances import Ranking, chance, rank_job

ENGINE = machine_as_is(load_shipped_layout("marine_inline_four"))
STANDS = {s.id: {"pitch_deg": s.pitch_deg, "roll_deg": s.roll_deg} for s in ENGINE.stands}


def ranked(*timeline: dict[str, Any], stand: str = "level") -> Ranking:
    return rank_job(
        job_from(
            {
                "format": "leakdx-job/1",
                "id": "asked",
                "machine": {"id": ENGINE.id, "version": ENGINE.version},
                "conditions": {"hours": 100, "fluid_temperature_C": 80} | STANDS[stand],
                "timeline": list(timeline),
            },
            ENGINE,
        )
    )


def seen(zone: str, state: str, fluid: str) -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": fluid}


def test_by_the_stern_a_puddle_aft_needs_no_second_leak_beside_the_front_seal() -> None:
    # Common practice, no source: in a boat trimmed by the stern, oil from the front of the engine
    # ends at the rear of the tray; by the bow it does not, and what lies aft came from aft.
    found = {"seal_point": "crank_seal_front", "state": "dripping"}
    tray = [seen(f"drip_tray_{end}", "running", "engine_oil") for end in ("front", "rear")]
    stern, bow = (ranked(found, *tray, stand=stand) for stand in ("by_the_stern", "by_the_bow"))
    aft = ("crank_seal_rear", "sump_joint_rear", "head_cover_gasket_rear")
    assert all(chance(bow, seal) > 1.3 * chance(stern, seal) for seal in aft)


@pytest.mark.parametrize(
    ("fluid", "seal"),
    [("raw_water", "raw_water_shaft_seal"), ("engine_oil", "raw_water_pump_oil_seal")],
)
def test_what_comes_out_of_the_tell_tale_says_which_of_the_two_seals(fluid: str, seal: str) -> None:
    # Common practice, no source: water is the seal on the impeller side, oil that on the engine's.
    dry = (seen(z, "dry", fluid) for z in ("front_cover_upper", "raw_water_pump_cover"))
    found = ranked(seen("raw_water_pump", "dripping", fluid), *dry)
    assert found.rows[0].seal_point == seal


def test_raw_water_on_the_elbow_under_a_dry_end_cap_is_the_elbow() -> None:
    # Common practice, no source: elbows rust through from inside; the rings of the tube stack are
    # ahead of it and dry.
    dry = (seen(z, "dry", "raw_water") for z in ("exchanger_cap_rear", "exchanger_cap_front"))
    found = ranked(seen("exhaust_elbow", "wet", "raw_water"), *dry)
    own = ("exhaust_elbow_wall", "exhaust_elbow_gasket", "raw_water_elbow_hose_end")
    assert found.rows[0].seal_point in own
    assert all(chance(found, s) > chance(found, "stack_ring_rear_raw") for s in own)


@pytest.mark.parametrize(
    ("fluid", "seal"), [("engine_oil", "crank_seal_rear"), ("gear_oil", "gearbox_input_seal")]
)
def test_the_oil_at_the_slot_of_the_bell_says_engine_or_gearbox(fluid: str, seal: str) -> None:
    # Common practice, no source: gear oil smells and is of another colour; wipe and compare before
    # the gearbox comes out.
    dry = (seen(z, "dry", fluid) for z in ("head_rear", "bell_top", "bell_left"))
    assert ranked(seen("bell_bottom", "dripping", fluid), *dry).rows[0].seal_point == seal
