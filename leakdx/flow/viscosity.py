"""Kinematic viscosity: the curve over temperature, the index and the grades.

Kinematic viscosity is in mm2/s (1 mm2/s = 1 cSt) and temperature in degrees C.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Number = TypeVar("Number", float, Array)

KELVIN = 273.15

# The constant of the short form of ASTM D341.  The full form adds exponential terms
# that matter only for liquids thinner than about 2 mm2/s.
D341_SHIFT = 0.7

# ISO 3448: grade number -> midpoint at 40 degrees C, mm2/s.
ISO_VG_MIDPOINT: Mapping[int, float] = MappingProxyType(
    {2: 2.2, 3: 3.2, 5: 4.6, 7: 6.8}
    | {grade: float(grade) for grade in (10, 15, 22, 32, 46, 68, 100, 150)}
    | {grade: float(grade) for grade in (220, 320, 460, 680, 1000, 1500)}
)
ISO_VG_TOLERANCE = 0.1

# SAE J300 (2015): grade -> (lowest, first value too high) at 100 degrees C, mm2/s.
# The lighter grades 8, 12 and 16 are left out: they overlap their neighbours, so a
# viscosity alone would not name one grade.
SAE_RANGE: Mapping[int, tuple[float, float]] = MappingProxyType(
    {20: (6.9, 9.3), 30: (9.3, 12.5), 40: (12.5, 16.3), 50: (16.3, 21.9), 60: (21.9, 26.1)}
)


def require_positive(**values: float | Array) -> None:
    """Raise ValueError naming the first value that is not finite and above zero."""
    for name, value in values.items():
        if not np.all(np.isfinite(value) & (np.asarray(value) > 0)):
            raise ValueError(f"{name} must be finite and above zero, not {value}")


def require_finite(**values: float | Array) -> None:
    """Raise ValueError naming the first value that is infinite or not a number."""
    for name, value in values.items():
        if not np.all(np.isfinite(value)):
            raise ValueError(f"{name} must be finite, not {value}")


@dataclass(frozen=True)
class ViscosityCurve:
    """Viscosity over temperature: log10 log10(nu + 0.7) = a - b log10 T.

    nu is in mm2/s and T in kelvin; a and b have no unit.  Source: ASTM D341, short
    form, meant for liquids thicker than about 2 mm2/s.  Raises ValueError when a or b
    is not finite or b is not above zero, as a liquid thins when it warms.
    """

    a: float
    b: float

    def __post_init__(self) -> None:
        require_finite(a=self.a)
        require_positive(b=self.b)

    @classmethod
    def from_points(cls, first: tuple[float, float], second: tuple[float, float]) -> ViscosityCurve:
        """The curve through two points (degrees C, mm2/s), given in either order.

        Raises ValueError when a point is not finite, is at or below absolute zero or
        at or below 0.3 mm2/s (where the double logarithm ends), when the temperatures
        are equal, or when the warmer point is not the thinner one.  Source: ASTM D341.
        """
        (x1, y1), (x2, y2) = _chart(first), _chart(second)
        if x1 == x2:
            raise ValueError("the two temperatures must differ")
        b = (y1 - y2) / (x2 - x1)
        if not b > 0:
            raise ValueError("the warmer point must be the thinner one")
        return cls(a=y1 + b * x1, b=b)

    def through(self, point: tuple[float, float]) -> ViscosityCurve:
        """A curve as steep as this one through one point (degrees C, mm2/s).

        For an oil of which only the grade is known.  Raises ValueError for a point that
        ``from_points`` refuses.
        """
        x, y = _chart(point)
        return ViscosityCurve(a=y + self.b * x, b=self.b)

    def at(self, temperature_C: Number) -> Number:
        """Kinematic viscosity, mm2/s, at one temperature or an array of them, degrees C.

        Raises ValueError at or below absolute zero, for a temperature that is not
        finite, and where the curve runs beyond what a double can hold.  Source: ASTM
        D341.
        """
        kelvin = _kelvin(temperature_C)
        # Deep cold overflows: it is refused below, with words, instead of a warning.
        with np.errstate(over="ignore"):
            power = np.power(10.0, self.a - self.b * np.log10(kelvin))
            viscosity: Number = np.power(10.0, power) - D341_SHIFT
        if not np.all(np.isfinite(viscosity)):
            raise ValueError(f"the curve does not reach as far as {temperature_C} degrees C")
        return viscosity


@dataclass(frozen=True)
class ThinCurve:
    """Viscosity of a thin liquid over temperature: ln nu = a + b / T.

    nu is in mm2/s and T in kelvin.  For water, coolant and fuel, thinner than about
    2 mm2/s, where the chart of ASTM D341 does not hold.  Source: Andrade, "A theory of
    the viscosity of liquids", Philosophical Magazine 17 (1934), from memory.  Raises
    ValueError when a or b is not finite or b is not above zero.
    """

    a: float
    b: float

    def __post_init__(self) -> None:
        require_finite(a=self.a)
        require_positive(b=self.b)

    @classmethod
    def from_points(cls, first: tuple[float, float], second: tuple[float, float]) -> ThinCurve:
        """The curve through two points (degrees C, mm2/s), given in either order.

        Raises ValueError when a point is not finite, is at or below absolute zero or not
        above 0 mm2/s, when the temperatures are equal, or when the warmer is the thicker.
        """
        require_positive(viscosity=np.array([first[1], second[1]]))
        x1, x2 = 1 / _kelvin(float(first[0])), 1 / _kelvin(float(second[0]))
        if x1 == x2:
            raise ValueError("the two temperatures must differ")
        b = math.log(first[1] / second[1]) / (x1 - x2)
        if not b > 0:
            raise ValueError("the warmer point must be the thinner one")
        return cls(a=math.log(first[1]) - b * x1, b=b)

    def through(self, point: tuple[float, float]) -> ThinCurve:
        """A curve as steep as this one through one point (degrees C, mm2/s)."""
        require_positive(viscosity=point[1])
        return ThinCurve(a=math.log(point[1]) - self.b / _kelvin(float(point[0])), b=self.b)

    def at(self, temperature_C: Number) -> Number:
        """Kinematic viscosity, mm2/s, at one temperature or an array, degrees C.

        Raises ValueError at or below absolute zero and for what is not finite.
        """
        viscosity: Number = np.exp(self.a + self.b / _kelvin(temperature_C))
        return viscosity


def _kelvin(temperature_C: Number) -> Number:
    kelvin = temperature_C + KELVIN
    require_positive(absolute_temperature=kelvin)
    return kelvin


def _chart(point: tuple[float, float]) -> tuple[float, float]:
    """A point in the coordinates in which D341 draws a straight line."""
    temperature_C, viscosity = point
    kelvin = _kelvin(float(temperature_C))
    shifted = viscosity + D341_SHIFT
    if not (math.isfinite(shifted) and shifted > 1):
        raise ValueError(f"viscosity must be finite and above 0.3 mm2/s, not {viscosity}")
    return math.log10(kelvin), math.log10(math.log10(shifted))


@dataclass(frozen=True)
class ReferenceOils:
    """The two oils to which the viscosity index compares: mm2/s at 40 degrees C.

    ``vi_0`` and ``vi_100`` are L and H of ASTM D2270: the viscosities at 40 degrees C
    of oils of index 0 and 100 that are as thick at 100 degrees C as the oil in
    question.  Raises ValueError unless both are finite, above zero and L above H.
    """

    vi_0: float
    vi_100: float

    def __post_init__(self) -> None:
        require_positive(vi_0=self.vi_0, vi_100=self.vi_100)
        if not self.vi_0 > self.vi_100:
            raise ValueError("the oil of index 0 must be thicker at 40 degrees C")


def reference_oils(viscosity_100C: float) -> ReferenceOils:
    """L and H for an oil thicker than 70 mm2/s at 100 degrees C.

    Raises ValueError at or below 70 mm2/s: there the standard has a table, which this
    module does not carry, so L and H must be given.  Source: ASTM D2270, 5.1.2.
    """
    require_positive(viscosity_100C=viscosity_100C)
    if viscosity_100C <= 70:
        raise ValueError("at or below 70 mm2/s take L and H from the table of the standard")
    y = viscosity_100C
    return ReferenceOils(
        vi_0=0.8353 * y**2 + 14.67 * y - 216,
        vi_100=0.1684 * y**2 + 11.85 * y - 97,
    )


def viscosity_index_a(viscosity_40C: float, oils: ReferenceOils) -> float:
    """Viscosity index up to 100, not rounded, from mm2/s at 40 degrees C.

    Raises ValueError for a viscosity that is not finite and above zero.  Source: ASTM
    D2270, procedure A.
    """
    require_positive(viscosity_40C=viscosity_40C)
    return 100 * (oils.vi_0 - viscosity_40C) / (oils.vi_0 - oils.vi_100)


def viscosity_index_b(viscosity_40C: float, viscosity_100C: float, vi_100: float) -> float:
    """Viscosity index of 100 or more, not rounded; viscosities in mm2/s.

    ``vi_100`` is H of the standard, mm2/s at 40 degrees C.  Raises ValueError for a
    viscosity that is not finite and above zero, and below 2 mm2/s at 100 degrees C,
    where the index is not defined.  Source: ASTM D2270, procedure B.
    """
    require_positive(viscosity_40C=viscosity_40C, vi_100=vi_100)
    _require_defined_index(viscosity_100C)
    n = math.log10(vi_100 / viscosity_40C) / math.log10(viscosity_100C)
    return float((10**n - 1) / 0.00715 + 100)


def viscosity_index(viscosity_40C: float, viscosity_100C: float, oils: ReferenceOils) -> float:
    """Viscosity index by whichever procedure applies, not rounded; mm2/s.

    Raises ValueError as the two procedures do, and below 2 mm2/s at 100 degrees C.
    Source: ASTM D2270, procedure A up to 100 and B from there.
    """
    _require_defined_index(viscosity_100C)
    if viscosity_40C >= oils.vi_100:
        return viscosity_index_a(viscosity_40C, oils)
    return viscosity_index_b(viscosity_40C, viscosity_100C, oils.vi_100)


def _require_defined_index(viscosity_100C: float) -> None:
    if not (math.isfinite(viscosity_100C) and viscosity_100C >= 2):
        raise ValueError("the index is defined from 2 mm2/s at 100 degrees C upwards")


def iso_vg_limits(grade: int) -> tuple[float, float]:
    """Lowest and highest viscosity of an ISO VG grade, mm2/s at 40 degrees C.

    Raises ValueError for a number that is no grade.  Source: ISO 3448, midpoint less
    and plus 10 %.
    """
    if grade not in ISO_VG_MIDPOINT:
        raise ValueError(f"VG {grade} is not a grade of ISO 3448")
    midpoint = ISO_VG_MIDPOINT[grade]
    # Rounded, so that a limit as printed (50.6) is not missed by the last bit of a double.
    return (
        round(midpoint * (1 - ISO_VG_TOLERANCE), 9),
        round(midpoint * (1 + ISO_VG_TOLERANCE), 9),
    )


def iso_vg(viscosity_40C: float) -> int | None:
    """The ISO VG grade of a viscosity in mm2/s at 40 degrees C; None between grades.

    Raises ValueError for a viscosity that is not finite and above zero.  Source: ISO
    3448.
    """
    require_positive(viscosity_40C=viscosity_40C)
    for grade in ISO_VG_MIDPOINT:
        low, high = iso_vg_limits(grade)
        if low <= viscosity_40C <= high:
            return grade
    return None


def sae_grade(viscosity_100C: float) -> int | None:
    """The SAE grade, 20 to 60, of a viscosity in mm2/s at 100 degrees C, or None.

    Raises ValueError for a viscosity that is not finite and above zero.  Source: SAE
    J300 (2015), kinematic viscosity only: the winter and high-shear limits are apart.
    """
    require_positive(viscosity_100C=viscosity_100C)
    for grade, (low, too_high) in SAE_RANGE.items():
        if low <= viscosity_100C < too_high:
            return grade
    return None
