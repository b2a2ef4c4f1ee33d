"""Films, drops, wicking and gaps against textbooks.

The letter after each source says how the value got here: V read in a text, R
recomputed by hand from the formula, M from memory, C constructed for this test.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakdx.flow.capillary import Wetting, capillary_length, jurin_height, washburn_length
from leakdx.flow.film import (
    DROPS_PER_ML_OIL,
    FilmRegime,
    Liquid,
    Wall,
    draining_film,
    drop_volume,
    drops_to_ml_h,
    film_flow,
    film_regime,
    film_reynolds,
    film_thickness,
    mean_draining_film,
    mean_speed,
    nusselt_thickness,
    surface_speed,
)
from leakdx.flow.gap import Hole, Slit, hole_flow, slit_flow

NAN = float("nan")
INF = float("inf")

# W1.  Bird, Stewart & Lightfoot, Example 2.2-1 (V): nu 2e-4 m2/s, rho 800 kg/m3, film
# of 2.5 mm on an upright wall, g 9.80 m/s2.
EXAMPLE_OIL = Liquid(viscosity_mm2_s=200.0, density_kg_m3=800.0)
EXAMPLE_WALL = Wall(gravity_m_s2=9.80)
EXAMPLE_FILM = 2.5e-3


def test_flow_of_the_falling_film() -> None:
    # W1 (V): 0.204 kg/(m s), Reynolds number 5.1.
    flow = film_flow(EXAMPLE_OIL, EXAMPLE_FILM, EXAMPLE_WALL)
    assert flow == pytest.approx(0.204, abs=0.0005)
    assert film_reynolds(EXAMPLE_OIL, flow) == pytest.approx(5.1, abs=0.05)


def test_speed_of_the_falling_film() -> None:
    # W1 (formula V, value R): surface 0.1531 m/s; the mean is 2/3 of it.
    surface = surface_speed(EXAMPLE_OIL, EXAMPLE_FILM, EXAMPLE_WALL)
    assert surface == pytest.approx(0.1531, abs=0.00005)
    assert mean_speed(EXAMPLE_OIL, EXAMPLE_FILM, EXAMPLE_WALL) == pytest.approx(surface * 2 / 3)


def test_thickness_of_the_falling_film() -> None:
    # W1 turned round: flow back to thickness, with and without the density.
    flow = film_flow(EXAMPLE_OIL, EXAMPLE_FILM, EXAMPLE_WALL)
    assert film_thickness(EXAMPLE_OIL, flow, EXAMPLE_WALL) == pytest.approx(EXAMPLE_FILM)
    # The short form has standard gravity, 0.07 % above 9.80: a cube root makes it 0.02 %.
    assert nusselt_thickness(flow / 800.0, 2e-4) == pytest.approx(EXAMPLE_FILM, rel=3e-4)


def test_a_lean_of_the_wall() -> None:
    # Bird, Stewart & Lightfoot, eq. 2.2-20 (V): speed goes with the cosine of the angle
    # from the vertical; 30 degrees from level is 60 from the vertical, so one half.
    leaning = Wall(slope_deg=30.0, gravity_m_s2=9.80)
    upright = mean_speed(EXAMPLE_OIL, EXAMPLE_FILM, EXAMPLE_WALL)
    assert mean_speed(EXAMPLE_OIL, EXAMPLE_FILM, leaning) == pytest.approx(upright / 2)
    # R: at one flow the film is thicker by the cube root of two.
    thick = nusselt_thickness(1e-6, 1e-4, 30.0)
    assert thick == pytest.approx(nusselt_thickness(1e-6, 1e-4) * 2 ** (1 / 3))


@given(st.floats(1, 2000), st.floats(700, 1200), st.floats(1e-8, 1), st.floats(1, 90))
def test_flow_and_thickness_undo_each_other(
    nu: float, rho: float, flow: float, slope_deg: float
) -> None:
    # C.
    liquid, wall = Liquid(nu, rho), Wall(slope_deg)
    thickness = film_thickness(liquid, flow, wall)
    assert film_flow(liquid, thickness, wall) == pytest.approx(flow, rel=1e-9)
    assert nusselt_thickness(flow / rho, nu * 1e-6, slope_deg) == pytest.approx(thickness)


@pytest.mark.parametrize(
    ("reynolds", "regime"),
    [
        (5.1, FilmRegime.SMOOTH),
        (19.9, FilmRegime.SMOOTH),
        (20.0, FilmRegime.RIPPLED),
        (1500.0, FilmRegime.RIPPLED),
        (1501.0, FilmRegime.TURBULENT),
    ],
)
def test_regimes(reynolds: float, regime: FilmRegime) -> None:
    # W3.  Bird, Stewart & Lightfoot, section 2.2 (V).
    assert film_regime(reynolds) is regime


@pytest.mark.parametrize(("age_s", "thickness_um"), [(60.0, 88.4), (3600.0, 11.41)])
def test_the_draining_wall(age_s: float, thickness_um: float) -> None:
    # W4.  Jeffreys 1930 (formula M, values R): 46 mm2/s, 0.1 m below the edge.
    thickness = draining_film(46.0, 0.1, age_s)
    assert thickness * 1e6 == pytest.approx(thickness_um, abs=0.05 if age_s < 100 else 0.005)
    assert mean_draining_film(46.0, 0.1, age_s) == pytest.approx(thickness * 2 / 3)


def test_the_mean_draining_film_is_the_mean() -> None:
    # R: the average over many strips, by the midpoint rule.
    depths = (np.arange(10_000) + 0.5) * 0.1 / 10_000
    strips = [draining_film(46.0, float(z), 60.0) for z in depths]
    assert mean_draining_film(46.0, 0.1, 60.0) == pytest.approx(float(np.mean(strips)), rel=1e-5)


def test_the_draining_film_takes_an_array() -> None:
    # W4 again.
    films = draining_film(46.0, 0.1, np.array([60.0, 3600.0]))
    np.testing.assert_allclose(films * 1e6, [88.4, 11.41], rtol=5e-4)


@given(st.floats(1, 2000), st.floats(1e-3, 2), st.floats(1, 1e6), st.floats(1.001, 100))
def test_a_draining_film_thins(nu: float, distance: float, age: float, later: float) -> None:
    # C.
    assert draining_film(nu, distance, age * later) < draining_film(nu, distance, age)


def test_drops() -> None:
    # W11 (V): 20 drops per mL by the convention of pharmacy, about 30 in the trade.
    assert drop_volume() == pytest.approx(0.05)
    assert drop_volume(DROPS_PER_ML_OIL) == pytest.approx(1 / 30)
    assert drops_to_ml_h(20.0) == pytest.approx(60.0)
    assert drops_to_ml_h(30.0, DROPS_PER_ML_OIL) == pytest.approx(60.0)
    assert drops_to_ml_h(0.0) == 0


def test_one_drop_a_second_for_a_year() -> None:
    # W12 (V, R): the trade says about 420 US gallons of 3.785 L; at 20 drops per mL it
    # is 180 mL/h * 8760 h = 1576.8 L, or 416.6 gallons.
    gallons = drops_to_ml_h(60.0) * 8760 / 3785
    assert gallons == pytest.approx(416.6, abs=0.05)
    assert gallons == pytest.approx(420, rel=0.01)


def test_jurin() -> None:
    # W7 (V, R): water at 30 degrees C in a tube of radius 1 mm rises 14.6 mm.  Surface
    # tension and density are M.
    height = jurin_height(Wetting(0.0712), density_kg_m3=995.7, radius_m=1e-3)
    assert height * 1000 == pytest.approx(14.6, abs=0.05)


def test_jurin_with_a_contact_angle() -> None:
    # R: half the rise at 60 degrees; as far down as up at 120.
    rise = jurin_height(Wetting(0.03), 870.0, 1e-4)
    assert jurin_height(Wetting(0.03, 60.0), 870.0, 1e-4) == pytest.approx(rise / 2)
    assert jurin_height(Wetting(0.03, 120.0), 870.0, 1e-4) == pytest.approx(-rise / 2)


def test_washburn() -> None:
    # W8.  Formula: Washburn 1921; the case is C: 15.0 mm after a minute.
    length = washburn_length(Wetting(0.03), viscosity_Pa_s=0.04, radius_m=10e-6, time_s=60.0)
    assert length * 1000 == pytest.approx(15.0, abs=0.005)


def test_washburn_goes_with_the_root_of_time() -> None:
    # Washburn 1921, R.
    wetting = Wetting(0.03, 30.0)
    early, late = (washburn_length(wetting, 0.04, 1e-5, t) for t in (60.0, 240.0))
    assert late == pytest.approx(2 * early)


def test_capillary_length() -> None:
    # M: water at room temperature, 2.7 mm.  R: 0.0728 N/m, 998.2 kg/m3.
    assert capillary_length(0.0728, 998.2) * 1000 == pytest.approx(2.727, abs=0.001)
    # R: where radius is the capillary length, the rise is twice that length.
    length = capillary_length(0.03, 870.0)
    assert jurin_height(Wetting(0.03), 870.0, length) == pytest.approx(2 * length)


def test_a_slit() -> None:
    # W10.  A fluid-power exercise (V, R): 50 x 1 x 150 mm, 2 bar, 0.08 Pa s.
    flow = slit_flow(Slit(0.050, 0.001, 0.150), pressure_kPa=200.0, viscosity_Pa_s=0.08)
    assert flow == pytest.approx(6.944e-5, rel=1e-4)


def test_a_round_hole() -> None:
    # Hagen-Poiseuille (M); R: pi * (1e-3)^4 * 1e5 / (8 * 0.1 * 0.1) = 3.927e-6 m3/s.
    flow = hole_flow(Hole(radius_m=1e-3, length_m=0.1), pressure_kPa=100.0, viscosity_Pa_s=0.1)
    assert flow == pytest.approx(3.927e-6, rel=1e-4)


def test_suction_turns_the_flow_round() -> None:
    # C.
    slit, hole = Slit(0.05, 1e-4, 0.01), Hole(1e-4, 0.01)
    assert slit_flow(slit, -20.0, 0.08) == -slit_flow(slit, 20.0, 0.08) < 0
    assert hole_flow(hole, -20.0, 0.08) == -hole_flow(hole, 20.0, 0.08) < 0
    assert slit_flow(slit, 0.0, 0.08) == 0


@pytest.mark.parametrize("bad", [NAN, INF, 0.0, -1.0])
def test_films_refuse_values_without_sense(bad: float) -> None:
    # C.
    with pytest.raises(ValueError, match="viscosity"):
        Liquid(bad, 800.0)
    with pytest.raises(ValueError, match="density"):
        Liquid(200.0, bad)
    with pytest.raises(ValueError, match="gravity"):
        Wall(gravity_m_s2=bad)
    with pytest.raises(ValueError, match="thickness"):
        film_flow(EXAMPLE_OIL, bad)
    with pytest.raises(ValueError, match="flow"):
        film_thickness(EXAMPLE_OIL, bad)
    with pytest.raises(ValueError, match="flow"):
        film_reynolds(EXAMPLE_OIL, bad)
    with pytest.raises(ValueError, match="viscosity"):
        nusselt_thickness(1e-6, bad)
    with pytest.raises(ValueError, match="reynolds"):
        film_regime(bad)
    with pytest.raises(ValueError, match="age"):
        draining_film(46.0, 0.1, bad)
    with pytest.raises(ValueError, match="drops_per_ml"):
        drop_volume(bad)


@pytest.mark.parametrize("bad", [NAN, INF, 0.0, -1.0])
def test_gaps_refuse_values_without_sense(bad: float) -> None:
    # C.
    with pytest.raises(ValueError, match="height"):
        Slit(0.05, bad, 0.15)
    with pytest.raises(ValueError, match="radius"):
        Hole(bad, 0.1)
    with pytest.raises(ValueError, match="viscosity"):
        slit_flow(Slit(0.05, 0.001, 0.15), 200.0, bad)
    with pytest.raises(ValueError, match="tension"):
        Wetting(bad)
    with pytest.raises(ValueError, match="radius"):
        jurin_height(Wetting(0.03), 870.0, bad)
    with pytest.raises(ValueError, match="time"):
        washburn_length(Wetting(0.03), 0.04, 1e-5, bad)
    with pytest.raises(ValueError, match="density"):
        capillary_length(0.03, bad)


def test_angles_and_counts_without_sense_are_refused() -> None:
    # C.
    for slope_deg in (0.0, -10.0, 90.1, NAN):
        with pytest.raises(ValueError, match="slopes"):
            Wall(slope_deg)
    for angle_deg in (-1.0, 181.0, NAN):
        with pytest.raises(ValueError, match="contact angle"):
            Wetting(0.03, angle_deg)
    for count in (-1.0, NAN, INF):
        with pytest.raises(ValueError, match="drops per minute"):
            drops_to_ml_h(count)
    with pytest.raises(ValueError, match="does not enter"):
        washburn_length(Wetting(0.03, 90.0), 0.04, 1e-5, 60.0)
    with pytest.raises(ValueError, match="pressure"):
        hole_flow(Hole(1e-3, 0.1), math.nan, 0.1)
