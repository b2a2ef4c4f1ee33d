"""Which way is down, and which way the air blows, in the machine's own axes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Attitude:
    """How the machine stands: nose-up pitch and left-side-up roll, degrees."""

    pitch_deg: float = 0.0
    roll_deg: float = 0.0

    @property
    def down(self) -> Array:
        """Unit vector of gravity in machine axes (x forward, y left, z up), shape (3,).

        Level it is (0, 0, -1).  Nose up, the front is the high side, so gravity
        points rearward in the machine's axes.
        """
        pitch, roll = np.radians([self.pitch_deg, self.roll_deg])
        up = np.array([np.sin(pitch), np.cos(pitch) * np.sin(roll), np.cos(pitch) * np.cos(roll)])
        return -up


# Free air meets a machine that moves forward from the front.
REARWARD: Array = np.array([-1.0, 0.0, 0.0])
