"""Facts of the trade about clutch hydraulics, asked of the whole program.

Each is common practice, no source.  The machine is the invented clutch system.
"""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped_layout, machine_as_is
from leakdx.machine.model import Machine
from tests.outside.chances import Ranking, chance, rank_job

LAYOUT = load_shipped_layout("clutch_hydraulics")
OUTSIDE = machine_as_is(LAYOUT, {"slave": "outside"})
INSIDE = machine_as_is(LAYOUT, {"slave": "inside"})


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


def wet(zone: str, state: str, fluid: str = "brake_fluid") -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": fluid}


def test_brake_fluid_in_the_carpet_under_the_pedals_is_the_rear_seal_of_the_master() -> None:
    # Common practice, no source: it runs along the push rod into the cabin.
    carpet = ranked(OUTSIDE, wet("carpet", "wet"), wet("clutch_master", "dry"))
    assert carpet.rows[0].seal_point == "master_rear_seal"
    assert chance(carpet, "master_rear_seal") > 3 * chance(ranked(OUTSIDE), "master_rear_seal")


@pytest.mark.parametrize(
    ("fluid", "seal"),
    [
        ("brake_fluid", "concentric_seal"),
        ("engine_oil", "engine_rear_seal"),
        ("gear_oil", "gearbox_input_seal"),
    ],
)
def test_what_drips_from_the_bell_housing_tells_whose_seal_it_is(fluid: str, seal: str) -> None:
    # Common practice, no source: smell and feel it before the gearbox comes out.
    above = (wet("engine_rear", "dry", "engine_oil"), wet("bell_top", "dry", "engine_oil"))
    slot = ranked(INSIDE, wet("bell_under", "dripping", fluid), *above)
    assert slot.rows[0].seal_point == seal


def test_fluid_in_the_boot_of_the_slave_is_its_piston_seal() -> None:
    # Common practice, no source: the boot is dry on a sound cylinder; a wet hose above it says no.
    boot = ranked(OUTSIDE, wet("slave_boot", "running"), wet("clutch_hose", "dry"))
    assert boot.rows[0].seal_point == "slave_piston_seal"


def test_the_level_falls_and_nothing_shows_outside_points_into_the_bell_housing() -> None:
    # Common practice, no source: with the slave cylinder inside, the bell hides the leak.
    dry = ("clutch_master", "clutch_pipe_upper", "clutch_hose", "slave_adapter", "carpet")
    falls = {"sign": "level_falls", "value": "yes", "fluid": "brake_fluid"}
    hidden = ranked(INSIDE, falls, *(wet(zone, "dry") for zone in dry))
    fluids = [r.seal_point for r in hidden.rows if r.fluid == "brake_fluid"]
    assert fluids[0] in ("concentric_seal", "inner_pipe_union")
