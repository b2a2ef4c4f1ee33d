"""Facts of the trade about driven rear axles, asked of the whole program.

Each is common practice, no source.  The machines are the invented live axle with drum brakes and
the invented independent one with discs.
"""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped_layout, machine_as_is
from leakdx.machine.model import Machine
from tests.outside.chances import Ranking, chance, rank_job

LAYOUT = load_shipped_layout("rear_axle")
LIVE = machine_as_is(LAYOUT)
INDEPENDENT = machine_as_is(LAYOUT, {"axle": "independent", "brakes": "disc"})
SIDES = ("left", "right")


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


def seen(zone: str, state: str, fluid: str = "gear_oil") -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": fluid}


@pytest.mark.parametrize(("side", "other"), [SIDES, SIDES[::-1]])
def test_gear_oil_on_a_back_plate_is_the_axle_seal_of_that_side(side: str, other: str) -> None:
    # Common practice, no source.
    plate = ranked(LIVE, seen(f"brake_plate_{side}", "running"))
    seal = f"axle_seal_{side}"
    assert plate.rows[0].seal_point == seal
    for rest in (f"axle_seal_{other}", "pinion_seal", "cover_gasket_lower"):
        assert chance(plate, seal) > 3 * chance(plate, rest)


@pytest.mark.parametrize(
    ("fluid", "seal"),
    [
        ("gear_oil", "axle_seal_left"),
        ("brake_fluid", "wheel_cylinder_cups_left"),
        ("grease", "hub_grease_seal_left"),
    ],
)
def test_what_stands_in_a_drum_is_told_apart_by_feel_and_smell(fluid: str, seal: str) -> None:
    # Common practice, no source: gear oil from the axle, brake fluid from the wheel cylinder,
    # grease from the bearing.
    drum = ranked(LIVE, seen("brake_inside_left", "wet", fluid))
    assert drum.rows[0].seal_point == seal


def test_all_seals_of_the_axle_weep_at_once_where_the_breather_is_blocked() -> None:
    # Common practice, no source: the warm axle builds pressure; new seals weep again until the
    # breather is clear.
    blocked = ranked(LIVE, {"context": "ventilation_blocked", "fluid": "gear_oil"})
    clear = ranked(LIVE, {"context": "ventilation_clear", "fluid": "gear_oil"})
    oils = ("pinion_seal", "axle_seal_left", "axle_seal_right", "cover_gasket_lower")
    assert all(chance(blocked, s) > 1.5 * chance(clear, s) for s in oils)
    greased = "hub_grease_seal_left"
    assert chance(blocked, greased) == pytest.approx(chance(clear, greased), rel=1e-9)


def test_oil_at_both_ends_makes_the_pinion_seal_suspect_unless_the_breather_is_clear() -> None:
    # Common practice, no source: several at once is one cause, not several bad seals.
    both = [{"seal_point": f"axle_seal_{side}", "state": "weeping"} for side in SIDES]
    clear = {"context": "ventilation_clear", "fluid": "gear_oil"}
    third = "pinion_seal"
    assert chance(ranked(LIVE, *both), third) > 1.2 * chance(ranked(LIVE), third)
    assert chance(ranked(LIVE, *both, clear), third) < chance(ranked(LIVE, *both), third)


def test_a_band_thrown_on_the_underbody_is_the_pinion_seal() -> None:
    # Common practice, no source: the flange throws what reaches it; what leaks at the rear cover
    # is never in front of the axle.
    band = ranked(LIVE, seen("underbody", "wet"), seen("pinion_nose", "running"))
    assert band.rows[0].seal_point == "pinion_seal"
    assert chance(band, "pinion_seal") > 4 * chance(band, "cover_gasket_lower")


def test_oil_at_the_foot_of_the_rear_cover_with_a_dry_nose_is_its_lower_joint() -> None:
    # Common practice, no source: the lower half of the joint stands in oil.
    dry = ("pinion_nose", "housing_front", "cover_rim_upper", "diff_cover")
    foot = ranked(
        LIVE,
        seen("cover_rim_lower", "running"),
        seen("housing_bottom", "dripping"),
        *(seen(zone, "dry") for zone in dry),
    )
    assert foot.rows[0].seal_point == "cover_gasket_lower"
    assert chance(foot, "cover_gasket_lower") > 3 * chance(foot, "pinion_seal")
    assert chance(foot, "cover_gasket_lower") > 3 * chance(foot, "cover_gasket_upper")


def test_a_ring_of_grease_thrown_inside_a_wheel_is_the_outer_boot() -> None:
    # Common practice, no source: a split boot throws its grease in its own plane.
    ring = ranked(
        INDEPENDENT, seen("tyre_left", "wet", "grease"), seen("outer_boot_left", "wet", "grease")
    )
    assert ring.rows[0].seal_point == "outer_boot_clip_left"
    for rest in ("inner_boot_clip_left", "outer_boot_clip_right", "hub_cap_ring_left"):
        assert chance(ring, "outer_boot_clip_left") > 3 * chance(ring, rest)
