"""The fluid of a machine at the temperature of the job: its viscosity and density."""

from __future__ import annotations

from leakdx.flow.density import HEAVIEST_KG_M3, LIGHTEST_KG_M3, density_at
from leakdx.flow.film import Liquid
from leakdx.flow.viscosity import ISO_VG_MIDPOINT, SAE_RANGE, ThinCurve, ViscosityCurve
from leakdx.machine.model import Fluid, FluidKind
from leakdx.priors.model import Priors

# ASTM D341 is meant for liquids thicker than this, mm2/s.
THIN_BELOW = 2.0
# Lubricating oils, for which the volume correction of API 11.1 is meant.
OILS = frozenset({FluidKind.ENGINE_OIL, FluidKind.GEAR_OIL, FluidKind.HYDRAULIC_OIL})


def liquid_at(fluid: Fluid, temperature_C: float | None, priors: Priors) -> Liquid:
    """Viscosity and density of a fluid at a temperature (None: the usual one in use).

    Raises ValueError where its viscosity points do not make a curve (ASTM D341).
    """
    usual = priors[f"fluids.{fluid.kind.value}.temperature_C"]
    temperature = usual if temperature_C is None else temperature_C
    density = fluid.density_15C_kg_m3 or priors[f"fluids.{fluid.kind.value}.density_15C"]
    if fluid.kind in OILS and LIGHTEST_KG_M3 <= density <= HEAVIEST_KG_M3:
        density = float(density_at(density, temperature))
    return Liquid(float(curve_of(fluid, priors).at(temperature)), density)


def curve_of(fluid: Fluid, priors: Priors) -> ViscosityCurve | ThinCurve:
    """Viscosity over temperature from the fluid's points, its grade, or its family.

    A grade fixes one point (ISO 3448 at 40 degrees C, SAE J300 at 100 degrees C, middle
    of the range); the slope is then the family's.  Raises ValueError for an unknown grade.
    """
    points = sorted((fluid.viscosity_mm2_s or {}).items())
    if len(points) >= 2:
        return _through(points[0], points[-1])
    family = _through(
        (40.0, priors[f"fluids.{fluid.kind.value}.viscosity_40C"]),
        (100.0, priors[f"fluids.{fluid.kind.value}.viscosity_100C"]),
    )
    anchor = points[0] if points else _grade_point(fluid.grade)
    return family if anchor is None else family.through(anchor)


def _through(first: tuple[float, float], second: tuple[float, float]) -> ViscosityCurve | ThinCurve:
    if min(first[1], second[1]) < THIN_BELOW:
        return ThinCurve.from_points(first, second)
    return ViscosityCurve.from_points(first, second)


def _grade_point(grade: str | None) -> tuple[float, float] | None:
    if grade is None:
        return None
    system, _, number = grade.partition(" ")
    known = ISO_VG_MIDPOINT if system == "VG" else SAE_RANGE
    if not number.isdigit() or int(number) not in known:
        raise ValueError(f"{grade} is not a grade; known: {', '.join(map(str, known))}")
    if system == "VG":
        return 40.0, ISO_VG_MIDPOINT[int(number)]
    low, high = SAE_RANGE[int(number)]
    return 100.0, (low + high) / 2
