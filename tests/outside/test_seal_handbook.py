"""Seal failure factors against the handbook, and ageing against a published energy.

'Handbook' is the NSWC 'Handbook of Reliability Prediction Procedures for Mechanical
Equipment', chapter 3.  The letter after each source says how the value got here: V read
in a text, R recomputed by hand from the formula, M from memory, C constructed.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakdx.network.wear import (
    DYNAMIC_BASE,
    RATED_F,
    STATIC_BASE,
    SealDuty,
    ageing_ratio,
    factors,
    failure_rate,
    finish_factor,
    hardness_factor,
    leakage_factor,
    pressure_factor,
    rated_temperature,
    size_factor,
    temperature_factor,
    viscosity_factor,
)

NAN = float("nan")
INF = float("inf")

# Exact by definition, except the pound-force per square inch, which is rounded (V).
KPA_PER_PSI = 6.894757293168
ML_H_PER_IN3_MIN = 16.387064 * 60
UM_PER_MICROINCH = 0.0254
F_PER_C = 1.8


def test_base_rates() -> None:
    # S1.  Handbook (V): failures per million hours.
    assert STATIC_BASE == 2.4
    assert DYNAMIC_BASE == 22.8


@pytest.mark.parametrize(
    ("psi", "factor"), [(0.0, 0.25), (14.5, 0.25), (1500.0, 0.25), (3000.0, 1.0), (6000.0, 4.0)]
)
def test_pressure(psi: float, factor: float) -> None:
    # S2.  Handbook (V, R).
    assert pressure_factor(psi * KPA_PER_PSI) == pytest.approx(factor)


@pytest.mark.parametrize(
    ("in3_min", "factor"),
    [(0.0, 4.2), (0.01, 3.41), (0.03, 1.83), (0.04, 1.375), (0.055, 1.0), (0.11, 0.5)],
)
def test_allowed_leakage(in3_min: float, factor: float) -> None:
    # S2.  Handbook (V, R).  The branches miss each other by 0.2 % at 0.03 (1.830, 1.833).
    assert leakage_factor(in3_min * ML_H_PER_IN3_MIN) == pytest.approx(factor, rel=2e-3)


@pytest.mark.parametrize(("inch", "factor"), [(1.0, 1.42), (2.0, 2.52), (0.778, 1.1758)])
def test_size(inch: float, factor: float) -> None:
    # S2.  Handbook (V, R).
    assert size_factor(inch * 25.4) == pytest.approx(factor)


@pytest.mark.parametrize(
    ("microinch", "factor"), [(5.0, 0.25), (14.99, 0.25), (15.0, 0.2470), (32.0, 0.8625)]
)
def test_finish(microinch: float, factor: float) -> None:
    # S2.  Handbook (V, R): 15^1.65 = 87.19 and 32^1.65 = 304.4, each over 353.
    assert finish_factor(microinch * UM_PER_MICROINCH) == pytest.approx(factor, abs=5e-4)


def test_viscosity() -> None:
    # S2.  Handbook (V): one at 2e-8 lbf-min/in2; R: 1 lbf-min/in2 is 6894.757 * 60 Pa s,
    # so that is 8.2737 mPa s.  Twice as thick, half the factor.
    assert viscosity_factor(8.2737e-3) == pytest.approx(1, rel=1e-5)
    assert viscosity_factor(2 * 8.2737e-3) == pytest.approx(0.5, rel=1e-5)


def test_hardness() -> None:
    # S2.  Handbook (V): one at a ratio of 0.55; R: 2^4.3 = 19.70 at twice the ratio, and
    # 1.25^4.3 = 2.61, which is why the docstring warns.
    assert hardness_factor(0.55) == pytest.approx(1)
    assert hardness_factor(1.10) == pytest.approx(19.70, abs=0.005)
    assert hardness_factor(0.55 * 1.25) == pytest.approx(2.61, abs=0.005)


@pytest.mark.parametrize(
    ("margin_F", "factor"),
    [(0.0, 1.0), (18.0, 0.5), (36.0, 0.25), (40.0, 0.214311), (40.01, 0.21), (150.0, 0.21)],
)
def test_temperature(margin_F: float, factor: float) -> None:
    # S3.  Handbook (V, R): the formula up to and with 40 degrees F (2^-2.2222), 0.21 above.
    rated_C = rated_temperature("nitrile")
    operating_C = rated_C - margin_F / F_PER_C
    assert temperature_factor(operating_C, rated_C) == pytest.approx(factor, abs=5e-6)


@pytest.mark.parametrize("material", RATED_F)
def test_a_margin_of_exactly_40_fahrenheit_follows_the_formula(material: str) -> None:
    # S3: whatever the change from degrees C does to the last bit.
    operating_C = (RATED_F[material] - 40 - 32) / F_PER_C
    factor = temperature_factor(operating_C, rated_temperature(material))
    assert factor == pytest.approx(2 ** (-40 / 18))


def test_above_the_rated_temperature() -> None:
    # R: 10 degrees C are 18 degrees F, one doubling.
    assert temperature_factor(131.0, 121.0) == pytest.approx(2)


@pytest.mark.parametrize(
    ("material", "rated_F"),
    [
        ("nitrile", 250),
        ("neoprene", 250),
        ("ethylene_propylene", 250),
        ("polyacrylate", 300),
        ("silicone", 450),
        ("fluorocarbon", 475),
        ("leather", 200),
    ],
)
def test_rated_temperatures(material: str, rated_F: float) -> None:
    # S4.  Handbook, table 3-5 (V).
    assert rated_temperature(material) * F_PER_C + 32 == pytest.approx(rated_F)


def test_a_material_without_a_rating_is_refused() -> None:
    # C.
    with pytest.raises(ValueError, match="no rated temperature for 'copper'"):
        rated_temperature("copper")


@pytest.mark.parametrize(
    ("from_C", "to_C", "ratio"), [(80.0, 90.0, 2.371), (100.0, 110.0, 2.169), (90.0, 90.0, 1.0)]
)
def test_ageing_of_nitrile(from_C: float, to_C: float, ratio: float) -> None:
    # S10.  22 kcal/mol for nitrile: Sandia report, 1993 (V).  Ratios: Arrhenius (R).
    assert ageing_ratio(from_C, to_C, 22.0) == pytest.approx(ratio, abs=0.0005)


@given(st.floats(-40, 200), st.floats(-40, 200), st.floats(5, 40))
def test_ageing_there_and_back(from_C: float, to_C: float, energy: float) -> None:
    # C.
    there, back = ageing_ratio(from_C, to_C, energy), ageing_ratio(to_C, from_C, energy)
    assert there * back == pytest.approx(1)
    if to_C > from_C + 1e-6:
        assert there > 1


# C: a duty on which every factor is one, up to the rounding of the reference values.
UNIT_DUTY = SealDuty(
    pressure_kPa=3000 * KPA_PER_PSI,
    allowed_ml_h=0.055 * ML_H_PER_IN3_MIN,
    inner_diameter_mm=0.68 / 1.1 * 25.4,
    roughness_um=353 ** (1 / 1.65) * UM_PER_MICROINCH,
    viscosity_Pa_s=8.2737085e-3,
    operating_C=100.0,
    rated_C=100.0,
)


def test_the_rate_is_the_base_times_the_factors() -> None:
    # S1.  Handbook (V): at the reference condition the base rate remains.
    assert factors(UNIT_DUTY) == pytest.approx(dict.fromkeys(factors(UNIT_DUTY), 1.0))
    assert len(factors(UNIT_DUTY)) == 8
    assert failure_rate(UNIT_DUTY) == pytest.approx(2.4)
    assert failure_rate(UNIT_DUTY, DYNAMIC_BASE) == pytest.approx(22.8)


def test_every_factor_counts() -> None:
    # S1, S2, S3 (R): one change at a time.
    changes: list[tuple[SealDuty, float]] = [
        (replace(UNIT_DUTY, pressure_kPa=100.0), 0.25),
        (replace(UNIT_DUTY, allowed_ml_h=0.0), 4.2),
        (replace(UNIT_DUTY, inner_diameter_mm=25.4), 1.42),
        (replace(UNIT_DUTY, roughness_um=0.1), 0.25),
        (replace(UNIT_DUTY, viscosity_Pa_s=UNIT_DUTY.viscosity_Pa_s / 2), 2.0),
        (replace(UNIT_DUTY, operating_C=90.0), 0.5),
        (replace(UNIT_DUTY, hardness=3.0), 3.0),
        (replace(UNIT_DUTY, contamination=1.5), 1.5),
    ]
    for duty, factor in changes:
        assert failure_rate(duty) == pytest.approx(2.4 * factor)


@given(st.floats(0, 50_000), st.floats(1, 1.5))
def test_pressure_never_helps(pressure_kPa: float, more: float) -> None:
    # C: also across 1500 psi, where the two branches meet.
    assert pressure_factor(pressure_kPa * more) >= pressure_factor(pressure_kPa) - 1e-12


@pytest.mark.parametrize("bad", [NAN, INF, -1.0])
def test_values_without_sense_are_refused(bad: float) -> None:
    # C.
    with pytest.raises(ValueError, match="pressure"):
        pressure_factor(bad)
    with pytest.raises(ValueError, match="allowed"):
        leakage_factor(bad)
    with pytest.raises(ValueError, match="diameter"):
        size_factor(bad)
    with pytest.raises(ValueError, match="roughness"):
        finish_factor(bad)
    with pytest.raises(ValueError, match="viscosity"):
        viscosity_factor(bad)
    with pytest.raises(ValueError, match="hardness"):
        hardness_factor(bad)
    with pytest.raises(ValueError, match="activation"):
        ageing_ratio(80.0, 90.0, bad)
    with pytest.raises(ValueError, match="contamination"):
        replace(UNIT_DUTY, contamination=bad)
    with pytest.raises(ValueError, match="base"):
        failure_rate(UNIT_DUTY, bad)


@pytest.mark.parametrize("bad", [NAN, INF, -273.15, -300.0])
def test_temperatures_without_sense_are_refused(bad: float) -> None:
    # C.
    with pytest.raises(ValueError, match="operating_C"):
        temperature_factor(bad, 121.0)
    with pytest.raises(ValueError, match="rated_C"):
        temperature_factor(100.0, bad)
    with pytest.raises(ValueError, match="to_C"):
        ageing_ratio(80.0, bad, 22.0)


def test_factors_are_finite_in_hard_service() -> None:
    # C.
    duty = replace(UNIT_DUTY, pressure_kPa=70_000.0, operating_C=200.0)
    assert math.isfinite(failure_rate(duty))
