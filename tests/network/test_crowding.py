"""A longer list of joints makes no more leaks; what leaks inside hardly wets the outside."""

from __future__ import annotations

import numpy as np
import pytest

from leakdx.belief.tree import compile_network
from leakdx.machine.model import Fluid, FluidKind, Machine, SealPoint, Zone
from leakdx.network.build import build_network
from leakdx.network.odds import base_odds, crowding
from leakdx.network.setting import Epoch, Setting, flow_name, seal_name
from leakdx.priors.read import shipped_priors

PRIORS = shipped_priors()
OIL = Fluid(id="oil", kind=FluidKind.ENGINE_OIL)
COOLANT = Fluid(id="coolant", kind=FluidKind.COOLANT)
ZONE = Zone(id="here", centroid_mm=(0, 0, 0), normal=(0, 1, 0), area_mm2=40000)


def machine(count: int, **more: object) -> Machine:
    seals = [
        SealPoint.model_validate(
            {"id": f"joint_{n}", "kind": "flat_gasket", "zones": ("here",), "fluid": "oil"} | more
        )
        for n in range(count)
    ]
    return Machine(
        format="leakdx-machine/1",
        id="made_up",
        version="1",
        name="Invented",
        fluids=(OIL, COOLANT),
        zones=(ZONE,),
        seal_points=tuple(seals),
    )


def base(count: int) -> float:
    made = machine(count)
    return sum(o / (1 + o) for s in made.seal_points if (o := base_odds(s, OIL, PRIORS)))


def test_a_short_list_is_left_as_it_is() -> None:
    assert crowding(machine(2), PRIORS) == 1


@pytest.mark.parametrize("count", [40, 80, 400])
def test_a_long_list_is_brought_down_to_what_leaks_at_once(count: int) -> None:
    most = PRIORS["base_rates.at_once"]
    assert base(count) > most
    odds = base_odds(machine(1).seal_points[0], OIL, PRIORS) * crowding(machine(count), PRIORS)
    # Small chances are nearly their odds.
    assert count * odds / (1 + odds) == pytest.approx(most, rel=0.05)


def test_twice_the_joints_give_each_half_the_chance_in_the_network() -> None:
    def chance(count: int) -> float:
        network = build_network(Setting(machine(count), (Epoch(hours=10.0),)), PRIORS)
        tree = compile_network(network.network)
        return 1 - float(tree.update({}, only=[seal_name("joint_0")])[seal_name("joint_0")][0])

    assert chance(120) == pytest.approx(chance(60) / 2, rel=0.05)


def test_what_leaks_into_another_fluid_seldom_wets_the_outside() -> None:
    # Common practice, no source: a cooler core passes oil into the coolant and is dry outside.
    def wet(**more: object) -> float:
        network = build_network(Setting(machine(1, **more), (Epoch(hours=10.0),)), PRIORS)
        tree = compile_network(network.network)
        leaking = {seal_name("joint_0"): np.array([0.0, 0, 0, 1])}
        name = flow_name("oil", "here")
        return 1 - float(tree.update(leaking, only=[name])[name][0])

    assert wet() > 0.9
    assert wet(leaks_into="coolant") < 0.3
