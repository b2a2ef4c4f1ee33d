"""Density of lubricating oil over temperature: kg/m3, degrees C."""

from __future__ import annotations

import numpy as np

from leakdx.flow.viscosity import Number, require_finite

# API MPMS chapter 11.1, lubricating oils: alpha60 = K1 / rho60, per degree F.
LUBRICATING_OIL_K1 = 0.34878
REFERENCE_F = 60.0

# The range of the commodity group; lighter liquids (petrol) expand by another rule.
LIGHTEST_KG_M3 = 800.9
HEAVIEST_KG_M3 = 1163.5


def expansion(density_60F: float) -> float:
    """Thermal expansion at 60 degrees F, per degree F, of an oil in kg/m3 at 60 degrees F.

    Raises ValueError outside 800.9 to 1163.5 kg/m3, where the liquid is no lubricating
    oil.  Source: ASTM D1250 / API MPMS chapter 11.1, lubricating oils.
    """
    if not LIGHTEST_KG_M3 <= density_60F <= HEAVIEST_KG_M3:
        raise ValueError(
            f"density of a lubricating oil at 60 degrees F is {LIGHTEST_KG_M3} to "
            f"{HEAVIEST_KG_M3} kg/m3, not {density_60F}"
        )
    return LUBRICATING_OIL_K1 / density_60F


def volume_correction(density_60F: float, temperature_C: Number) -> Number:
    """Volume at 60 degrees F over volume at a temperature in degrees C: a ratio.

    ``density_60F`` is in kg/m3.  Raises ValueError for a density outside the range of
    lubricating oils and for a temperature that is not finite.  Source: ASTM D1250 /
    API MPMS chapter 11.1: exp(-alpha D (1 + 0.8 alpha D)), D in degrees F from 60.
    """
    require_finite(temperature_C=temperature_C)
    strain = expansion(density_60F) * (temperature_C * 1.8 + 32 - REFERENCE_F)
    ratio: Number = np.exp(-strain * (1 + 0.8 * strain))
    return ratio


def density_at(density_60F: float, temperature_C: Number) -> Number:
    """Density in kg/m3 at a temperature in degrees C, from kg/m3 at 60 degrees F.

    A density given at 15 degrees C may stand in for one at 60 degrees F (15.56 degrees
    C): the error is about 0.04 %.  Raises ValueError as ``volume_correction`` does.
    Source: ASTM D1250 / API MPMS chapter 11.1.
    """
    return density_60F * volume_correction(density_60F, temperature_C)
