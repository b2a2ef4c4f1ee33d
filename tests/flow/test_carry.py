"""How much arrives: more of a cause never brings less of an effect."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.flow.carry import (
    APPETITE_POINTS,
    LEVELS,
    Zones,
    leak_levels,
    normal_points,
    scale_for,
    zone_levels,
    zones_for,
)
from leakdx.flow.film import Liquid
from leakdx.flow.liquids import liquid_at
from leakdx.machine.model import Fluid, FluidKind, Machine, Surface
from leakdx.network.setting import LEAK_STATES
from leakdx.network.tables import Array
from leakdx.priors.read import shipped_priors
from tests.flow.boxes import box, flow_of, machine, patch, tray

TOLERANCE = 1e-12
PRIORS = shipped_priors()
SEEPING, DROPS, DRIPPING = (LEAK_STATES.index(s) for s in ("seeping", "drops", "dripping"))
HOURS = (0.5, 2.0, 8.0, 40.0, 200.0)

some_hours = st.none() | st.floats(0.01, 2000)
some_share = st.floats(0.001, 1)
some_appetite = st.floats(1e-6, 10)


def at_least(table: Array) -> Array:
    """Chance of each level or more, along the first axis."""
    total: Array = np.cumsum(table[::-1], axis=0)[::-1]
    return total


def no_less(more: Array, less: Array) -> bool:
    """Whether the first distribution is nowhere below the second, stochastically."""
    return bool((at_least(more) >= at_least(less) - TOLERANCE).all())


# Tables.


@given(some_share, some_appetite, some_hours)
@settings(max_examples=60, deadline=None)
def test_tables_sum_to_one_and_nothing_comes_of_nothing(
    share: float, appetite: float, hours: float | None
) -> None:
    scale = scale_for(hours, PRIORS)
    tables = (
        zone_levels(share, np.full(len(scale.hours), appetite), scale, PRIORS),
        leak_levels(share, scale, PRIORS),
    )
    for table in tables:
        assert table.shape[0] == scale.levels == LEVELS
        assert (table >= 0).all()
        np.testing.assert_allclose(table.sum(axis=0), 1, rtol=0, atol=TOLERANCE)
        np.testing.assert_array_equal(table[:, 0], np.eye(scale.levels)[0])


@given(some_share, some_appetite, some_hours)
@settings(max_examples=60, deadline=None)
def test_more_upstream_never_brings_less(share: float, appetite: float, hours: float) -> None:
    scale = scale_for(hours, PRIORS)
    table = zone_levels(share, np.full(len(scale.hours), appetite), scale, PRIORS)
    for level in range(1, scale.levels):
        assert no_less(table[:, level], table[:, level - 1])


@given(some_share, some_share, some_appetite, some_hours)
@settings(max_examples=60, deadline=None)
def test_a_larger_share_never_brings_less(
    one: float, other: float, appetite: float, hours: float | None
) -> None:
    less, more = sorted((one, other))
    scale = scale_for(hours, PRIORS)
    appetites = np.full(len(scale.hours), appetite)
    assert no_less(
        zone_levels(more, appetites, scale, PRIORS), zone_levels(less, appetites, scale, PRIORS)
    )
    assert no_less(leak_levels(more, scale, PRIORS), leak_levels(less, scale, PRIORS))


@given(some_share, some_appetite, some_appetite, some_hours)
@settings(max_examples=60, deadline=None)
def test_a_larger_appetite_never_lets_more_through(
    share: float, one: float, other: float, hours: float | None
) -> None:
    small, large = sorted((one, other))
    scale = scale_for(hours, PRIORS)
    hungry, modest = (
        zone_levels(share, np.full(len(scale.hours), a), scale, PRIORS) for a in (large, small)
    )
    assert no_less(modest, hungry)


@pytest.mark.parametrize("hours", [*HOURS, None])
def test_share_and_appetite_do_make_a_difference(hours: float | None) -> None:
    scale = scale_for(hours, PRIORS)
    middle = scale.edges[0] * np.ones(len(scale.hours))
    base = zone_levels(0.5, middle, scale, PRIORS)
    assert zone_levels(0.9, middle, scale, PRIORS)[0, 1:].sum() < base[0, 1:].sum()
    assert zone_levels(0.5, 30 * middle, scale, PRIORS)[0, 1:].sum() > base[0, 1:].sum()


def test_a_whole_share_with_no_appetite_passes_everything_on() -> None:
    scale = scale_for(8.0, PRIORS)
    table = zone_levels(1.0, np.zeros(len(scale.hours)), scale, PRIORS)
    np.testing.assert_allclose(table, np.eye(scale.levels), rtol=0, atol=TOLERANCE)


def test_an_endless_appetite_passes_nothing_on() -> None:
    scale = scale_for(8.0, PRIORS)
    table = zone_levels(1.0, np.full(len(scale.hours), 1e12), scale, PRIORS)
    np.testing.assert_array_equal(table[0], 1)


# Leaks.


@given(some_share, some_hours)
@settings(max_examples=60, deadline=None)
def test_dripping_wets_more_than_drops_and_drops_more_than_seeping(
    share: float, hours: float | None
) -> None:
    table = leak_levels(share, scale_for(hours, PRIORS), PRIORS)
    for worse, better in ((DRIPPING, DROPS), (DROPS, SEEPING), (SEEPING, 0)):
        assert no_less(table[:, worse], table[:, better])


@pytest.mark.parametrize("hours", [*HOURS, None])
def test_the_classes_differ(hours: float | None) -> None:
    table = at_least(leak_levels(0.5, scale_for(hours, PRIORS), PRIORS)).sum(axis=0)
    assert table[DRIPPING] > table[DROPS] > table[SEEPING] > table[0]


def test_a_leak_class_without_a_lognormal_rate_is_refused() -> None:
    rate = PRIORS.quantity("leak_rates.drops.rate")
    numbers = dict(PRIORS.numbers)
    numbers["leak_rates.drops.rate"] = PRIORS.quantity("flow.hours_since_clean_factor")
    assert rate.distribution.family == "lognormal"
    with pytest.raises(TypeError, match=r"leak_rates\.drops\.rate"):
        leak_levels(1.0, scale_for(8.0, PRIORS), replace(PRIORS, numbers=numbers))


# Time.


def test_the_edges_fall_with_time_and_rise_from_level_to_level() -> None:
    edges = [scale_for(h, PRIORS).edges for h in HOURS]
    for earlier, later in pairwise(edges):
        assert (later <= earlier).all()
        assert later[0] < earlier[0]
    for e in edges:
        assert (np.diff(e) > 0).all()


def test_the_first_edge_is_what_is_just_visible_after_that_time() -> None:
    for hours in HOURS:
        collected = scale_for(hours, PRIORS).edges[0] * hours
        assert collected == pytest.approx(PRIORS["flow.visible_ml"])


def test_a_moment_since_the_wash_is_no_division_by_zero() -> None:
    scale = scale_for(0.0, PRIORS)
    assert np.isfinite(scale.edges).all()
    assert (scale.hours > 0).all()


def test_an_unknown_time_is_spread_about_the_usual_one() -> None:
    scale = scale_for(None, PRIORS)
    usual = PRIORS["flow.hours_since_clean"]
    assert len(scale.hours) == len(APPETITE_POINTS)
    assert scale.hours.min() < usual < scale.hours.max()
    assert np.exp(np.log(scale.hours).mean()) == pytest.approx(usual)


def test_flows_of_a_level_lie_in_that_level() -> None:
    scale = scale_for(8.0, PRIORS)
    for level in range(1, scale.levels):
        np.testing.assert_array_equal(
            scale.chances(scale.within(level)), np.eye(scale.levels)[level]
        )
    assert scale.chances(np.zeros(3))[0] == 1


def wetted(zones_down: int, hours: float, liquid: Liquid) -> Array:
    """Chance that each leak class wets a zone that many upright plates below the leak."""
    made = column(zones_down + 1)
    flow = flow_of(made)
    scale = scale_for(hours, PRIORS)
    zones = zones_for(made, flow, liquid, PRIORS)
    levels = leak_levels(1.0, scale, PRIORS)
    for k in range(zones_down):
        appetite = np.array([zones.appetite(float(t))[k] for t in scale.hours])
        levels = zone_levels(0.9, appetite, scale, PRIORS) @ levels
    reached: Array = 1 - levels[0]
    return reached


@cache
def column(count: int) -> Machine:
    """Upright plates one below the other."""
    return machine(
        tuple(
            patch(f"plate_{n}", (0, 0, 2000 - 200 * n), (0, 1, 0), (300, 0, 200))
            for n in range(count)
        )
    )


OIL = Liquid(40.0, 860.0)


@pytest.mark.parametrize("zones_down", [0, 1, 2, 4])
def test_with_more_time_a_leak_is_seen_as_far_or_further(zones_down: int) -> None:
    chances = [wetted(zones_down, h, OIL) for h in HOURS]
    for earlier, later in pairwise(chances):
        assert (later[1:] >= earlier[1:] - TOLERANCE).all()
    # A seep is the one that needs the time.
    assert chances[-1][SEEPING] > chances[0][SEEPING]


@pytest.mark.parametrize("hours", [*HOURS])
def test_further_down_is_never_reached_more_often(hours: float) -> None:
    chances = [wetted(n, hours, OIL) for n in (0, 1, 2, 4)]
    for nearer, further in pairwise(chances):
        assert (further <= nearer + TOLERANCE).all()
    assert chances[-1][DROPS] < chances[0][DROPS]


def test_in_a_short_run_thick_fluid_does_not_get_as_far() -> None:
    thin, thick = wetted(2, 0.5, Liquid(5.0, 860.0)), wetted(2, 0.5, Liquid(2000.0, 860.0))
    assert (thick <= thin + TOLERANCE).all()
    assert (thick[DRIPPING]) < thin[DRIPPING]


# What zones keep.


def test_thick_and_cold_fluid_holds_up_more() -> None:
    made = machine((*box(), tray()))
    flow = flow_of(made)
    held = [zones_for(made, flow, Liquid(v, 870.0), PRIORS).at_once_ml for v in (5, 50, 500)]
    assert (held[0] < held[1]).all()
    assert (held[1] < held[2]).all()
    oil = Fluid(id="oil", kind=FluidKind.ENGINE_OIL, grade="SAE 40")
    cold, hot = (zones_for(made, flow, liquid_at(oil, t, PRIORS), PRIORS) for t in (0.0, 90.0))
    assert (cold.at_once_ml > hot.at_once_ml).all()


def test_a_film_holds_up_by_the_cube_root_of_its_viscosity() -> None:
    # Bird, Stewart & Lightfoot, eq. 2.2-21: thickness goes with the cube root of viscosity.
    made = machine((*box(), tray()))
    flow = flow_of(made)
    thin, thick = (zones_for(made, flow, Liquid(v, 870.0), PRIORS) for v in (10.0, 80.0))
    np.testing.assert_allclose(thick.at_once_ml, 2 * thin.at_once_ml, rtol=1e-9)


def test_a_pocket_keeps_what_it_holds() -> None:
    made = machine((*box(), tray()))
    zones = list(made.zones)
    zones[1] = zones[1].model_copy(update={"holds_ml": 50.0})
    deep = made.model_copy(update={"zones": tuple(zones)})
    flat, pocket = (zones_for(m, flow_of(m), OIL, PRIORS).at_once_ml for m in (made, deep))
    np.testing.assert_allclose(pocket - flat, [0, 50, 0, 0, 0, 0, 0], rtol=0, atol=1e-9)


def test_insulation_soaks_up_more_than_bare_metal() -> None:
    held = {
        surface: zones_for(m := machine(box(surface=surface)), flow_of(m), OIL, PRIORS).at_once_ml
        for surface in Surface
    }
    for surface, volumes in held.items():
        if surface is not Surface.INSULATION:
            assert (held[Surface.INSULATION] > volumes).all()


def test_a_longer_and_a_gentler_way_keep_more() -> None:
    short, long = (machine(box((400, 400, c))) for c in (100, 400))
    held = [zones_for(m, flow_of(m), OIL, PRIORS).at_once_ml[1] for m in (short, long)]
    assert held[0] < held[1]
    steep = patch("plate", (0, 0, 0), (1, 0, 0), (0, 100, 100))
    gentle = patch("plate", (0, 0, 0), (0.1, 0, 0.995), (100, 100, 10))
    held = [
        zones_for(m := machine((z,)), flow_of(m), OIL, PRIORS).at_once_ml[0]
        for z in (steep, gentle)
    ]
    assert held[0] < held[1]


def test_an_hour_takes_more_than_its_part_of_a_long_time() -> None:
    zones = Zones(at_once_ml=np.array([2.0]), per_hour_ml=np.array([0.5]))
    np.testing.assert_allclose(zones.appetite(4.0), [2.0 / 4 + 0.5])
    assert zones.appetite(1.0) > zones.appetite(10.0) > zones.per_hour_ml


@pytest.mark.parametrize("count", [7, 8, 15, 24])
def test_points_of_the_normal_distribution_are_its_quantiles(count: int) -> None:
    exact = [NormalDist().inv_cdf((n + 0.5) / count) for n in range(count)]
    # Winitzki 2008 states an error below 2e-3 of the error function itself.
    np.testing.assert_allclose(normal_points(count), exact, rtol=5e-3, atol=1e-6)
