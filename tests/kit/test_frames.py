"""Parts stretched, mirrored, turned and moved; boxes that lie askew."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.kit.frames import Frame, flat_area, placed_zone, still, upright
from leakdx.kit.model import PartZone
from leakdx.kit.overlaps import depth_of
from leakdx.machine.boxes import TurnedBox, box_of, meet, rotation, turn_of
from leakdx.machine.model import Box, Turn

angles = st.floats(-180, 180)
axes = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: np.linalg.norm(v) > 0.1)


def zone(low: tuple[float, ...], high: tuple[float, ...], normal: tuple[float, ...]) -> PartZone:
    return PartZone.model_validate(
        {"id": "z", "bbox_mm": {"low": low, "high": high}, "normal": normal}
    )


def frame(turn: np.ndarray, stretch: tuple[float, ...] = (1, 1, 1)) -> Frame:
    return Frame(turn, np.array(stretch, float), np.array([10.0, 20.0, 30.0]))


@given(axes, angles)
@settings(deadline=None)
def test_a_turn_and_its_matrix_say_the_same(axis: tuple[float, ...], degrees: float) -> None:
    matrix = rotation(Turn.model_validate({"axis": axis, "degrees": degrees}))
    assert np.allclose(matrix @ matrix.T, np.eye(3), atol=1e-9)
    assert np.allclose(rotation(turn_of(matrix)), matrix, atol=1e-6)


def test_a_quarter_turn_keeps_a_box_along_the_axes() -> None:
    quarter = rotation(Turn(axis=(0, 0, 1), degrees=90))
    made = placed_zone(zone((0, 0, 0), (100, 20, 10), (0, 0, 1)), frame(quarter))
    assert made.turn is None
    assert made.bbox_mm == Box(low=(-10, 20, 30), high=(10, 120, 40))
    assert made.centroid_mm == (0, 70, 35)
    assert made.area_mm2 == 2000


def test_a_box_askew_has_its_corners_where_turning_puts_them() -> None:
    tilt = rotation(Turn(axis=(1, 0, 0), degrees=45))
    made = placed_zone(zone((0, 0, 0), (100, 20, 0), (0, 0, 1)), frame(tilt))
    box = box_of(made)
    assert box is not None and made.turn is not None
    # By hand: y = 20 leads to (20 cos 45, 20 sin 45) from the frame's origin.
    corner = np.array([110.0, 20 + 14.142136, 30 + 14.142136])
    assert min(np.linalg.norm(c - corner) for c in box.corners) < 1e-4
    assert made.normal == pytest.approx((0, -np.sqrt(0.5), np.sqrt(0.5)), abs=1e-6)


@given(axes, angles)
@settings(deadline=None)
def test_mirroring_twice_is_not_mirroring(axis: tuple[float, ...], degrees: float) -> None:
    turn = rotation(Turn.model_validate({"axis": axis, "degrees": degrees}))
    mirror = np.diag([1.0, -1.0, 1.0])
    plain = zone((0, -10, 0), (100, 20, 30), (0.2, 0, 1))
    once = box_of(placed_zone(plain, frame(turn @ mirror)))
    twice = box_of(placed_zone(plain, frame(turn @ mirror @ mirror)))
    straight = box_of(placed_zone(plain, frame(turn)))
    assert once is not None and twice is not None and straight is not None

    def near(box: TurnedBox, point: np.ndarray) -> float:
        return float(min(np.linalg.norm(c - point) for c in box.corners))

    assert all(near(twice, c) < 1e-4 for c in straight.corners)
    # A box mirrored in its part: y is taken negative before the part is turned.
    point = turn @ (mirror @ np.array([100, 20, 30])) + np.array([10, 20, 30])
    assert near(once, point) < 1e-4


def test_stretching_scales_boxes_areas_and_slopes() -> None:
    slope = zone((0, 0, 0), (100, 50, 100), (-1, 0, 1))
    # By hand: the patch is 100 * sqrt(2) long and 50 wide, and 200, 100 after stretching x.
    assert flat_area(slope) == pytest.approx(50 * 100 * np.sqrt(2))
    made = placed_zone(slope, frame(np.eye(3), (2, 1, 1)))
    assert made.area_mm2 == pytest.approx(50 * np.hypot(200, 100), rel=1e-6)
    unit = np.array(made.normal)
    assert unit @ np.array([200, 0, 100]) == pytest.approx(0, abs=1e-3)


def test_down_is_brought_to_the_foot() -> None:
    for down in [(0, 0, -2), (0, 0, 1), (0, 1, 0), (1, 0, 0), (0.3, -0.4, -0.5)]:
        turned = upright(down).turn @ np.array(down)
        assert np.allclose(turned / np.linalg.norm(turned), [0, 0, -1], atol=1e-9)
        assert np.linalg.det(upright(down).turn) == pytest.approx(1)
    assert np.array_equal(still().turn, upright((0, 0, -1)).turn)


def turned_box(middle: tuple[float, ...], half: tuple[float, ...], turn: Turn) -> TurnedBox:
    return TurnedBox(np.array(middle, float), rotation(turn).T, np.array(half, float))


def test_two_boxes_side_by_side_share_their_side_however_both_are_turned() -> None:
    # Two 100 long, 20 thick patches in one plane, edge to edge along x: they share 100 mm.
    flat = Turn(axis=(1, 0, 0), degrees=0)
    one = turned_box((0, 0, 0), (50, 10, 1), flat)
    other = turned_box((0, 20, 0), (50, 10, 1), flat)
    found = meet(one, other, 6)
    assert found is not None
    assert found[0] == pytest.approx(100)
    assert np.allclose(found[1], [0, 10, 0])
    for turn in [Turn(axis=(1, 2, 3), degrees=33), Turn(axis=(0, 0, 1), degrees=120)]:
        matrix = rotation(turn)
        askew = [TurnedBox(matrix @ b.middle, b.axes @ matrix.T, b.half) for b in (one, other)]
        again = meet(askew[0], askew[1], 6)
        assert again is not None
        assert again[0] == pytest.approx(100)
        assert np.allclose(again[1], matrix @ [0, 10, 0])


def test_boxes_askew_that_only_their_outlines_share_do_not_meet() -> None:
    # Around each the box along the axes reaches 70 mm; between the patches are 60 mm of air.
    slope = Turn(axis=(1, 0, 0), degrees=45)
    one = turned_box((0, 0, 0), (50, 50, 1), slope)
    other = turned_box((0, 60 * np.sqrt(0.5), -60 * np.sqrt(0.5)), (50, 50, 1), slope)
    assert np.all(np.abs(one.middle - other.middle) <= one.reach + other.reach)
    assert meet(one, other, 6) is None
    assert meet(one, other, 60) is not None


def test_how_deep_one_solid_stands_in_another() -> None:
    flat = Turn(axis=(1, 0, 0), degrees=0)
    one = turned_box((0, 0, 0), (50, 50, 50), flat)
    assert depth_of(one, turned_box((95, 0, 0), (50, 50, 50), flat)) == pytest.approx(5)
    assert depth_of(one, turned_box((101, 0, 0), (50, 50, 50), flat)) == 0
    # A cube on its edge reaches 50 * sqrt(2) = 70.7 mm to the side.
    edge = turned_box((0, 0, 120), (50, 50, 50), Turn(axis=(1, 0, 0), degrees=45))
    assert depth_of(one, edge) == pytest.approx(50 + 50 * np.sqrt(2) - 120)
