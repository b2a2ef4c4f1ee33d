"""How likely a seal point is to leak before anything is looked at."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakdx.machine.model import Fluid, FluidKind, Material, SealKind, SealPoint, SealService
from leakdx.network.odds import (
    age_factor,
    base_odds,
    class_shares,
    heat_factor,
    leak_column,
    odds_of,
)
from leakdx.network.wear import RATED_F, rated_temperature
from leakdx.priors.read import shipped_priors

PRIORS = shipped_priors()
OIL = Fluid(id="oil", kind=FluidKind.ENGINE_OIL)
# Old, hot and badly reached joints leak more: common practice, no source.
ELASTOMERS = sorted(RATED_F)


def joint(**more: object) -> SealPoint:
    parts = {"id": "joint", "kind": "flat_gasket", "zones": ("here",), "fluid": "oil"}
    return SealPoint.model_validate(parts | more)


def aged(years: float | None) -> SealPoint:
    return joint(service=SealService(age_years=years))


@given(st.floats(0, 60), st.floats(0, 60))
def test_an_older_joint_is_never_less_likely_to_leak(one: float, other: float) -> None:
    young, old = sorted((one, other))
    assert base_odds(aged(old), OIL, PRIORS) >= base_odds(aged(young), OIL, PRIORS)


def test_age_does_make_a_difference() -> None:
    typical = PRIORS["modifiers.age.typical_years"]
    assert age_factor(aged(0.0), PRIORS) < 1 < age_factor(aged(2 * typical), PRIORS)
    assert age_factor(aged(typical), PRIORS) == pytest.approx(1)


def test_one_doubling_time_doubles() -> None:
    typical, doubling = (PRIORS[f"modifiers.age.{k}_years"] for k in ("typical", "doubling"))
    assert PRIORS["modifiers.age.most"] > 2
    assert age_factor(aged(typical + doubling), PRIORS) == pytest.approx(2)


def test_an_unknown_age_changes_nothing() -> None:
    assert age_factor(aged(None), PRIORS) == 1
    hours_only = joint(service=SealService(hours=20000.0))
    assert base_odds(hours_only, OIL, PRIORS) == base_odds(joint(), OIL, PRIORS)


@given(st.floats(0, 1e4))
def test_age_stays_within_its_bounds(years: float) -> None:
    factor = age_factor(aged(years), PRIORS)
    assert PRIORS["modifiers.age.least"] <= factor <= PRIORS["modifiers.age.most"]


@given(st.sampled_from(ELASTOMERS), st.floats(-40, 300), st.floats(-40, 300))
def test_a_hotter_elastomer_is_never_less_likely_to_leak(
    material: str, one: float, other: float
) -> None:
    cool, hot = (
        heat_factor(joint(material=material, temperature_C=t), PRIORS) for t in sorted((one, other))
    )
    assert cool <= hot
    assert PRIORS["modifiers.heat.least"] <= cool
    assert hot <= PRIORS["modifiers.heat.most"]


@pytest.mark.parametrize("material", ELASTOMERS)
def test_an_elastomer_at_its_rated_temperature_suffers_more_than_at_the_usual_one(
    material: str,
) -> None:
    rated, usual = rated_temperature(material), PRIORS["modifiers.heat.reference_C"]
    heat = heat_factor(joint(material=material, temperature_C=max(rated, usual + 30)), PRIORS)
    assert heat > heat_factor(joint(material=material, temperature_C=usual), PRIORS)
    assert heat_factor(joint(material=material, temperature_C=usual), PRIORS) == pytest.approx(1)


@pytest.mark.parametrize("material", [None, *sorted(set(Material) - set(ELASTOMERS))])
def test_heat_says_nothing_of_a_material_without_a_rating(material: str | None) -> None:
    assert heat_factor(joint(material=material, temperature_C=200.0), PRIORS) == 1


def test_an_unknown_temperature_changes_nothing() -> None:
    assert heat_factor(joint(material="nitrile"), PRIORS) == 1


def test_at_freezing_point_the_temperature_is_known() -> None:
    assert heat_factor(joint(material="leather", temperature_C=0.0), PRIORS) < 1


def test_tight_access_raises() -> None:
    tight = base_odds(joint(tight_access=True), OIL, PRIORS)
    assert tight > base_odds(joint(), OIL, PRIORS)


@pytest.mark.parametrize("kind", sorted(SealKind))
def test_every_kind_of_joint_has_odds_in_every_fluid(kind: SealKind) -> None:
    for fluid in FluidKind:
        odds = base_odds(joint(kind=kind), Fluid(id="oil", kind=fluid), PRIORS)
        assert np.isfinite(odds)
        assert odds > 0


def test_a_plain_joint_in_a_plain_place_has_the_base_rate_of_its_kind() -> None:
    factors = (PRIORS["modifiers.fluid.engine_oil"], PRIORS["modifiers.drive.splash"])
    odds = base_odds(joint(), OIL, PRIORS) / np.prod(factors)
    assert odds / (1 + odds) == pytest.approx(PRIORS["base_rates.flat_gasket"])


@given(st.floats(0.001, 0.999))
def test_odds_and_chances_go_back_and_forth(chance: float) -> None:
    column = leak_column(odds_of(chance), PRIORS)
    assert column.sum() == pytest.approx(1, abs=1e-12)
    assert 1 - column[0] == pytest.approx(chance)


def test_the_shares_of_the_leak_classes_make_a_whole() -> None:
    shares = class_shares(PRIORS)
    assert shares.sum() == pytest.approx(1, abs=1e-12)
    assert (shares > 0).all()


@given(st.floats(1e-6, 1e3), st.floats(1.01, 100))
def test_higher_odds_raise_every_class_of_leak(odds: float, factor: float) -> None:
    low, high = leak_column(odds, PRIORS), leak_column(odds * factor, PRIORS)
    assert high[0] < low[0]
    assert (high[1:] > low[1:]).all()
