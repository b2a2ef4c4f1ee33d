"""Drawing prior numbers: their distributions, and what keeps them where they mean something."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from leakdx.priors.drawing import (
    DOMAINS,
    SPREADS,
    ManyPriors,
    TracedPriors,
    at_level,
    doubted,
    drawn,
    quantiles,
    with_values,
)
from leakdx.priors.model import Beta, Distribution, Fixed, LogNormal, Normal, Priors, Quantity
from leakdx.priors.read import shipped_priors

PRIORS = shipped_priors()
LEVELS = np.array([0.001, 0.05, 0.1, 0.5, 0.9, 0.95, 0.999])
shape = st.floats(0.3, 40)


def number(value: float, distribution: Distribution, unit: str = "1") -> Quantity:
    return Quantity(value=value, distribution=distribution, unit=unit, source="judgement")


@settings(deadline=None)
@given(shape, shape)
def test_quantiles_of_a_chance(a: float, b: float) -> None:
    quantity = number(a / (a + b), Beta(family="beta", a=a, b=b))
    assert quantiles(quantity, LEVELS) == pytest.approx(stats.beta(a, b).ppf(LEVELS), rel=1e-8)


@given(st.floats(0.01, 100), st.floats(1.05, 5))
def test_quantiles_of_a_positive_number(median: float, factor: float) -> None:
    quantity = number(median, LogNormal(family="lognormal", median=median, factor=factor))
    expected = stats.lognorm(np.log(factor), scale=median).ppf(LEVELS)
    assert quantiles(quantity, LEVELS) == pytest.approx(expected, rel=1e-9)


@given(st.floats(-50, 50), st.floats(0.1, 30))
def test_quantiles_of_any_number(mean: float, sd: float) -> None:
    quantity = number(mean, Normal(family="normal", mean=mean, sd=sd))
    expected = stats.norm(mean, sd).ppf(LEVELS)
    assert quantiles(quantity, LEVELS) == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_a_fixed_number_has_one_value() -> None:
    assert quantiles(number(3.0, Fixed(family="fixed")), LEVELS) == pytest.approx(3.0)


@pytest.mark.parametrize(
    "key", ["detection.eyes.miss", "modifiers.recent_work", "fluids.engine_oil.temperature_C"]
)
def test_draws_follow_the_stated_distribution(key: str) -> None:
    values = drawn(PRIORS, [key], 2000, np.random.default_rng(1))[key]
    d = PRIORS.quantity(key).distribution
    law = {
        "beta": lambda: stats.beta(d.a, d.b),
        "lognormal": lambda: stats.lognorm(d.sigma, scale=d.median),
        "normal": lambda: stats.norm(d.mean, d.sd),
    }[d.family]()
    # Latin hypercube: far closer than the 0.03 of independent draws.
    assert stats.kstest(values, law.cdf).statistic < 0.002


def test_each_slice_of_the_range_is_drawn_from_once() -> None:
    key = "modifiers.recent_work"
    values = drawn(PRIORS, [key], 40, np.random.default_rng(2))[key]
    d = PRIORS.quantity(key).distribution
    assert isinstance(d, LogNormal)
    levels = stats.lognorm(d.sigma, scale=d.median).cdf(values)
    assert sorted(np.floor(levels * 40)) == list(range(40))


def test_numbers_are_drawn_independently() -> None:
    keys = ["base_rates.o_ring", "base_rates.sender", "modifiers.recent_work"]
    got = drawn(PRIORS, keys, 2000, np.random.default_rng(3))
    ranks = np.corrcoef([stats.rankdata(got[k]) for k in keys])
    assert np.abs(ranks - np.eye(3)).max() < 0.08


def test_one_seed_one_set_of_numbers() -> None:
    keys = list(PRIORS.numbers)
    one, same, other = (drawn(PRIORS, keys, 5, np.random.default_rng(s)) for s in (7, 7, 8))
    assert all((one[k] == same[k]).all() for k in keys)
    assert any((one[k] != other[k]).any() for k in keys)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_drawn_numbers_stay_where_they_mean_something(seed: int) -> None:
    got = drawn(PRIORS, list(PRIORS.numbers), 200, np.random.default_rng(seed))
    for key, values in got.items():
        if isinstance(PRIORS.quantity(key).distribution, Beta):
            assert (values > 0).all() and (values < 1).all(), key
        if isinstance(PRIORS.quantity(key).distribution, LogNormal):
            assert (values > 0).all(), key
        if key in DOMAINS:
            low, high = DOMAINS[key]
            assert (values >= low).all() and (values <= high).all(), key
    fluids = {k.split(".")[1] for k in PRIORS.numbers if k.startswith("fluids.")}
    for fluid in fluids:
        cold, warm = (got[f"fluids.{fluid}.viscosity_{t}C"] for t in (40, 100))
        assert (warm < cold).all(), fluid
    assert (got["detection.grime"] + got["detection.grime_run"] < 1).all()
    assert (got["detection.grime_after_repair"] * 4 / 3 < 1).all()


def test_what_differs_from_leak_to_leak_is_no_doubt() -> None:
    got = drawn(PRIORS, sorted(SPREADS), 20, np.random.default_rng(1))
    assert all((got[k] == PRIORS[k]).all() and not doubted(PRIORS, k) for k in SPREADS)
    assert not doubted(PRIORS, "flow.spill_factor")
    assert doubted(PRIORS, "base_rates.o_ring")


def test_one_number_at_a_level_keeps_a_fluid_thinner_when_warm() -> None:
    for fluid in ("petrol", "water"):
        cold, warm = (f"fluids.{fluid}.viscosity_{t}C" for t in (40, 100))
        assert at_level(PRIORS, cold, 0.001) > PRIORS[warm]
        assert at_level(PRIORS, warm, 0.999) < PRIORS[cold]
    d = PRIORS.quantity("base_rates.o_ring").distribution
    assert isinstance(d, Beta)
    expected = stats.beta(d.a, d.b).ppf(0.9)
    assert at_level(PRIORS, "base_rates.o_ring", 0.9) == pytest.approx(expected)


def test_other_values_leave_the_rest_as_it_was() -> None:
    other = with_values(PRIORS, {"base_rates.o_ring": 0.2})
    assert other["base_rates.o_ring"] == 0.2
    assert other["base_rates.sender"] == PRIORS["base_rates.sender"]
    assert PRIORS["base_rates.o_ring"] != 0.2


def test_many_priors_hold_arrays_that_nobody_changes_by_the_way() -> None:
    many = ManyPriors(PRIORS.numbers, {"base_rates.o_ring": np.array([0.1, 0.2])})
    assert many["base_rates.o_ring"].shape == (2,)
    assert many["base_rates.sender"] == PRIORS["base_rates.sender"]
    with pytest.raises(ValueError, match="read-only"):
        many["base_rates.o_ring"][0] = 1.0


def test_traced_priors_note_what_was_asked() -> None:
    traced = TracedPriors(PRIORS.numbers)
    assert traced["base_rates.o_ring"] == PRIORS["base_rates.o_ring"]
    assert traced.asked == {"base_rates.o_ring"}
    assert isinstance(traced, Priors)
