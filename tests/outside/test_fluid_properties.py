"""Viscosity and density against the standards.

The letter after each source says how the value got here: V read in a text, R
recomputed by hand from the formula, M from memory, C constructed for this test.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakdx.flow.density import density_at, expansion, volume_correction
from leakdx.flow.viscosity import (
    ISO_VG_MIDPOINT,
    ReferenceOils,
    ViscosityCurve,
    iso_vg,
    iso_vg_limits,
    reference_oils,
    sae_grade,
    viscosity_index,
    viscosity_index_a,
    viscosity_index_b,
)

NAN = float("nan")
INF = float("inf")


@pytest.fixture
def curve() -> ViscosityCurve:
    # C: an oil of 46 mm2/s at 40 degrees C and 6.8 at 100.
    return ViscosityCurve.from_points((40.0, 46.0), (100.0, 6.8))


def test_the_curve_has_the_constants_of_astm_d341(curve: ViscosityCurve) -> None:
    # F1, F2.  Formula: ASTM D341 (V).  Constants: R.
    assert curve.a == pytest.approx(9.41799, abs=5e-6)
    assert curve.b == pytest.approx(3.68444, abs=5e-6)


@pytest.mark.parametrize(
    ("temperature_C", "viscosity"),
    [(20.0, 133.84), (40.0, 46.0), (60.0, 20.62), (80.0, 11.10), (100.0, 6.8)],
)
def test_the_curve_between_and_beyond_its_points(
    curve: ViscosityCurve, temperature_C: float, viscosity: float
) -> None:
    # F2.  ASTM D341; the middle values are R, the ends are given.
    assert curve.at(temperature_C) == pytest.approx(viscosity, abs=0.005)


def test_the_curve_takes_an_array(curve: ViscosityCurve) -> None:
    # C: each element equals the scalar answer.
    temperatures = np.array([[20.0, 40.0], [60.0, 80.0]])
    expected = [[curve.at(float(t)) for t in row] for row in temperatures]
    np.testing.assert_allclose(curve.at(temperatures), expected, rtol=1e-14)


def test_a_curve_of_the_same_slope_through_one_point(curve: ViscosityCurve) -> None:
    # C: ASTM D341 keeps its slope b, and a point of the curve itself changes nothing.
    moved = curve.through((40.0, 68.0))
    assert moved.at(40.0) == pytest.approx(68.0)
    assert moved.b == curve.b
    assert curve.through((100.0, 6.8)).a == pytest.approx(curve.a)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ((40.0, NAN), (100.0, 6.8)),
        ((NAN, 46.0), (100.0, 6.8)),
        ((40.0, 46.0), (100.0, INF)),
        ((40.0, 46.0), (INF, 6.8)),
        ((40.0, 0.3), (100.0, 0.2)),  # the double logarithm ends at 0.3
        ((40.0, -46.0), (100.0, 6.8)),
        ((40.0, 46.0), (40.0, 6.8)),
        ((40.0, 46.0), (100.0, 46.0)),
        ((40.0, 6.8), (100.0, 46.0)),  # thickens when it warms
        ((-273.15, 46.0), (100.0, 6.8)),
    ],
)
def test_points_without_sense_are_refused(
    first: tuple[float, float], second: tuple[float, float]
) -> None:
    # C.
    with pytest.raises(ValueError, match="must"):
        ViscosityCurve.from_points(first, second)


@pytest.mark.parametrize(("a", "b"), [(NAN, 3.7), (INF, 3.7), (9.4, NAN), (9.4, 0.0), (9.4, -1.0)])
def test_constants_without_sense_are_refused(a: float, b: float) -> None:
    # C.
    with pytest.raises(ValueError, match="must"):
        ViscosityCurve(a, b)


@pytest.mark.parametrize("temperature_C", [-273.15, -300.0, NAN, INF, -230.0])
def test_a_temperature_off_the_curve_is_refused(
    curve: ViscosityCurve, temperature_C: float
) -> None:
    # C: at -230 degrees C the formula leaves the range of a double.
    with pytest.raises(ValueError, match=r"must|reach"):
        curve.at(temperature_C)


# Oils as they occur: 2 to 60 mm2/s at 100 degrees C, and at 40 degrees C so much thicker.
oils = st.tuples(st.floats(2, 60), st.floats(1.5, 20)).map(
    lambda pair: ((40.0, pair[0] * pair[1]), (100.0, pair[0]))
)


@given(oils)
def test_the_curve_passes_through_its_points(
    points: tuple[tuple[float, float], tuple[float, float]],
) -> None:
    # C: in either order.
    for pair in (points, points[::-1]):
        fitted = ViscosityCurve.from_points(*pair)
        for temperature_C, viscosity in points:
            assert fitted.at(temperature_C) == pytest.approx(viscosity, rel=1e-9)


@given(oils, st.floats(-30, 190), st.floats(0.1, 50))
def test_viscosity_falls_when_it_warms(
    points: tuple[tuple[float, float], tuple[float, float]], temperature_C: float, step: float
) -> None:
    # C.
    fitted = ViscosityCurve.from_points(*points)
    assert fitted.at(temperature_C + step) < fitted.at(temperature_C)


def test_viscosity_index_by_procedure_a() -> None:
    # F3.  ASTM D2270, worked example of section 5 (V, R): 92.43, reported as 92.
    index = viscosity_index_a(73.30, ReferenceOils(vi_0=119.94, vi_100=69.48))
    assert index == pytest.approx(92.43, abs=0.005)
    assert round(index) == 92


def test_viscosity_index_by_procedure_b() -> None:
    # F4.  ASTM D2270, first worked example of section 6 (V, R): 156.37, reported as 156;
    # the example rounds N on the way, hence the wider tolerance.
    index = viscosity_index_b(22.83, 5.05, vi_100=28.97)
    assert index == pytest.approx(156.37, abs=0.01)
    assert round(index) == 156


def test_the_procedure_is_chosen_by_the_oil() -> None:
    # F3, F4 again.  L of the second oil plays no part in procedure B (C: 40).
    assert round(viscosity_index(73.30, 8.86, ReferenceOils(119.94, 69.48))) == 92
    assert round(viscosity_index(22.83, 5.05, ReferenceOils(40.0, 28.97))) == 156


@given(st.floats(2, 70), st.floats(10, 500), st.floats(1.01, 3))
def test_both_procedures_agree_at_an_index_of_100(y: float, h: float, ratio: float) -> None:
    # ASTM D2270: an oil as thick as H has index 100 by definition, as L has 0 (V).
    reference = ReferenceOils(vi_0=h * ratio, vi_100=h)
    assert viscosity_index_a(h, reference) == pytest.approx(100)
    assert viscosity_index_b(h, y, h) == pytest.approx(100)
    assert viscosity_index_a(h * ratio, reference) == pytest.approx(0, abs=1e-6)


def test_reference_oils_above_70() -> None:
    # ASTM D2270, 5.1.2, formulas above 70 mm2/s (V); at 100 mm2/s: L = 8353 + 1467 - 216,
    # H = 1684 + 1185 - 97 (R).
    oils_100 = reference_oils(100.0)
    assert oils_100.vi_0 == pytest.approx(9604.0)
    assert oils_100.vi_100 == pytest.approx(2772.0)


def test_what_the_index_refuses() -> None:
    # ASTM D2270: not defined below 2 mm2/s at 100 degrees C (V).  The rest is C.
    with pytest.raises(ValueError, match="defined from 2"):
        viscosity_index_b(5.0, 1.99, 5.0)
    with pytest.raises(ValueError, match="defined from 2"):
        viscosity_index(5.0, NAN, ReferenceOils(6.0, 5.0))
    with pytest.raises(ValueError, match="table"):
        reference_oils(70.0)
    with pytest.raises(ValueError, match="thicker"):
        ReferenceOils(vi_0=5.0, vi_100=6.0)
    with pytest.raises(ValueError, match="viscosity_40C"):
        viscosity_index_a(NAN, ReferenceOils(6.0, 5.0))


# F6.  ISO 3448 (V): number of the grade, then the midpoint in mm2/s at 40 degrees C.
ISO_3448 = {
    2: 2.2,
    3: 3.2,
    5: 4.6,
    7: 6.8,
    10: 10,
    15: 15,
    22: 22,
    32: 32,
    46: 46,
    68: 68,
    100: 100,
    150: 150,
    220: 220,
    320: 320,
    460: 460,
    680: 680,
    1000: 1000,
    1500: 1500,
}


def test_the_grades_of_iso_3448() -> None:
    # F6 (V).
    assert dict(ISO_VG_MIDPOINT) == ISO_3448


@pytest.mark.parametrize(("grade", "midpoint"), ISO_3448.items())
def test_a_grade_reaches_ten_per_cent_to_either_side(grade: int, midpoint: float) -> None:
    # F6 (V): both limits belong to the grade.
    assert iso_vg(midpoint) == grade
    assert iso_vg(round(0.9 * midpoint, 6)) == grade
    assert iso_vg(round(1.1 * midpoint, 6)) == grade
    assert iso_vg(0.8999 * midpoint) is None
    assert iso_vg(1.1001 * midpoint) is None


def test_limits_as_printed() -> None:
    # ISO 3448 (V): 41.4 to 50.6 and 1.98 to 2.42 mm2/s.
    assert iso_vg_limits(46) == (41.4, 50.6)
    assert iso_vg_limits(2) == (1.98, 2.42)
    with pytest.raises(ValueError, match="not a grade"):
        iso_vg_limits(47)


# F7.  SAE J300 (2015) (V): from the first value to below the second, at 100 degrees C.
SAE_J300 = [(20, 6.9, 9.3), (30, 9.3, 12.5), (40, 12.5, 16.3), (50, 16.3, 21.9), (60, 21.9, 26.1)]


@pytest.mark.parametrize(("grade", "low", "too_high"), SAE_J300)
def test_the_grades_of_sae_j300(grade: int, low: float, too_high: float) -> None:
    # F7 (V).
    assert sae_grade(low) == grade
    assert sae_grade(math.nextafter(too_high, 0)) == grade
    assert sae_grade(too_high) != grade


def test_outside_the_grades_of_sae_j300() -> None:
    # F7 (V).
    assert sae_grade(6.89) is None
    assert sae_grade(26.1) is None


@pytest.mark.parametrize("viscosity", [NAN, INF, 0.0, -1.0])
def test_no_grade_for_a_viscosity_without_sense(viscosity: float) -> None:
    # C.
    with pytest.raises(ValueError, match="must be finite"):
        iso_vg(viscosity)
    with pytest.raises(ValueError, match="must be finite"):
        sae_grade(viscosity)


@pytest.mark.parametrize(("temperature_C", "density"), [(40.0, 854.58), (100.0, 816.14)])
def test_density_of_an_oil_of_870(temperature_C: float, density: float) -> None:
    # F8.  ASTM D1250 / API MPMS 11.1, lubricating oils (formula V, values R).
    assert density_at(870.0, temperature_C) == pytest.approx(density, abs=0.005)


def test_density_at_the_reference() -> None:
    # F8: 60 degrees F is 15.5556 degrees C, where nothing is corrected (R).
    assert expansion(870.0) == pytest.approx(4.00897e-4, rel=1e-5)
    assert volume_correction(870.0, (60 - 32) / 1.8) == pytest.approx(1, abs=1e-12)


def test_a_density_at_15_celsius_may_stand_in() -> None:
    # R: 1 degree F of 4e-4 per degree F is 0.04 %, as the docstring says.
    assert density_at(870.0, 15.0) == pytest.approx(870.0, rel=4.1e-4)


def test_density_takes_an_array() -> None:
    # F8 again.
    densities = density_at(870.0, np.array([40.0, 100.0]))
    np.testing.assert_allclose(densities, [854.58, 816.14], atol=0.005)


@given(st.floats(801, 1163), st.floats(-50, 149), st.floats(0.1, 50))
def test_oil_grows_lighter_when_it_warms(rho: float, temperature_C: float, step: float) -> None:
    # C.
    assert density_at(rho, temperature_C + step) < density_at(rho, temperature_C)


@pytest.mark.parametrize(("rho", "t"), [(NAN, 40.0), (740.0, 40.0), (1200.0, 40.0), (870.0, NAN)])
def test_density_refuses(rho: float, t: float) -> None:
    # API MPMS 11.1: the range of lubricating oils is 0.801 to 1.164 g/cm3 (V).
    with pytest.raises(ValueError, match=r"density|must be finite"):
        density_at(rho, t)
