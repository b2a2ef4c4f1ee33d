"""Facts of the trade about an air-cooled flat aircraft engine, asked of the whole program.

Each is common practice, no source.  The machine is the invented layout that comes with leakdx.
"""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped
from tests.outside.chances import Ranking, chance, rank_job

MACHINE = load_shipped("aero_flat_four")


def ranked(*timeline: dict[str, Any]) -> Ranking:
    return rank_job(
        job_from(
            {
                "format": "leakdx-job/1",
                "id": "asked",
                "machine": {"id": MACHINE.id, "version": MACHINE.version},
                "conditions": {"hours": 50, "fluid_temperature_C": 85, "airflow_m_s": 40},
                "timeline": list(timeline),
            },
            MACHINE,
        )
    )


def oil(zone: str, state: str) -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": "engine_oil"}


def test_a_frozen_breather_pushes_oil_out_at_the_propeller_shaft() -> None:
    # Common practice, no source: with the breather iced up the case pressure goes to the seal
    # of the propeller shaft; what is under oil pressure anyway does not feel it.
    frozen = ranked({"context": "ventilation_blocked", "fluid": "engine_oil"})
    clear = ranked({"context": "ventilation_clear", "fluid": "engine_oil"})
    seal = "propeller_shaft_seal"
    assert chance(frozen, seal) > 1.5 * chance(clear, seal)
    union = "oil_pressure_line_union"
    assert chance(frozen, union) == pytest.approx(chance(clear, union), rel=1e-6)


def test_an_oily_belly_under_a_dry_cowl_is_the_breather() -> None:
    # Common practice, no source: it blows over when too much oil is in; no seal is at fault.
    belly = ranked(
        oil("belly", "film"),
        oil("breather_outlet", "running"),
        oil("cowl_lower_front", "dry"),
        oil("cowl_lower_rear", "dry"),
    )
    assert belly.rows[0].seal_point == "breather_outlet_mist"
    overfilled = {"context": "overfilled", "fluid": "engine_oil"}
    assert chance(ranked(overfilled), "breather_outlet_mist") > 1.5 * chance(
        ranked(), "breather_outlet_mist"
    )


def test_oil_on_the_windscreen_is_the_propeller_shaft_if_the_nose_is_wet_too() -> None:
    # Common practice, no source: only what leaves in front of the cowl reaches the windscreen.
    screen = oil("windscreen", "film")
    wet = ranked(screen, oil("crankcase_nose", "running"))
    dry = ranked(screen, oil("crankcase_nose", "dry"))
    seal = "propeller_shaft_seal"
    assert wet.rows[0].seal_point == seal
    assert chance(wet, seal) > 2 * chance(wet, "accessory_case_gasket_top")
    assert chance(dry, seal) < 0.3 * chance(wet, seal)


def test_the_rocker_cover_and_the_pushrod_tubes_are_told_apart_by_what_is_dry() -> None:
    # Common practice, no source: oil on the cover with dry tubes above it is the cover's own.
    cover, tubes = "rocker_cover_left_1", "pushrod_tubes_left_1"
    at_cover = ranked(oil(cover, "running"), oil(tubes, "dry"))
    at_tubes = ranked(oil(cover, "dry"), oil(tubes, "running"))
    gasket, ring = "rocker_cover_gasket_left_1", "pushrod_tube_seals_inner_left_1"
    assert chance(at_cover, gasket) > 3 * chance(at_cover, ring)
    assert chance(at_tubes, ring) > 3 * chance(at_tubes, gasket)


def test_every_inspection_says_who_may_release_the_aircraft() -> None:
    # Common practice, no source: nothing this program says releases an aircraft to service.
    for inspection in MACHINE.inspections:
        assert any("licensed" in caution for caution in inspection.cautions), inspection.id
