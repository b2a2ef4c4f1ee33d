"""Where a leak first shows.  That the lower zone gets more is common practice, no source."""

from __future__ import annotations

import pytest

from leakdx.flow.attitude import Attitude
from leakdx.flow.courses import Wind
from leakdx.flow.outlets import first_zones
from leakdx.machine.model import SealKind, SealPoint
from leakdx.priors.read import shipped_priors
from tests.flow.boxes import STILL, box, flow_of, machine, patch, tray

PRIORS = shipped_priors()

MADE = machine((*box(), tray()))
IDS = [z.id for z in MADE.zones]


def joint(*zones: str, position: tuple[float, float, float] | None = None) -> SealPoint:
    return SealPoint(
        id="joint", kind=SealKind.FLAT_GASKET, zones=zones, fluid="oil", position_mm=position
    )


def parts(seal: SealPoint, wind: Wind = STILL) -> dict[str, float]:
    return {IDS[k]: p for k, p in first_zones(seal, flow_of(MADE, wind), PRIORS).items()}


def test_a_joint_in_one_zone_wets_that_zone_with_all_it_leaks() -> None:
    for zone in IDS:
        found = parts(joint(zone))
        assert found[zone] == pytest.approx(1)
        assert all(0 < p <= 1 for p in found.values())


def test_a_zone_named_twice_counts_once() -> None:
    assert parts(joint("left", "left")) == parts(joint("left"))


def test_of_two_zones_one_above_the_other_the_lower_gets_more() -> None:
    found = parts(joint("top", "left"))
    assert found["left"] > found["top"] > 0
    over = parts(joint("top", "left"), Wind(Attitude(roll_deg=180)))
    assert over["top"] > over["left"] > 0


def test_two_zones_on_a_level_share_alike_until_the_machine_leans() -> None:
    level = parts(joint("left", "right"))
    assert level["left"] == pytest.approx(level["right"])
    # Left side up.
    leaning = parts(joint("left", "right"), Wind(Attitude(roll_deg=10)))
    assert leaning["right"] > leaning["left"]


def test_the_order_of_the_zones_says_nothing() -> None:
    assert parts(joint("top", "left")) == pytest.approx(parts(joint("left", "top")))


def test_a_point_near_an_edge_wets_what_lies_over_that_edge() -> None:
    far_to_near = []
    made = machine(
        (
            patch("slope", (0, 0, 300), (0.6, 0, 0.8), (400, 400, 300)),
            patch("foot_left", (200, 100, 100), (1, 0, 0), (0, 200, 100)),
            patch("foot_right", (200, -100, 100), (1, 0, 0), (0, 200, 100)),
        )
    )
    flow = flow_of(made)
    for y in (-180.0, 180.0):
        found = first_zones(joint("slope", position=(0, y, 300)), flow, PRIORS)
        far_to_near.append((found.get(1, 0.0), found.get(2, 0.0)))
    (left_of_right, right_of_right), (left_of_left, right_of_left) = far_to_near
    assert right_of_right > left_of_right
    assert left_of_left > right_of_left
    assert left_of_left == pytest.approx(right_of_right)
