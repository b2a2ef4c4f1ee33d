"""Parked, idled or driven: how fast a leak runs and how it looks, not whether it is there."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from leakdx.flow.attitude import Attitude
from leakdx.flow.carry import scale_for
from leakdx.flow.courses import Way, Wind
from leakdx.machine.model import Drive, SealKind, SealPoint
from leakdx.network.setting import Epoch, Use
from leakdx.network.uses import airflow, close_looks, rate_factor
from leakdx.priors.read import shipped_priors
from tests.flow.boxes import flow_of, machine, patch, shares

PRIORS = shipped_priors()
TOLERANCE = 1e-12
SCALE = scale_for(8.0, PRIORS)


def joint(drive: Drive) -> SealPoint:
    return SealPoint(
        id="joint", kind=SealKind.FLAT_GASKET, zones=("top",), fluid="oil", drive=drive
    )


def factor(drive: Drive, spent: dict[Use | None, float]) -> float:
    return rate_factor(drive, Epoch(spent=spent), PRIORS)


@pytest.mark.parametrize("drive", sorted(Drive))
def test_where_the_use_is_not_stated_nothing_changes_to_the_last_bit(drive: Drive) -> None:
    for spent in ({}, {None: 0.0}, {None: 40.0}, {None: 0.1 + 0.2}):
        assert factor(drive, spent) == 1.0
        np.testing.assert_array_equal(
            close_looks(joint(drive), Epoch(spent=spent), SCALE, PRIORS), np.eye(4)
        )
    stood = Epoch(Attitude(3, -2), 7.0, spent={None: 40.0})
    assert stood.wind == Wind(Attitude(3, -2), 7.0)


def test_parked_only_what_stands_against_a_joint_runs_on() -> None:
    # Common practice, no source: what leaks at rest has a level or a line standing over it.
    parked = {d: factor(d, {Use.PARKED: 8.0}) for d in Drive}
    assert parked[Drive.STATIC_HEAD] == 1
    assert min(parked[Drive.STATIC_HEAD], parked[Drive.SUCTION]) > 5 * max(
        parked[d] for d in (Drive.PRESSURE_FED, Drive.SPLASH, Drive.GAS_PRESSURE)
    )


@pytest.mark.parametrize("drive", [Drive.PRESSURE_FED, Drive.SPLASH, Drive.GAS_PRESSURE])
def test_the_harder_it_runs_the_faster_it_leaks(drive: Drive) -> None:
    # Common practice, no source.
    rates = [factor(drive, {use: 1.0}) for use in Use]
    assert all(a < b for a, b in pairwise(rates))


def test_the_rate_is_averaged_over_the_time() -> None:
    driven, parked = (factor(Drive.PRESSURE_FED, {u: 1.0}) for u in (Use.DRIVEN, Use.PARKED))
    mixed = factor(Drive.PRESSURE_FED, {Use.DRIVEN: 1.0, Use.PARKED: 9.0})
    assert mixed == pytest.approx(0.1 * driven + 0.9 * parked)
    # A use that is to come counts for nothing once there are hours in another.
    assert factor(Drive.PRESSURE_FED, {Use.DRIVEN: 0.0, Use.PARKED: 9.0}) == parked
    assert factor(Drive.PRESSURE_FED, {Use.DRIVEN: 0.0}) == driven


def test_air_meets_what_is_driven_and_a_fan_blows_at_idle() -> None:
    air = [airflow(use, PRIORS) for use in (Use.PARKED, Use.IDLED, Use.DRIVEN)]
    assert air[0] == 0 < air[1] < air[2]
    assert airflow(None, PRIORS) == 0


def test_parked_neither_blows_nor_flings() -> None:
    assert Epoch(airflow_m_s=9.0, spent={Use.PARKED: 8.0}).wind == Wind(turning=False)
    # A stand after a run takes nothing from what the run blew about.
    mixed = Epoch(airflow_m_s=9.0, spent={Use.PARKED: 8.0, Use.DRIVEN: 0.5})
    assert mixed.wind == Wind(airflow_m_s=9.0)


def test_nothing_is_flung_where_nothing_turns() -> None:
    made = machine(
        (
            patch("wheel", (0, 0, 500), (1, 0, 0), (40, 40, 40), spins=80.0),
            patch("beside", (0, 200, 500), (0, -1, 0), (60, 0, 60)),
        )
    )
    assert shares(flow_of(made, Wind()), Way.FLING)
    assert not shares(flow_of(made, Wind(turning=False)), Way.FLING)


@pytest.mark.parametrize("use", Use)
@pytest.mark.parametrize("drive", sorted(Drive))
def test_close_looks_are_chances_and_never_worse_than_the_leak(drive: Drive, use: Use) -> None:
    looks = close_looks(joint(drive), Epoch(spent={use: 8.0}), SCALE, PRIORS)
    assert (looks >= 0).all()
    np.testing.assert_allclose(looks.sum(axis=0), 1, rtol=0, atol=TOLERANCE)
    assert not np.tril(looks, -1).any()
    assert looks[0, 0] == 1


def test_a_pressure_fed_leak_may_look_tight_when_parked() -> None:
    looks = {
        drive: close_looks(joint(drive), Epoch(spent={Use.PARKED: 8.0}), SCALE, PRIORS)
        for drive in (Drive.PRESSURE_FED, Drive.STATIC_HEAD)
    }
    np.testing.assert_array_equal(looks[Drive.STATIC_HEAD], np.eye(4))
    assert looks[Drive.PRESSURE_FED][0, 1] > 0.2
    assert looks[Drive.PRESSURE_FED][3, 3] == 0
