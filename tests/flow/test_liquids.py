"""The viscosity of a machine's fluids: from a grade, from points, or from the family."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from leakdx.flow.liquids import OILS, curve_of, liquid_at
from leakdx.machine.model import Fluid, FluidKind
from leakdx.priors.read import shipped_priors

PRIORS = shipped_priors()
KINDS = sorted(FluidKind)


def oil(grade: str | None = None, **more: object) -> Fluid:
    return Fluid.model_validate({"id": "oil", "kind": "hydraulic_oil", "grade": grade, **more})


@pytest.mark.parametrize("number", [10, 32, 46, 68, 220])
def test_an_iso_grade_is_its_midpoint_at_40_degrees(number: int) -> None:
    # ISO 3448: the number of the grade is its midpoint in mm2/s at 40 degrees C.
    curve = curve_of(oil(f"VG {number}"), PRIORS)
    assert curve.at(40.0) == pytest.approx(number)


@pytest.mark.parametrize(
    ("grade", "low", "high"),
    [("SAE 20", 6.9, 9.3), ("SAE 30", 9.3, 12.5), ("SAE 40", 12.5, 16.3), ("SAE 50", 16.3, 21.9)],
)
def test_an_sae_grade_lies_in_its_range_at_100_degrees(grade: str, low: float, high: float) -> None:
    # SAE J300, range at 100 degrees C in mm2/s.
    fluid = Fluid(id="oil", kind=FluidKind.ENGINE_OIL, grade=grade)
    assert low <= curve_of(fluid, PRIORS).at(100.0) < high


def test_two_points_are_met_and_go_before_the_grade() -> None:
    points = {20.0: 60.0, 80.0: 9.0}
    for fluid in (oil(viscosity_mm2_s=points), oil("VG 460", viscosity_mm2_s=points)):
        curve = curve_of(fluid, PRIORS)
        assert curve.at(20.0) == pytest.approx(60.0)
        assert curve.at(80.0) == pytest.approx(9.0)


@pytest.mark.parametrize("kind", KINDS)
def test_without_grade_or_points_the_family_speaks(kind: FluidKind) -> None:
    curve = curve_of(Fluid(id="f", kind=kind), PRIORS)
    for temperature in (40, 100):
        family = PRIORS[f"fluids.{kind.value}.viscosity_{temperature}C"]
        assert curve.at(float(temperature)) == pytest.approx(family)


def test_water_is_as_thin_as_water() -> None:
    curve = curve_of(Fluid(id="f", kind=FluidKind.WATER), PRIORS)
    # IAPWS, mm2/s; ASTM D341 in its short form is not meant for liquids as thin as this.
    for temperature, viscosity in ((20.0, 1.004), (40.0, 0.658), (60.0, 0.475)):
        assert curve.at(temperature) == pytest.approx(viscosity, rel=0.1)


@given(st.sampled_from(KINDS), st.floats(-20, 140), st.floats(0.5, 40))
def test_colder_is_thicker(kind: FluidKind, temperature: float, colder_by: float) -> None:
    curve = curve_of(Fluid(id="f", kind=kind), PRIORS)
    assert curve.at(temperature - colder_by) > curve.at(temperature)


@given(st.sampled_from(["VG 22", "VG 46", "VG 150"]), st.floats(-20, 140))
def test_a_heavier_grade_is_thicker_at_every_temperature(grade: str, temperature: float) -> None:
    lighter, heavier = (curve_of(oil(g), PRIORS) for g in (grade, "VG 320"))
    assert heavier.at(temperature) > lighter.at(temperature)


@pytest.mark.parametrize(
    "grade", ["VG 47", "VG 0", "SAE 35", "SAE 999", "VG 46.5", "VG .", "SAE 1.2.3", "VG ..."]
)
def test_an_unknown_grade_is_refused_with_the_file(grade: str) -> None:
    with pytest.raises(ValidationError, match="grade"):
        oil(grade)


@pytest.mark.parametrize("grade", ["VG 47", "SAE 35", "VG ..."])
def test_an_unknown_grade_is_refused_by_name_where_no_file_was_read(grade: str) -> None:
    unread = Fluid.model_construct(id="f", kind=FluidKind.ENGINE_OIL, grade=grade)
    with pytest.raises(ValueError, match="is not a grade"):
        curve_of(unread, PRIORS)


def test_points_that_make_no_curve_are_refused() -> None:
    with pytest.raises(ValueError, match="thinner"):
        curve_of(oil(viscosity_mm2_s={40.0: 10.0, 100.0: 20.0}), PRIORS)


@pytest.mark.parametrize("kind", KINDS)
def test_no_temperature_means_the_usual_one(kind: FluidKind) -> None:
    fluid = Fluid(id="f", kind=kind)
    usual = PRIORS[f"fluids.{kind.value}.temperature_C"]
    assert liquid_at(fluid, None, PRIORS) == liquid_at(fluid, usual, PRIORS)


def test_freezing_is_a_temperature_too() -> None:
    fluid = oil("VG 46")
    assert (
        liquid_at(fluid, 0.0, PRIORS).viscosity_mm2_s
        > liquid_at(fluid, None, PRIORS).viscosity_mm2_s
    )


# API MPMS chapter 11.1 starts from 60 degrees F, which is 0.04 % off one at 15 degrees C.
def test_oil_expands_when_it_warms_and_keeps_its_stated_density_at_15() -> None:
    for kind in OILS:
        fluid = Fluid(id="f", kind=kind, density_15C_kg_m3=880.0)
        assert liquid_at(fluid, 15.0, PRIORS).density_kg_m3 == pytest.approx(880.0, rel=5e-4)
        densities = [liquid_at(fluid, t, PRIORS).density_kg_m3 for t in (15.0, 60.0, 100.0)]
        assert densities[0] > densities[1] > densities[2]
