"""What a reading says of the flow."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakdx.case.model import Age, Sureness, ZoneState
from leakdx.flow.carry import scale_for
from leakdx.machine.model import Method
from leakdx.network.looks import (
    LOOKS,
    Grime,
    Sight,
    calls,
    fresh_chances,
    looks_of_flow,
    seal_calls,
    sight,
    zone_likelihood,
)
from leakdx.network.tables import Array
from leakdx.priors.read import shipped_priors

TOLERANCE = 1e-12
PRIORS = shipped_priors()
HOURS = [0.5, 8.0, 200.0, None]
CLEAN, GRIMY = Grime(0.0, 0.0), Grime(0.2, 0.05)
EYES = sight("eyes", "normal", PRIORS)
AGES = [a.value for a in Age]

sights = st.builds(Sight, st.floats(0, 0.5), st.floats(0, 0.5))


def likelihood(
    called: str,
    age: str | None = None,
    grime: Grime = GRIMY,
    hours: float | None = None,
    view: Sight = EYES,
) -> Array:
    looks = looks_of_flow(scale_for(hours, PRIORS), PRIORS)
    return zone_likelihood(called, age, looks, grime, calls(view, PRIORS), PRIORS)


# Tables.


@given(sights)
def test_whatever_is_there_something_is_called(view: Sight) -> None:
    for table in (calls(view, PRIORS), seal_calls(view, PRIORS)):
        assert (table >= 0).all()
        np.testing.assert_allclose(table.sum(axis=0), 1, rtol=0, atol=TOLERANCE)


@pytest.mark.parametrize("method", sorted(Method))
@pytest.mark.parametrize("sureness", sorted(Sureness))
def test_every_look_is_more_often_right_than_wrong(method: Method, sureness: Sureness) -> None:
    view = sight(method.value, sureness.value, PRIORS)
    assert 0 <= view.miss <= 0.5
    assert 0 <= view.false_call <= 0.5
    for table in (calls(view, PRIORS), seal_calls(view, PRIORS)):
        # Dry is the call for dry, and no wet surface is called dry more often than a dry one.
        assert table[0].argmax() == 0


@pytest.mark.parametrize("method", sorted(Method))
def test_a_poor_view_errs_more_than_a_good_one(method: Method) -> None:
    poor, normal, good = (sight(method.value, s, PRIORS) for s in ("poor", "normal", "good"))
    assert poor.miss >= normal.miss >= good.miss
    assert poor.miss > good.miss
    assert poor.false_call > good.false_call


def test_the_worse_it_looks_the_less_it_is_missed() -> None:
    for table in (calls(EYES, PRIORS), seal_calls(EYES, PRIORS)):
        assert (np.diff(table[0]) < 0).all()


def test_the_commonest_call_is_the_right_one() -> None:
    for table in (calls(EYES, PRIORS), seal_calls(EYES, PRIORS)):
        np.testing.assert_array_equal(table.argmax(axis=0), range(4))


@pytest.mark.parametrize("hours", HOURS)
def test_more_flow_never_looks_drier(hours: float | None) -> None:
    table = looks_of_flow(scale_for(hours, PRIORS), PRIORS)
    assert (table >= 0).all()
    np.testing.assert_allclose(table.sum(axis=0), 1, rtol=0, atol=TOLERANCE)
    np.testing.assert_array_equal(table[:, 0], np.eye(len(LOOKS))[0])
    at_least = np.cumsum(table[::-1], axis=0)[::-1]
    assert (np.diff(at_least, axis=1) >= -TOLERANCE).all()
    assert table[0, -1] < table[0, 1]


# Readings.


@pytest.mark.parametrize("hours", HOURS)
@pytest.mark.parametrize("grime", [CLEAN, GRIMY])
def test_dry_speaks_against_flow_the_more_the_more_flow(hours: float | None, grime: Grime) -> None:
    dry = likelihood("dry", None, grime, hours)
    assert (np.diff(dry) <= TOLERANCE).all()
    assert dry[-1] < dry[0]


@pytest.mark.parametrize("hours", HOURS)
@pytest.mark.parametrize("called", ["film", "running", "dripping", "wet"])
def test_every_wet_call_speaks_for_some_flow(called: str, hours: float | None) -> None:
    wet = likelihood(called, None, GRIMY, hours)
    assert wet[1:].max() > wet[0]


def test_dripping_speaks_for_more_flow_than_running_and_running_than_a_film() -> None:
    film, running, dripping = (likelihood(c) for c in LOOKS[1:])
    levels = np.arange(len(film))

    def mean(told: Array) -> float:
        return float(levels @ told / told.sum())

    assert mean(film) < mean(running) < mean(dripping)


@pytest.mark.parametrize("grime", [CLEAN, GRIMY])
@pytest.mark.parametrize("hours", HOURS)
def test_all_calls_together_say_nothing(hours: float | None, grime: Grime) -> None:
    total = sum(likelihood(c, None, grime, hours) for c in LOOKS)
    np.testing.assert_allclose(total, 1, rtol=0, atol=TOLERANCE)


def test_wet_is_any_call_but_dry() -> None:
    np.testing.assert_allclose(likelihood("wet"), 1 - likelihood("dry"), rtol=0, atol=TOLERANCE)


@pytest.mark.parametrize("called", ["film", "running", "dripping", "wet"])
@pytest.mark.parametrize("grime", [CLEAN, GRIMY])
def test_all_ages_together_say_what_no_age_says(called: str, grime: Grime) -> None:
    total = sum(likelihood(called, age, grime) for age in AGES)
    np.testing.assert_allclose(total, likelihood(called, None, grime), rtol=0, atol=TOLERANCE)


@pytest.mark.parametrize("called", ["film", "running", "wet"])
@pytest.mark.parametrize("old", ["aged", "baked"])
def test_fresh_speaks_for_a_present_leak_more_than_old_does(called: str, old: str) -> None:
    # More dirt means older residue: common practice, no source.
    fresh, aged = likelihood(called, "fresh"), likelihood(called, old)
    ratio = fresh / aged
    assert (ratio[1:] > ratio[0]).all()


def test_age_hints_and_does_not_settle() -> None:
    for age in AGES:
        told = likelihood("film", age)
        assert (told > 0).all()


def test_old_residue_weakens_what_a_film_says() -> None:
    clean, grimy = likelihood("film", None, CLEAN), likelihood("film", None, GRIMY)
    assert clean[1:].max() / clean[0] > grimy[1:].max() / grimy[0]


def test_old_residue_does_not_speak_for_flow_when_the_zone_is_dry() -> None:
    clean, grimy = likelihood("dry", None, CLEAN), likelihood("dry", None, GRIMY)
    assert grimy[-1] / grimy[0] <= clean[-1] / clean[0] + 0.1
    assert (grimy < clean + TOLERANCE).all()


def test_an_age_of_a_dry_zone_says_no_more_than_dry() -> None:
    for age in AGES:
        np.testing.assert_array_equal(likelihood("dry", age), likelihood("dry"))


@given(sights)
def test_a_blind_look_says_nothing(view: Sight) -> None:
    # Miss and false call both one half: as good as a coin, whatever the surface.
    coin = likelihood("dry", None, CLEAN, view=Sight(0.5, 0.5))
    sharp = likelihood("dry", None, CLEAN, view=Sight(0.0, 0.0))
    told = likelihood("dry", None, CLEAN, view=view)
    assert sharp[-1] / sharp[0] <= told[-1] / told[0] + TOLERANCE
    assert told[1] / told[0] <= coin[1] / coin[0] + TOLERANCE


def test_not_seen_is_not_dry() -> None:
    for state in ZoneState:
        if state is ZoneState.NOT_LOOKED:
            with pytest.raises(ValueError):
                likelihood(state.value)
        else:
            assert np.ptp(likelihood(state.value)) > 0


@given(st.floats(0, 0.5), st.floats(0, 0.5))
def test_old_residue_is_a_distribution(film: float, runs: float) -> None:
    looks = Grime(film, runs).looks
    assert looks.sum() == pytest.approx(1, abs=TOLERANCE)
    assert (looks >= 0).all()


def test_the_stronger_the_flow_the_fresher_it_looks() -> None:
    chances = fresh_chances(PRIORS)
    assert len(chances) == len(LOOKS)
    assert (np.diff(chances[1:]) > 0).all()
    assert PRIORS["detection.fresh.grime"] < chances[1:].min()
