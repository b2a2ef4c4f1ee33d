"""Liquid drawn into narrow places: rise, wicking and the length where it matters.

Lengths in m, times in s, surface tension in N/m, dynamic viscosity in Pa s.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from leakdx.flow.film import STANDARD_GRAVITY
from leakdx.flow.viscosity import require_positive


@dataclass(frozen=True)
class Wetting:
    """Surface tension, N/m, and contact angle on the wall, degrees.

    Raises ValueError unless the tension is finite and above zero and the angle is 0
    to 180 degrees.
    """

    surface_tension_N_m: float
    contact_angle_deg: float = 0.0

    def __post_init__(self) -> None:
        require_positive(surface_tension_N_m=self.surface_tension_N_m)
        if not 0 <= self.contact_angle_deg <= 180:
            raise ValueError("a contact angle is 0 to 180 degrees")

    @property
    def pull(self) -> float:
        """Tension along the wall, N/m; below zero when the liquid does not wet it."""
        return self.surface_tension_N_m * math.cos(math.radians(self.contact_angle_deg))


def jurin_height(wetting: Wetting, density_kg_m3: float, radius_m: float) -> float:
    """Height, m, to which liquid rises in a round tube; below zero it is pushed down.

    Raises ValueError for a density or radius that is not finite and above zero.
    Source: Jurin's law, 2 sigma cos(theta) / (rho g r).
    """
    require_positive(density_kg_m3=density_kg_m3, radius_m=radius_m)
    return 2 * wetting.pull / (density_kg_m3 * STANDARD_GRAVITY * radius_m)


def washburn_length(
    wetting: Wetting, viscosity_Pa_s: float, radius_m: float, time_s: float
) -> float:
    """Length, m, of pore filled after a time in s, gravity left out.

    Raises ValueError for a value that is not finite and above zero, and for a liquid
    that does not wet the pore and so does not enter it.  Source: Washburn 1921,
    sqrt(sigma r cos(theta) t / (2 mu)).
    """
    require_positive(viscosity_Pa_s=viscosity_Pa_s, radius_m=radius_m, time_s=time_s)
    if wetting.contact_angle_deg >= 90:
        raise ValueError("a liquid with a contact angle of 90 degrees or more does not enter")
    return math.sqrt(wetting.pull * radius_m * time_s / (2 * viscosity_Pa_s))


def capillary_length(surface_tension_N_m: float, density_kg_m3: float) -> float:
    """Length, m, below which surface tension outweighs gravity.

    Raises ValueError for a value that is not finite and above zero.  Source: the
    definition, sqrt(sigma / (rho g)).
    """
    require_positive(surface_tension_N_m=surface_tension_N_m, density_kg_m3=density_kg_m3)
    return math.sqrt(surface_tension_N_m / (density_kg_m3 * STANDARD_GRAVITY))
