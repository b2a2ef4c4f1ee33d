"""Laminar leakage through a slit or a round hole.

Lengths in m, pressure in kPa, dynamic viscosity in Pa s, flow in m3/s.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from leakdx.flow.viscosity import require_finite, require_positive

PA_PER_KPA = 1000.0


@dataclass(frozen=True)
class Slit:
    """A flat gap, m: width across the flow, height between the faces, length along it.

    Raises ValueError unless all three are finite and above zero.
    """

    width_m: float
    height_m: float
    length_m: float

    def __post_init__(self) -> None:
        require_positive(width_m=self.width_m, height_m=self.height_m, length_m=self.length_m)


@dataclass(frozen=True)
class Hole:
    """A round passage, m: radius and length.

    Raises ValueError unless both are finite and above zero.
    """

    radius_m: float
    length_m: float

    def __post_init__(self) -> None:
        require_positive(radius_m=self.radius_m, length_m=self.length_m)


def slit_flow(slit: Slit, pressure_kPa: float, viscosity_Pa_s: float) -> float:
    """Flow, m3/s, through a wide slit; a pressure below zero gives a flow inwards.

    ``pressure_kPa`` is the difference across the slit.  Laminar, long against its
    height and much wider than high.  Raises ValueError for a pressure that is not
    finite and a viscosity that is not finite and above zero.  Source: plane
    Poiseuille flow, w h^3 dp / (12 mu L).
    """
    pressure_Pa = _pressure(pressure_kPa, viscosity_Pa_s)
    resistance = 12 * viscosity_Pa_s * slit.length_m
    return slit.width_m * slit.height_m**3 * pressure_Pa / resistance


def hole_flow(hole: Hole, pressure_kPa: float, viscosity_Pa_s: float) -> float:
    """Flow, m3/s, through a round hole; a pressure below zero gives a flow inwards.

    ``pressure_kPa`` is the difference across the hole.  Laminar, and long against its
    radius.  Raises ValueError as ``slit_flow`` does.  Source: Hagen-Poiseuille,
    pi r^4 dp / (8 mu L).
    """
    pressure_Pa = _pressure(pressure_kPa, viscosity_Pa_s)
    return math.pi * hole.radius_m**4 * pressure_Pa / (8 * viscosity_Pa_s * hole.length_m)


def _pressure(pressure_kPa: float, viscosity_Pa_s: float) -> float:
    require_finite(pressure_kPa=pressure_kPa)
    require_positive(viscosity_Pa_s=viscosity_Pa_s)
    return pressure_kPa * PA_PER_KPA
