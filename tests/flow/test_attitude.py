"""Down, as the machine feels it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakdx.flow.attitude import REARWARD, Array, Attitude

TOLERANCE = 1e-12
FRONT, LEFT, UP = np.eye(3)


def test_a_level_machine_has_down_below() -> None:
    np.testing.assert_allclose(Attitude().down, -UP, rtol=0, atol=TOLERANCE)


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_down_is_a_unit_vector(pitch: float, roll: float) -> None:
    assert np.linalg.norm(Attitude(pitch, roll).down) == pytest.approx(1, abs=TOLERANCE)


@given(st.floats(0.1, 89.9))
def test_nose_up_pulls_to_the_rear_and_left_side_up_pulls_to_the_right(angle: float) -> None:
    assert Attitude(pitch_deg=angle).down @ FRONT < 0 < Attitude(pitch_deg=-angle).down @ FRONT
    assert Attitude(roll_deg=angle).down @ LEFT < 0 < Attitude(roll_deg=-angle).down @ LEFT


@pytest.mark.parametrize(
    ("attitude", "down"),
    [
        (Attitude(pitch_deg=90), -FRONT),
        (Attitude(pitch_deg=-90), FRONT),
        (Attitude(roll_deg=90), -LEFT),
        (Attitude(roll_deg=-90), LEFT),
        (Attitude(roll_deg=180), UP),
    ],
)
def test_a_machine_stood_on_one_side_has_down_on_that_side(attitude: Attitude, down: Array) -> None:
    np.testing.assert_allclose(attitude.down, down, rtol=0, atol=TOLERANCE)


def test_air_blows_from_front_to_rear() -> None:
    np.testing.assert_array_equal(REARWARD, -FRONT)
