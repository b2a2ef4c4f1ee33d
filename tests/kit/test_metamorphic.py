"""Turning a machine with its gravity changes nothing; its mirror image gives mirrored beliefs."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from leakdx.advice.solving import solve
from leakdx.case.read import LoadedJob, job_from
from leakdx.flow.attitude import Attitude
from leakdx.flow.courses import FlowMap, Way, Wind, flow_map
from leakdx.kit.naming import Naming
from leakdx.kit.read import load_shipped, shipped_layouts
from leakdx.machine.boxes import rotation
from leakdx.machine.model import Machine, Turn
from leakdx.network.setting import seal_name
from leakdx.priors.read import shipped_priors
from tests.kit.turning import attitude_of, turned

PRIORS = shipped_priors()
DOWN = np.array([0.0, 0.0, -1.0])
MIRROR = np.diag([1.0, -1.0, 1.0])
SIDES = Naming(turned_over=frozenset("y"))
TURNS = [
    Turn(axis=(1, 2, 3), degrees=40),
    Turn(axis=(0, 0, 1), degrees=90),
    Turn(axis=(3, -1, 0.4), degrees=150),
]
Shares = dict[tuple[str, str, Way, bool], float]


def shares(flow: FlowMap, naming: Naming = SIDES) -> Shares:
    """Every course with the ids that ``naming`` makes of its zones."""
    ids = [naming.id(z) for z in flow.surfaces.ids]
    return {(ids[c.source], ids[c.target], c.way, c.sideways): c.share for c in flow.courses}


def job_on(machine: Machine, attitude: Attitude, timeline: list[dict[str, Any]]) -> LoadedJob:
    return job_from(
        {
            "format": "leakdx-job/1",
            "id": "asked",
            "machine": {"id": machine.id, "version": machine.version},
            "conditions": {
                "hours": 100,
                "fluid_temperature_C": 80,
                "pitch_deg": attitude.pitch_deg,
                "roll_deg": attitude.roll_deg,
            },
            "timeline": timeline,
        },
        machine,
    )


def leaks(loaded: LoadedJob) -> dict[str, float]:
    solved = solve(loaded, PRIORS)
    return {s.id: 1 - float(solved.beliefs[seal_name(s.id)][0]) for s in loaded.machine.seal_points}


@pytest.mark.parametrize("turn", TURNS, ids=["askew", "quarter", "upside_down"])
@pytest.mark.parametrize("name", shipped_layouts())
def test_fluid_goes_the_same_way_on_a_turned_machine(name: str, turn: Turn) -> None:
    machine = load_shipped(name)
    matrix = rotation(turn)
    one = flow_map(machine, Wind(), PRIORS)
    other = flow_map(turned(machine, matrix), Wind(attitude_of(matrix @ DOWN)), PRIORS)
    assert shares(other) == pytest.approx(shares(one), abs=1e-5)
    assert other.to_ground == pytest.approx(one.to_ground, abs=1e-5)


def test_beliefs_are_the_same_on_a_turned_machine() -> None:
    machine = load_shipped("inline_five_diesel")
    matrix = rotation(TURNS[0])
    timeline: list[dict[str, Any]] = [
        {"zone": "head_rear", "state": "running"},
        {"zone": "bell_top", "state": "wet"},
        {"zone": "sump_front", "state": "dry"},
    ]
    one = leaks(job_on(machine, Attitude(), timeline))
    down = attitude_of(matrix @ DOWN)
    other = leaks(job_on(turned(machine, matrix), down, timeline))
    assert other == pytest.approx(one, abs=1e-6)
    assert max(one.values()) > 1.5 * sorted(one.values())[len(one) // 2]


@pytest.mark.parametrize("name", shipped_layouts())
def test_fluid_goes_the_mirrored_way_on_a_mirrored_machine(name: str) -> None:
    machine = load_shipped(name)
    mirrored = turned(machine, MIRROR, SIDES)
    one = flow_map(machine, Wind(Attitude(4, 7)), PRIORS)
    other = flow_map(mirrored, Wind(Attitude(4, -7)), PRIORS)
    # Turned over twice, a name is itself again.
    assert shares(other) == pytest.approx(shares(one, Naming()), abs=1e-5)


def test_beliefs_are_mirrored_on_a_mirrored_machine() -> None:
    machine = load_shipped("inline_five_diesel")
    timeline: list[dict[str, Any]] = [
        {"zone": "block_right_upper_rear", "state": "running"},
        {"zone": "sump_rail_right", "state": "film"},
        {"zone": "head_exhaust_rear", "state": "dry"},
    ]
    one = leaks(job_on(machine, Attitude(roll_deg=5), timeline))
    seen = [event | {"zone": SIDES.id(event["zone"])} for event in timeline]
    mirrored = turned(machine, MIRROR, SIDES)
    other = leaks(job_on(mirrored, Attitude(roll_deg=-5), seen))
    assert other == pytest.approx({SIDES.id(s): p for s, p in one.items()}, abs=1e-6)
    assert max(one.values()) > 1.5 * sorted(one.values())[len(one) // 2]
