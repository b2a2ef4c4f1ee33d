"""Shared causes raise what they act on and leave the rest alone.

That a blocked breather pushes oil out of a case, and that seals age together, is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from leakdx.belief.evidence import hard
from leakdx.belief.tree import compile_network
from leakdx.machine.model import (
    Cause,
    CauseKind,
    Drive,
    Fluid,
    FluidKind,
    Machine,
    SealKind,
    SealPoint,
)
from leakdx.network.causes import (
    AGEING,
    FEELS_PRESSURE,
    PRESSURE,
    TIRED,
    VENTED,
    SealParents,
    cause_tables,
    causes_of,
    seal_table,
    strained_name,
)
from leakdx.network.odds import base_odds
from leakdx.network.setting import LEAK_STATES, cause_name, seal_name
from leakdx.network.tables import Array, Network, Table, Variable
from leakdx.priors.read import shipped_priors
from tests.flow.boxes import box, machine

TOLERANCE = 1e-12
PRIORS = shipped_priors()
FLUIDS = (
    Fluid(id="oil", kind=FluidKind.ENGINE_OIL),
    Fluid(id="axle_oil", kind=FluidKind.GEAR_OIL),
    Fluid(id="coolant", kind=FluidKind.COOLANT),
)


def joint(name: str, fluid: str, drive: Drive = Drive.SPLASH) -> SealPoint:
    return SealPoint.model_validate(
        {"id": name, "kind": "flat_gasket", "zones": ("top",), "fluid": fluid, "drive": drive}
    )


SEALS = (
    joint("cover", "oil"),
    joint("sump", "oil", Drive.STATIC_HEAD),
    joint("gallery_plug", "oil", Drive.PRESSURE_FED),
    joint("axle_cover", "axle_oil"),
    joint("hose", "coolant"),
)
NAMES = {s.id for s in SEALS}


def with_causes(*causes: Cause) -> Machine:
    return machine(box(), fluids=FLUIDS, seal_points=SEALS, causes=causes)


def network_of(made: Machine) -> Network:
    """Causes and seals only."""
    pieces: list[tuple[Variable, Table]] = list(cause_tables(made, PRIORS))
    parents = SealParents(made, frozenset(v.name for v, _ in pieces))
    fluids = {f.id: f for f in made.fluids}
    for seal in made.seal_points:
        of, values = seal_table(seal, fluids[seal.fluid], 1.0, parents, PRIORS)
        name = seal_name(seal.id)
        pieces.append((Variable(name, LEAK_STATES), Table(name, of, values)))
    return Network(tuple(v for v, _ in pieces), tuple(t for _, t in pieces))


def leaks(made: Machine, given: Mapping[str, str]) -> dict[str, float]:
    """Chance that each seal point leaks, given the states of some variables."""
    network = network_of(made)
    beliefs = compile_network(network).update(hard(network, given))
    return {s.id: 1 - float(beliefs[seal_name(s.id)][0]) for s in made.seal_points}


def raised(made: Machine, variable: str) -> set[str]:
    """Seal points that leak more often where a variable says yes; no other may change."""
    no, yes = (leaks(made, {variable: state}) for state in ("no", "yes"))
    for seal in no:
        assert yes[seal] > no[seal] - TOLERANCE
    return {seal for seal in no if yes[seal] > no[seal] + TOLERANCE}


def test_vented_cases_have_the_usual_causes_and_others_none() -> None:
    found = {(c.kind, c.fluid) for c in causes_of(with_causes())}
    assert found == {(k, f.id) for f in FLUIDS for k in VENTED.get(f.kind, ())}
    assert {f for _, f in found} == {"oil", "axle_oil"}
    assert (CauseKind.WORN_RINGS, "axle_oil") not in found


@pytest.mark.parametrize("fluid", ["oil", None])
def test_a_listed_cause_takes_the_place_of_the_usual_one(fluid: str | None) -> None:
    listed = Cause(id="breather_stuck", kind=CauseKind.VENTILATION_BLOCKED, fluid=fluid)
    of_oil = [
        c
        for c in causes_of(with_causes(listed))
        if c.kind is CauseKind.VENTILATION_BLOCKED and c.fluid in ("oil", None)
    ]
    assert of_oil == [listed]


def test_all_causes_and_seals_make_a_network_with_sound_tables() -> None:
    every = tuple(
        Cause(id=f"cause_{kind.value}", kind=kind, fluid="oil", raises=("cover",))
        for kind in CauseKind
    )
    for made in (with_causes(), with_causes(*every)):
        # A network refuses columns that do not sum to one, and cycles.
        network = network_of(made)
        assert {seal_name(s) for s in NAMES} <= set(network.names)
        assert {cause_name(c.id) for c in causes_of(made)} <= set(network.names)


@pytest.mark.parametrize("kind", sorted(PRESSURE))
def test_pressure_in_a_case_raises_its_own_seals_that_feel_it(kind: CauseKind) -> None:
    name = cause_name(f"{kind.value}_oil")
    assert raised(with_causes(), name) == {"cover", "sump"}


def test_pressure_in_the_axle_leaves_the_engine_alone() -> None:
    name = cause_name("ventilation_blocked_axle_oil")
    assert raised(with_causes(), name) == {"axle_cover"}


@pytest.mark.parametrize("drive", sorted(Drive))
def test_only_some_drives_feel_the_pressure_of_the_case(drive: Drive) -> None:
    made = machine(box(), fluids=FLUIDS, seal_points=(joint("cover", "oil", drive),))
    expected = {"cover"} if drive in FEELS_PRESSURE else set()
    assert raised(made, cause_name("ventilation_blocked_oil")) == expected


def test_a_tired_machine_leaks_more_everywhere() -> None:
    assert raised(with_causes(), TIRED) == NAMES


@pytest.mark.parametrize("kind", sorted(AGEING))
def test_what_ages_seals_makes_a_machine_tired(kind: CauseKind) -> None:
    made = with_causes(Cause(id="aged", kind=kind))
    assert raised(made, cause_name("aged")) == NAMES


@pytest.mark.parametrize("kind", sorted({*CauseKind} - {*PRESSURE, *AGEING}))
def test_another_cause_raises_what_it_lists_and_nothing_else(kind: CauseKind) -> None:
    made = with_causes(Cause(id="it", kind=kind, fluid="oil", raises=("sump", "gallery_plug")))
    assert raised(made, cause_name("it")) == {"sump", "gallery_plug"}


@pytest.mark.parametrize("kind", sorted({*PRESSURE, *AGEING}))
def test_a_cause_of_pressure_or_ageing_with_a_list_keeps_to_it(kind: CauseKind) -> None:
    made = with_causes(Cause(id="it", kind=kind, fluid="oil", raises=("cover",)))
    assert raised(made, cause_name("it")) <= {"cover", "axle_cover", "hose"}
    assert raised(made, cause_name("it")) & {"cover", "sump", "gallery_plug"} == {"cover"}


def test_a_list_holds_whatever_other_causes_there_are() -> None:
    made = with_causes(
        Cause(id="breather", kind=CauseKind.VENTILATION_BLOCKED, fluid="oil", raises=("cover",)),
        Cause(id="overfull", kind=CauseKind.OVERFILLED, fluid="oil"),
    )
    assert raised(made, cause_name("breather")) == {"cover"}
    assert raised(made, cause_name("overfull")) == {"cover", "sump"}


def test_a_list_of_one_cause_does_not_silence_the_others() -> None:
    made = with_causes(
        Cause(id="breather", kind=CauseKind.VENTILATION_BLOCKED, fluid="oil", raises=("cover",))
    )
    assert raised(made, cause_name("overfilled_oil")) == {"cover", "sump"}


def test_a_cause_of_one_fluid_with_a_list_leaves_other_fluids_as_they_were() -> None:
    plain = leaks(with_causes(), {})
    listed = leaks(
        with_causes(
            Cause(id="breather", kind=CauseKind.VENTILATION_BLOCKED, fluid="oil", raises=("cover",))
        ),
        {},
    )
    for seal in ("axle_cover", "hose"):
        assert listed[seal] == pytest.approx(plain[seal], abs=TOLERANCE)


def test_two_causes_strain_a_case_more_surely_than_one() -> None:
    made = with_causes()
    network = network_of(made)
    tree = compile_network(network)
    chances = []
    for given in (
        {},
        {"ventilation_blocked_oil": "yes"},
        {"ventilation_blocked_oil": "yes", "overfilled_oil": "yes"},
    ):
        told = hard(network, {cause_name(c): s for c, s in given.items()})
        chances.append(float(tree.update(told)[strained_name("oil")][1]))
    assert chances[0] < chances[1] < chances[2] <= 1


def test_without_any_cause_a_case_is_not_strained() -> None:
    network = network_of(with_causes())
    none = {cause_name(c.id): "no" for c in causes_of(with_causes())}
    beliefs = compile_network(network).update(hard(network, none))
    for fluid in ("oil", "axle_oil"):
        assert beliefs[strained_name(fluid)][1] == 0


def test_a_leak_in_a_vented_case_speaks_for_its_breather() -> None:
    network = network_of(with_causes())
    tree = compile_network(network)
    name = cause_name("ventilation_blocked_oil")
    before = tree.update(hard(network, {}))[name][1]
    leaking = {seal_name("cover"): "drops", seal_name("sump"): "drops"}
    assert tree.update(hard(network, leaking))[name][1] > before
    tight = {seal_name("cover"): "tight", seal_name("sump"): "tight"}
    assert tree.update(hard(network, tight))[name][1] < before


@pytest.mark.parametrize("seal", SEALS, ids=lambda s: s.id)
def test_odds_of_the_job_multiply_the_odds_of_the_seal(seal: SealPoint) -> None:
    made = with_causes()
    parents = SealParents(made, frozenset(v.name for v, _ in cause_tables(made, PRIORS)))
    fluid = next(f for f in FLUIDS if f.id == seal.fluid)
    (names, plain), (same, tenfold) = (
        seal_table(seal, fluid, odds, parents, PRIORS) for odds in (1.0, 10.0)
    )
    assert names == same
    assert plain.shape == (len(LEAK_STATES), *[2] * len(names))

    def odds(table: Array) -> Array:
        ratio: Array = (1 - table[0]) / table[0]
        return ratio

    np.testing.assert_allclose(odds(tenfold), 10 * odds(plain), rtol=1e-9)
    assert odds(plain).min() < base_odds(seal, fluid, PRIORS)
    assert odds(plain).max() > base_odds(seal, fluid, PRIORS)


@pytest.mark.parametrize(
    ("kind", "at_home"),
    [
        (CauseKind.SHAFT_WORN, SealKind.SHAFT_LIP_SEAL),
        (CauseKind.WRONG_SEALANT, SealKind.SEALANT_JOINT),
    ],
)
def test_a_cause_without_a_list_raises_the_kinds_it_belongs_to(
    kind: CauseKind, at_home: SealKind
) -> None:
    plain = joint("plain", "oil")
    own = joint("own", "oil").model_copy(update={"kind": at_home})
    far = joint("far", "axle_oil").model_copy(update={"kind": at_home})
    cause = Cause(id="it", kind=kind, fluid="oil")
    made = machine(box(), fluids=FLUIDS, seal_points=(plain, own, far), causes=(cause,))
    assert raised(made, cause_name("it")) == {"own"}
