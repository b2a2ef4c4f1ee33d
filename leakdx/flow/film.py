"""Films of liquid that run down or drain from a wall, and drops that fall off it.

Lengths in m, times in s; kinematic viscosity in mm2/s, density in kg/m3.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from leakdx.flow.viscosity import Number, require_positive

STANDARD_GRAVITY = 9.80665  # m/s2
M2_PER_MM2 = 1e-6
MINUTES_PER_HOUR = 60.0

# Bird, Stewart & Lightfoot, Transport Phenomena, section 2.2.
RIPPLES_FROM = 20.0
TURBULENT_ABOVE = 1500.0

DROPS_PER_ML_PHARMACOPOEIA = 20.0  # a convention for water
DROPS_PER_ML_OIL = 30.0  # a figure of the trade: oil has less surface tension


class FilmRegime(StrEnum):
    """How a falling film runs; smooth means laminar with negligible ripples."""

    SMOOTH = "smooth"
    RIPPLED = "rippled"
    TURBULENT = "turbulent"


@dataclass(frozen=True)
class Liquid:
    """Kinematic viscosity, mm2/s, and density, kg/m3, at the temperature in question.

    Raises ValueError unless both are finite and above zero.
    """

    viscosity_mm2_s: float
    density_kg_m3: float

    def __post_init__(self) -> None:
        require_positive(viscosity_mm2_s=self.viscosity_mm2_s, density_kg_m3=self.density_kg_m3)

    @property
    def viscosity_m2_s(self) -> float:
        """Kinematic viscosity, m2/s."""
        return self.viscosity_mm2_s * M2_PER_MM2

    @property
    def dynamic_viscosity(self) -> float:
        """Dynamic viscosity, Pa s."""
        return self.viscosity_m2_s * self.density_kg_m3


@dataclass(frozen=True)
class Wall:
    """A flat wall: its slope in degrees from level (90 is upright), gravity in m/s2.

    Raises ValueError unless the slope is above 0 and at most 90 degrees (nothing runs
    down a level floor) and gravity is finite and above zero.
    """

    slope_deg: float = 90.0
    gravity_m_s2: float = STANDARD_GRAVITY

    def __post_init__(self) -> None:
        require_positive(gravity_m_s2=self.gravity_m_s2)
        if not 0 < self.slope_deg <= 90:
            raise ValueError("a wall slopes by more than 0 and at most 90 degrees")

    @property
    def pull_m_s2(self) -> float:
        """The part of gravity along the wall, m/s2."""
        return self.gravity_m_s2 * math.sin(math.radians(self.slope_deg))


VERTICAL = Wall()


def film_flow(liquid: Liquid, thickness_m: float, wall: Wall = VERTICAL) -> float:
    """Mass flow per width, kg/(m s), of a film of a thickness in m.

    Raises ValueError for a thickness that is not finite and above zero.  Source:
    Bird, Stewart & Lightfoot, eq. 2.2-21 (Nusselt's film): rho g d^3 / (3 nu).
    """
    return liquid.density_kg_m3 * thickness_m * mean_speed(liquid, thickness_m, wall)


def film_thickness(liquid: Liquid, flow_kg_m_s: float, wall: Wall = VERTICAL) -> float:
    """Thickness, m, of a film that carries a mass flow per width in kg/(m s).

    Raises ValueError for a flow that is not finite and above zero.  Source: Bird,
    Stewart & Lightfoot, eq. 2.2-21 solved for the thickness.
    """
    require_positive(flow_kg_m_s=flow_kg_m_s)
    return _thickness(flow_kg_m_s / liquid.density_kg_m3, liquid.viscosity_m2_s, wall)


def nusselt_thickness(
    flow_m2_s: float, viscosity_m2_s: float, slope_deg: float = VERTICAL.slope_deg
) -> float:
    """Thickness, m, of a film that carries a volume flow per width in m2/s.

    The same as ``film_thickness`` for those who have no density at hand; kinematic
    viscosity in m2/s, slope in degrees from level.  Raises ValueError for a flow or a
    viscosity that is not finite and above zero, and a slope that ``Wall`` refuses.
    Source: as ``film_thickness``.
    """
    require_positive(flow_m2_s=flow_m2_s, viscosity_m2_s=viscosity_m2_s)
    return _thickness(flow_m2_s, viscosity_m2_s, Wall(slope_deg))


def _thickness(flow_m2_s: float, viscosity_m2_s: float, wall: Wall) -> float:
    return math.cbrt(3 * viscosity_m2_s * flow_m2_s / wall.pull_m_s2)


def mean_speed(liquid: Liquid, thickness_m: float, wall: Wall = VERTICAL) -> float:
    """Speed averaged over the film, m/s, for a thickness in m.

    Raises ValueError for a thickness that is not finite and above zero.  Source:
    Bird, Stewart & Lightfoot, eq. 2.2-20: g d^2 / (3 nu).
    """
    require_positive(thickness_m=thickness_m)
    return wall.pull_m_s2 * thickness_m**2 / (3 * liquid.viscosity_m2_s)


def surface_speed(liquid: Liquid, thickness_m: float, wall: Wall = VERTICAL) -> float:
    """Speed of the free surface, m/s, for a thickness in m: the front's upper bound.

    Raises ValueError for a thickness that is not finite and above zero.  Source:
    Bird, Stewart & Lightfoot, eq. 2.2-19: 3/2 of the mean.
    """
    return 1.5 * mean_speed(liquid, thickness_m, wall)


def film_reynolds(liquid: Liquid, flow_kg_m_s: float) -> float:
    """Reynolds number, no unit, of a mass flow per width in kg/(m s).

    Raises ValueError for a flow that is not finite and above zero.  Source: Bird,
    Stewart & Lightfoot, section 2.2: four times the flow over the dynamic viscosity.
    """
    require_positive(flow_kg_m_s=flow_kg_m_s)
    return 4 * flow_kg_m_s / liquid.dynamic_viscosity


def film_regime(reynolds: float) -> FilmRegime:
    """The regime at a Reynolds number: smooth below 20, turbulent above 1500.

    The formulas of this module hold for a smooth film.  Raises ValueError for a number
    that is not finite and above zero.  Source: Bird, Stewart & Lightfoot, section 2.2.
    """
    require_positive(reynolds=reynolds)
    if reynolds < RIPPLES_FROM:
        return FilmRegime.SMOOTH
    if reynolds <= TURBULENT_ABOVE:
        return FilmRegime.RIPPLED
    return FilmRegime.TURBULENT


def draining_film(
    viscosity_mm2_s: float, distance_m: float, age_s: Number, wall: Wall = VERTICAL
) -> Number:
    """Thickness, m, left on a draining wall, after one time or an array of times in s.

    ``distance_m`` is measured down from the upper edge of the wetted part, to which
    nothing more is fed.  Raises ValueError for a value that is not finite and above
    zero.  Source: Jeffreys 1930: sqrt(nu z / (g t)).
    """
    require_positive(viscosity_mm2_s=viscosity_mm2_s, distance_m=distance_m, age_s=age_s)
    spread = viscosity_mm2_s * M2_PER_MM2 * distance_m / wall.pull_m_s2
    thickness: Number = np.sqrt(spread / age_s)
    return thickness


def mean_draining_film(
    viscosity_mm2_s: float, distance_m: float, age_s: Number, wall: Wall = VERTICAL
) -> Number:
    """Thickness, m, averaged from the upper edge down to a distance in m; age in s.

    Raises ValueError as ``draining_film`` does.  Source: the integral of the film of
    Jeffreys 1930, which is 2/3 of the thickness at the lower end.
    """
    return draining_film(viscosity_mm2_s, distance_m, age_s, wall) * (2 / 3)


def drop_volume(drops_per_ml: float = DROPS_PER_ML_PHARMACOPOEIA) -> float:
    """Volume of one drop, mL.

    Raises ValueError for a count that is not finite and above zero.  Source: the
    pharmacopoeia's 20 drops per mL; about 30 for oil in the trade.
    """
    require_positive(drops_per_ml=drops_per_ml)
    return 1 / drops_per_ml


def drops_to_ml_h(
    drops_per_minute: float, drops_per_ml: float = DROPS_PER_ML_PHARMACOPOEIA
) -> float:
    """Leak rate, mL/h, of a count of drops per minute; no drops, no leak.

    Raises ValueError for a count below zero or not finite.  Source: arithmetic.
    """
    if not (math.isfinite(drops_per_minute) and drops_per_minute >= 0):
        raise ValueError(f"drops per minute cannot be {drops_per_minute}")
    return drops_per_minute * MINUTES_PER_HOUR * drop_volume(drops_per_ml)
