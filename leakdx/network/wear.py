"""How often a seal fails in service, and how much faster it ages when hot.

The model is that of the NSWC 'Handbook of Reliability Prediction Procedures for
Mechanical Equipment', chapter 3: a base rate times factors for pressure, allowed
leakage, size, finish, viscosity and temperature.  The handbook's units (psi, in3/min,
inch, microinch, lbf-min/in2, degrees F) stay inside this module.

Rates compare seals; they are no forecast for one machine.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from leakdx.flow.viscosity import KELVIN, Array, Number, require_finite, require_positive

# Failures per million hours.
STATIC_BASE = 2.4
DYNAMIC_BASE = 22.8

KPA_PER_PSI = 6.894757293168
ML_PER_IN3 = 16.387064
MM_PER_INCH = 25.4
UM_PER_MICROINCH = 0.0254
PA_S_PER_LBF_MIN_IN2 = KPA_PER_PSI * 1000 * 60
F_PER_C = 1.8

# The viscosity at which the handbook's viscosity factor is one, lbf-min/in2: a
# hydraulic fluid of about 8.3 mPa s.
REFERENCE_VISCOSITY = 2e-8

# Above this margin below the rated temperature the handbook stops counting.
MARGIN_LIMIT_F = 40.0
COOL_FACTOR = 0.21

GAS_CONSTANT = 1.987204e-3  # kcal/(mol K)

# Rated temperature, degrees F, of seal materials (table 3-5 of the handbook).
RATED_F: Mapping[str, float] = MappingProxyType(
    {
        "nitrile": 250.0,
        "neoprene": 250.0,
        "ethylene_propylene": 250.0,
        "polyacrylate": 300.0,
        "silicone": 450.0,
        "fluorocarbon": 475.0,
        "leather": 200.0,
    }
)


def rated_temperature(material: str) -> float:
    """Rated temperature, degrees C, of a seal material named as in ``RATED_F``.

    Raises ValueError for a material without a rating.  Source: handbook, table 3-5.
    """
    if material not in RATED_F:
        raise ValueError(f"no rated temperature for {material!r}; known: {', '.join(RATED_F)}")
    return (RATED_F[material] - 32) / F_PER_C


def pressure_factor(pressure_kPa: float) -> float:
    """C_P, no unit, for the pressure across the seal in kPa.

    Raises ValueError for a pressure below zero or not finite.  Source: handbook,
    chapter 3: 0.25 up to 1500 psi, then (P / 3000 psi)^2.
    """
    _require_not_negative(pressure_kPa=pressure_kPa)
    psi = pressure_kPa / KPA_PER_PSI
    return 0.25 if psi <= 1500 else (psi / 3000) ** 2


def leakage_factor(allowed_ml_h: float) -> float:
    """C_Q, no unit, for the leakage that still passes as no failure, mL/h.

    Raises ValueError for a leakage below zero or not finite.  Source: handbook,
    chapter 3: 4.2 - 79 Q up to 0.03 in3/min, then 0.055 / Q.
    """
    _require_not_negative(allowed_ml_h=allowed_ml_h)
    q = allowed_ml_h / 60 / ML_PER_IN3
    return 4.2 - 79 * q if q <= 0.03 else 0.055 / q


def size_factor(inner_diameter_mm: float) -> float:
    """C_DL, no unit, for the inner diameter of the seal in mm.

    Raises ValueError for a diameter that is not finite and above zero.  Source:
    handbook, chapter 3: 0.32 + 1.1 D, D in inches.
    """
    require_positive(inner_diameter_mm=inner_diameter_mm)
    return 0.32 + 1.1 * inner_diameter_mm / MM_PER_INCH


def finish_factor(roughness_um: float) -> float:
    """C_F, no unit, for the finish of the harder face in micrometres.

    Raises ValueError for a roughness that is not finite and above zero.  Source:
    handbook, chapter 3, curve of static seals: 0.25 below 15 microinch, then
    f^1.65 / 353.  The handbook draws another curve for dynamic seals, which is not
    carried: for those this one is a stand-in.
    """
    require_positive(roughness_um=roughness_um)
    microinch = roughness_um / UM_PER_MICROINCH
    return 0.25 if microinch < 15 else float(microinch**1.65 / 353)


def viscosity_factor(viscosity_Pa_s: float) -> float:
    """C_nu, no unit, for the dynamic viscosity in service, Pa s: thin fluid leaks more.

    Raises ValueError for a viscosity that is not finite and above zero.  Source:
    handbook, chapter 3: 2e-8 lbf-min/in2 over the viscosity.
    """
    require_positive(viscosity_Pa_s=viscosity_Pa_s)
    return REFERENCE_VISCOSITY * PA_S_PER_LBF_MIN_IN2 / viscosity_Pa_s


def hardness_factor(hardness_over_contact: float) -> float:
    """C_H, no unit, for the hardness of the seal over its contact pressure, a ratio.

    Very unstable: the power of 4.3 turns a doubt of a quarter in the ratio into more
    than a factor of two.  Prefer 1 unless both are measured.  Raises ValueError for a
    ratio that is not finite and above zero.  Source: handbook, chapter 3:
    ((M / C) / 0.55)^4.3.
    """
    require_positive(hardness_over_contact=hardness_over_contact)
    return float((hardness_over_contact / 0.55) ** 4.3)


def temperature_factor(operating_C: Number, rated_C: float) -> Number:
    """C_T, no unit, for operating temperature (one, or an array) and rated one, degrees C.

    Above the rated temperature it goes on doubling every 10 degrees C, beyond what the
    handbook supports.  Raises ValueError for a temperature that is not finite or is
    below absolute zero.  Source: handbook, chapter 3: 2^-(margin / 18 degrees F), and
    0.21 when the margin is over 40 degrees F.
    """
    _require_temperatures(operating_C=operating_C, rated_C=rated_C)
    # The handbook steps down from 0.2143 at a margin of 40 degrees F; rounding keeps
    # a margin of exactly 40 on the upper side whatever the change of units does to it.
    margin_F = np.round((rated_C - operating_C) * F_PER_C, 9)
    found = np.where(margin_F > MARGIN_LIMIT_F, COOL_FACTOR, 2 ** -(margin_F / 18))
    factor: Number = found[()]  # type: ignore[assignment]  # a number where one went in
    return factor


@dataclass(frozen=True)
class SealDuty:
    """What a seal endures: the arguments of the factors, in the units of their names.

    ``hardness`` is C_H and ``contamination`` C_N of the handbook, no unit; both are 1
    by default, the first because it is unstable, the second because it needs a count
    of particles.  Raises ValueError when either is not finite and above zero.
    """

    pressure_kPa: float
    allowed_ml_h: float
    inner_diameter_mm: float
    roughness_um: float
    viscosity_Pa_s: float
    operating_C: float
    rated_C: float
    hardness: float = 1.0
    contamination: float = 1.0

    def __post_init__(self) -> None:
        require_positive(hardness=self.hardness, contamination=self.contamination)


def factors(duty: SealDuty) -> Mapping[str, float]:
    """Every multiplying factor of a duty by its name, no unit.

    Raises ValueError for a value that one of the factors refuses.  Source: handbook,
    chapter 3.
    """
    return {
        "pressure": pressure_factor(duty.pressure_kPa),
        "leakage": leakage_factor(duty.allowed_ml_h),
        "size": size_factor(duty.inner_diameter_mm),
        "finish": finish_factor(duty.roughness_um),
        "viscosity": viscosity_factor(duty.viscosity_Pa_s),
        "temperature": temperature_factor(duty.operating_C, duty.rated_C),
        "hardness": duty.hardness,
        "contamination": duty.contamination,
    }


def failure_rate(duty: SealDuty, base: float = STATIC_BASE) -> float:
    """Failures per million hours of a seal on a duty, from a base rate in the same unit.

    ``base`` is STATIC_BASE or DYNAMIC_BASE.  Raises ValueError for a base that is not
    finite and above zero and as ``factors`` does.  Source: handbook, chapter 3.
    """
    require_positive(base=base)
    return base * math.prod(factors(duty).values())


def ageing_ratio(from_C: float, to_C: float, activation_kcal_mol: float) -> float:
    """How many times faster a material ages at one temperature than at another.

    Temperatures in degrees C, activation energy in kcal/mol; below one when it is
    cooled.  Raises ValueError for a temperature that is not finite or is below
    absolute zero, and an energy that is not finite and above zero.  Source: Arrhenius.
    """
    _require_temperatures(from_C=from_C, to_C=to_C)
    require_positive(activation_kcal_mol=activation_kcal_mol)
    inverse_kelvin = 1 / (from_C + KELVIN) - 1 / (to_C + KELVIN)
    return math.exp(activation_kcal_mol / GAS_CONSTANT * inverse_kelvin)


def _require_not_negative(**values: float) -> None:
    require_finite(**values)
    for name, value in values.items():
        if value < 0:
            raise ValueError(f"{name} cannot be below zero, not {value}")


def _require_temperatures(**values: float | Array) -> None:
    require_finite(**values)
    for name, value in values.items():
        if np.any(value <= -KELVIN):
            raise ValueError(f"{name} must be above absolute zero, not {value}")
